//! The strips of a film, by their number: 0 is the first.

use serde::{Deserialize, Serialize};

use super::{Film, ReadingsSource, TabletId};
use crate::spectra::density::DensityKind;

/// A strip of the roll, exposed through a tablet. All strips of a film make one curve.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Strip {
    /// What the tester calls it; its number serves where this is empty.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub name: String,
    /// Its tablet; none means that of the film's exposure.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub tablet: Option<TabletId>,
    /// Its light against that of the first strip, which is the light on record for the film.
    #[serde(default, skip_serializing_if = "StripLevel::is_the_films")]
    pub level: StripLevel,
    /// Where its step densities come from.
    pub readings: ReadingsSource,
    /// Which density its readings are, where their table says it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub density: Option<DensityKind>,
    /// Steps of a scanned strip that the tester set aside: shown, not fitted. Typed readings carry this themselves.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub steps_set_aside: Vec<u32>,
    /// Steps, typed or scanned, that the tester keeps although the others contradict them: always fitted.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub steps_kept: Vec<u32>,
}

/// The light of a strip against that of the film's first.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub enum StripLevel {
    /// Known: so many stops less (negative for more).
    StopsLess {
        /// How many stops less.
        stops: f64,
        /// Its standard uncertainty in stops, e.g. of the neutral density or of the shutter.
        u: f64,
    },
    /// Not known: found from the densities that the strips have in common.
    FromOverlap,
}

impl Default for StripLevel {
    /// The light on record for the film: that of every first strip.
    fn default() -> Self {
        Self::StopsLess { stops: 0.0, u: 0.0 }
    }
}

impl StripLevel {
    /// It is the light on record for the film, neither more nor less.
    #[must_use]
    pub fn is_the_films(&self) -> bool {
        let zero = |value: &f64| value.to_bits() == 0.0_f64.to_bits();
        matches!(self, Self::StopsLess { stops, u } if zero(stops) && zero(u))
    }
}

impl From<ReadingsSource> for Strip {
    /// A strip in the light on record for the film, through its tablet.
    fn from(readings: ReadingsSource) -> Self {
        Self {
            name: String::new(),
            tablet: None,
            level: StripLevel::default(),
            readings,
            density: None,
            steps_set_aside: Vec::new(),
            steps_kept: Vec::new(),
        }
    }
}

impl Strip {
    /// A strip through the film's tablet whose level is to be found from the overlap with the others.
    #[must_use]
    pub fn additional(name: impl Into<String>, readings: ReadingsSource) -> Self {
        Self { name: name.into(), level: StripLevel::FromOverlap, ..Self::from(readings) }
    }

    /// How many steps it has: those that were typed, or those of its place in a scan.
    #[must_use]
    pub fn steps(&self) -> usize {
        match &self.readings {
            ReadingsSource::Typed(readings) => readings.len(),
            ReadingsSource::Strip { shape, .. } => shape.steps as usize,
        }
    }

    /// Keeps a step in the fit although the others contradict it, or leaves that to the fit again. A step that is kept is
    /// not set aside.
    ///
    /// ```
    /// # use twinwedge_core::document::{ReadingsSource, Strip, TypedReading};
    /// let mut strip = Strip::from(ReadingsSource::Typed(vec![TypedReading::new(0.3); 3]));
    /// strip.set_step_aside(2, true);
    /// strip.keep_step(2, true);
    /// let ReadingsSource::Typed(readings) = &strip.readings else { panic!() };
    /// assert!(!readings[1].set_aside && strip.steps_kept == [2]);
    /// ```
    pub fn keep_step(&mut self, step: u32, keep: bool) {
        if keep {
            self.set_step_aside(step, false);
        }
        put(&mut self.steps_kept, step, keep);
    }

    /// Sets a step aside or takes it back, whether it was typed or scanned. A step that is set aside is not kept.
    ///
    /// ```
    /// # use twinwedge_core::document::{ReadingsSource, Strip, TypedReading};
    /// let mut strip = Strip::from(ReadingsSource::Typed(vec![TypedReading::new(0.3); 3]));
    /// strip.set_step_aside(2, true);
    /// let ReadingsSource::Typed(readings) = &strip.readings else { panic!() };
    /// assert!(readings[1].set_aside && !readings[0].set_aside);
    /// ```
    pub fn set_step_aside(&mut self, step: u32, aside: bool) {
        if aside {
            put(&mut self.steps_kept, step, false);
        }
        match &mut self.readings {
            ReadingsSource::Typed(readings) => {
                let index = usize::try_from(step).unwrap_or(usize::MAX).wrapping_sub(1);
                if let Some(reading) = readings.get_mut(index).filter(|reading| !reading.missing) {
                    reading.set_aside = aside;
                }
            }
            ReadingsSource::Strip { .. } => put(&mut self.steps_set_aside, step, aside),
        }
    }
}

/// Puts a step into a sorted list or takes it out.
fn put(steps: &mut Vec<u32>, step: u32, within: bool) {
    steps.retain(|other| *other != step);
    if within {
        steps.push(step);
        steps.sort_unstable();
    }
}

impl Film {
    /// What a strip is called: its name, or its number.
    ///
    /// ```
    /// # use twinwedge_core::document::{Film, FilmId};
    /// let film = Film::named(FilmId::from("Tern"), "Tern");
    /// assert_eq!(film.strip_name(0), "strip 1");
    /// ```
    #[must_use]
    pub fn strip_name(&self, strip: usize) -> String {
        let name = self.strips.get(strip).map(|strip| strip.name.trim()).unwrap_or_default();
        if name.is_empty() { format!("strip {}", strip + 1) } else { name.to_owned() }
    }

    /// Where the densities of a strip come from.
    #[must_use]
    pub fn strip_readings(&self, strip: usize) -> Option<&ReadingsSource> {
        self.strips.get(strip).map(|strip| &strip.readings)
    }

    /// The tablet of a strip, where one is chosen: its own, else that of the film's exposure.
    #[must_use]
    pub fn strip_tablet(&self, strip: usize) -> Option<&TabletId> {
        let own = self.strips.get(strip).and_then(|strip| strip.tablet.as_ref());
        own.or(self.tablet_exposure.as_ref().map(|exposed| &exposed.tablet))
    }
}
