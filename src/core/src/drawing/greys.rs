//! Patches of two films as greys, for every painter: each patch as the grey it becomes on either film, halves touching, beside
//! its difference with its interval.

use super::screen_grey;
use crate::compare::greys as words;
use crate::greys::pair::GreysPair;
use crate::greys::rendering::{PatchRendering, Rendered};
use crate::greys::stops::{Grey, Route};
use crate::measured::Measured;
use crate::numeric::math;
use crate::units::Stops;

/// A patch as a line of the plot.
#[derive(Debug, Clone, PartialEq)]
pub struct GreyRow {
    /// Its number in the layout.
    pub patch: usize,
    /// The patch's name in the layout.
    pub name: String,
    /// The grey it becomes on the reference and on the candidate, as 8-bit sRGB; `None` where it was not read.
    pub tones: [Option<u8>; 2],
    /// Its stops from the grey card on either film.
    pub stops: [Option<Measured<Stops>>; 2],
    /// Candidate minus reference, positive where the candidate is lighter.
    pub difference: Option<Measured<Stops>>,
    /// What is said of it.
    pub rendered: Rendered,
    /// The same in words.
    pub words: String,
}

/// All patches: those with a difference first, lighter ones on top, then the neutrals from light to dark, then those without a
/// number.
#[derive(Debug, Clone, PartialEq)]
pub struct GreysPicture {
    /// The patches, in the order told above.
    pub rows: Vec<GreyRow>,
    /// The axis of differences reaches so many stops to either side: a whole number of halves.
    pub reach: f64,
    /// What stands below the picture.
    pub caption: &'static str,
}

/// Reflectance of the grey card as it is shown.
const CARD: f64 = 0.18;

/// The grey of a patch so many stops from a grey card that is shown as one of 18 %.
fn tone(grey: &Grey) -> Option<u8> {
    let stops = grey.stops()?.number();
    Some(screen_grey(CARD * math::pow(2.0, stops)))
}

/// The picture of two films' greys.
#[must_use]
pub fn greys_picture(pair: &GreysPair) -> GreysPicture {
    let row = |row: &PatchRendering| {
        let of = |patches: &[Grey]| patches.get(row.patch).cloned();
        let greys = [of(&pair.reference.greys.patches), of(&pair.candidate.greys.patches)];
        GreyRow {
            patch: row.patch,
            name: pair.names.get(row.patch).cloned().unwrap_or_default(),
            tones: [0, 1].map(|film: usize| greys[film].as_ref().and_then(tone)),
            stops: [0, 1].map(|film: usize| greys[film].as_ref().and_then(Grey::stops).copied()),
            difference: row.difference,
            rendered: row.rendered,
            words: words::rendered(row.rendered),
        }
    };
    let mut rows: Vec<GreyRow> = pair.rendering.rows.iter().map(row).collect();
    let rank = |row: &GreyRow| match (&row.difference, row.rendered) {
        (Some(_), _) => 0,
        (None, Rendered::Neutral) => 1,
        (None, _) => 2,
    };
    let lightness = |row: &GreyRow| {
        let neutral = row.stops[0].as_ref().map(Measured::number);
        row.difference.as_ref().map(Measured::number).or(neutral).unwrap_or(0.0)
    };
    rows.sort_by(|a, b| rank(a).cmp(&rank(b)).then(lightness(b).total_cmp(&lightness(a))));
    let farthest = rows
        .iter()
        .filter_map(|row| row.difference.as_ref())
        .fold(0.0_f64, |most, difference| most.max(difference.low.abs()).max(difference.high.abs()));
    let reach = (2.0 * farthest.min(8.0)).ceil().max(1.0) / 2.0;
    let caption = match pair.route() {
        Route::Neutrals => {
            "Each patch as the grey that it becomes: left on the reference, right on the candidate, both against the grey card. \
             Beside it how much lighter (right) the candidate renders it, in stops, with its 95 % interval. The neutral patches \
             below are those that the others were read by: their halves are alike."
        }
        Route::Curves => {
            "Each patch as the grey that it becomes: left on the reference, right on the candidate, both against the grey card. \
             Beside it how much lighter (right) the candidate renders it, in stops, with its 95 % interval. Neutral patches are \
             the check: on both films they must come out alike."
        }
        Route::Bare => "Print densities are not corrected for contrast, so no grey is shown.",
    };
    GreysPicture { rows, reach, caption }
}
