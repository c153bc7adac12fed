//! Intervals of films and of pairs of films: how often they hold the truth, and how wide they are for the errors that there are.

use std::fmt::Write as _;

use rayon::prelude::*;
use twinwedge_core::measured::Measured;

use super::share::{Share, Standing};
use super::tally::{IN_STOPS, Tally, counted};
use super::{Case, registered, scans};

/// Keys of figures and what they are called here.
const CURVES: [(&str, &str); 16] = [
    ("base_fog", "base+fog"),
    ("speed_point", "speed point, lg H"),
    ("average_gradient_130", "average gradient over 1.30"),
    ("average_gradient_150", "average gradient over 1.50"),
    ("contrast_index", "contrast index"),
    ("iso_contrast", "ISO contrast"),
    ("maximum_gradient", "maximum gradient"),
    ("gamma", "gamma"),
    ("straight_from", "straight line from, lg H"),
    ("straight_to", "straight line to, lg H"),
    ("straight_length", "length of the straight line, stops"),
    ("fractional_gradient_point", "fractional gradient point, lg H"),
    ("speed_point_gradient", "gradient at the speed point"),
    ("usable_range", "usable range, stops"),
    ("shadow_match_index", "index by shadow match, stops"),
    ("d_max", "highest density"),
];
const SCANS: [(&str, &str); 6] = [
    ("step_density", "density of a step"),
    ("patch_plain", "density of an even patch"),
    ("patch_textured", "density of a textured patch"),
    ("grain_film", "granularity of film"),
    ("grain_print", "granularity of a print"),
    ("registration", "place by registration, px"),
];

/// How the intervals of one quantity did.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Held {
    /// Cases in which it was measured.
    pub(crate) cases: usize,
    /// Share of intervals that held the truth.
    pub(crate) holds: f64,
    /// How surely so many series tell that.
    pub(crate) share: Share,
    /// Half the mean interval over 1.96 times the root mean square of the errors: 1 where they are as wide as normal errors of
    /// that size want them.
    pub(crate) width: f64,
}

/// One quantity: of films, and of pairs of films by how it is compared.
#[derive(Debug, Clone)]
pub(crate) struct Line {
    /// What is measured, and from what.
    pub(crate) quantity: String,
    /// How its intervals hold for single films.
    pub(crate) single: Option<Held>,
    /// How its intervals hold for pairs of films.
    pub(crate) pair: Option<Held>,
}

/// Simulates so many series that are scanned, and as many pairs of prints, and joins the `typed` ones.
///
/// # Errors
/// A series that the program refuses as a whole.
pub(crate) fn run(typed: &Tally, count: u64, seed: u64) -> Result<Vec<Line>, String> {
    let scanned: Result<Vec<Vec<Case>>, String> =
        (0..count).into_par_iter().map(|number| scans::measure(seed, number)).collect();
    let mut scanned = scanned?;
    let laid: Vec<Vec<Case>> =
        (0..count).into_par_iter().map(|number| registered::measure(seed, number)).collect();
    for (cases, laid) in scanned.iter_mut().zip(laid) {
        cases.extend(laid);
    }
    let rows = CURVES.iter().map(|row| (typed.cases(), "readings", row));
    let rows = rows.chain(CURVES.iter().chain(&SCANS).map(|row| (scanned.as_slice(), "scans", row)));
    let line = |(cases, from, (key, label)): (&[Vec<Case>], &str, &(&str, &str))| Line {
        quantity: format!("{label}, {from}"),
        single: held(cases, key, false),
        pair: held(cases, key, true),
    };
    Ok(rows.map(line).filter(|line| line.single.is_some() || line.pair.is_some()).collect())
}

fn held(series: &[Vec<Case>], key: &str, pair: bool) -> Option<Held> {
    let wanted = |case: &&Case| case.figure == key && case.pair == pair;
    let known: Vec<(f64, &Measured)> = series
        .iter()
        .flatten()
        .filter(wanted)
        .filter_map(|case| Some((case.truth, case.value.known()?)))
        .collect();
    let of_series = |cases: &Vec<Case>| counted(cases.iter().filter(wanted));
    let share = Share::of(&series.iter().map(of_series).collect::<Vec<_>>())?;
    let n = known.len() as f64;
    let in_stops = !pair && IN_STOPS.contains(&key);
    let apart = |one: f64, other: f64| if in_stops { (one / other).log2() } else { one - other };
    let error = (known.iter().map(|(truth, m)| apart(m.value, *truth).powi(2)).sum::<f64>() / n).sqrt();
    let half = known.iter().map(|(_, m)| apart(m.high, m.low) / 2.0).sum::<f64>() / n;
    Some(Held { cases: known.len(), holds: share.share, share, width: half / (1.959_964 * error) })
}

/// The table, as text.
pub(crate) fn table(lines: &[Line]) -> String {
    let mut text = format!(
        "{:<44}{:>6}{:>8}{:>15}{:>7}{:>10}{:>8}{:>15}{:>7}\n",
        "95 % intervals: share that hold; width",
        "films",
        "hold",
        "95 % of it",
        "width",
        "pairs",
        "hold",
        "95 % of it",
        "width"
    );
    for Line { quantity, single, pair } in lines {
        let _ = write!(text, "{quantity:<44}");
        for held in [single, pair] {
            let Some(Held { cases, holds, share, width }) = held else {
                let _ = write!(text, "{:>40}", "");
                continue;
            };
            let mark = match share.standing() {
                Standing::Within => ' ',
                Standing::Open => '?',
                Standing::Outside => '*',
            };
            let (low, high) = share.between;
            let between = format!("{:.1} to {:.1}", 100.0 * low, 100.0 * high);
            let _ = write!(text, "{cases:>6}{:>7.1}%{between:>15}{width:>7.2}{mark}   ", 100.0 * holds);
        }
        text.push('\n');
    }
    text.push_str(
        "width: half the mean interval over 1.96 times the scatter of the errors; * outside 93 to 97 %; ? outside, but so few \
         series cannot tell it from that\n",
    );
    text
}
