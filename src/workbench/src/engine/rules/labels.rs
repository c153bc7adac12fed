//! Which sentences of results may speak of films.

use twinwedge_core::bracket::Frame;
use twinwedge_core::compare::{Comparison, FigureRow, FilmFigures, Finding, PatchRow, SpeedRow};
use twinwedge_core::development::TimeAt;
use twinwedge_core::development::family::{Development, RollPoint};
use twinwedge_core::grain::viewer::{Seen, Viewed};
use twinwedge_core::grain::{GranularityCurve, PairRow, PairSide};
use twinwedge_core::problem::Problem;
use twinwedge_core::ranking::{Conclusion, Left, Ranked, Standing};
use twinwedge_core::sharpness::{EdgeOutcome, Sharpness};
use twinwedge_core::tone::{
    FilmTones, PlacedSubject, PrintedFilm, Tones, ZoneDifference, ZoneReading, ZoneRow,
};
use twinwedge_core::words::Sentence;

use crate::engine::ask::{FilmCurve, FrameShadow, Prediction, SurvivingDetail};
use crate::engine::names::{Names, Sentences};

macro_rules! sentences {
    ($($ty:ty: $($field:ident $(. $inner:ident)*),+;)+) => {$(
        impl Sentences for $ty {
            fn put(&mut self, names: &Names) {
                $(self.$field$(.$inner)*.put(names);)+
            }
        }
    )+};
}

sentences! {
    Problem: cause, remedy;
    FilmFigures: label, figures;
    Comparison: reference, candidate, rows, speeds, patches, spots, findings;
    FigureRow: reference, candidate, difference;
    SpeedRow: speeds, difference, from_box;
    PatchRow: reference, candidate, difference, against_grey;
    Finding: sentence, figure, detail;
    Tones: films, rows, print_basis;
    FilmTones: label, tie, base_fog, by_meter, by_shadow, print;
    PlacedSubject: shadow_log_h, shadow_net, highlight_net, range, exposure_index, misfits;
    PrintedFilm: exposure, factor, blank_density, blank_zone, black_density, black_zone;
    ZoneRow: films, differences;
    ZoneReading: density, net, separation, print;
    ZoneDifference: density, net, separation, print;
    Development: label, wanted, wanted_from, rolls, law, time, table, notes;
    RollPoint: label, gradient, speed_point, base_fog, left_out;
    TimeAt: minutes, limits;
    FilmCurve: figures, prediction;
    Prediction: time, sentence;
    Viewed: reference, candidate, difference, assumptions;
    Seen: label, from, notes;
    SurvivingDetail: third, detail.notes;
    Standing: label, figures;
    Conclusion: sentence, films, foremost, left_out;
    Ranked: film;
    Left: film, why;
    FrameShadow: by, patch.doubts;
    PairRow: reference, candidate, ratio, percent;
    PairSide: rms, how;
    Sharpness: edges;
}

impl Sentences for EdgeOutcome {
    fn put(&mut self, names: &Names) {
        if let Self::Refused(why) = self {
            why.put(names);
        }
    }
}

impl<T> Sentences for Result<T, Sentence> {
    fn put(&mut self, names: &Names) {
        if let Err(why) = self {
            why.put(names);
        }
    }
}

impl Sentences for Result<Frame, Problem> {
    fn put(&mut self, names: &Names) {
        if let Err(problem) = self {
            problem.put(names);
        }
    }
}

impl Sentences for GranularityCurve {
    fn put(&mut self, names: &Names) {
        self.failed.iter_mut().for_each(|(_, why)| why.put(names));
        self.base.put(names);
        self.notes.put(names);
    }
}
