//! The record of the series: its title, what all films share, how figures are taken, and who signs the report.

use twinwedge_core::document::{Encoding, Series, ShadowDensity};
use twinwedge_core::problem::Problem;

use super::Change;

/// A text that all films share.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Condition {
    /// Light that exposed tablet and target.
    LightSource,
    /// Camera and lens.
    Camera,
    /// What the target is.
    Target,
    /// Printing paper and its grade.
    Paper,
    /// Paper developer and time.
    PaperProcess,
    /// Lens and aperture of the enlarger.
    Enlarger,
    /// Scanner and its settings.
    Scanner,
    /// Instrument that read typed densities.
    Densitometer,
}

impl Condition {
    /// What stands there.
    #[must_use]
    pub fn value_in(self, series: &Series) -> &str {
        let conditions = &series.conditions;
        match self {
            Self::LightSource => &conditions.light_source,
            Self::Camera => &conditions.camera,
            Self::Target => &conditions.target,
            Self::Paper => &conditions.paper,
            Self::PaperProcess => &conditions.paper_process,
            Self::Enlarger => &conditions.enlarger,
            Self::Scanner => &conditions.scanner,
            Self::Densitometer => &conditions.densitometer,
        }
    }

    fn put(self, series: &mut Series, text: String) {
        let conditions = &mut series.conditions;
        *match self {
            Self::LightSource => &mut conditions.light_source,
            Self::Camera => &mut conditions.camera,
            Self::Target => &mut conditions.target,
            Self::Paper => &mut conditions.paper,
            Self::PaperProcess => &mut conditions.paper_process,
            Self::Enlarger => &mut conditions.enlarger,
            Self::Scanner => &mut conditions.scanner,
            Self::Densitometer => &mut conditions.densitometer,
        } = text;
    }

    fn word(self) -> &'static str {
        match self {
            Self::LightSource => "light source",
            Self::Camera => "camera",
            Self::Target => "target",
            Self::Paper => "paper",
            Self::PaperProcess => "paper process",
            Self::Enlarger => "enlarger",
            Self::Scanner => "scanner",
            Self::Densitometer => "densitometer",
        }
    }
}

/// A number by which figures are taken.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Setting {
    /// Standard uncertainty of a typed density, where none stands beside it.
    ReadingU,
    /// Range of the average gradient, log H.
    GradientRange,
    /// Half window of ISO 6, density.
    IsoWindow,
    /// Gradient at which the usable range begins.
    UsableToe,
    /// Gradient at which it ends.
    UsableShoulder,
    /// Diameter of the granularity aperture, micrometres.
    ApertureUm,
}

impl Setting {
    /// What stands there.
    #[must_use]
    pub fn value_in(self, series: &Series) -> f64 {
        let settings = &series.settings;
        match self {
            Self::ReadingU => settings.reading_u,
            Self::GradientRange => settings.gradient_range,
            Self::IsoWindow => settings.iso_window,
            Self::UsableToe => settings.usable_toe_gradient,
            Self::UsableShoulder => settings.usable_shoulder_gradient,
            Self::ApertureUm => settings.aperture_um,
        }
    }

    fn put(self, series: &mut Series, value: f64) {
        let settings = &mut series.settings;
        *match self {
            Self::ReadingU => &mut settings.reading_u,
            Self::GradientRange => &mut settings.gradient_range,
            Self::IsoWindow => &mut settings.iso_window,
            Self::UsableToe => &mut settings.usable_toe_gradient,
            Self::UsableShoulder => &mut settings.usable_shoulder_gradient,
            Self::ApertureUm => &mut settings.aperture_um,
        } = value;
    }

    fn word(self) -> &'static str {
        match self {
            Self::ReadingU => "the instrument error",
            Self::GradientRange => "the range of the average gradient",
            Self::IsoWindow => "the ISO window",
            Self::UsableToe => "where the usable range begins",
            Self::UsableShoulder => "where the usable range ends",
            Self::ApertureUm => "the aperture for granularity",
        }
    }
}

/// A change of the record.
#[derive(Debug, Clone, PartialEq)]
pub enum RecordEdit {
    /// What the series is called.
    Title(String),
    /// What it is about.
    About(String),
    /// What all films share.
    Condition(Condition, String),
    /// Enlargement of the prints from the negative, linear.
    Enlargement(Option<f64>),
    /// How a figure is taken.
    Setting(Setting, f64),
    /// What codes of scans stand for that say nothing themselves; none leaves it to the files, or a guess.
    Encoding(Option<Encoding>),
    /// Which shadow density brackets are matched by.
    ShadowMatch(ShadowDensity),
    /// Who signs the report.
    Tester(String),
    /// When it was signed, as the tester writes dates.
    Date(String),
    /// All of it as it is in the file, where somebody else saved it.
    Reload(Box<Series>),
}

impl Change for RecordEdit {
    fn label(&self, _: &Series) -> String {
        match self {
            Self::Title(_) => "change the title".to_owned(),
            Self::About(_) => "change what the series is about".to_owned(),
            Self::Condition(which, _) => format!("change {}", which.word()),
            Self::Enlargement(_) => "change enlargement".to_owned(),
            Self::Setting(which, _) => format!("set {}", which.word()),
            Self::Encoding(_) => "say what codes stand for".to_owned(),
            Self::ShadowMatch(density) => format!("match shadows by {}", density.text()),
            Self::Tester(_) => "change the tester".to_owned(),
            Self::Date(_) => "change the date".to_owned(),
            Self::Reload(_) => "reload the file".to_owned(),
        }
    }

    fn apply(self, series: &mut Series) -> Result<(), Problem> {
        match self {
            Self::Title(title) => series.title = title,
            Self::About(about) => series.about = about,
            Self::Condition(which, text) => which.put(series, text),
            Self::Enlargement(enlargement) => series.conditions.enlargement = enlargement,
            Self::Setting(which, value) => which.put(series, value),
            Self::Encoding(encoding) => series.settings.encoding = encoding,
            Self::ShadowMatch(density) => series.settings.shadow_match = density,
            Self::Tester(tester) => series.report.tester = tester,
            Self::Date(date) => series.report.date = date,
            Self::Reload(held) => *series = *held,
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::super::tests::{cause, done, two_films};
    use super::*;

    #[test]
    fn each_condition_and_setting_is_read_back_where_it_was_put() {
        use Condition::{Camera, Densitometer, Enlarger, LightSource, Paper, PaperProcess, Scanner, Target};
        let series = two_films();
        for which in [LightSource, Camera, Target, Paper, PaperProcess, Enlarger, Scanner, Densitometer] {
            let (after, label) = done(&series, RecordEdit::Condition(which, "north".to_owned())).unwrap();
            assert_eq!((which.value_in(&after), label), ("north", format!("change {}", which.word())));
            assert_eq!(done(&after, RecordEdit::Condition(which, String::new())).unwrap().0, series);
        }
        use Setting::{ApertureUm, GradientRange, IsoWindow, ReadingU, UsableShoulder, UsableToe};
        for which in [ReadingU, GradientRange, IsoWindow, UsableToe, UsableShoulder, ApertureUm] {
            let before = which.value_in(&series);
            let value = if which == ApertureUm { 24.0 } else { 0.3 };
            let (after, _) = done(&series, RecordEdit::Setting(which, value)).unwrap();
            assert!((which.value_in(&after) - value).abs() < 1e-12, "{which:?}");
            assert_eq!(done(&after, RecordEdit::Setting(which, before)).unwrap().0, series);
        }
    }

    #[test]
    fn texts_and_choices_of_the_record_go_where_they_belong() {
        let series = two_films();
        let text = || "Saltmarsh Darkroom Cooperative".to_owned();
        assert_eq!(done(&series, RecordEdit::Title(text())).unwrap().0.title, text());
        assert_eq!(done(&series, RecordEdit::About(text())).unwrap().0.about, text());
        assert_eq!(done(&series, RecordEdit::Tester(text())).unwrap().0.report.tester, text());
        assert_eq!(done(&series, RecordEdit::Date(text())).unwrap().0.report.date, text());
        let (after, label) = done(&series, RecordEdit::ShadowMatch(ShadowDensity::Gross)).unwrap();
        assert_eq!(after.settings.shadow_match, ShadowDensity::Gross);
        assert_eq!(label, "match shadows by gross density, as read");
        let (after, label) = done(&series, RecordEdit::Encoding(Some(Encoding::Linear))).unwrap();
        assert_eq!(
            (after.settings.encoding, label.as_str()),
            (Some(Encoding::Linear), "say what codes stand for")
        );
        assert!(cause(&series, RecordEdit::Encoding(Some(Encoding::Power(-1.0)))).contains("exponent"));
        let (after, _) = done(&series, RecordEdit::Enlargement(Some(8.0))).unwrap();
        assert_eq!(after.conditions.enlargement, Some(8.0));
    }

    #[test]
    fn numbers_out_of_range_are_refused() {
        let series = two_films();
        assert!(cause(&series, RecordEdit::Enlargement(Some(-8.0))).contains("enlargement"));
        assert!(cause(&series, RecordEdit::Setting(Setting::ReadingU, 2.0)).contains("uncertainty"));
    }
}
