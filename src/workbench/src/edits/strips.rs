//! The strips of a film: the light on them, the readings, and where a scanned one lies.

use twinwedge_core::document::{
    Aperture, Exposure, Film, FilmId, ReadingsSource, Series, Strip, StripLevel, StripShape, TypedReading,
};
use twinwedge_core::geometry::Quad;
use twinwedge_core::problem::{Problem, Subject};

use super::films::no_tablet;
use super::{Change, film_of, label_of, lacks, refused};

/// What a strip is called beside its film: the film's label alone where it is the only one.
#[must_use]
pub fn named(film: &Film, strip: usize) -> String {
    if strip == 0 && film.strips.len() < 2 {
        return film.label.clone();
    }
    format!("{} of {}", film.strip_name(strip), film.label)
}

/// A change of one strip.
#[derive(Debug, Clone, PartialEq)]
pub struct StripEdit {
    /// The film that it is a strip of.
    pub film: FilmId,
    /// Its number: 0 is the first.
    pub strip: usize,
    /// What is done to it.
    pub change: StripChange,
}

/// What can be done to a strip.
#[derive(Debug, Clone, PartialEq)]
pub enum StripChange {
    /// What is known of the light on the first strip, and so on the film.
    Light(Exposure),
    /// The light of another strip against that of the first.
    Level(StripLevel),
    /// What it is called.
    Name(String),
    /// It goes; the next ones move up.
    Remove,
    /// How many steps a scanned one has.
    Steps(u32),
    /// What is read of each step of a scanned one.
    Aperture(Aperture),
    /// Where a scanned one lies.
    Place(Quad),
    /// Where it was found, with its number of steps; what is read of each step stays.
    Found(StripShape),
    /// The density of a typed reading.
    Reading {
        /// Its step, from 1.
        step: u32,
        /// The density that is entered.
        density: f64,
    },
    /// A step is set aside, or taken back in.
    Aside {
        /// The step, from 1.
        step: u32,
        /// Whether it is set aside.
        aside: bool,
    },
    /// A step stays in the fit although the others contradict it, or that is left to the fit again.
    Keep {
        /// The step, from 1.
        step: u32,
        /// Whether it is kept.
        keep: bool,
    },
}

impl StripChange {
    /// The change of that strip.
    #[must_use]
    pub fn of(self, film: &FilmId, strip: usize) -> StripEdit {
        StripEdit { film: film.clone(), strip, change: self }
    }
}

impl Change for StripEdit {
    fn label(&self, series: &Series) -> String {
        let film = series.film(&self.film);
        let of = film.map_or_else(|| self.film.0.clone(), |film| named(film, self.strip));
        let whole = match film {
            Some(film) if film.strips.len() > 1 || self.strip > 0 => of.clone(),
            _ => format!("the strip of {of}"),
        };
        match &self.change {
            StripChange::Light(_) => format!("set the light on {}", label_of(series, &self.film)),
            StripChange::Level(level) => {
                let now = film.and_then(|film| film.strips.get(self.strip)).map(|strip| strip.level);
                match (now, level) {
                    (Some(StripLevel::StopsLess { .. }), StripLevel::StopsLess { .. }) => {
                        format!("set the level of {of}")
                    }
                    _ => format!("say what is known of the light of {of}"),
                }
            }
            StripChange::Name(_) => format!("name {whole}"),
            StripChange::Remove => format!("remove {whole}"),
            StripChange::Steps(_) => format!("set the number of steps of {of}"),
            StripChange::Aperture(_) => format!("set the aperture on {of}"),
            StripChange::Place(_) => format!("move the strip of {of}"),
            StripChange::Found(_) => format!("find the strip of {of}"),
            StripChange::Reading { step, .. } => format!("move step {step} of {of}"),
            StripChange::Aside { step, aside: true } => format!("set aside step {step} of {of}"),
            StripChange::Aside { step, aside: false } => format!("take back step {step} of {of}"),
            StripChange::Keep { step, keep: true } => format!("keep step {step} of {of}"),
            StripChange::Keep { step, keep: false } => format!("leave step {step} of {of} to the fit"),
        }
    }

    fn apply(self, series: &mut Series) -> Result<(), Problem> {
        let Self { film, strip, change } = self;
        let film = film_of(series, &film)?;
        match change {
            StripChange::Light(exposure) => light(film, strip, exposure)?,
            StripChange::Level(level) => set_level(film, strip, level)?,
            StripChange::Name(name) => strip_of(film, strip)?.name = name,
            StripChange::Remove => remove(film, strip)?,
            StripChange::Steps(steps) => shape(film, strip)?.steps = steps,
            StripChange::Aperture(aperture) => shape(film, strip)?.aperture = aperture,
            StripChange::Place(quad) => shape(film, strip)?.quad = quad,
            StripChange::Found(found) => place_as_found(shape(film, strip)?, found),
            StripChange::Reading { step, density } => typed(film, strip, step)?.density = density,
            StripChange::Aside { step, aside } => with_step(film, strip, step)?.set_step_aside(step, aside),
            StripChange::Keep { step, keep } => with_step(film, strip, step)?.keep_step(step, keep),
        }
        Ok(())
    }
}

/// Puts a strip where it was found; what is read of each step stays as it was chosen.
pub(super) fn place_as_found(shape: &mut StripShape, found: StripShape) {
    *shape = StripShape { quad: found.quad, steps: found.steps, ..*shape };
}

fn light(film: &mut Film, strip: usize, exposure: Exposure) -> Result<(), Problem> {
    let no_tablet = no_tablet(film);
    if strip > 0 {
        return Err(lacks(film, "The light on an additional strip is told against the first strip's."));
    }
    film.tablet_exposure.as_mut().ok_or(no_tablet)?.exposure = exposure;
    Ok(())
}

fn set_level(film: &mut Film, strip: usize, level: StripLevel) -> Result<(), Problem> {
    if strip == 0 {
        return Err(lacks(film, "The first strip has the film's light, against which the others are told."));
    }
    strip_of(film, strip)?.level = level;
    Ok(())
}

/// Whether a strip can be taken out: the first stays as long as the level of the next is told against it.
#[must_use]
pub fn removable(film: &Film, strip: usize) -> bool {
    strip > 0 || film.strips.get(1).is_none_or(|next| next.level.is_the_films())
}

fn remove(film: &mut Film, strip: usize) -> Result<(), Problem> {
    strip_of(film, strip)?;
    if !removable(film, strip) {
        return Err(refused(
            Subject::Film(film.id.clone()),
            "The light of its other strips is told against that of strip 1.",
            "Remove the others first, or read strip 1 anew. Nothing was changed.",
        ));
    }
    film.strips.remove(strip);
    Ok(())
}

/// The strip of that number; refused where there is none.
pub(super) fn strip_of(film: &mut Film, strip: usize) -> Result<&mut Strip, Problem> {
    let none = lacks(film, format!("It has no strip {}.", strip + 1));
    film.strips.get_mut(strip).ok_or(none)
}

fn shape(film: &mut Film, strip: usize) -> Result<&mut StripShape, Problem> {
    let none = lacks(film, "That strip of it was not scanned.");
    match film.strips.get_mut(strip).map(|strip| &mut strip.readings) {
        Some(ReadingsSource::Strip { shape, .. }) => Ok(shape),
        Some(ReadingsSource::Typed(_)) | None => Err(none),
    }
}

fn typed(film: &mut Film, strip: usize, step: u32) -> Result<&mut TypedReading, Problem> {
    let none = lacks(film, format!("It has no typed reading of step {step} there."));
    let index = (step as usize).checked_sub(1);
    match (film.strips.get_mut(strip).map(|strip| &mut strip.readings), index) {
        (Some(ReadingsSource::Typed(readings)), Some(index)) => readings.get_mut(index).ok_or(none),
        _ => Err(none),
    }
}

/// The strip, if it has that step.
fn with_step(film: &mut Film, strip: usize, step: u32) -> Result<&mut Strip, Problem> {
    let none = lacks(film, format!("That strip of it has no step {step}."));
    let strip = strip_of(film, strip)?;
    if step == 0 || step as usize > strip.steps() {
        return Err(none);
    }
    Ok(strip)
}

#[cfg(test)]
mod tests {
    use twinwedge_core::document::{ScanEntry, ScanKind, TabletExposure};
    use twinwedge_core::geometry::{Point, Rect};

    use super::super::tests::{Tablet, cause, done, two_films};
    use super::*;

    fn quad(right: f64) -> Quad {
        Quad::upright(Rect { min: Point::new(0.0, 0.0), max: Point::new(right, 10.0) })
    }

    /// Tern with a typed strip and a scanned one, through 21 steps.
    fn series() -> Series {
        let mut series = two_films();
        series.tablets.insert("21".into(), Tablet::nominal(21).unwrap());
        series.scans.insert("strip".into(), ScanEntry::new("strip.tif".to_owned(), None, ScanKind::Film));
        let reading = TypedReading::new(0.3);
        let film = &mut series.films[0];
        film.strips.push(ReadingsSource::Typed(vec![reading; 3]).into());
        film.tablet_exposure = Some(TabletExposure::new("21".into(), Exposure::Relative { stops_less: 1.0 }));
        let shape = StripShape { inner: 0.5, ..StripShape::new(quad(100.0), 21) };
        let scanned = ReadingsSource::Strip { scan: "strip".into(), shape };
        film.strips.push(Strip::additional("weaker", scanned));
        series
    }

    fn of(change: StripChange, strip: usize) -> StripEdit {
        change.of(&"Tern 160".into(), strip)
    }

    #[test]
    fn light_is_said_of_the_first_strip_and_levels_of_the_others() {
        let series = series();
        let light = StripChange::Light(Exposure::Absolute { log_h: 0.5, u: 0.01 });
        let (after, label) = done(&series, of(light.clone(), 0)).unwrap();
        assert_eq!(label, "set the light on Tern 160");
        let exposed = after.films[0].tablet_exposure.as_ref().unwrap();
        assert_eq!(exposed.exposure, Exposure::Absolute { log_h: 0.5, u: 0.01 });
        assert!(cause(&series, of(light.clone(), 1)).contains("against the first"));
        assert!(cause(&series, light.of(&"Plover 640".into(), 0)).contains("tablet"));
        let less = |stops| StripChange::Level(StripLevel::StopsLess { stops, u: 0.1 });
        let (after, label) = done(&series, of(less(3.0), 1)).unwrap();
        assert_eq!(label, "say what is known of the light of weaker of Tern 160");
        assert_eq!(after.films[0].strips[1].level, StripLevel::StopsLess { stops: 3.0, u: 0.1 });
        assert_eq!(done(&after, of(less(2.0), 1)).unwrap().1, "set the level of weaker of Tern 160");
        assert!(cause(&series, of(less(3.0), 0)).contains("The first strip has the film's light"));
        assert!(cause(&series, of(less(3.0), 2)).contains("no strip 3"));
        assert!(cause(&series, of(less(99.0), 1)).contains("out of range"));
    }

    #[test]
    fn strips_are_named_and_removed_and_the_first_while_no_level_is_told_against_it() {
        let series = series();
        let (after, label) = done(&series, of(StripChange::Name("filtered".to_owned()), 1)).unwrap();
        assert_eq!(
            (after.films[0].strip_name(1).as_str(), label.as_str()),
            ("filtered", "name weaker of Tern 160")
        );
        let (after, label) = done(&series, of(StripChange::Name("full".to_owned()), 0)).unwrap();
        assert_eq!(
            (after.films[0].strip_name(0).as_str(), label.as_str()),
            ("full", "name strip 1 of Tern 160")
        );
        assert!(cause(&series, of(StripChange::Remove, 0)).contains("told against that of strip 1"));
        let alike = StripChange::Level(StripLevel::default());
        let (alike, _) = done(&done(&series, of(alike, 1)).unwrap().0, of(StripChange::Remove, 0)).unwrap();
        assert_eq!(alike.films[0].strip_name(0), "weaker", "strips of one light are told against either");
        let (after, label) = done(&series, of(StripChange::Remove, 1)).unwrap();
        assert_eq!((after.films[0].strips.len(), label.as_str()), (1, "remove weaker of Tern 160"));
        assert!(cause(&after, of(StripChange::Remove, 1)).contains("no strip 2"));
        let (after, label) = done(&after, of(StripChange::Remove, 0)).unwrap();
        assert_eq!((after.films[0].strips.len(), label.as_str()), (0, "remove the strip of Tern 160"));
        assert!(cause(&after, of(StripChange::Remove, 0)).contains("no strip 1"));
    }

    #[test]
    fn a_scanned_strip_is_placed_and_keeps_what_is_read_of_a_step() {
        let series = series();
        let shape_of = |series: &Series| match &series.films[0].strips[1].readings {
            ReadingsSource::Strip { shape, .. } => *shape,
            ReadingsSource::Typed(_) => panic!("a scan"),
        };
        let found = StripChange::Found(StripShape::new(quad(80.0), 11));
        let (after, _) = done(&series, of(found.clone(), 1)).unwrap();
        assert_eq!(shape_of(&after), StripShape { inner: 0.5, ..StripShape::new(quad(80.0), 11) });
        let (after, label) = done(&series, of(StripChange::Place(quad(90.0)), 1)).unwrap();
        assert_eq!(
            (shape_of(&after).quad, label.as_str()),
            (quad(90.0), "move the strip of weaker of Tern 160")
        );
        let (after, _) = done(&series, of(StripChange::Steps(31), 1)).unwrap();
        assert_eq!(shape_of(&after).steps, 31);
        let (after, _) = done(&series, of(StripChange::Aperture(Aperture::Circle(2.0)), 1)).unwrap();
        assert_eq!(shape_of(&after).aperture, Aperture::Circle(2.0));
        for change in [found, StripChange::Place(quad(90.0)), StripChange::Steps(31)] {
            assert!(cause(&series, of(change, 0)).contains("not scanned"), "the first was typed");
        }
        assert!(cause(&series, of(StripChange::Steps(5000), 1)).contains("out of range"));
    }

    #[test]
    fn readings_are_moved_and_set_aside_where_they_are() {
        let series = series();
        let (after, label) = done(&series, of(StripChange::Reading { step: 2, density: 0.4 }, 0)).unwrap();
        let ReadingsSource::Typed(readings) = &after.films[0].strips[0].readings else { panic!("typed") };
        assert_eq!(label, "move step 2 of strip 1 of Tern 160");
        assert_eq!(readings.iter().map(|reading| reading.density).collect::<Vec<_>>(), [0.3, 0.4, 0.3]);
        for (step, strip) in [(0, 0), (4, 0), (1, 1)] {
            assert!(
                cause(&series, of(StripChange::Reading { step, density: 0.4 }, strip)).contains("no typed")
            );
        }
        let aside = |step, aside| StripChange::Aside { step, aside };
        let (after, label) = done(&series, of(aside(7, true), 1)).unwrap();
        assert_eq!(after.films[0].strips[1].steps_set_aside, [7]);
        assert_eq!(label, "set aside step 7 of weaker of Tern 160");
        let (back, label) = done(&after, of(aside(7, false), 1)).unwrap();
        assert_eq!((back, label.as_str()), (series.clone(), "take back step 7 of weaker of Tern 160"));
        assert!(cause(&series, of(aside(4, true), 0)).contains("no step 4"));
        assert!(cause(&series, of(aside(22, true), 1)).contains("no step 22"));
    }
}
