//! What an edge must be to be measured, and what must be said of it.

use super::field::Field;
use super::locate::{Located, RISE, best_step};
use super::resample::{Blocks, smooth};
use super::spread::{BIN, Spread};
use super::transfer::Window;
use super::{Cause, EdgeMeasure, EdgeSettings, EdgeSpace, Refusal};
use crate::geometry::{Point, Rect};
use crate::measured::{Flags, Value};
use crate::numeric::math;
use crate::scan::{Plane, ToneTable};
use crate::words::{self, Sentence};

/// Smallest side of a box, pixels.
const LEAST_SIDE: usize = 24;
/// Most pixels of a box.
const MOST_PIXELS: usize = 16_000_000;
/// Angles to rows or columns between which an edge is sampled finer than pixels and still crosses them clearly, degrees.
pub(super) const ANGLES: (f64, f64) = (2.0, 43.0);
/// A box of fewer rows is too low to be measured.
const LEAST_ROWS: usize = 48;
/// Fewest steps from one pixel column to the next along the edge: each gives every phase once.
const LEAST_PHASES: f64 = 2.5;
/// Smallest step of density.
const LEAST_STEP: f64 = 0.02;
/// Step of density up to which light is near enough to proportional to exposure (common practice, no source), and the highest
/// that is measured in light at all.
const SMALL_STEP: f64 = 0.3;
const HIGHEST_STEP: f64 = 1.0;

/// The box, cut out of the scan.
pub(super) struct Cut {
    pub(super) field: Field,
    pub(super) area: Rect,
    /// Share of pixels with the lowest or the highest code.
    pub(super) clipped: f64,
}

/// Cuts the box out and turns its codes into light.
pub(super) fn cut(plane: Plane<'_>, table: &ToneTable, area: Rect) -> Result<Cut, Refusal> {
    if table.light.len() != plane.levels() {
        let cause = words::Scan::OtherCodes { codes: table.light.len(), scan: plane.levels() };
        return Err(Refusal::new(cause, words::Remedy::CalibrateAtDepth));
    }
    let (x0, y0, x1, y1) = (area.min.x.round(), area.min.y.round(), area.max.x.round(), area.max.y.round());
    let inside = x0 >= 0.0 && y0 >= 0.0 && x1 <= plane.width() as f64 && y1 <= plane.height() as f64;
    if !(inside && x0 < x1 && y0 < y1) {
        return Err(Refusal::new(
            words::Edge::BoxOutside { x0, y0, x1, y1, wide: plane.width(), high: plane.height() },
            words::Remedy::BoxInside,
        ));
    }
    let (left, top, width, height) = (x0 as usize, y0 as usize, (x1 - x0) as usize, (y1 - y0) as usize);
    if width.min(height) < LEAST_SIDE || width.max(height) < LEAST_ROWS || width * height > MOST_PIXELS {
        return Err(Refusal::new(
            words::Edge::BoxNotMeasurable { width, height },
            words::Remedy::BoxOfSize { least_side: LEAST_SIDE, least_rows: LEAST_ROWS },
        ));
    }
    let codes: Vec<u32> = (0..plane.levels() as u32).collect();
    let mut row = vec![0_u32; width];
    let (mut light, mut clipped) = (Vec::with_capacity(width * height), 0_usize);
    let top_code = plane.levels() as u32 - 1;
    for y in top..top + height {
        plane.look_up(&codes, y, left, &mut row);
        clipped += row.iter().filter(|code| **code == 0 || **code == top_code).count();
        light.extend(row.iter().map(|code| table.light[*code as usize]));
    }
    let share = clipped as f64 / light.len() as f64;
    if share > 0.05 {
        return Err(Refusal::new(
            words::Edge::BoxClipped { percent: 100.0 * share },
            words::Remedy::RoomAtEnds,
        ));
    }
    let area = Rect { min: Point::new(x0, y0), max: Point::new(x1, y1) };
    Ok(Cut { field: Field { width, height, light }, area, clipped: share })
}

/// Whether the edge runs across rather than down.
pub(super) fn runs_across(field: &Field) -> Result<bool, Refusal> {
    let side = (field.width.min(field.height) / 40).max(1);
    let cells = field.coarse(side);
    let down = best_step(&cells).ok_or_else(Refusal::plain)?;
    let across = best_step(&cells.turned()).ok_or_else(Refusal::plain)?;
    Ok(across.explained > down.explained)
}

/// One straight edge, long enough, at a fit angle, between two uniform areas.
pub(super) fn check(field: &Field, edge: &Located) -> Result<(), Refusal> {
    let degrees = math::atan(edge.line.slope.abs()).to_degrees();
    let turn = words::Remedy::TurnTarget;
    if degrees < ANGLES.0 {
        return Err(Refusal::new(words::Edge::TooUpright { degrees, least: ANGLES.0 }, turn));
    }
    if degrees > ANGLES.1 {
        return Err(Refusal::new(words::Edge::TooOblique { degrees, most: ANGLES.1 }, turn));
    }
    two_fields(field, edge)?;
    let (rows, slope) = (edge.rows.len(), edge.line.slope.abs());
    let needed = LEAST_ROWS.max((LEAST_PHASES / slope).ceil() as usize);
    if rows < needed {
        return Err(Refusal::new(words::Edge::TooShort { rows, degrees, needed }, words::Remedy::LongerBox));
    }
    let limit = (0.35 * edge.blurred.sigma).max(0.5);
    if edge.ragged > limit {
        return Err(Refusal::new(words::Edge::NotStraight { px: edge.ragged }, words::Remedy::ChooseCutEdge));
    }
    Ok(())
}

/// Refuses a second edge or a corner: what is left after the edge is taken out must not hold another step.
fn two_fields(field: &Field, edge: &Located) -> Result<(), Refusal> {
    let step = edge.blurred.right - edge.blurred.left;
    let near = 2.0 * RISE * edge.blurred.sigma + 2.0;
    let mut rest = field.clone();
    for y in 0..field.height {
        let (x0, cosine) = (edge.line.x(y as f64 + 0.5), edge.line.cosine(y as f64 + 0.5));
        for x in 0..field.width {
            let distance = (x as f64 + 0.5 - x0) * cosine;
            let level = if distance < 0.0 { edge.blurred.left } else { edge.blurred.right };
            let light = &mut rest.light[y * field.width + x];
            *light = if distance.abs() < near { 0.0 } else { *light - level };
        }
    }
    let side = (field.width.min(field.height) / 32).max(1);
    let cells = rest.coarse(side);
    let strongest = [best_step(&cells), best_step(&cells.turned())]
        .into_iter()
        .flatten()
        .filter(|found| found.explained > 0.3)
        .map(|found| (found.height / step).abs())
        .fold(0.0, f64::max);
    if strongest > 0.12 {
        return Err(Refusal::new(
            words::Edge::MoreThanOne { percent: 100.0 * strongest },
            words::Remedy::BoxAroundOne,
        ));
    }
    Ok(())
}

/// How far from the edge pixels are used: as far as the box goes on both sides half way along, within reason.
pub(super) fn reach(field: &Field, edge: &Located) -> Result<f64, Refusal> {
    let middle = (edge.rows.start + edge.rows.end) as f64 / 2.0;
    let x = edge.line.x(middle);
    let free = x.min(field.width as f64 - x) * edge.line.cosine(middle);
    let needed = (1.6 * RISE * edge.blurred.sigma + 4.0).max(9.0);
    if free < needed {
        return Err(Refusal::new(words::Edge::LittleBeside { free, needed }, words::Remedy::WiderBox));
    }
    Ok(free.min((30.0 * edge.blurred.sigma).max(80.0)))
}

/// Light of the uniform areas on the left and on the right.
pub(super) fn levels(spread: &Spread, window: Window) -> [f64; 2] {
    [true, false].map(|left| {
        let far = |k: &usize| {
            if left { spread.distance(*k) < -window.flat } else { spread.distance(*k) > window.flat }
        };
        let part: Vec<f64> = (0..spread.light.len()).filter(far).map(|k| spread.light[k]).collect();
        (part.iter().sum::<f64>() / part.len().max(1) as f64).max(1e-9)
    })
}

/// Refuses a step that is lost in the grain.
pub(super) fn contrast(spread: &Spread, edge: &Located, [left, right]: [f64; 2]) -> Result<(), Refusal> {
    let step = math::log10(left / right).abs();
    if step < LEAST_STEP {
        return Err(Refusal::new(words::Edge::StepTooLow { step }, words::Remedy::ChooseStep));
    }
    let blocks = Blocks::of(spread);
    let kernel = (0.4 * RISE * edge.blurred.sigma).max(2.0 * BIN);
    let middle = spread.light.len() / 2;
    let sum: f64 = spread.moved.iter().map(|block| smooth(block, kernel)[middle].powi(2)).sum();
    let share = math::sqrt(blocks.scale * sum) / (right - left).abs();
    if share > 0.12 {
        return Err(Refusal::new(
            words::Edge::StepInGrain { step, percent: 100.0 * share },
            words::Remedy::ChooseLongerEdge,
        ));
    }
    Ok(())
}

/// Refuses a step that is too high to be measured in light.
pub(super) fn step([left, right]: [f64; 2]) -> Result<(), Refusal> {
    let step = math::log10(left / right).abs();
    if step <= HIGHEST_STEP {
        return Ok(());
    }
    Err(Refusal::new(words::Edge::StepTooHigh { step }, words::Remedy::MeasureCurve))
}

/// What notes are made of.
pub(super) struct Known<'a> {
    pub(super) edge: &'a Located,
    pub(super) spread: &'a Spread,
    pub(super) table: &'a ToneTable,
    pub(super) settings: EdgeSettings<'a>,
    pub(super) clipped: f64,
}

/// Sets flags and writes notes.
pub(super) fn notes(found: &mut EdgeMeasure, known: &Known<'_>) {
    let mut notes: Vec<Sentence> = Vec::new();
    let [thin, dense] = found.densities;
    if known.clipped > 1e-3 {
        found.flags |= Flags::CLIPPED;
        notes.push(words::Edge::Clipped { percent: 100.0 * known.clipped }.into());
    }
    let (low, high) = known.table.trusted;
    if thin < low || dense > high {
        found.flags |= Flags::OUTSIDE_CALIBRATION;
        notes.push(words::Edge::BeyondCalibration { thin, dense, low, high }.into());
    }
    if found.left_out > 1e-4 {
        found.flags |= Flags::DEFECTS_LEFT_OUT;
        notes.push(words::Edge::DustLeftOut { percent: 100.0 * found.left_out }.into());
    }
    if !known.settings.knife_edge && found.method.space == EdgeSpace::Light {
        if dense - thin > SMALL_STEP {
            notes.push(words::Edge::HighStepInLight { step: dense - thin }.into());
        }
        if known.settings.response.is_some() {
            notes.push(words::Edge::CurveTooShort.into());
        }
    }
    if !known.settings.knife_edge && !found.method.scanner_removed {
        notes.push(words::Edge::WithScanner.into());
    }
    if known.edge.ragged > (0.15 * known.edge.blurred.sigma).max(0.2) {
        found.flags |= Flags::UNEVEN;
        notes.push(words::Edge::Wanders { px: known.edge.ragged }.into());
    }
    if known.spread.empty > 8 {
        notes.push(words::Edge::Bridged.into());
    }
    if known.edge.rows.len() < 120 {
        found.flags |= Flags::FEW_SAMPLES;
    }
    if found.overshoot.cause == Cause::Sharpening {
        notes.push(words::Edge::ScanSharpened.into());
    }
    let half_a_cycle = 500.0 / known.settings.pitch.0;
    for (share, value) in [("50 %", &mut found.mtf50), ("10 %", &mut found.mtf10)] {
        let Value::Known(frequency) = value else { continue };
        if frequency.value > half_a_cycle {
            frequency.flags |= Flags::BEYOND_HALF_CYCLE;
            notes.push(words::Edge::BeyondHalfCycle { share, half_a_cycle }.into());
        }
    }
    if let Some(mtf) = found.mtf50.known()
        && (mtf.high - mtf.low) > 0.4 * mtf.value
    {
        notes.push(words::Edge::WideInterval.into());
    }
    found.add(found.flags, notes);
}
