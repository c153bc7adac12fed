//! The paper test: what is known of it, and where its scanned print lies.

use twinwedge_core::document::{
    Exposure, PaperTest, ReadingsSource, Series, StripShape, TabletId, TypedReading,
};
use twinwedge_core::geometry::Quad;
use twinwedge_core::problem::{Problem, Subject};

use super::strips::place_as_found;
use super::{Change, gone, refused};

/// A change of the paper test.
#[derive(Debug, Clone, PartialEq)]
pub enum PaperEdit {
    /// Paper, grade or filter.
    Name(String),
    /// Seconds of the tablet's exposure.
    Seconds(Option<f64>),
    /// Density of the paper processed without exposure.
    White(Option<f64>),
    /// lg of lux seconds on the paper without the tablet; none is relative light.
    Light(Option<f64>),
    /// Where the scanned print of the tablet lies.
    Place(Quad),
    /// Where it was found, with its number of steps.
    Found(StripShape),
    /// The series has no paper test any more.
    TakeOut,
}

impl Change for PaperEdit {
    fn label(&self, _: &Series) -> String {
        match self {
            Self::Name(_) => "name the paper",
            Self::Seconds(_) => "set the seconds of the paper test",
            Self::White(_) => "set the paper's white",
            Self::Light(_) => "set the light on the paper",
            Self::Place(_) => "move the strip of the paper test",
            Self::Found(_) => "find the strip of the paper test",
            Self::TakeOut => "take the paper test out",
        }
        .to_owned()
    }

    fn apply(self, series: &mut Series) -> Result<(), Problem> {
        let test = paper_of(series)?;
        match self {
            Self::Name(name) => test.label = name,
            Self::Seconds(seconds) => test.seconds = seconds,
            Self::White(white) => {
                test.white = white.map(TypedReading::new);
            }
            Self::Light(light) => {
                let u = match test.exposure {
                    Exposure::Absolute { u, .. } => u,
                    Exposure::Relative { .. } | Exposure::NotSaid => 0.0,
                };
                let relative = Exposure::Relative { stops_less: 0.0 };
                test.exposure = light.map_or(relative, |log_h| Exposure::Absolute { log_h, u });
            }
            Self::Place(quad) => shape(test)?.quad = quad,
            Self::Found(found) => place_as_found(shape(test)?, found),
            Self::TakeOut => series.paper = None,
        }
        Ok(())
    }
}

pub(super) fn paper_of(series: &mut Series) -> Result<&mut PaperTest, Problem> {
    let none = || refused(Subject::Series, "The series has no paper test.", "Enter its densities first.");
    series.paper.as_mut().ok_or_else(none)
}

fn shape(test: &mut PaperTest) -> Result<&mut StripShape, Problem> {
    match &mut test.readings {
        Some(ReadingsSource::Strip { shape, .. }) => Ok(shape),
        Some(ReadingsSource::Typed(_)) | None => {
            Err(gone(Subject::Series, "The print of the tablet was not scanned."))
        }
    }
}

/// Puts a paper test into the series, which has none.
pub(crate) fn put_test(series: &mut Series, test: PaperTest) {
    series.paper = Some(test);
}

/// Puts densities into the paper test, or begins one through `tablet`.
pub(super) fn put_readings(
    series: &mut Series,
    tablet: Option<TabletId>,
    source: ReadingsSource,
) -> Result<(), Problem> {
    if series.paper.is_none() {
        let tablet = tablet.ok_or_else(|| {
            refused(
                Subject::Series,
                "No tablet of the series has as many steps as the paper test, and none of the trade's has.",
                "Open the densities of its tablet first.",
            )
        })?;
        let label = series.conditions.paper.clone();
        put_test(series, PaperTest { label, ..PaperTest::through(tablet) });
    }
    let test = paper_of(series)?;
    test.readings = Some(source);
    test.steps_set_aside.clear();
    Ok(())
}

#[cfg(test)]
mod tests {
    use twinwedge_core::document::{ScanEntry, ScanKind};
    use twinwedge_core::geometry::{Point, Rect};

    use super::super::tests::{Tablet, cause, done, two_films};
    use super::*;

    fn quad(right: f64) -> Quad {
        Quad::upright(Rect { min: Point::new(0.0, 0.0), max: Point::new(right, 10.0) })
    }

    fn series() -> Series {
        let mut series = two_films();
        series.tablets.insert("21".into(), Tablet::nominal(21).unwrap());
        series.scans.insert("p".into(), ScanEntry::new("p.tif".to_owned(), None, ScanKind::Print));
        let shape = StripShape::new(quad(100.0), 21);
        let source = ReadingsSource::Strip { scan: "p".into(), shape };
        put_readings(&mut series, Some("21".into()), source).unwrap();
        series
    }

    #[test]
    fn a_paper_test_is_named_timed_lit_and_taken_out() {
        let series = series();
        let test = |edit| done(&series, edit).unwrap().0.paper.unwrap();
        assert_eq!(test(PaperEdit::Name("grade 2".to_owned())).label, "grade 2");
        assert_eq!(test(PaperEdit::Seconds(Some(8.0))).seconds, Some(8.0));
        assert!((test(PaperEdit::White(Some(0.06))).white.unwrap().density - 0.06).abs() < 1e-12);
        let lit = test(PaperEdit::Light(Some(1.2)));
        assert_eq!(lit.exposure, Exposure::Absolute { log_h: 1.2, u: 0.0 });
        let (after, label) = done(&series, PaperEdit::TakeOut).unwrap();
        assert_eq!((after.paper, label.as_str()), (None, "take the paper test out"));
        assert!(cause(&series, PaperEdit::Seconds(Some(0.0))).contains("out of range"));
        assert!(cause(&two_films(), PaperEdit::TakeOut).contains("no paper test"));
    }

    #[test]
    fn its_scanned_print_is_placed() {
        let shape = |edit| match done(&series(), edit).unwrap().0.paper.unwrap().readings {
            Some(ReadingsSource::Strip { shape, .. }) => shape,
            _ => panic!("a scan"),
        };
        assert_eq!(shape(PaperEdit::Place(quad(90.0))).quad, quad(90.0));
        assert_eq!(shape(PaperEdit::Found(StripShape::new(quad(80.0), 11))).steps, 11);
        let mut typed = series();
        put_readings(&mut typed, None, ReadingsSource::Typed(Vec::new())).unwrap();
        assert!(cause(&typed, PaperEdit::Place(quad(90.0))).contains("not scanned"));
    }

    #[test]
    fn a_test_through_no_known_tablet_is_refused() {
        let mut series = two_films();
        let problem = put_readings(&mut series, None, ReadingsSource::Typed(Vec::new())).unwrap_err();
        assert!(problem.cause.to_string().starts_with("No tablet") && series.paper.is_none());
    }
}
