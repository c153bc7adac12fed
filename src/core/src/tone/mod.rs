//! Tones on their way from the subject to the print: zones on the film, flare, the paper, tone reproduction.
//!
//! - [`Chain`] holds two or three films at one exposure index, and the paper; its [`Chain::tones`] are the tables and its
//!   [`Chain::trace`] follows one tone.
//! - `zones`, `flare`, `paper`: the definitions, as plain functions.
//! - `drawn`: numbers computed draw by draw, so that separations and differences carry what their parts have in common.
//!
//! Intervals of 95 % held the simulated truth in 94 to 95 % of cases for net densities and their differences between films,
//! averaged over zones I to VIII, and in 98.5 % for separations, which are therefore surer than their intervals say
//! (`tests/simulated/tone.rs`).
//!
//! L. A. Jones, "On the theory of tone reproduction", J. Franklin Inst. 190 (1920).

mod chain;
mod drawn;
mod flare;
mod paper;
mod table;
mod zones;

pub use chain::{Chain, ChainFilm, ChainPaper};
pub use flare::{TEXTBOOK_FLARE_FACTOR, Veil, flare_of_factor, image_range, log_range, required_gradient};
pub use paper::{
    BLACK_SHARE, PaperFigures, PaperPoints, SPEED_NET, WHITE_NET, grade, paper_figures, paper_points,
    paper_range, paper_speed,
};
pub use table::{
    FilmTones, PlacedSubject, PrintedFilm, Tones, TracedTone, ZoneDifference, ZoneReading, ZoneRow,
};
pub use zones::{
    Kept, METERED_ZONE, Reach, ZONES, focal_plane_exposure, metered_log_h, zone_at, zone_log_h, zone_name,
    zone_words,
};

use crate::citation;

/// Where the constants of the tone tables come from, for the screen and the report.
pub const TONE_SOURCES: &str = citation::TONES.text;

/// Where the paper's figures come from.
pub const PAPER_SOURCES: &str = citation::PAPERS.text;
