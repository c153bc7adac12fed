//! Step tablets: known densities that are read from a file, and which tablet is behind what.

use twinwedge_core::document::{
    CalibrationId, Exposure, Film, FilmId, Series, Strip, Tablet, TabletExposure, TabletId,
};
use twinwedge_core::problem::{Problem, Subject};

use super::calibrations::made_of;
use super::papers::paper_of;
use super::strips::{named, strip_of};
use super::{Change, film_of, label_of, refused};

/// A tablet to choose.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum TabletChoice {
    /// A tablet that the series holds already.
    InSeries(TabletId),
    /// The trade's series of so many steps, which becomes one of the series.
    Nominal(u32),
}

/// Numbers of steps of the trade's tablets.
const NOMINAL: [u32; 4] = [11, 21, 31, 41];

impl TabletChoice {
    /// The trade's tablets that the series does not hold yet, with their labels.
    pub fn nominal(series: &Series) -> impl Iterator<Item = (Self, String)> {
        let lacking = NOMINAL.into_iter().filter(|steps| !series.tablets.contains_key(&nominal_id(*steps)));
        lacking.filter_map(|steps| Some((Self::Nominal(steps), Tablet::nominal(steps)?.label)))
    }
}

fn nominal_id(steps: u32) -> TabletId {
    TabletId(format!("{steps} steps nominal"))
}

/// What a tablet is chosen for.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum TabletOf {
    /// A film: for all its strips that have none of their own.
    Film(FilmId),
    /// One strip of a film, by its number.
    Strip(FilmId, usize),
    /// The scan of a tablet that the scanner is calibrated by.
    Calibration(CalibrationId),
    /// The paper test.
    Paper,
}

/// A change of the tablets.
#[derive(Debug, Clone, PartialEq)]
pub enum TabletEdit {
    /// Which one is behind something.
    Choose(TabletOf, TabletChoice),
    /// Densities that were read from a file.
    Read(TabletId, Tablet),
}

impl Change for TabletEdit {
    fn label(&self, series: &Series) -> String {
        match self {
            Self::Choose(TabletOf::Film(film), _) => {
                format!("choose the tablet of {}", label_of(series, film))
            }
            Self::Choose(TabletOf::Strip(id, strip), _) => {
                let of = series.film(id).map_or_else(|| id.0.clone(), |film| named(film, *strip));
                format!("choose the tablet of {of}")
            }
            Self::Choose(TabletOf::Calibration(id), _) => {
                let of = series.calibrations.get(id).map_or(id.0.as_str(), |made| made.label.as_str());
                format!("choose the tablet of {of}")
            }
            Self::Choose(TabletOf::Paper, _) => "choose the tablet of the paper test".to_owned(),
            Self::Read(id, _) => format!("read tablet {}", id.0),
        }
    }

    fn apply(self, series: &mut Series) -> Result<(), Problem> {
        match self {
            Self::Choose(of, choice) => choose(series, of, choice),
            Self::Read(id, tablet) => {
                read(series, &id, tablet);
                Ok(())
            }
        }
    }
}

fn choose(series: &mut Series, of: TabletOf, choice: TabletChoice) -> Result<(), Problem> {
    let tablet = match choice {
        TabletChoice::InSeries(id) => id,
        TabletChoice::Nominal(steps) => nominal(series, steps).ok_or_else(|| {
            refused(
                Subject::Series,
                format!("There is no nominal tablet of {steps} steps."),
                "Nominal tablets have 11, 21, 31 or 41 steps; open the densities of this one from a file.",
            )
        })?,
    };
    match of {
        TabletOf::Film(film) => {
            // What else is on record of the exposure stays.
            let film = film_of(series, &film)?;
            match &mut film.tablet_exposure {
                Some(exposed) => exposed.tablet = tablet,
                None => expose(film, Some(tablet)),
            }
        }
        TabletOf::Strip(film, number) => {
            let film = film_of(series, &film)?;
            let films = film.tablet_exposure.as_ref().map(|exposed| &exposed.tablet);
            let own = (films != Some(&tablet)).then_some(tablet);
            strip_of(film, number)?.tablet = own;
        }
        TabletOf::Calibration(id) => made_of(series, &id)?.tablet = tablet,
        TabletOf::Paper => paper_of(series)?.tablet = tablet,
    }
    Ok(())
}

/// The nominal tablet of so many steps, which is put into the series where it is not there.
fn nominal(series: &mut Series, steps: u32) -> Option<TabletId> {
    let id = nominal_id(steps);
    let tablet = Tablet::nominal(steps)?;
    series.tablets.entry(id.clone()).or_insert(tablet);
    Some(id)
}

/// The one tablet of the series with so many steps, else the nominal one of so many, put into the series.
pub(super) fn fitting_tablet(series: &mut Series, steps: usize) -> Option<TabletId> {
    let fits = |(id, tablet): (&TabletId, &Tablet)| (tablet.steps.len() == steps).then(|| id.clone());
    series.tablets.iter().find_map(fits).or_else(|| nominal(series, u32::try_from(steps).ok()?))
}

/// Says that a film was exposed through a tablet, where nothing says so yet; how much light it had is not said by that.
pub(super) fn expose(film: &mut Film, tablet: Option<TabletId>) {
    if let (None, Some(tablet)) = (&film.tablet_exposure, tablet) {
        film.tablet_exposure = Some(TabletExposure::new(tablet, Exposure::NotSaid));
    }
}

/// A tablet's measured densities take the place of a nominal tablet that stood in for them, and serve films whose readings
/// they fit and that have none yet.
fn read(series: &mut Series, id: &TabletId, tablet: Tablet) {
    let steps = tablet.steps.len();
    let stands_in = |(name, other): (&TabletId, &Tablet)| {
        (other.nominal && other.steps.len() == steps && name != id).then(|| name.clone())
    };
    let replaced: Vec<TabletId> = series.tablets.iter().filter_map(stands_in).collect();
    for film in &mut series.films {
        let read = film.strips.first().map_or(0, Strip::steps);
        let own = film.strips.iter_mut().filter_map(|strip| strip.tablet.as_mut());
        own.filter(|tablet| replaced.contains(tablet)).for_each(|tablet| *tablet = id.clone());
        match &mut film.tablet_exposure {
            Some(exposure) if replaced.contains(&exposure.tablet) => exposure.tablet = id.clone(),
            None if read == steps => expose(film, Some(id.clone())),
            _ => {}
        }
    }
    let paper = series.paper.iter_mut().map(|test| &mut test.tablet);
    let calibrations = series.calibrations.values_mut().map(|made| &mut made.tablet);
    paper
        .chain(calibrations)
        .filter(|tablet| replaced.contains(tablet))
        .for_each(|tablet| *tablet = id.clone());
    series.tablets.retain(|name, _| !replaced.contains(name));
    put(series, id.clone(), tablet);
}

/// Puts a tablet into the series under that name.
pub(crate) fn put(series: &mut Series, id: TabletId, tablet: Tablet) {
    series.tablets.insert(id, tablet);
}

#[cfg(test)]
mod tests {
    use twinwedge_core::document::{PaperTest, ReadingsSource, TypedReading};

    use super::super::tests::{cause, done, two_films};
    use super::*;

    fn typed(steps: usize) -> ReadingsSource {
        ReadingsSource::Typed(vec![TypedReading::new(1.0); steps])
    }

    #[test]
    fn measured_densities_take_the_place_of_nominal_ones() {
        let mut series = two_films();
        let nominal = Tablet::nominal(21).unwrap();
        series.tablets.insert(TabletId::from("stand-in"), nominal.clone());
        series.tablets.insert(TabletId::from("other"), Tablet::nominal(11).unwrap());
        expose(&mut series.films[0], Some(TabletId::from("stand-in")));
        series.films[1].strips.push(typed(21).into());
        series.paper = Some(PaperTest::through("stand-in".into()));
        let id = TabletId::from("measured");
        let (after, label) =
            done(&series, TabletEdit::Read(id.clone(), Tablet { nominal: false, ..nominal })).unwrap();
        assert_eq!(label, "read tablet measured");
        for film in &after.films {
            assert_eq!(film.tablet_exposure.as_ref().unwrap().tablet, id, "{}", film.label);
        }
        assert_eq!(after.paper.unwrap().tablet, id);
        let names: Vec<&str> = after.tablets.keys().map(|id| id.0.as_str()).collect();
        assert_eq!(names, ["measured", "other"]);
    }

    #[test]
    fn a_chosen_tablet_says_nothing_of_the_light() {
        let series = two_films();
        let choose = |choice| TabletEdit::Choose(TabletOf::Film("Tern 160".into()), choice);
        let (after, label) = done(&series, choose(TabletChoice::Nominal(21))).unwrap();
        let exposed = after.films[0].tablet_exposure.as_ref().unwrap();
        assert_eq!((exposed.exposure, label.as_str()), (Exposure::NotSaid, "choose the tablet of Tern 160"));
        assert_eq!(after.tablets[&exposed.tablet].steps.len(), 21);
        assert!(cause(&series, choose(TabletChoice::Nominal(22))).contains("no nominal tablet"));
        assert!(cause(&series, choose(TabletChoice::InSeries("mine".into()))).contains("no tablet"));
    }

    #[test]
    fn what_is_on_record_of_an_exposure_stays_under_another_tablet() {
        let mut series = two_films();
        for steps in [11, 21] {
            series.tablets.insert(TabletId(steps.to_string()), Tablet::nominal(steps).unwrap());
        }
        let film = &mut series.films[0];
        film.strips.push(typed(11).into());
        film.tablet_exposure = Some(TabletExposure {
            seconds: Some(2.0),
            ..TabletExposure::new("11".into(), Exposure::NotSaid)
        });
        film.strips.push(Strip::additional("weaker", typed(11)));
        let choose = |of, id: &str| TabletEdit::Choose(of, TabletChoice::InSeries(id.into()));
        let (after, _) = done(&series, choose(TabletOf::Film("Tern 160".into()), "21")).unwrap();
        let exposed = after.films[0].tablet_exposure.as_ref().unwrap();
        assert_eq!((exposed.tablet.0.as_str(), exposed.seconds), ("21", Some(2.0)));
        let strip = |number| TabletOf::Strip("Tern 160".into(), number);
        let (after, label) = done(&series, choose(strip(1), "21")).unwrap();
        assert_eq!(after.films[0].strips[1].tablet, Some("21".into()));
        assert_eq!(label, "choose the tablet of weaker of Tern 160");
        let (back, _) = done(&after, choose(strip(1), "11")).unwrap();
        assert_eq!(back.films[0].strips[1].tablet, None, "the film's");
        assert!(cause(&series, choose(strip(2), "11")).contains("no strip 3"));
        assert!(cause(&series, choose(TabletOf::Paper, "11")).contains("no paper test"));
        assert!(cause(&series, choose(TabletOf::Calibration("c".into()), "11")).contains("no longer"));
    }
}
