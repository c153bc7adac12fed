//! The printing paper of the series, tested by a print of a step tablet, and how tones are followed through it.

use serde::{Deserialize, Serialize};

use super::{Exposure, FilmId, ReadingsSource, TabletId, TypedReading};

/// A print of a step tablet on the paper that all films are printed on.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PaperTest {
    /// The label as it is shown: paper, grade or filter.
    #[serde(default)]
    pub label: String,
    /// The tablet that lay between light and paper.
    pub tablet: TabletId,
    /// What is known of the light on the paper without the tablet.
    pub exposure: Exposure,
    /// Seconds of that exposure: print exposures are told against it, at the same enlarger settings.
    #[serde(default)]
    pub seconds: Option<f64>,
    /// Where the reflection densities of its steps come from.
    #[serde(default)]
    pub readings: Option<ReadingsSource>,
    /// Steps of a scanned print that the tester set aside: shown, not fitted.
    #[serde(default)]
    pub steps_set_aside: Vec<u32>,
    /// Steps that the tester keeps although the others contradict them: always fitted.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub steps_kept: Vec<u32>,
    /// Density of the paper's white, processed without exposure, when it was read.
    #[serde(default)]
    pub white: Option<TypedReading>,
}

impl PaperTest {
    /// A test of which only the tablet is known.
    #[must_use]
    pub fn through(tablet: TabletId) -> Self {
        Self {
            label: String::new(),
            tablet,
            exposure: Exposure::Relative { stops_less: 0.0 },
            seconds: None,
            readings: None,
            steps_set_aside: Vec::new(),
            steps_kept: Vec::new(),
            white: None,
        }
    }
}

/// How tones are placed on the films and followed to the print.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct ToneChoices {
    /// Exposure index at which all films are rated alike; none is the reference's box speed.
    pub exposure_index: Option<f64>,
    /// Share of the light that lens and obliquity leave at the film: q of `H = q L t / N²`.
    pub q: f64,
    /// Calibration constant K of the meter, candelas per square metre.
    pub k: f64,
    /// Subject range over image range, both as ratios: 1 is a camera without flare.
    pub flare_factor: f64,
    /// Range of the subject in stops.
    pub subject_stops: f64,
    /// Zone on which its darkest tone is placed.
    pub shadow_zone: f64,
    /// Density above base+fog on which its darkest tone is placed when each film is exposed for itself.
    pub shadow_net_density: f64,
    /// A shadow below this density above base+fog counts as lost.
    pub least_net_density: f64,
    /// Neighbouring zones that differ by less count as run together.
    pub least_separation: f64,
    /// A further film, or another roll of one, in the third column.
    pub third: Option<FilmId>,
    /// Print exposure of the reference in stops above the paper test's; none follows from the seconds on record.
    pub print_stops: Option<f64>,
    /// How the print exposures of the other films follow.
    pub print_match: PrintMatch,
}

impl Default for ToneChoices {
    fn default() -> Self {
        Self {
            exposure_index: None,
            q: 0.65,
            k: 12.5,
            flare_factor: 1.0,
            subject_stops: 7.3,
            shadow_zone: 1.0,
            shadow_net_density: 0.10,
            least_net_density: 0.10,
            least_separation: 0.05,
            third: None,
            print_stops: None,
            print_match: PrintMatch::BaseFog,
        }
    }
}

impl ToneChoices {
    /// Whether nothing was chosen yet; then nothing is written to the file.
    #[must_use]
    pub fn is_default(&self) -> bool {
        *self == Self::default()
    }
}

/// How the print exposure of a film follows from the reference's.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub enum PrintMatch {
    /// Longer by the difference in base+fog alone.
    BaseFog,
    /// So that this zone prints as dark as from the reference.
    Zone(f64),
    /// As the seconds on record for each print say.
    AsPrinted,
    /// The same for all films.
    Same,
}
