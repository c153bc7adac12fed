//! How tones are placed on the films and followed to the print.

use twinwedge_core::document::{FilmId, PrintMatch, Series, ToneChoices};
use twinwedge_core::problem::{Problem, Subject};

use super::{Change, gone};

/// A number of the tone choices.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ToneNumber {
    /// Range of the subject, stops.
    SubjectStops,
    /// Zone of its darkest tone.
    ShadowZone,
    /// Subject range over image range.
    FlareFactor,
    /// Share of light `q`.
    LensQ,
    /// Meter constant `K`.
    MeterK,
    /// Density above base+fog on which the darkest tone is placed.
    ShadowDensity,
    /// Density above base+fog below which a shadow counts as lost.
    LeastDensity,
    /// Difference below which neighbouring zones run together.
    LeastSeparation,
}

impl ToneNumber {
    /// What stands there.
    #[must_use]
    pub fn value_in(self, tones: &ToneChoices) -> f64 {
        match self {
            Self::SubjectStops => tones.subject_stops,
            Self::ShadowZone => tones.shadow_zone,
            Self::FlareFactor => tones.flare_factor,
            Self::LensQ => tones.q,
            Self::MeterK => tones.k,
            Self::ShadowDensity => tones.shadow_net_density,
            Self::LeastDensity => tones.least_net_density,
            Self::LeastSeparation => tones.least_separation,
        }
    }

    fn put(self, tones: &mut ToneChoices, value: f64) {
        *match self {
            Self::SubjectStops => &mut tones.subject_stops,
            Self::ShadowZone => &mut tones.shadow_zone,
            Self::FlareFactor => &mut tones.flare_factor,
            Self::LensQ => &mut tones.q,
            Self::MeterK => &mut tones.k,
            Self::ShadowDensity => &mut tones.shadow_net_density,
            Self::LeastDensity => &mut tones.least_net_density,
            Self::LeastSeparation => &mut tones.least_separation,
        } = value;
    }

    fn word(self) -> &'static str {
        match self {
            Self::SubjectStops => "the range of the subject",
            Self::ShadowZone => "the zone of the darkest tone",
            Self::FlareFactor => "the flare factor",
            Self::LensQ => "the share of light q",
            Self::MeterK => "the meter constant K",
            Self::ShadowDensity => "the density of the darkest tone",
            Self::LeastDensity => "the density of a lost shadow",
            Self::LeastSeparation => "the least separation of zones",
        }
    }
}

/// A change of the tone choices.
#[derive(Debug, Clone, PartialEq)]
pub enum ToneEdit {
    /// At which all films are rated alike; none is the reference's box speed.
    ExposureIndex(Option<f64>),
    /// The same, dragged in the diagram.
    DragIndex(f64),
    /// Print exposure of the reference in stops above the paper test's; none follows from the seconds on record.
    PrintStops(Option<f64>),
    /// The same, dragged in the diagram.
    DragPrint(f64),
    /// A number of the choices is typed.
    Number(ToneNumber, f64),
    /// The film in the third column.
    Third(Option<FilmId>),
    /// How the print exposures of the other films follow.
    PrintMatch(PrintMatch),
}

impl Change for ToneEdit {
    fn label(&self, _: &Series) -> String {
        match self {
            Self::ExposureIndex(_) => "set the exposure index".to_owned(),
            Self::DragIndex(_) => "drag the exposure index".to_owned(),
            Self::PrintStops(_) => "set the print exposure".to_owned(),
            Self::DragPrint(_) => "drag the print exposure".to_owned(),
            Self::Number(which, _) => format!("set {}", which.word()),
            Self::Third(_) => "choose the third film".to_owned(),
            Self::PrintMatch(_) => "choose how prints are matched".to_owned(),
        }
    }

    fn apply(self, series: &mut Series) -> Result<(), Problem> {
        if let Self::Third(Some(film)) = &self
            && series.film(film).is_none()
        {
            return Err(gone(Subject::Film(film.clone()), "It is no longer in the series."));
        }
        let tones = &mut series.tones;
        match self {
            Self::ExposureIndex(index) => tones.exposure_index = index,
            Self::DragIndex(index) => tones.exposure_index = Some(index),
            Self::PrintStops(stops) => tones.print_stops = stops,
            Self::DragPrint(stops) => tones.print_stops = Some(stops),
            Self::Number(which, value) => which.put(tones, value),
            Self::Third(film) => tones.third = film,
            Self::PrintMatch(by) => tones.print_match = by,
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::super::tests::{cause, done, two_films};
    use super::*;

    #[test]
    fn each_number_is_read_back_where_it_was_put() {
        use ToneNumber::{
            FlareFactor, LeastDensity, LeastSeparation, LensQ, MeterK, ShadowDensity, ShadowZone,
            SubjectStops,
        };
        let series = two_films();
        for (which, value) in [
            (SubjectStops, 9.0),
            (ShadowZone, 2.0),
            (FlareFactor, 2.5),
            (LensQ, 0.8),
            (MeterK, 14.0),
            (ShadowDensity, 0.2),
            (LeastDensity, 0.3),
            (LeastSeparation, 0.02),
        ] {
            let (after, label) = done(&series, ToneEdit::Number(which, value)).unwrap();
            assert!((which.value_in(&after.tones) - value).abs() < 1e-12, "{which:?}");
            assert_eq!(label, format!("set {}", which.word()));
            let back = ToneEdit::Number(which, which.value_in(&series.tones));
            assert_eq!(done(&after, back).unwrap().0, series);
        }
        assert!(cause(&series, ToneEdit::Number(FlareFactor, 0.5)).contains("out of range"));
    }

    #[test]
    fn exposures_and_the_third_film_are_chosen() {
        let series = two_films();
        let tones = |edit| done(&series, edit).unwrap().0.tones;
        assert_eq!(tones(ToneEdit::ExposureIndex(Some(125.0))).exposure_index, Some(125.0));
        assert_eq!(tones(ToneEdit::DragIndex(125.0)).exposure_index, Some(125.0));
        assert_eq!(tones(ToneEdit::PrintStops(Some(0.5))).print_stops, Some(0.5));
        assert_eq!(tones(ToneEdit::DragPrint(-0.5)).print_stops, Some(-0.5));
        assert_eq!(tones(ToneEdit::Third(Some("Tern 160".into()))).third, Some("Tern 160".into()));
        assert_eq!(tones(ToneEdit::PrintMatch(PrintMatch::Same)).print_match, PrintMatch::Same);
        assert!(cause(&series, ToneEdit::Third(Some("Godwit".into()))).contains("no longer"));
        assert!(cause(&series, ToneEdit::ExposureIndex(Some(-1.0))).contains("out of range"));
    }
}
