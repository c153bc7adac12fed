//! Everything that can be asked of a session. One type each, so that question and answer cannot be mismatched.

use std::sync::Arc;

use serde::Serialize;
use twinwedge_core::bracket::{Frame, ShadowTarget};
use twinwedge_core::compare::similarity::Similarity;
use twinwedge_core::compare::{Comparison, FilmFigures};
use twinwedge_core::curve::{Curve, LevelFound, Outlier, Readings};
use twinwedge_core::detail::Detail;
use twinwedge_core::development::TimeAt;
use twinwedge_core::development::family::Development;
use twinwedge_core::development::predicted::Source;
use twinwedge_core::document::{CalibrationId, Channel, FilmId, ScanId, Series};
use twinwedge_core::figures::speed::SPEED_NET_DENSITY;
use twinwedge_core::figures::{Departures, Draws, FigureId, Figures, Reach, StraightLine};
use twinwedge_core::found::Found;
use twinwedge_core::geometry::Quad;
use twinwedge_core::grain::spectrum::Spectrum;
use twinwedge_core::grain::viewer::Viewed;
use twinwedge_core::grain::{ApertureLaw, Granularity, GranularityCurve, PairRow};
use twinwedge_core::greys::ends::{Cell, End};
use twinwedge_core::greys::filters::{Choice, Numbered};
use twinwedge_core::greys::lighting::Lighting;
use twinwedge_core::greys::pair::{BandsPair, GreysPair};
use twinwedge_core::greys::sensitivity::Sensitivity;
use twinwedge_core::greys::stops::Found as FoundGreys;
use twinwedge_core::patch::PatchSample;
use twinwedge_core::problem::Problem;
use twinwedge_core::ranking::{Conclusion, Standing};
use twinwedge_core::register::Registration;
use twinwedge_core::scan::{
    CalibrationFit, FlatField, Judged, Pyramid, Samples, Scan, ScanMeta, Settings, ToneTable,
};
use twinwedge_core::sharpness::{EdgeMeasure, Sharpness};
use twinwedge_core::tablet::StepSample;
use twinwedge_core::tablet::find::{FoundStrip, Wanted};
use twinwedge_core::tone::{PaperFigures, Tones};
use twinwedge_core::words::Sentence;

use super::names::{labelled, stand_in};
use super::rules::file_name;
use super::table::{Pool, Remembers};
use super::{Key, Names, Question, Table};

pub use super::rules::{Drift, Examined};

/// The one list of questions: what each is made of, what answers it, the budget that its answers draw on, whether they are told
/// apart by their contents or by their inputs, what else [`Question`] says of it, and what the status line says while it is made.
macro_rules! questions {
    ($(
        $(#[$doc:meta])*
        $name:ident($($fields:tt)*) -> $output:ty: $pool:ident by $apart:ident $(, $also:ident $($text:literal)?)*;
    )+) => {
        $(question! { $(#[$doc])* $name $($fields)* })+

        /// The kinds of questions, to count computations by.
        #[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
        pub enum Kind {
            $($(#[$doc])* $name,)+
        }

        impl Kind {
            /// All kinds of question, in the order of the list.
            pub const ALL: &[Self] = &[$(Self::$name,)+];
        }

        /// One table for each kind of question.
        #[derive(Debug, Default)]
        #[expect(non_snake_case, reason = "each table is called like the questions that it remembers")]
        pub struct Tables {
            $($name: Table<$name>,)+
        }

        impl Tables {
            /// The tables that share a budget.
            pub(super) fn pool(&self, pool: Pool) -> Vec<&dyn Remembers> {
                let tables: Vec<(Pool, &dyn Remembers)> = vec![$((Pool::$pool, &self.$name),)+];
                tables.into_iter().filter(|(of, _)| *of == pool).map(|(_, table)| table).collect()
            }
        }

        $(impl Question for $name {
            type Output = $output;
            const KIND: Kind = Kind::$name;
            told_apart! { $apart }
            $(also! { $also $($text)? })*

            fn table(tables: &Tables) -> &Table<Self> {
                &tables.$name
            }
        })+
    };
}

macro_rules! question {
    ($(#[$doc:meta])* $name:ident) => {
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
        pub struct $name;
    };
    ($(#[$doc:meta])* $name:ident $($(#[$field_doc:meta])* $field:ident: $ty:ty),+) => {
        $(#[$doc])*
        #[derive(Debug, Clone, PartialEq, Eq, Hash)]
        pub struct $name { $($(#[$field_doc])* pub $field: $ty),+ }
    };
}

macro_rules! told_apart {
    (contents) => {
        fn weigh(output: &Self::Output, _: Key) -> (Key, usize) {
            let (digest, bytes) = Key::weighed(output);
            (digest, size_of::<Self::Output>() + bytes)
        }
    };
    (inputs) => {
        const BY_INPUTS: bool = true;

        fn weigh(output: &Self::Output, key: Key) -> (Key, usize) {
            (key, Large::bytes(output))
        }
    };
    ($contents:ident) => {
        fn weigh(output: &Self::Output, _: Key) -> (Key, usize) {
            let (digest, bytes) = Key::weighed(&$contents(output));
            (digest, size_of::<Self::Output>() + bytes)
        }
    };
}

/// What tells tone tables apart.
fn tone_contents(table: &ToneTable) -> impl Serialize {
    let ToneTable { light, density, density_u, errors, trusted, source, flags } = table;
    (light, density, density_u, errors, trusted, format!("{source:?}"), flags)
}

/// Tables depend on what codes are taken for and how surely, not on why.
fn judged_contents(judged: &Judged) -> impl Serialize {
    (judged.encoding, judged.certainty)
}

/// What tells calibrations apart.
fn fit_contents(fit: &CalibrationFit) -> impl Serialize {
    let CalibrationFit { table, points, residuals, rms, notes, flare, noise } = fit;
    (tone_contents(table), format!("{points:?}"), residuals, rms, notes, flare, noise)
}

macro_rules! also {
    (film $text:literal) => {
        fn usual_label(&self, _: &Series) -> String {
            format!($text, stand_in(&self.film))
        }
    };
    (scan $text:literal) => {
        fn usual_label(&self, series: &Series) -> String {
            format!($text, file_name(series, &self.scan))
        }
    };
    (says $text:literal) => {
        fn usual_label(&self, _: &Series) -> String {
            $text.to_owned()
        }
    };
    (slow) => {
        const SLOW: bool = true;
    };
    (fleeting) => {
        const FLEETING: bool = true;
    };
    (labelled) => {
        fn labelled(output: &Self::Output, names: &Names) -> Option<Arc<Self::Output>> {
            Some(Arc::new(labelled(output, names)))
        }
    };
}

questions! {
    /// A decoded scan.
    ScanOf(
        /// The scan asked about.
        scan: ScanId) -> Scan: Pixels by inputs,
        scan "Reading {}";
    /// Its size, without its pixels.
    ScanSizeOf(
        /// The scan asked about.
        scan: ScanId) -> ScanSize: Numbers by contents,
        scan "Size of {}";
    /// What its file says of how it was scanned, without its pixels.
    ScanSettingsOf(
        /// The scan asked about.
        scan: ScanId) -> ScanSettings: Numbers by inputs,
        scan "Settings of {}";
    /// Its smaller copies.
    PyramidOf(
        /// The scan asked about.
        scan: ScanId) -> Pyramid: Pixels by inputs,
        scan "Preparing {} for the screen";
    /// What its codes are taken for, where no calibration tells their densities.
    EncodingOf(
        /// The scan asked about.
        scan: ScanId) -> Judged: Numbers by judged_contents,
        scan "Judging what the codes of {} stand for";
    /// The table from its codes to light and density.
    ToneOf(
        /// The scan asked about.
        scan: ScanId) -> ToneTable: Numbers by tone_contents,
        scan "Densities of {}";
    /// The strip that is seen in a scan, where one is (a scan without one fails with the reason).
    FoundStripOf(
        /// The scan in which it is looked for.
        scan: ScanId,
        /// How many steps it has, and which end is the first.
        wanted: Wanted) -> Found<FoundStrip>: Numbers by contents,
        scan "Looking for the strip in {}";
    /// A fitted calibration.
    CalibrationOf(
        /// The calibration asked about.
        calibration: CalibrationId) -> CalibrationFit: Numbers by fit_contents;
    /// What its pixels and its settings say of a scan.
    ExaminedOf(
        /// The scan asked about.
        scan: ScanId) -> Examined: Numbers by contents, slow,
        scan "Examining {}";
    /// A calibration in another channel than its own scan is measured in.
    CalibrationIn(
        /// The calibration asked about.
        calibration: CalibrationId,
        /// Red, green or blue.
        channel: Channel) -> CalibrationFit: Numbers by fit_contents;
    /// The mixed light of a colour scan whose channel is a mix.
    MixOf(
        /// The scan asked about.
        scan: ScanId) -> Scan: Pixels by inputs,
        scan "Mixing the channels of {}";
    /// The falloff of light over a scan.
    FlatOf(
        /// The scan asked about.
        scan: ScanId) -> FlatField: Numbers by contents, slow,
        scan "Measuring the falloff of {}";
    /// What the known patch of a scan says of drift.
    DriftOf(
        /// The scan asked about.
        scan: ScanId) -> Drift: Numbers by contents,
        scan "Reading the known patch of {}";
    /// The sampled steps of a film's strip (strips with typed readings fail with a note).
    StripOf(
        /// The film asked about.
        film: FilmId,
        /// Which of its strips, by its number from 0.
        strip: usize) -> Vec<StepSample>: Numbers by contents;
    /// How many steps are seen between the corners of a film's strip, where that can be told.
    StepsSeenOf(
        /// The film asked about.
        film: FilmId,
        /// Which of its strips, by its number from 0.
        strip: usize) -> Option<u32>: Numbers by contents,
        film "Counting the steps of {}";
    /// The data of its curve, from strip or typed readings.
    ReadingsOf(
        /// The film asked about.
        film: FilmId) -> Readings: Numbers by contents,
        film "Readings of {}";
    /// Its curve and what follows from it.
    CurveOf(
        /// The film asked about.
        film: FilmId) -> FilmCurve: Curves by contents,
        film "Fitting the curve of {}";
    /// How well its curve holds its readings: of what it is made of, this much is remembered of thousands of films.
    FitQualityOf(
        /// The film asked about.
        film: FilmId) -> FitQuality: Numbers by contents,
        film "Judging the curve of {}";
    /// From the reference's print to this film's.
    RegistrationOf(
        /// The film asked about.
        film: FilmId) -> Registration: Numbers by contents, slow,
        film "Registering the print of {}";
    /// The patches of its print.
    PatchesOf(
        /// The film asked about.
        film: FilmId) -> Vec<PatchSample>: Numbers by contents, slow,
        film "Sampling the patches of {}";
    /// The patches of its print as greys: in stops from the grey card.
    GreysOf(
        /// The film whose print is read.
        film: FilmId) -> FoundGreys: Curves by contents, slow,
        film "Greys of {}";
    /// Its greys beside the reference's.
    RenderingOf(
        /// The candidate that is compared.
        film: FilmId) -> GreysPair: Numbers by contents, slow,
        film "Comparing the greys of {} with the reference's";
    /// From which light it takes its exposure.
    SensitivityOf(
        /// The film whose patches tell it.
        film: FilmId) -> Sensitivity: Curves by contents, slow,
        film "Sensitivity of {}";
    /// The same beside the reference's.
    BandsOf(
        /// The candidate that is compared.
        film: FilmId) -> BandsPair: Numbers by contents, slow,
        film "Comparing the sensitivity of {} with the reference's";
    /// Which filter brings it nearest to the reference, under which light.
    FiltersOf(
        /// The candidate that the filter is for.
        film: FilmId) -> FilterAdvice: Numbers by contents, slow,
        film "Choosing filters for {}";
    /// Whether its frame and the reference's had the same light.
    LightingOf(
        /// The candidate whose frame is checked.
        film: FilmId) -> Lighting: Numbers by contents, slow,
        film "Checking the light on {}";
    /// Where its print is blank or blocked.
    EndsOf(
        /// The film whose print is looked at.
        film: FilmId) -> PrintEnds: Numbers by contents, slow,
        film "Looking for blank areas of {}";
    /// The series' spots in its print.
    SpotsOf(
        /// The film asked about.
        film: FilmId) -> Vec<PatchSample>: Numbers by contents, slow,
        film "Sampling the spots of {}";
    /// The shadow patch of a scanned frame of its bracket.
    ShadowOf(
        /// The film asked about.
        film: FilmId,
        /// The frame's number in the bracket, from 0.
        frame: usize) -> FrameShadow: Numbers by contents, slow, labelled;
    /// Its bracket as measured, frame by frame: typed, or read in scans. Empty where it has none.
    BracketOf(
        /// The film asked about.
        film: FilmId) -> Vec<Result<Frame, Problem>>: Numbers by contents, labelled,
        film "Bracket of {}";
    /// Its granularity in one of its uniform areas.
    GrainOf(
        /// The film asked about.
        film: FilmId,
        /// Which area, by its number from 0.
        area: usize) -> Granularity: Numbers by contents, slow,
        film "Measuring the grain of {}";
    /// Its granularity through apertures of several diameters in one of its uniform areas.
    ApertureLawOf(
        /// The film asked about.
        film: FilmId,
        /// Which area, by its number from 0.
        area: usize) -> ApertureLaw: Numbers by contents, slow,
        film "Measuring the grain of {} through several apertures";
    /// Its granularity over density, from all its uniform areas.
    GranularityCurveOf(
        /// The film asked about.
        film: FilmId) -> GranularityCurve: Numbers by contents, labelled,
        film "Granularity of {} over density";
    /// Its granularity beside the reference's, where both are alike in density, in the print and in the subject.
    GrainPairOf(
        /// The candidate, which is asked about beside the reference.
        film: FilmId) -> Vec<PairRow>: Numbers by contents, labelled,
        film "Comparing the grain of {} with the reference's";
    /// The noise power spectrum of a uniform area of it.
    SpectrumOf(
        /// The film asked about.
        film: FilmId,
        /// Which of its areas, by its number from 0.
        area: usize,
        /// From some of the area's blocks only: a first answer while an area is dragged.
        quick: bool) -> Spectrum: Numbers by contents,
        film "Measuring the noise power spectrum of {}";
    /// Its grain as it is seen in a print, beside the reference's; the reference's alone when it is the reference.
    ViewedOf(
        /// The film asked about.
        film: FilmId) -> Viewed: Numbers by contents, slow, labelled,
        film "Looking at the grain of {} in a print";
    /// The scene's detail that its print carries against the reference's, in the series' box.
    DetailOf(
        /// The candidate, which is asked about beside the reference.
        film: FilmId,
        /// A first answer from a part of the picture.
        quick: bool) -> SurvivingDetail: Numbers by contents, labelled,
        film "Comparing detail of {}";
    /// One of its edges as measured.
    EdgeOf(
        /// The film asked about.
        film: FilmId,
        /// Its number, from 0.
        edge: usize,
        /// A first answer from fewer rows.
        quick: bool) -> EdgeMeasure: Numbers by contents,
        film "Measuring an edge of {}";
    /// Its sharpness, from all its edges.
    SharpnessOf(
        /// The film asked about.
        film: FilmId) -> Sharpness: Numbers by contents, slow, labelled,
        film "Sharpness of {}";
    /// All its figures, to be shown.
    FiguresOf(
        /// The film asked about.
        film: FilmId) -> FilmFigures: Numbers by contents, slow, labelled,
        film "Figures of {}";
    /// All its figures with their draws, to be compared.
    DrawnFiguresOf(
        /// The film asked about.
        film: FilmId) -> FilmFigures: Curves by contents, slow, labelled,
        film "Figures of {}";
    /// Zones, placed subject and print of it beside the reference, and of the third film of the choices; of the reference
    /// alone when it is the reference.
    TonesOf(
        /// Beside the reference.
        film: FilmId) -> Tones: Numbers by contents, slow, labelled,
        film "Zones of {}";
    /// It against the reference.
    ComparisonOf(
        /// The candidate, which is asked about beside the reference.
        film: FilmId) -> Comparison: Numbers by contents, slow, labelled,
        film "Comparing {} with the reference";
    /// What is known and advised about its development.
    DevelopmentOf(
        /// The film asked about.
        film: FilmId) -> Development: Numbers by contents, slow, labelled,
        film "Development of {}";
    /// Its curve as if developed to the reference's contrast.
    PredictedOf(
        /// The film asked about.
        film: FilmId) -> FilmCurve: Curves by contents, slow, labelled,
        film "Predicting the curve of {}";
    /// What of it is put beside all other films.
    StandingOf(
        /// The film asked about.
        film: FilmId) -> Standing: Numbers by contents, slow, labelled,
        film "Figures of {}";
    /// How alike its curve is to the reference's.
    SimilarityOf(
        /// The film asked about.
        film: FilmId) -> Similarity: Numbers by contents, slow,
        film "Similarity of {}";
    /// The screen tone of each of a scan's codes: grey sRGB, 8 bits.
    ScreenOf(
        /// The scan asked about.
        scan: ScanId,
        /// How densities become screen tones.
        look: ScreenTones) -> Vec<u8>: Numbers by contents,
        scan "Screen tones of {}";
    /// One square of a picture on the screen.
    TileOf(
        /// The picture of which the square is a part.
        picture: TilePicture,
        /// 0 is full size, each next half of it.
        level: u8,
        /// In tiles of [`TILE`] pixels of that level.
        column: u32,
        /// In tiles of [`TILE`] pixels of that level.
        row: u32,
        /// How densities become screen tones.
        look: ScreenTones) -> Tile: Pixels by inputs, fleeting;
    /// The shadow density that all brackets are matched to: that of the reference's frame metered at its box speed; or why
    /// there is none.
    ShadowTargetOf() -> Result<ShadowTarget, Sentence>: Numbers by contents,
        says "Shadow density of the reference";
    /// The sampled steps of the paper test's print (typed readings fail with a note).
    PaperStripOf() -> Vec<StepSample>: Numbers by contents,
        says "Sampling the paper test";
    /// What can be said of all films together.
    ConclusionsOf() -> Vec<Conclusion>: Numbers by contents, slow, labelled,
        says "Putting all films in order";
    /// The series' paper: its curve and figures.
    PaperOf() -> PaperCurve: Numbers by contents,
        says "Fitting the curve of the paper";
    /// The scanner's own edge, as the series has it.
    ScannerEdgeOf(
        /// A first answer from fewer rows.
        quick: bool) -> EdgeMeasure: Numbers by contents,
        says "Measuring the scanner's edge";
}

/// What is told apart by what it was made from, as it is large.
trait Large {
    /// Bytes that it takes in memory, about.
    fn bytes(&self) -> usize;
}

impl Large for Scan {
    fn bytes(&self) -> usize {
        Self::bytes(self) + self.meta.profile_curve.as_ref().map_or(0, |curve| size_of_val(&**curve))
    }
}

impl Large for ScanSettings {
    fn bytes(&self) -> usize {
        self.meta.profile_curve.as_ref().map_or(0, |curve| size_of_val(&**curve)) + 1024
    }
}

impl Large for Pyramid {
    fn bytes(&self) -> usize {
        let of = |samples: &Samples| match samples {
            Samples::U8(samples) => samples.len(),
            Samples::U16(samples) => samples.len() * 2,
        };
        self.levels.iter().map(|level| of(&level.samples)).sum()
    }
}

impl Large for Tile {
    fn bytes(&self) -> usize {
        self.rgba.len()
    }
}

/// The shadow patch of a scanned frame.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct FrameShadow {
    /// The patch, in pixels of the frame's scan.
    pub patch: Found<Quad>,
    /// What was read within it.
    pub sample: StepSample,
    /// The frame that it was found by, in words; `None` where it was laid by hand.
    pub by: Option<String>,
}

/// What detail survived in a candidate's print.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct SurvivingDetail {
    /// Label of the third film whose print tells the two apart, where there is one.
    pub third: Option<String>,
    /// What was found.
    pub detail: Detail,
}

/// Which filters bring a candidate nearest to the reference.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct FilterAdvice {
    /// The lights, in words; the first is the one that the films were tested under.
    pub lights: Vec<String>,
    /// The filters that were tried, by their standard numbers.
    pub filters: Vec<Numbered>,
    /// Light and filter by number, the nearest first.
    pub choices: Vec<Choice>,
}

/// Where a print is as white as its paper, and where as black as it gets.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PrintEnds {
    /// The paper's white, where known.
    pub white: Option<End>,
    /// Its deepest black, where known.
    pub black: Option<End>,
    /// Side of a cell in pixels of the scan.
    pub cell: usize,
    /// Share of cells that are as white as the paper.
    pub blank: f64,
    /// Share of cells that are as black as it gets.
    pub blocked: f64,
    /// The cells that are either, as runs along the rows.
    pub runs: Vec<EndsRun>,
}

/// Neighbouring cells of a row that are blank, or blocked.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub struct EndsRun {
    /// Row of cells from the top.
    pub row: usize,
    /// The first cell from the left.
    pub column: usize,
    /// How many they are.
    pub cells: usize,
    /// What they hold.
    pub what: Cell,
}

/// A tested paper.
#[derive(Debug, Clone, Serialize)]
pub struct PaperCurve {
    /// Its curve: print density over exposure.
    pub curve: Curve,
    /// Its figures by ISO 6846.
    pub figures: PaperFigures,
    /// lg of the light on the paper without the tablet, on the curve's axis.
    pub light: f64,
    /// Its standard uncertainty; zero when relative.
    pub light_u: f64,
}

/// Side of a tile in pixels.
pub const TILE: usize = 512;

/// Range of density differences that a difference picture shows, from white to black; mid grey is no difference, and
/// darker is where the candidate's print is darker.
pub const DIFFERENCE_RANGE: f64 = 1.0;

/// What a tile shows.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub enum TilePicture {
    /// A scan in its own pixels.
    Scan(ScanId),
    /// A candidate's print in the reference print's pixels.
    Registered(FilmId),
    /// Density of a candidate's print minus the reference's, in the reference print's pixels.
    Difference(FilmId),
}

/// How densities become screen tones.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default, Serialize)]
pub struct ScreenTones {
    /// Thousandths of density taken off before showing: brings two grain crops to one mean.
    pub density_offset: i32,
    /// Shown as a positive: a negative's densities turned round density 1.0.
    pub inverted: bool,
    /// Percent by which density contrast is raised; 0 leaves it, below 0 it is lowered.
    pub contrast: i16,
    /// The density around which contrast is raised, as it is shown: thousandths above density 1.0.
    pub about: i32,
}

/// One square of a picture: grey sRGB or RGB, 8 bits.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Tile {
    /// Its width in pixels.
    pub width: usize,
    /// Its height in pixels.
    pub height: usize,
    /// Red, green, blue, alpha for each pixel; alpha 0 where the picture does not reach.
    pub rgba: Vec<u8>,
}

/// A film's curve and what follows from it.
#[derive(Debug, Clone, Serialize)]
pub struct FilmCurve {
    /// The curve as it was fitted.
    pub curve: Curve,
    /// The figures that follow from it.
    pub figures: Figures,
    /// What its resamplings say of them.
    pub draws: Draws,
    /// Whether the test reached its toe and shoulder.
    pub reach: Reach,
    /// Its departures from its straight line, where it has one.
    pub departures: Option<Departures>,
    /// Its straight line, or why it has none.
    pub straight: Result<StraightLine, Sentence>,
    /// Where the curve was predicted: from what, and by what development; `None` where it was measured.
    pub prediction: Option<Prediction>,
}

/// How well a curve holds its readings.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct FitQuality {
    /// As the curve has it.
    pub misfit: f64,
    /// As the curve has them.
    pub levels: Vec<LevelFound>,
    /// Readings that the others contradict, each with the sentence that says what became of it.
    pub outliers: Vec<(String, Outlier)>,
}

/// What is known of a scan without its pixels.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct ScanSize {
    /// Its width in pixels.
    pub width: usize,
    /// Its height in pixels.
    pub height: usize,
    /// 8 or 16.
    pub bits: u8,
    /// Dots per inch as the file says.
    pub dpi: Option<f64>,
    /// Whether it has one channel, and not three.
    pub grey: bool,
}

/// What a scan's file says of how it was scanned, to be set beside that of another scan.
#[derive(Debug, Clone, PartialEq)]
pub struct ScanSettings {
    /// What its file says of itself.
    pub meta: ScanMeta,
    /// Number of its codes: 256 or 65536.
    pub levels: usize,
    /// Number of its channels.
    pub channels: usize,
}

impl ScanSettings {
    /// As they are compared.
    #[must_use]
    pub fn compared(&self) -> Settings<'_> {
        Settings { meta: &self.meta, levels: self.levels, channels: self.channels }
    }
}

/// What a predicted curve rests on.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Prediction {
    /// Two rolls or one.
    pub source: Source,
    /// The time that would give it.
    pub time: TimeAt,
    /// Film, rolls, source and time in one caption.
    pub sentence: String,
}

impl FilmCurve {
    /// By how much the model of few parameters reaches the speed point's density at a higher log H than the spline does: what
    /// the choice of a model adds to the speed point. `None` where one of the two has no speed point.
    #[must_use]
    pub fn speed_point_model_error(&self) -> Option<f64> {
        let base = self.figures.get(&FigureId::BaseFog)?.known()?.number();
        let density = base + SPEED_NET_DENSITY;
        Some(self.curve.model.as_ref()?.log_h_at(density)? - self.curve.best.log_h_at(density)?)
    }
}
