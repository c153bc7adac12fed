//! Strips found by themselves in simulated scans: how many, how well, and that nothing wrong is called sure.

use std::fmt::Write as _;

use rayon::prelude::*;
use twinwedge_core::document::Channel;
use twinwedge_core::found::Found;
use twinwedge_core::numeric::robust::{median, quantile_of_sorted, sorted};
use twinwedge_core::tablet::find::{FoundStrip, Order, Wanted, find_strip};
use twinwedge_core::tablet::sample_strip;

use super::scans::ground::{GROUNDS, without};
use super::scans::strip::{Frame, Kind, Strip, strip};
use super::shared::cases;

const SEED: u64 = 20_261;

/// What came of one strip.
pub(crate) struct Outcome {
    pub(crate) number: u64,
    pub(crate) strip: Strip,
    pub(crate) found: Result<Found<FoundStrip>, String>,
}

pub(crate) fn look_for(number: u64) -> Outcome {
    let strip = strip(SEED, number);
    let order = if strip.kind == Kind::Tablet { Order::Rising } else { Order::Falling };
    let wanted = Wanted { steps: strip.told.then_some(strip.steps as u32), order };
    let found = find_strip(strip.scan.plane(Channel::Green), &strip.table, &wanted, &|| false);
    Outcome { number, strip, found: found.map_err(|problem| problem.cause.to_string()) }
}

impl Outcome {
    /// Largest error of a corner in pixels, and whether every sampled area stays within its step: the inner six tenths leave
    /// a fifth of the step on either side.
    fn corner_errors(&self, found: &FoundStrip) -> (Vec<f64>, bool) {
        let frame = Frame::of(&self.strip.corners);
        let (length, width) = self.strip.step;
        let mut within = true;
        let ideal = [(0.0, 0.0), (1.0, 0.0), (1.0, 1.0), (0.0, 1.0)];
        // The strip may be named from either side: then v runs the other way.
        let corners = found.shape.quad.corners;
        let mirrored = frame.at(corners[0].x, corners[0].y).1 > 0.5;
        let errors = corners.iter().zip(ideal).map(|(corner, (u, v))| {
            let v = if mirrored { 1.0 - v } else { v };
            let at = frame.at(corner.x, corner.y);
            let along = (at.0 - u) * self.strip.steps as f64 * length;
            let across = (at.1 - v) * width;
            within &= along.abs() < 0.15 * length && across.abs() < 0.15 * width;
            along.hypot(across)
        });
        (errors.collect(), within)
    }

    pub(crate) fn right(&self) -> bool {
        self.found.as_ref().is_ok_and(|found| {
            found.value.shape.steps as usize == self.strip.steps && self.corner_errors(&found.value).1
        })
    }

    pub(crate) fn sure(&self) -> bool {
        self.found.as_ref().is_ok_and(Found::is_sure)
    }

    pub(crate) fn can_be_known(&self) -> bool {
        self.strip.told || self.strip.ends_seen
    }

    pub(crate) fn tell(&self) -> String {
        let what = match &self.found {
            Err(cause) => cause.clone(),
            Ok(found) => {
                let (errors, _) = self.corner_errors(&found.value);
                let steps = found.value.shape.steps;
                format!("{steps} steps, corners off {errors:.1?}, doubts {:?}", found.doubts)
            }
        };
        format!("{}: {} -> {what}", self.number, self.strip.story)
    }

    fn density_errors(&self, found: &FoundStrip) -> Vec<f64> {
        let plane = self.strip.scan.plane(Channel::Green);
        let read = sample_strip(plane, &self.strip.table, &found.shape).unwrap_or_default();
        let pairs = read.iter().zip(&self.strip.densities).zip(&found.steps);
        pairs
            .filter_map(|((read, known), note)| {
                Some((read.density.value.0 - (*known)?).abs()).filter(|_| note.reasons.is_empty())
            })
            .collect()
    }

    /// Distance of each seen border from where it truly is, in pixels along the strip.
    fn border_errors(&self, found: &FoundStrip) -> Vec<f64> {
        let frame = Frame::of(&self.strip.corners);
        let inner = |after: u32| after > 0 && after < found.shape.steps;
        let seen = found.borders.iter().filter(|border| border.off.is_some() && inner(border.after));
        seen.map(|border| {
            let [a, b] = border.ends;
            let (u, _) = frame.at(0.5 * (a.x + b.x), 0.5 * (a.y + b.y));
            (u * self.strip.steps as f64 - f64::from(border.after)) * self.strip.step.0
        })
        .collect()
    }
}

/// Source of all truth here: the simulator in `scans`, which shares no code with the finder.
#[test]
fn strips_are_found_and_nothing_wrong_is_called_sure() {
    let all: Vec<Outcome> = (0..cases(260, 520)).into_par_iter().map(look_for).collect();
    let knowable: Vec<&Outcome> = all.iter().filter(|outcome| outcome.can_be_known()).collect();
    let right: Vec<&Outcome> = all.iter().filter(|outcome| outcome.right()).collect();
    let found = knowable.iter().filter(|outcome| outcome.right()).count();
    let sure = all.iter().filter(|outcome| outcome.sure()).count();
    let wrong_and_sure: Vec<String> =
        all.iter().filter(|outcome| outcome.sure() && !outcome.right()).map(Outcome::tell).collect();
    let value = |outcome: &&Outcome| outcome.found.as_ref().ok().map(|found| found.value.clone());
    let (mut corners, mut densities, mut borders) = (Vec::new(), Vec::new(), Vec::new());
    for outcome in &right {
        if let Some(found) = value(outcome) {
            corners.extend(outcome.corner_errors(&found).0);
            densities.extend(outcome.density_errors(&found));
            borders.extend(outcome.border_errors(&found));
        }
    }
    let (corners, densities) = (sorted(&corners), sorted(&densities));
    let border_sizes = sorted(&borders.iter().map(|error| error.abs()).collect::<Vec<_>>());
    let at = |values: &[f64], p| quantile_of_sorted(values, p).unwrap_or(f64::NAN);
    let close = densities.partition_point(|error| *error < 0.01) as f64 / densities.len() as f64;
    let share = found as f64 / knowable.len() as f64;
    let mut table = String::new();
    let mut row = |name: &str, value: String| writeln!(table, "{name:<52} {value}").unwrap();
    row("strips", format!("{}", all.len()));
    row("number of steps known or both ends seen", format!("{}", knowable.len()));
    row("found without help", format!("{found} ({:.1} %)", 100.0 * share));
    row("called sure", format!("{sure}"));
    row("wrong and called sure", format!("{}", wrong_and_sure.len()));
    row("corner error, median and 95 % (px)", format!("{:.2}, {:.2}", at(&corners, 0.5), at(&corners, 0.95)));
    row(
        "border error, median and 95 % (px)",
        format!("{:.2}, {:.2}", at(&border_sizes, 0.5), at(&border_sizes, 0.95)),
    );
    row("step densities compared", format!("{}", densities.len()));
    row("density error, median and 95 %", format!("{:.4}, {:.4}", at(&densities, 0.5), at(&densities, 0.95)));
    row("density error below 0.01", format!("{:.1} %", 100.0 * close));
    let missed: Vec<String> = knowable.iter().filter(|outcome| !outcome.right()).map(|o| o.tell()).collect();
    println!("{table}\nnot found:\n{}", missed.join("\n"));
    assert!(wrong_and_sure.is_empty(), "{}", wrong_and_sure.join("\n"));
    assert!(share >= 0.98, "{share}");
    assert!(median(&corners).is_some_and(|error| error < 1.5));
    assert!(close >= 0.95, "{close}");
}

#[test]
fn scans_without_a_strip_are_refused() {
    let all: Vec<(usize, u64)> = (0..GROUNDS.len()).flat_map(|k| (0..16).map(move |n| (k, n))).collect();
    let told: Vec<String> = all
        .par_iter()
        .filter_map(|(kind, number)| {
            let (scan, table) = without(SEED, *number, GROUNDS[*kind]);
            let wanted = Wanted { steps: (number % 2 == 0).then_some(21), order: Order::Rising };
            let found = find_strip(scan.plane(Channel::Green), &table, &wanted, &|| false).ok()?;
            Some(format!(
                "{:?} {number}: {} steps, doubts {:?}",
                GROUNDS[*kind], found.value.shape.steps, found.doubts
            ))
        })
        .collect();
    println!("{} scans without a strip, found in {}", all.len(), told.len());
    assert!(told.is_empty(), "{}", told.join("\n"));
}
