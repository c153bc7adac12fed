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

/// Where the constants of the tone tables come from, for the screen and the report.
pub const TONE_SOURCES: &str = "Zones of one stop: common practice, no source. H = q K / S at the metered tone: camera and \
    meter equation, ISO 2720:1974 as seen in copies; q = 0.65 recalled, K = 12.5 common practice (10.6 to 13.4 allowed). \
    Flare as added light: L. A. Jones and H. R. Condit (1941), recalled. Least net density 0.10: that of the ISO 6 speed point; \
    least separation: common practice, no source.";

/// Where the paper's figures come from.
pub const PAPER_SOURCES: &str = "ISO 6846:1992: points 0.04 above white and 90 % of the net range as seen in an encyclopaedia; \
    the point 0.60 above white, the constant 1000, the roundings and the inner limits of the grades are recalled. Grade numbers \
    by ANSI PH2.2-1966; makers' labels follow no one scale.";
