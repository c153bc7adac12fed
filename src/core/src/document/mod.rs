//! The series document: what the tester entered and chose. Plain data, small, saved. Nothing here is derived: no reading
//! of a scan, curve or figure is ever stored as truth.
//!
//! Maps are ordered and every choice has a default, so that the saved text is stable and readable line by line.

mod check;
mod check_film;
mod detail;
mod development;
mod encoding;
mod film;
mod names;
pub mod once;
mod paper;
pub mod ranges;
mod scans;
mod strips;
mod target;
mod trust;

pub use check::{Fault, Owner};
pub use detail::{EdgeArea, EdgeSpace, GrainArea, GrainNoise, SharpnessChoices, Viewing};
pub use development::{CompareAs, DevelopmentChoices, FollowedGradient, Induction};
pub use encoding::{Encoding, FORMS as ENCODING_FORMS, srgb_to_linear};
pub use film::{
    Bracket, BracketFrame, Exposure, Film, PrintChoice, Process, ReadingsSource, TabletExposure, TypedReading,
};
pub use names::Names;
pub use paper::{PaperTest, PrintMatch, ToneChoices};
pub use scans::{
    Calibration, Channel, FileDigest, Gaps, GridShape, PatchLayout, PatchName, PatchRole, ScanEntry,
    ScanKind, Shows, StripShape, Tablet, TabletStep,
};
pub use strips::{Strip, StripLevel};
pub use target::{EnteredSpectrum, SubjectLight, TargetChoices};
pub use trust::{Aperture, FlatSource, KnownPatch};

use std::collections::{BTreeMap, BTreeSet};

use serde::{Deserialize, Serialize};

use crate::geometry::{Point, Rect};

/// The format version that this code writes.
pub const FORMAT: u32 = 2;

macro_rules! id {
    ($(#[$doc:meta])* $name:ident) => {
        $(#[$doc])*
        #[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
        #[serde(transparent)]
        pub struct $name(pub String);

        impl From<&str> for $name {
            fn from(text: &str) -> Self {
                Self(text.to_owned())
            }
        }

        impl once::Name for $name {
            fn name(&self) -> &str {
                &self.0
            }
        }
    };
}

id!(
    /// Names a film within its series; the label as first entered, made unique. Never changes afterwards.
    FilmId
);
id!(
    /// Names a scan within its series.
    ScanId
);
id!(
    /// Names a tablet within its series.
    TabletId
);
id!(
    /// Names a scanner calibration within its series.
    CalibrationId
);

/// A series: the reference film, its candidates, and the conditions they share.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct Series {
    /// Format version of the file.
    pub format: u32,
    /// What the series is called.
    pub title: String,
    /// Free text about the test: where the data come from, who made them, that they are invented.
    pub about: String,
    /// What all films share.
    pub conditions: Conditions,
    /// The film that all are compared with.
    pub reference: Option<FilmId>,
    /// Reference and candidates, in the tester's order.
    pub films: Vec<Film>,
    /// Step tablets used for exposing films and for calibrating.
    #[serde(deserialize_with = "once::each_once")]
    pub tablets: BTreeMap<TabletId, Tablet>,
    /// Scans by name.
    #[serde(deserialize_with = "once::each_once")]
    pub scans: BTreeMap<ScanId, ScanEntry>,
    /// Scanner calibrations by name.
    #[serde(deserialize_with = "once::each_once")]
    pub calibrations: BTreeMap<CalibrationId, Calibration>,
    /// The patch grid of the printed target.
    pub layout: Option<PatchLayout>,
    /// What is known of that target's colours.
    #[serde(skip_serializing_if = "TargetChoices::is_default")]
    pub target: TargetChoices,
    /// Places sampled in the prints, in the pixels of the reference's print.
    pub spots: Vec<Spot>,
    /// The paper that all films are printed on, when it was tested.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub paper: Option<PaperTest>,
    /// How tones are placed on the films and followed to the print.
    #[serde(skip_serializing_if = "ToneChoices::is_default")]
    pub tones: ToneChoices,
    /// How a print is looked at.
    #[serde(skip_serializing_if = "Viewing::is_default")]
    pub viewing: Viewing,
    /// The part of the reference's print, in its pixels, in which surviving detail is compared; none is all that the prints
    /// share.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub detail_area: Option<Rect>,
    /// How sharpness is measured.
    #[serde(skip_serializing_if = "SharpnessChoices::is_default")]
    pub sharpness: SharpnessChoices,
    /// How curves are fitted and figures taken.
    pub settings: Settings,
    /// What was chosen about development.
    #[serde(skip_serializing_if = "DevelopmentChoices::is_default")]
    pub development: DevelopmentChoices,
    /// What the report says beyond the numbers.
    pub report: ReportChoices,
}

impl Default for Series {
    fn default() -> Self {
        Self {
            format: FORMAT,
            title: String::new(),
            about: String::new(),
            conditions: Conditions::default(),
            reference: None,
            films: Vec::new(),
            tablets: BTreeMap::new(),
            scans: BTreeMap::new(),
            calibrations: BTreeMap::new(),
            layout: None,
            target: TargetChoices::default(),
            spots: Vec::new(),
            paper: None,
            tones: ToneChoices::default(),
            viewing: Viewing::default(),
            detail_area: None,
            sharpness: SharpnessChoices::default(),
            settings: Settings::default(),
            development: DevelopmentChoices::default(),
            report: ReportChoices::default(),
        }
    }
}

impl Series {
    /// The film of that name.
    #[must_use]
    pub fn film(&self, id: &FilmId) -> Option<&Film> {
        self.films.iter().find(|film| film.id == *id)
    }

    /// The film of that name, to change it.
    pub fn film_mut(&mut self, id: &FilmId) -> Option<&mut Film> {
        self.films.iter_mut().find(|film| film.id == *id)
    }

    /// The reference film, if one is chosen and present.
    #[must_use]
    pub fn reference_film(&self) -> Option<&Film> {
        self.reference.as_ref().and_then(|id| self.film(id))
    }

    /// All films but the reference, in order.
    pub fn candidates(&self) -> impl Iterator<Item = &Film> {
        self.films.iter().filter(|film| self.reference.as_ref() != Some(&film.id))
    }

    /// The scans that something is measured on: those of the films and of their noise, of the paper, and of the scanner's
    /// edge, each once.
    #[must_use]
    pub fn measured_scans(&self) -> BTreeSet<&ScanId> {
        let of_films = self.films.iter().flat_map(Film::scans);
        let of_paper = self.paper.iter().filter_map(|paper| match &paper.readings {
            Some(ReadingsSource::Strip { scan, .. }) => Some(scan),
            _ => None,
        });
        let grain = self.films.iter().flat_map(|film| &film.uniform_areas);
        let of_noise = grain.filter_map(|grain| match &grain.noise {
            GrainNoise::Repeat(scan) | GrainNoise::Blank { scan, .. } => Some(scan),
            GrainNoise::Calibration | GrainNoise::LeftIn => None,
        });
        of_films
            .chain(of_paper)
            .chain(of_noise)
            .chain(self.sharpness.scanner_edge.iter().map(|edge| &edge.scan))
            .collect()
    }

    /// The film that `id` is a roll of, or itself when it is a roll of none.
    #[must_use]
    pub fn family_head<'a>(&'a self, id: &'a FilmId) -> &'a FilmId {
        self.film(id)
            .and_then(|film| film.roll_of.as_ref())
            .filter(|head| self.film(head).is_some())
            .unwrap_or(id)
    }

    /// All rolls of the film that `id` is a roll of, in order, itself among them.
    pub fn family<'a>(&'a self, id: &'a FilmId) -> impl Iterator<Item = &'a Film> {
        let head = self.family_head(id);
        // Whether it is there is found out once, and no film is looked for by its name for each film.
        let known = self.film(head).is_some();
        let rolls_of_none = |film: &Film| film.roll_of.as_ref().is_none_or(|of| self.film(of).is_none());
        self.films.iter().filter(move |film| {
            if film.roll_of.as_ref() == Some(head) { known } else { film.id == *head && rolls_of_none(film) }
        })
    }

    /// The reference, then all others that are no roll of another film: films that can be put in an order.
    pub fn distinct_films(&self) -> impl Iterator<Item = &Film> {
        let others = self.candidates().filter(|film| film.roll_of.is_none());
        self.reference_film().into_iter().chain(others)
    }

    /// All films, each followed by its rolls, the reference's family first; with whether it is a roll of the one before.
    #[must_use]
    pub fn in_families(&self) -> Vec<(&Film, bool)> {
        let known: BTreeSet<&FilmId> = self.films.iter().map(|film| &film.id).collect();
        let head_of = |film: &'_ Film| film.roll_of.clone().filter(|head| known.contains(head));
        let mut rolls: BTreeMap<FilmId, Vec<&Film>> = BTreeMap::new();
        let mut heads: Vec<&Film> = Vec::new();
        for film in &self.films {
            match head_of(film) {
                Some(head) => rolls.entry(head).or_default().push(film),
                None => heads.push(film),
            }
        }
        let reference = self.reference_film().map(|film| head_of(film).unwrap_or_else(|| film.id.clone()));
        heads.sort_by_key(|film| Some(&film.id) != reference.as_ref());
        let family = |head: &&'_ Film| rolls.remove(&head.id).unwrap_or_default();
        let families: Vec<Vec<&Film>> = heads.iter().map(family).collect();
        let mut films = Vec::with_capacity(self.films.len());
        for (head, rolls) in heads.into_iter().zip(families) {
            films.push((head, false));
            films.extend(rolls.into_iter().map(|roll| (roll, true)));
        }
        // A roll of a roll is no family of its own and must not be lost.
        films.extend(rolls.into_values().flatten().map(|film| (film, true)));
        films
    }

    /// Takes a film out; its rolls, if it has any, become rolls of the first of them.
    pub fn remove_film(&mut self, id: &FilmId) {
        self.films.retain(|film| film.id != *id);
        if self.reference.as_ref() == Some(id) {
            self.reference = None;
        }
        let mut head: Option<FilmId> = None;
        for film in self.films.iter_mut().filter(|film| film.roll_of.as_ref() == Some(id)) {
            film.roll_of.clone_from(&head);
            head.get_or_insert_with(|| film.id.clone());
        }
    }

    /// Adds another roll of a film after its other rolls: same box, process and tablet exposure, nothing measured. Answers its
    /// name; `None` where there is no such film.
    pub fn add_roll(&mut self, of: &FilmId) -> Option<FilmId> {
        let like = self.film(of)?.clone();
        let head = self.family_head(of).clone();
        let label = self.film(&head).map_or_else(|| head.0.clone(), |film| film.label.clone());
        let number = self.family(of).count() + 1;
        let id = self.free_film_id(&format!("{label}, roll {number}"));
        let last = self.films.iter().rposition(|film| *self.family_head(&film.id) == head)?;
        let roll = Film {
            roll_of: Some(head),
            batch: like.batch,
            format: like.format,
            box_speed: like.box_speed,
            price: like.price,
            process: like.process,
            tablet_exposure: like.tablet_exposure,
            ..Film::named(id.clone(), id.0.clone())
        };
        self.films.insert(last + 1, roll);
        Some(id)
    }

    /// Whether comparisons use a predicted curve of that film: as if developed to the reference's contrast.
    #[must_use]
    pub fn predicts(&self, id: &FilmId) -> bool {
        self.development.compare_as == CompareAs::MatchedContrast
            && self.reference.as_ref().is_some_and(|reference| reference != id)
    }
}

/// What all films of the series share. Free text where the trade has no unit.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct Conditions {
    /// Light that exposed tablet and target, e.g. 'daylight, 5500 K'.
    pub light_source: String,
    /// Camera and lens used for the target.
    pub camera: String,
    /// What the target is.
    pub target: String,
    /// Printing paper and its grade.
    pub paper: String,
    /// Paper developer and time.
    pub paper_process: String,
    /// Enlarger: lens, aperture, enlargement.
    pub enlarger: String,
    /// Enlargement of the prints from the negative, linear; needed to carry lengths between print and film.
    pub enlargement: Option<f64>,
    /// Scanner and the settings it ran with.
    pub scanner: String,
    /// Instrument that read typed densities, and its standard uncertainty in density.
    pub densitometer: String,
}

/// Least useful gradient of negatives: common practice, no source.
const USUAL_LIMIT: f64 = 0.20;

#[expect(clippy::trivially_copy_pass_by_ref, reason = "the signature that serde asks for")]
fn is_usual_limit(limit: &f64) -> bool {
    limit.to_bits() == USUAL_LIMIT.to_bits()
}

/// The density that a shadow is matched by.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
pub enum ShadowDensity {
    /// Above each film's own base+fog: equal shadows once the print exposure has made up for base+fog, as this kind of
    /// test does.
    #[default]
    Net,
    /// As a densitometer reads it: equal shadows on paper at one print exposure for all films.
    Gross,
}

impl ShadowDensity {
    #[expect(clippy::trivially_copy_pass_by_ref, reason = "the signature that serde asks for")]
    fn is_net(&self) -> bool {
        *self == Self::Net
    }

    /// Gross for net, and net for gross.
    #[must_use]
    pub fn other(self) -> Self {
        match self {
            Self::Net => Self::Gross,
            Self::Gross => Self::Net,
        }
    }

    /// What is matched, in words.
    #[must_use]
    pub fn text(self) -> &'static str {
        match self {
            Self::Net => "net density, above base+fog",
            Self::Gross => "gross density, as read",
        }
    }
}

/// How curves are fitted and figures taken.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct Settings {
    /// Standard uncertainty of a typed density reading where none stands beside it.
    pub reading_u: f64,
    /// Range in log H above the speed point over which the average gradient is taken.
    pub gradient_range: f64,
    /// Half window allowed on the ISO 6 density difference of 0.80.
    pub iso_window: f64,
    /// Local gradient at which the usable exposure range begins on the side of the toe.
    #[serde(skip_serializing_if = "is_usual_limit")]
    pub usable_toe_gradient: f64,
    /// Local gradient at which it ends on the side of the shoulder.
    #[serde(skip_serializing_if = "is_usual_limit")]
    pub usable_shoulder_gradient: f64,
    /// Which shadow density brackets are matched by.
    #[serde(skip_serializing_if = "ShadowDensity::is_net")]
    pub shadow_match: ShadowDensity,
    /// Diameter of the granularity aperture in micrometres.
    pub aperture_um: f64,
    /// Resamplings for uncertainties.
    pub resamplings: u32,
    /// Seed of the resamplings.
    pub seed: u64,
    /// What the codes of scans stand for that have no calibration and do not say it themselves.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub encoding: Option<Encoding>,
}

impl Default for Settings {
    fn default() -> Self {
        Self {
            reading_u: 0.01,
            gradient_range: 1.5,
            iso_window: 0.05,
            usable_toe_gradient: USUAL_LIMIT,
            usable_shoulder_gradient: USUAL_LIMIT,
            shadow_match: ShadowDensity::Net,
            aperture_um: 48.0,
            resamplings: 400,
            seed: 1,
            encoding: None,
        }
    }
}

/// A named place sampled in all prints, in the pixels of the reference's print.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Spot {
    /// What the tester calls it.
    pub name: String,
    /// Centre, in the reference print's pixels.
    pub at: Point,
    /// Radius of the sampled disc, in the reference print's pixels.
    pub radius: f64,
}

/// What the report says beyond the numbers.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct ReportChoices {
    /// The tester's name or body, as it shall stand on the report.
    pub tester: String,
    /// Date as it shall stand on the report.
    pub date: String,
    /// Per film and finding: the finding is dropped or reworded. A finding not named here is kept as computed.
    #[serde(deserialize_with = "once::each_once_within")]
    pub findings: BTreeMap<FilmId, BTreeMap<String, FindingChoice>>,
    /// The tester's verdict per film.
    #[serde(deserialize_with = "once::each_once")]
    pub verdicts: BTreeMap<FilmId, String>,
    /// What the tester recommends per film: for what, for whom, and how exposed and developed.
    #[serde(deserialize_with = "once::each_once", skip_serializing_if = "BTreeMap::is_empty")]
    pub recommendations: BTreeMap<FilmId, String>,
    /// Per film and reworded finding: its number when the tester found words for it, so that they can be doubted once it is another.
    #[serde(deserialize_with = "once::each_once_within", skip_serializing_if = "BTreeMap::is_empty")]
    pub reworded_on: BTreeMap<FilmId, BTreeMap<String, String>>,
    /// Per film: names of findings in the order in which the tester tells them. Those not named follow in the order in which
    /// they were made.
    #[serde(deserialize_with = "once::each_once", skip_serializing_if = "BTreeMap::is_empty")]
    pub order: BTreeMap<FilmId, Vec<String>>,
}

impl ReportChoices {
    /// The number on which a finding was reworded, where it is not `now` any more.
    #[must_use]
    pub fn changed_since(&self, film: &FilmId, key: &str, now: &str) -> Option<&str> {
        let before = self.reworded_on.get(film)?.get(key)?;
        (before != now).then_some(before)
    }

    /// Puts what stands for findings on a film, each found by the finding's name, into the tester's order.
    pub fn put_in_order<T>(&self, film: &FilmId, findings: &mut [T], key: impl Fn(&T) -> &str) {
        let Some(order) = self.order.get(film) else { return };
        let place = |finding: &T| order.iter().position(|named| named == key(finding)).unwrap_or(usize::MAX);
        findings.sort_by_cached_key(place);
    }
}

/// What the tester did with a computed finding.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub enum FindingChoice {
    /// Left out of the report.
    Dropped,
    /// Said in the tester's words; the computed sentence stays available.
    Reworded(String),
}
