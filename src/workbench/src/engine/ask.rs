//! Everything that can be asked of a session. One type each, so that question and answer cannot be mismatched.

use serde::Serialize;

use twinwedge_core::compare::{Comparison, FilmFigures};
use twinwedge_core::curve::{Curve, Readings};
use twinwedge_core::document::{CalibrationId, FilmId, ScanId};
use twinwedge_core::figures::{Figures, StraightLine};
use twinwedge_core::grain::Granularity;
use twinwedge_core::patch::PatchSample;
use twinwedge_core::register::Registration;
use twinwedge_core::scan::{CalibrationFit, Pyramid, Scan, ToneTable};
use twinwedge_core::tablet::StepSample;

use super::Ask;

macro_rules! asks {
    ($($(#[$doc:meta])* $name:ident($($(#[$field_doc:meta])* $field:ident: $ty:ty),+) -> $output:ty;)+) => {$(
        $(#[$doc])*
        #[derive(Debug, Clone, PartialEq, Eq, Hash)]
        pub struct $name { $($(#[$field_doc])* pub $field: $ty),+ }
        impl Ask for $name { type Output = $output; }
    )+};
}

asks! {
    /// A decoded scan.
    ScanOf(
        /// Which.
        scan: ScanId) -> Scan;
    /// Its smaller copies.
    PyramidOf(
        /// Which.
        scan: ScanId) -> Pyramid;
    /// The table from its codes to light and density.
    ToneOf(
        /// Which.
        scan: ScanId) -> ToneTable;
    /// A fitted calibration.
    CalibrationOf(
        /// Which.
        calibration: CalibrationId) -> CalibrationFit;
    /// The sampled steps of a film's strip (films with typed readings fail with a note).
    StripOf(
        /// Whose.
        film: FilmId) -> Vec<StepSample>;
    /// The data of its curve, from strip or typed readings.
    ReadingsOf(
        /// Whose.
        film: FilmId) -> Readings;
    /// Its curve and what follows from it.
    CurveOf(
        /// Whose.
        film: FilmId) -> FilmCurve;
    /// From the reference's print to this film's.
    RegistrationOf(
        /// Whose.
        film: FilmId) -> Registration;
    /// The patches of its print.
    PatchesOf(
        /// Whose.
        film: FilmId) -> Vec<PatchSample>;
    /// The series' spots in its print.
    SpotsOf(
        /// Whose.
        film: FilmId) -> Vec<PatchSample>;
    /// Its granularity.
    GrainOf(
        /// Whose.
        film: FilmId) -> Granularity;
    /// All its figures.
    FiguresOf(
        /// Whose.
        film: FilmId) -> FilmFigures;
    /// It against the reference.
    ComparisonOf(
        /// The candidate.
        film: FilmId) -> Comparison;
    /// One square of a picture on the screen.
    TileOf(
        /// Of what.
        picture: TilePicture,
        /// 0 is full size, each next half of it.
        level: u8,
        /// In tiles of [`TILE`] pixels of that level.
        column: u32,
        /// In tiles of [`TILE`] pixels of that level.
        row: u32,
        /// How densities become screen tones.
        look: Look) -> Tile;
}

/// Side of a tile in pixels.
pub const TILE: usize = 512;

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
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub struct Look {
    /// Thousandths of density taken off before showing: brings two grain crops to one mean.
    pub density_offset: i32,
    /// Shown as a positive: a negative's densities turned round.
    pub inverted: bool,
    /// Percent by which density contrast around `mean density 1.0` is raised; 0 leaves it.
    pub contrast: u16,
}

/// One square of a picture: grey sRGB or RGB, 8 bits.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Tile {
    /// Pixels across.
    pub width: usize,
    /// Pixels down.
    pub height: usize,
    /// Red, green, blue, alpha for each pixel; alpha 0 where the picture does not reach.
    pub rgba: Vec<u8>,
}

/// A film's curve and what follows from it.
#[derive(Debug, Clone, Serialize)]
pub struct FilmCurve {
    /// The curve.
    pub curve: Curve,
    /// Its figures.
    pub figures: Figures,
    /// Its straight line, or why it has none.
    pub straight: Result<StraightLine, String>,
}
