//! Scans, tablets, calibrations and the patch layout.

use serde::{Deserialize, Serialize};

use super::{Aperture, Encoding, EnteredSpectrum, FlatSource, KnownPatch, ScanId, TabletId};
use crate::geometry::Quad;

/// What a patch shows, where the layout states it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Shows {
    /// A colour: its family is that of its hue.
    #[default]
    Colour,
    /// A neutral grey, for which no hue is told.
    Grey,
    /// The tone of skin.
    Skin,
    /// Leaves and grass, which reflect infrared.
    Foliage,
    /// The blue of the sky.
    Sky,
}

/// A scan file and how it is to be read.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ScanEntry {
    /// Path relative to the series file, with '/' between folders.
    pub path: String,
    /// What the file held when it was taken in.
    pub digest: Option<FileDigest>,
    /// Seen through or seen by reflection.
    pub kind: ScanKind,
    /// Resolution in dots per inch where the file does not say or says it wrongly.
    #[serde(default)]
    pub dpi: Option<f64>,
    /// Which channel of a colour scan is measured.
    #[serde(default)]
    pub channel: Channel,
    /// The calibration that turns its codes into densities; without one they are read by their encoding, and marked so.
    #[serde(default)]
    pub calibration: Option<super::CalibrationId>,
    /// What its codes stand for, as the tester states it; else what its file says, then [`super::Settings::encoding`]. Where
    /// there is a calibration it is not asked.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub encoding: Option<Encoding>,
    /// Where the falloff of its light is taken from.
    #[serde(default, skip_serializing_if = "FlatSource::is_nothing")]
    pub flat: FlatSource,
    /// A place of known density in it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub known: Option<KnownPatch>,
    /// Whether the light that strays over it is taken out, as far as it differs from the calibration's.
    #[serde(default, skip_serializing_if = "core::ops::Not::not")]
    pub flare_corrected: bool,
}

impl ScanEntry {
    /// A file with nothing chosen about it.
    #[must_use]
    pub fn new(path: String, digest: Option<FileDigest>, kind: ScanKind) -> Self {
        Self {
            path,
            digest,
            kind,
            dpi: None,
            channel: Channel::default(),
            calibration: None,
            encoding: None,
            flat: FlatSource::Nothing,
            known: None,
            flare_corrected: false,
        }
    }
}

/// Size and digest of a file.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct FileDigest {
    /// Its length in bytes.
    pub bytes: u64,
    /// BLAKE3, in hexadecimal.
    pub blake3: String,
}

/// What a scan shows.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub enum ScanKind {
    /// Film, seen through: codes stand for transmittance.
    Film,
    /// A print, seen by reflection: codes stand for reflectance.
    Print,
}

/// Which channel of a colour scan is measured. A grey scan has but one and ignores this.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default, Serialize, Deserialize)]
pub enum Channel {
    /// The red channel alone.
    Red,
    /// Green, nearest to visual density for a neutral image.
    #[default]
    Green,
    /// The blue channel alone.
    Blue,
    /// A mix of light of all three, by weights whose sum counts as one.
    Mix {
        /// Weight of red.
        red: u16,
        /// Weight of green.
        green: u16,
        /// Weight of blue.
        blue: u16,
    },
}

impl Channel {
    /// The weights of a mix: red, green and blue by ITU-R BT.709-6, the luminance of the sRGB primaries, in ten thousandths.
    pub const LUMINANCE: Self = Self::Mix { red: 2126, green: 7152, blue: 722 };

    /// Weights of red, green and blue, with a sum of one. `None` for a mix of no weight at all.
    ///
    /// ```
    /// # use twinwedge_core::document::Channel;
    /// let mix = Channel::Mix { red: 1, green: 2, blue: 1 };
    /// assert_eq!(mix.weights(), Some([0.25, 0.5, 0.25]));
    /// ```
    #[must_use]
    pub fn weights(self) -> Option<[f64; 3]> {
        match self {
            Self::Red => Some([1.0, 0.0, 0.0]),
            Self::Green => Some([0.0, 1.0, 0.0]),
            Self::Blue => Some([0.0, 0.0, 1.0]),
            Self::Mix { red, green, blue } => {
                let all = f64::from(red) + f64::from(green) + f64::from(blue);
                (all > 0.0).then(|| [red, green, blue].map(|weight| f64::from(weight) / all))
            }
        }
    }

    /// The one channel of a colour scan that is nearest to it: the heaviest of a mix.
    #[must_use]
    pub fn heaviest(self) -> Self {
        match self {
            Self::Mix { red, green, blue } if red > green && red >= blue => Self::Red,
            Self::Mix { red, green, blue } if blue > green && blue > red => Self::Blue,
            Self::Mix { .. } => Self::Green,
            one => one,
        }
    }

    /// The channel as a reader is told it.
    #[must_use]
    pub fn words(self) -> String {
        match self {
            Self::Red => "red".to_owned(),
            Self::Green => "green".to_owned(),
            Self::Blue => "blue".to_owned(),
            Self::Mix { red, green, blue } => format!("mix of red {red}, green {green}, blue {blue}"),
        }
    }
}

/// A step tablet.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Tablet {
    /// The label as it is shown.
    pub label: String,
    /// The densities are the catalogue's, not measured on this tablet.
    pub nominal: bool,
    /// Standard uncertainty of an error that all its steps share: of the densitometer that measured it.
    #[serde(default)]
    pub shared_u: f64,
    /// Step 1 first.
    pub steps: Vec<TabletStep>,
}

impl Tablet {
    /// The trade's series of `steps` steps from 0.05: 11 of 0.30, 21 of 0.15, 31 of 0.10, 41 of 0.05, marked nominal.
    /// `None` for another number. Source: common practice.
    ///
    /// ```
    /// # use twinwedge_core::document::Tablet;
    /// let tablet = Tablet::nominal(21).unwrap();
    /// assert!((tablet.steps[20].density - 3.05).abs() < 1e-12 && tablet.nominal);
    /// ```
    #[must_use]
    pub fn nominal(steps: u32) -> Option<Self> {
        let hundredths = match steps {
            11 => 30,
            21 => 15,
            31 => 10,
            41 => 5,
            _ => return None,
        };
        let step = |i: u32| TabletStep { density: f64::from(5 + i * hundredths) / 100.0, u: None };
        Some(Self {
            label: format!("{steps} steps of {:.2}, nominal", f64::from(hundredths) / 100.0),
            nominal: true,
            shared_u: 0.0,
            steps: (0..steps).map(step).collect(),
        })
    }
}

/// The known density of a step, as a densitometer read it.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct TabletStep {
    /// Diffuse visual density.
    pub density: f64,
    /// Standard uncertainty where known.
    #[serde(default)]
    pub u: Option<f64>,
}

/// A scanner calibration: a scan of a tablet of known densities.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Calibration {
    /// The label as it is shown.
    pub label: String,
    /// The scan of the tablet.
    pub scan: ScanId,
    /// Where it lies in it.
    pub shape: StripShape,
    /// Its known densities.
    pub tablet: TabletId,
    /// A second scan of the same, the tablet not moved: tells the scanner's noise from the tablet's grain.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub repeat: Option<ScanId>,
}

impl Calibration {
    /// A calibration from one scan.
    #[must_use]
    pub fn new(label: String, scan: ScanId, shape: StripShape, tablet: TabletId) -> Self {
        Self { label, scan, shape, tablet, repeat: None }
    }
}

/// Where a strip of steps lies in a scan.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct StripShape {
    /// Corners: u from the outer edge of step 1 to the outer edge of the last step.
    pub quad: Quad,
    /// Number of steps between them, of equal length.
    pub steps: u32,
    /// Share of each step's length and width that is sampled, centred; 0 < inner <= 1.
    #[serde(default = "default_inner")]
    pub inner: f64,
    /// What is read of it.
    #[serde(default, skip_serializing_if = "Aperture::is_share")]
    pub aperture: Aperture,
}

fn default_inner() -> f64 {
    0.6
}

impl StripShape {
    /// A strip with the usual inner share of 0.6.
    #[must_use]
    pub fn new(quad: Quad, steps: u32) -> Self {
        Self { quad, steps, inner: default_inner(), aperture: Aperture::Share }
    }
}

/// A patch layout: rows by columns, row by row.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PatchLayout {
    /// Number of rows.
    pub rows: u32,
    /// Number of columns.
    pub columns: u32,
    /// `rows * columns` patches, row by row from the upper left.
    pub patches: Vec<PatchName>,
    /// What lies between the patches and around them.
    #[serde(default, skip_serializing_if = "Gaps::is_none")]
    pub gaps: Gaps,
    /// Each patch lies as the grid has it; else it is placed by its own borders where these show.
    #[serde(default, skip_serializing_if = "core::ops::Not::not")]
    pub fixed: bool,
}

impl PatchLayout {
    /// The same without what is known of its patches' colours: all that sampling them needs.
    #[must_use]
    pub fn without_colours(&self) -> Self {
        let mut layout = self.clone();
        for patch in &mut layout.patches {
            (patch.density, patch.reflectance) = (None, None);
        }
        layout
    }

    /// Number of the grey card.
    #[must_use]
    pub fn grey_card(&self) -> Option<usize> {
        self.patches.iter().position(|patch| patch.role == PatchRole::GreyCard)
    }
}

/// Gaps between patches and a margin around them, as shares of a patch's width (across) and height (down).
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct Gaps {
    /// Between neighbours in a row.
    pub across: f64,
    /// Between rows, as a share of a patch's side.
    pub down: f64,
    /// Left and right of the outer patches, within the grid's corners.
    pub margin_across: f64,
    /// Above and below the outer patches.
    pub margin_down: f64,
}

impl Gaps {
    /// Whether patches touch each other and the grid's edge.
    #[must_use]
    pub fn is_none(&self) -> bool {
        *self == Self::default()
    }
}

/// One patch of a layout.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PatchName {
    /// What it is called.
    pub name: String,
    /// What it is for.
    pub role: PatchRole,
    /// Its density on the target itself, where known: by its maker or a densitometer.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub density: Option<f64>,
    /// The share of light that it reflects at each wavelength, where known.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub reflectance: Option<EnteredSpectrum>,
}

impl PatchName {
    /// A patch of unknown density.
    pub fn new(name: impl Into<String>, role: PatchRole) -> Self {
        Self { name: name.into(), role, density: None, reflectance: None }
    }
}

/// What a patch is for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub enum PatchRole {
    /// A step of a grey scale.
    Grey,
    /// The grey card that others are compared with.
    GreyCard,
    /// The white of the target.
    White,
    /// The shadow patch.
    Shadow,
    /// A colour that is none of these.
    Colour,
    /// A skin tone.
    Skin,
    /// Leaves and grass.
    Foliage,
    /// The blue of the sky.
    Sky,
}

impl PatchRole {
    /// All of them, in the order in which they are offered.
    pub const ALL: [Self; 8] = [
        Self::Grey,
        Self::GreyCard,
        Self::White,
        Self::Shadow,
        Self::Colour,
        Self::Skin,
        Self::Foliage,
        Self::Sky,
    ];

    /// Whether it is for a grey: of no colour, white and black among them.
    #[must_use]
    pub fn is_neutral(self) -> bool {
        match self {
            Self::Grey | Self::GreyCard | Self::White | Self::Shadow => true,
            Self::Colour | Self::Skin | Self::Foliage | Self::Sky => false,
        }
    }

    /// What it shows.
    #[must_use]
    pub fn shows(self) -> Shows {
        match self {
            Self::Grey | Self::GreyCard | Self::White | Self::Shadow => Shows::Grey,
            Self::Colour => Shows::Colour,
            Self::Skin => Shows::Skin,
            Self::Foliage => Shows::Foliage,
            Self::Sky => Shows::Sky,
        }
    }
}

/// Where a patch grid lies in a scan.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct GridShape {
    /// Outer corners of the grid: u along the rows, v down the columns.
    pub quad: Quad,
    /// Share of each patch that is sampled, centred; 0 < inner <= 1.
    #[serde(default = "default_inner")]
    pub inner: f64,
    /// What is read of it.
    #[serde(default, skip_serializing_if = "Aperture::is_share")]
    pub aperture: Aperture,
}

impl GridShape {
    /// A grid with the usual inner share of 0.6.
    #[must_use]
    pub fn new(quad: Quad) -> Self {
        Self { quad, inner: default_inner(), aperture: Aperture::Share }
    }
}
