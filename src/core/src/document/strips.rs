//! The strips of a film by their number: 0 is the first, the others are the further ones in their order.

use super::{Film, FurtherStrip, ReadingsSource, StripLevel, TabletId};

impl Film {
    /// How many strips it has; a film without readings of its first strip still has that one.
    #[must_use]
    pub fn strips(&self) -> usize {
        1 + self.further_strips.len()
    }

    /// A further strip by its number; `None` for the first.
    #[must_use]
    pub fn further_strip(&self, strip: usize) -> Option<&FurtherStrip> {
        self.further_strips.get(strip.checked_sub(1)?)
    }

    /// A further strip by its number, to change it; `None` for the first.
    pub fn further_strip_mut(&mut self, strip: usize) -> Option<&mut FurtherStrip> {
        self.further_strips.get_mut(strip.checked_sub(1)?)
    }

    /// What a strip is called: its name, or its number.
    ///
    /// ```
    /// # use twinwedge_core::document::{Film, FilmId};
    /// let film = Film::named(FilmId::from("Tern"), "Tern");
    /// assert_eq!(film.strip_name(0), "strip 1");
    /// ```
    #[must_use]
    pub fn strip_name(&self, strip: usize) -> String {
        let name = self.further_strip(strip).map(|strip| strip.name.trim()).unwrap_or_default();
        if name.is_empty() { format!("strip {}", strip + 1) } else { name.to_owned() }
    }

    /// Where the densities of a strip come from.
    #[must_use]
    pub fn strip_readings(&self, strip: usize) -> Option<&ReadingsSource> {
        match strip {
            0 => self.readings.as_ref(),
            _ => self.further_strip(strip).map(|strip| &strip.readings),
        }
    }

    /// The same, to change it.
    pub fn strip_readings_mut(&mut self, strip: usize) -> Option<&mut ReadingsSource> {
        match strip {
            0 => self.readings.as_mut(),
            _ => self.further_strip_mut(strip).map(|strip| &mut strip.readings),
        }
    }

    /// Steps of a scanned strip that were set aside.
    #[must_use]
    pub fn strip_steps_aside(&self, strip: usize) -> &[u32] {
        match strip {
            0 => &self.steps_set_aside,
            _ => self.further_strip(strip).map(|strip| strip.steps_set_aside.as_slice()).unwrap_or_default(),
        }
    }

    /// Steps of a strip that the tester keeps whatever the others say.
    #[must_use]
    pub fn strip_steps_kept(&self, strip: usize) -> &[u32] {
        match strip {
            0 => &self.steps_kept,
            _ => self.further_strip(strip).map(|strip| strip.steps_kept.as_slice()).unwrap_or_default(),
        }
    }

    /// Keeps a step of a strip in the fit although the others contradict it, or leaves that to the fit again. A step that is
    /// kept is not set aside.
    ///
    /// ```
    /// # use twinwedge_core::document::{Film, FilmId, ReadingsSource, TypedReading};
    /// let mut film = Film::named(FilmId::from("Tern"), "Tern");
    /// film.readings = Some(ReadingsSource::Typed(vec![TypedReading::new(0.3); 3]));
    /// film.set_step_aside(0, 2, true);
    /// film.keep_step(0, 2, true);
    /// let Some(ReadingsSource::Typed(readings)) = film.strip_readings(0) else { panic!() };
    /// assert!(!readings[1].set_aside && film.strip_steps_kept(0) == [2]);
    /// ```
    pub fn keep_step(&mut self, strip: usize, step: u32, keep: bool) {
        if keep {
            self.set_step_aside(strip, step, false);
        }
        let steps = match strip {
            0 => &mut self.steps_kept,
            _ => match self.further_strip_mut(strip) {
                Some(strip) => &mut strip.steps_kept,
                None => return,
            },
        };
        steps.retain(|other| *other != step);
        if keep {
            steps.push(step);
            steps.sort_unstable();
        }
    }

    /// The tablet of a strip, where one is chosen.
    #[must_use]
    pub fn strip_tablet(&self, strip: usize) -> Option<&TabletId> {
        let own = self.further_strip(strip).and_then(|strip| strip.tablet.as_ref());
        own.or(self.tablet_exposure.as_ref().map(|exposed| &exposed.tablet))
    }

    /// Sets a step of a strip aside or takes it back, whether it was typed or scanned.
    ///
    /// ```
    /// # use twinwedge_core::document::{Film, FilmId, ReadingsSource, TypedReading};
    /// let mut film = Film::named(FilmId::from("Tern"), "Tern");
    /// film.readings = Some(ReadingsSource::Typed(vec![TypedReading::new(0.3); 3]));
    /// film.set_step_aside(0, 2, true);
    /// let Some(ReadingsSource::Typed(readings)) = film.strip_readings(0) else { panic!() };
    /// assert!(readings[1].set_aside && !readings[0].set_aside);
    /// ```
    pub fn set_step_aside(&mut self, strip: usize, step: u32, aside: bool) {
        if aside {
            self.keep_step(strip, step, false);
        }
        match self.strip_readings_mut(strip) {
            Some(ReadingsSource::Typed(readings)) => {
                let index = usize::try_from(step).unwrap_or(usize::MAX).wrapping_sub(1);
                if let Some(reading) = readings.get_mut(index).filter(|reading| !reading.missing) {
                    reading.set_aside = aside;
                }
            }
            Some(ReadingsSource::Strip { .. }) => {
                let steps = match strip {
                    0 => &mut self.steps_set_aside,
                    _ => match self.further_strip_mut(strip) {
                        Some(strip) => &mut strip.steps_set_aside,
                        None => return,
                    },
                };
                steps.retain(|other| *other != step);
                if aside {
                    steps.push(step);
                    steps.sort_unstable();
                }
            }
            None => {}
        }
    }
}

impl FurtherStrip {
    /// A strip through the first strip's tablet whose level is to be found from the overlap.
    #[must_use]
    pub fn new(name: impl Into<String>, readings: ReadingsSource) -> Self {
        Self {
            name: name.into(),
            tablet: None,
            level: StripLevel::FromOverlap,
            readings,
            steps_set_aside: Vec::new(),
            steps_kept: Vec::new(),
        }
    }
}
