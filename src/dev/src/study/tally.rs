//! How often intervals hold the truth.

use std::fmt::Write as _;

use twinwedge_core::measured::{Measured, Value};

use super::share::{Share, Standing};
use super::{By, Case};

/// Figures that are positive by nature: their errors are shown in stops.
pub(super) const IN_STOPS: [&str; 4] =
    ["shadow_match_index", "shadow_match_other", "fixed_density_speed", "fractional_gradient_speed"];

/// Figures that are promised: key, label, and whether base+fog must have been read (`None`: either way).
const PROMISED: [(&str, &str, Option<bool>); 10] = [
    ("base_fog", "base+fog, read on an unexposed area", Some(true)),
    ("base_fog", "base+fog, from the curve", Some(false)),
    ("speed_point", "speed point, lg H", None),
    ("average_gradient_130", "average gradient over 1.30", None),
    ("average_gradient_150", "average gradient over 1.50", None),
    ("contrast_index", "contrast index", None),
    ("iso_contrast", "ISO contrast (gain over 1.30)", None),
    ("relative_speed", "relative speed of both films, stops", None),
    ("shadow_match_index", "index by shadow match, gross, stops", None),
    ("shadow_match_other", "index by shadow match, net, stops", None),
];

/// Figures whose truth depends on a model or a definition: shown for information.
const INFORMATION: [(&str, &str, Option<bool>); 16] = [
    ("fixed_density_speed", "speed at 0.10 above base+fog, stops", None),
    ("average_gradient", "average gradient over the range set", None),
    ("fractional_gradient_point", "fractional gradient point, lg H", None),
    ("fractional_gradient_speed", "speed by fractional gradient, stops", None),
    ("speed_point_gradient", "gradient at the speed point", None),
    ("toe_length", "toe length, stops", None),
    ("shoulder_length", "shoulder length, stops", None),
    ("usable_from", "usable from, lg H", None),
    ("usable_to", "usable to, lg H", None),
    ("usable_range", "usable range, stops", None),
    ("joined_offset", "level of a joined strip, stops", None),
    ("maximum_gradient", "maximum gradient over a stop", None),
    ("gamma", "gamma", None),
    ("straight_from", "straight line from, lg H", None),
    ("straight_to", "straight line to, lg H", None),
    ("d_max", "highest density reached", None),
];

/// How a promised figure did.
#[derive(Debug, Clone)]
pub(crate) struct Verdict {
    /// The figure's label in the report.
    pub(crate) label: &'static str,
    /// Cases in which it was measured.
    pub(crate) cases: usize,
    /// Cases in which it was not.
    pub(crate) missing: usize,
    /// Share of intervals that held the truth.
    pub(crate) holds: f64,
    share: Share,
    /// Mean of value minus truth.
    bias: f64,
    /// Root of the mean square of value minus truth.
    error: f64,
    /// Mean stated standard uncertainty.
    stated: f64,
}

impl Verdict {
    /// Whether the share lies in 93 to 97 %.
    pub(crate) fn passes(&self) -> bool {
        self.share.standing() == Standing::Within
    }
}

/// All cases of a study.
#[derive(Debug)]
pub(crate) struct Tally {
    /// The cases of each series.
    cases: Vec<Vec<Case>>,
}

impl Tally {
    pub(super) fn of(cases: Vec<Vec<Case>>) -> Self {
        Self { cases }
    }

    /// What was tested in each series, in the order of the series.
    pub(super) fn cases(&self) -> &[Vec<Case>] {
        &self.cases
    }

    /// How every promised figure did.
    pub(crate) fn promised(&self) -> Vec<Verdict> {
        PROMISED.iter().filter_map(|row| verdict(&self.cases, None, *row)).collect()
    }

    /// The table, as text.
    pub(crate) fn table(&self, by: By) -> String {
        let mut text = format!(
            "{} series of a reference and a candidate; shares of 95 % intervals that hold the truth\n",
            self.cases.len()
        );
        let groups: &[(&str, Option<bool>)] = match by {
            By::Nothing => &[("", None)],
            By::BaseFog => &[("base+fog read", Some(true)), ("base+fog from the curve", Some(false))],
        };
        for (name, base_read) in groups {
            let _ = write!(
                text,
                "\n{:<38}{:>6}{:>8}{:>11}{:>10}{:>10}{:>8}   interval of it\n",
                name, "cases", "missing", "bias", "error", "stated", "holds"
            );
            for row in PROMISED {
                match verdict(&self.cases, *base_read, row) {
                    Some(verdict) => line(&mut text, &verdict, true),
                    None => drop(writeln!(text, "{:<38}  not measured", row.1)),
                }
            }
            text.push_str("for information: the truth depends on a model or definition\n");
            for verdict in INFORMATION.iter().filter_map(|row| verdict(&self.cases, *base_read, *row)) {
                line(&mut text, &verdict, false);
            }
        }
        text
    }
}

fn line(text: &mut String, verdict: &Verdict, judged: bool) {
    let Verdict { label, cases, missing, holds, share, bias, error, stated } = verdict;
    let judgement = match (judged, verdict.passes()) {
        (true, true) => "met",
        (true, false) if share.standing() == Standing::Open => "MISSED, not settled",
        (true, false) => "MISSED",
        (false, _) => "",
    };
    let _ = writeln!(
        text,
        "{label:<38}{cases:>6}{missing:>8}{bias:>+11.4}{error:>10.4}{stated:>10.4}{:>7.1}%   {:.1} to {:.1}%  {judgement}",
        100.0 * holds,
        100.0 * share.between.0,
        100.0 * share.between.1,
    );
}

/// How a figure did in the cases of a group.
fn verdict(
    series: &[Vec<Case>],
    group: Option<bool>,
    (figure, label, base_read): (&str, &'static str, Option<bool>),
) -> Option<Verdict> {
    let wanted = |case: &&Case| {
        let read = |wanted: Option<bool>| wanted.is_none_or(|read| case.base_read == read);
        !case.pair && case.figure == figure && read(base_read) && read(group)
    };
    let cases: Vec<&Case> = series.iter().flatten().filter(wanted).collect();
    let known: Vec<(f64, &Measured)> = cases
        .iter()
        .filter_map(|case| match &case.value {
            Value::Known(measured) => Some((case.truth, measured)),
            Value::Undefined(_) => None,
        })
        .collect();
    let of_series = |cases: &Vec<Case>| counted(cases.iter().filter(wanted));
    let share = Share::of(&series.iter().map(of_series).collect::<Vec<_>>())?;
    let n = known.len() as f64;
    let mean =
        |of: &dyn Fn(f64, &Measured) -> f64| known.iter().map(|(truth, m)| of(*truth, m)).sum::<f64>() / n;
    let in_stops = IN_STOPS.contains(&figure);
    let error = |truth: f64, m: &Measured| if in_stops { (m.value / truth).log2() } else { m.value - truth };
    Some(Verdict {
        label,
        cases: known.len(),
        missing: cases.len() - known.len(),
        holds: share.share,
        share,
        bias: mean(&error),
        error: mean(&|truth, m| error(truth, m).powi(2)).sqrt(),
        stated: mean(&|_, m| if in_stops { m.u / m.value / std::f64::consts::LN_2 } else { m.u }),
    })
}

/// How many of the cases that were measured have an interval that holds the truth, and how many were measured.
pub(super) fn counted<'a>(cases: impl Iterator<Item = &'a Case>) -> (usize, usize) {
    cases
        .filter_map(|case| Some((case.truth, case.value.known()?)))
        .fold((0, 0), |(held, all), (truth, m)| {
            (held + usize::from(m.low <= truth && truth <= m.high), all + 1)
        })
}
