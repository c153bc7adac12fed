//! Scanner calibrations.

use twinwedge_core::document::{Calibration, CalibrationId, Series, StripShape};
use twinwedge_core::geometry::Quad;
use twinwedge_core::problem::{Problem, Subject};

use super::strips::place_as_found;
use super::{Change, gone};

/// A change of a calibration.
#[derive(Debug, Clone, PartialEq)]
pub struct CalibrationEdit {
    /// The calibration that is changed.
    pub calibration: CalibrationId,
    /// What is done to it.
    pub change: CalibrationChange,
}

/// What can be done to a calibration.
#[derive(Debug, Clone, PartialEq)]
pub enum CalibrationChange {
    /// How many steps its tablet has in the scan.
    Steps(u32),
    /// Where its tablet lies.
    Place(Quad),
    /// Where its tablet was found, with its number of steps.
    Found(StripShape),
    /// The second scan of its tablet is forgotten.
    ForgetRepeat,
}

impl CalibrationChange {
    /// The change of that calibration.
    #[must_use]
    pub fn of(self, calibration: &CalibrationId) -> CalibrationEdit {
        CalibrationEdit { calibration: calibration.clone(), change: self }
    }
}

impl Change for CalibrationEdit {
    fn label(&self, series: &Series) -> String {
        let made = series.calibrations.get(&self.calibration);
        let of = made.map_or(self.calibration.0.as_str(), |made| made.label.as_str());
        match &self.change {
            CalibrationChange::Steps(_) => format!("set the number of steps of {of}"),
            CalibrationChange::Place(_) => format!("move the tablet of {of}"),
            CalibrationChange::Found(_) => format!("find the tablet of {of}"),
            CalibrationChange::ForgetRepeat => format!("forget the second scan of {of}"),
        }
    }

    fn apply(self, series: &mut Series) -> Result<(), Problem> {
        let made = made_of(series, &self.calibration)?;
        match self.change {
            CalibrationChange::Steps(steps) => made.shape.steps = steps,
            CalibrationChange::Place(quad) => made.shape.quad = quad,
            CalibrationChange::Found(found) => place_as_found(&mut made.shape, found),
            CalibrationChange::ForgetRepeat => made.repeat = None,
        }
        Ok(())
    }
}

pub(super) fn made_of<'a>(
    series: &'a mut Series,
    calibration: &CalibrationId,
) -> Result<&'a mut Calibration, Problem> {
    let absent = || gone(Subject::Calibration(calibration.clone()), "It is no longer in the series.");
    series.calibrations.get_mut(calibration).ok_or_else(absent)
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

    #[test]
    fn a_calibration_is_placed_and_forgets_its_second_scan() {
        let mut series = two_films();
        series.tablets.insert("21".into(), Tablet::nominal(21).unwrap());
        for scan in ["a", "b"] {
            let entry = ScanEntry::new(format!("{scan}.tif"), None, ScanKind::Film);
            series.scans.insert(scan.into(), entry);
        }
        let shape = StripShape { inner: 0.5, ..StripShape::new(quad(100.0), 21) };
        let made = Calibration::new("scanner".to_owned(), "a".into(), shape, "21".into());
        series.calibrations.insert("scanner".into(), Calibration { repeat: Some("b".into()), ..made });
        let of = |change: CalibrationChange| change.of(&"scanner".into());
        let made = |series: &Series| series.calibrations[&CalibrationId::from("scanner")].clone();
        let (after, label) = done(&series, of(CalibrationChange::Place(quad(90.0)))).unwrap();
        assert_eq!((made(&after).shape.quad, label.as_str()), (quad(90.0), "move the tablet of scanner"));
        let (after, _) = done(&series, of(CalibrationChange::Steps(11))).unwrap();
        assert_eq!(made(&after).shape.steps, 11);
        let (after, _) =
            done(&series, of(CalibrationChange::Found(StripShape::new(quad(80.0), 31)))).unwrap();
        assert_eq!(made(&after).shape, StripShape { inner: 0.5, ..StripShape::new(quad(80.0), 31) });
        let (after, label) = done(&series, of(CalibrationChange::ForgetRepeat)).unwrap();
        assert_eq!((made(&after).repeat, label.as_str()), (None, "forget the second scan of scanner"));
        assert!(cause(&series, CalibrationChange::ForgetRepeat.of(&"other".into())).contains("no longer"));
    }
}
