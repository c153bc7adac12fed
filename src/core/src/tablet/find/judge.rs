//! What is told of a row: its shape in the wanted order, its borders, what is wrong with single steps, and all that speaks
//! against the whole.

use super::observe::{Observed, On, Reader};
use super::{Border, FoundStrip, Order, Row, StepNote, StepReason, Supports, Wanted, ends, fit, none};
use crate::document::StripShape;
use crate::found::Found;
use crate::geometry::{Point, Quad};
use crate::measured::Flags;
use crate::numeric::{math, robust};
use crate::problem::Problem;
use crate::scan::ToneTable;
use crate::tablet::sample_strip;
use crate::words::{self, Sentence};

/// Fewer steps than this are no strip: prints have rows of patches.
const LEAST_STEPS: u32 = 8;
/// Usual numbers of steps. Source: common practice, as in [`crate::document::Tablet::nominal`].
const USUAL: [u32; 4] = [11, 21, 31, 41];
/// Dust and scratches on more than this share of a step are told.
const SCRATCHED: f64 = 0.05;
/// More than this share leaves its reading in doubt.
const BADLY: f64 = 0.3;
/// Unevenness within a step that is told, in density.
const UNEVEN: f64 = 0.03;

/// A border of the row as it was seen.
struct Seen {
    off: f64,
    u: f64,
}

pub(super) fn judge(
    reader: &Reader<'_>,
    table: &ToneTable,
    wanted: &Wanted,
    row: Row,
) -> Result<Found<FoundStrip>, Problem> {
    let Row { fitted, places, ends, another, counted, steps } = row;
    let seen: Vec<Option<Seen>> = (0..=steps as i32).map(|number| border(&fitted, &places, number)).collect();
    let inner = seen[1..seen.len() - 1].iter().flatten().count();
    let length = fitted.frame.length(0.5 * f64::from(steps), 0.5);
    let least = wanted.steps.map_or(LEAST_STEPS, |steps| steps.clamp(4, LEAST_STEPS));
    let too_few = steps < least || wanted.steps.is_some_and(|steps| counted * 2 < steps);
    if too_few || (inner as u32) * 2 < steps.min(counted) || inner < 3 {
        return Err(none(words::Find::FewBorders { inner }.into()));
    }
    if fitted.spread > 0.12 * length {
        return Err(none(words::Find::UnevenBorders.into()));
    }
    let sides = [0, 1].map(|which| {
        let here = || places.iter().filter(|place| place.on == On::Side(which));
        let near = here().filter(|place| fit::off(&fitted.frame, place).abs() < 1.5).count() as f64;
        (near / f64::from(steps)).min(near / here().count().max(1) as f64)
    });
    let mut doubts = Vec::new();
    about_ends(&ends, counted, steps, wanted, &mut doubts);
    if inner * 10 < (steps as usize - 1) * 6 {
        doubts.push(words::Find::SomeBorders { inner, borders: steps - 1 }.into());
    }
    if fitted.spread > (0.04 * length).max(0.6) {
        doubts.push(words::Find::BordersStray { px: fitted.spread }.into());
    }
    if sides.iter().any(|share| *share < 0.4) {
        doubts.push(words::Find::LongSide.into());
    }
    if another {
        doubts.push(words::Find::AnotherRow.into());
    }
    let inside = |p: &Point| {
        (0.0..=reader.plane.width() as f64).contains(&p.x)
            && (0.0..=reader.plane.height() as f64).contains(&p.y)
    };
    if !fitted.quad.corners.iter().all(inside) {
        doubts.push(words::Find::CornerOutside.into());
    }
    let turned = ends.rising != (wanted.order == Order::Rising);
    if let Some(step) = goes_back(reader, &fitted, steps, ends.rising) {
        let step = if turned { steps - step } else { step };
        doubts.push(words::Find::GoesBack { step, next: step + 1 }.into());
    }
    let [a, b, c, d] = fitted.quad.corners;
    let quad = if turned { Quad { corners: [c, d, a, b] } } else { fitted.quad };
    let shape = StripShape::new(quad, steps);
    let borders = borders(&fitted, &seen, turned, steps);
    let notes = notes(reader, table, &shape, &borders);
    let uneven =
        |note: &&StepNote| note.reasons.iter().any(|r| matches!(r, StepReason::Uneven(by) if *by > 0.1));
    let broken =
        |note: &StepNote| note.reasons.iter().any(|r| matches!(r, StepReason::Uneven(by) if *by > 0.5));
    if notes.iter().any(broken)
        || notes.iter().filter(uneven).count() * 3 > notes.len()
        || sides.iter().all(|share| *share < 0.3)
    {
        return Err(none(words::Find::NoEvenStep.into()));
    }
    about_steps(&notes, &mut doubts);
    let firm = f64::from(u8::from(ends.first.firm)) + f64::from(u8::from(ends.last.firm));
    let share = inner as f64 / f64::from(steps - 1);
    let supports = Supports {
        corners: share * sides.iter().copied().fold(1.0, f64::min) / (1.0 + fitted.corner_u / length),
        count: share
            * match wanted.steps {
                Some(known) if known == steps => 0.5 + 0.25 * firm,
                Some(_) => 0.2,
                None => 0.5 * firm,
            },
        order: share,
    };
    let support = supports.corners.min(supports.count).min(supports.order).clamp(0.0, 1.0);
    let value = FoundStrip { shape, corner_u: fitted.corner_u, counted, borders, steps: notes, supports };
    Ok(Found { value, support, doubts })
}

fn about_ends(ends: &ends::Ends, counted: u32, steps: u32, wanted: &Wanted, doubts: &mut Vec<Sentence>) {
    let (first, last) = (ends.first, ends.last);
    match wanted.steps {
        Some(known) if known != steps => doubts.push(words::Find::OtherCount { counted, known }.into()),
        Some(_) if !first.firm && !last.firm => {
            doubts.push(words::Find::NoEnd.into());
        }
        Some(known) if known.abs_diff(counted) * 3 > known => {
            doubts.push(words::Find::PlacedByNumber { counted, known }.into())
        }
        Some(known) if counted > known => {
            doubts.push(words::Find::TooMany { counted, known }.into());
        }
        Some(_) => {}
        None => {
            if [first, last].iter().any(|end| !end.firm || end.flat || end.run > 0) {
                doubts.push(words::Find::OpenEnd { counted }.into());
            }
            if !USUAL.contains(&steps) {
                doubts.push(words::Find::UnusualCount { steps }.into());
            }
        }
    }
    if first.cut || last.cut {
        doubts.push(words::Find::RunsOut.into());
    }
}

fn about_steps(notes: &[StepNote], doubts: &mut Vec<Sentence>) {
    for note in notes {
        for reason in &note.reasons {
            let doubtful = match reason {
                StepReason::Scratched(share) => *share > BADLY,
                StepReason::Uneven(_) => true,
                StepReason::NoBorder(_) | StepReason::Saturated => false,
            };
            if doubtful {
                doubts.push(words::Find::Step { step: note.step, reason: reason.words() }.into());
            }
        }
    }
}

/// A border where it was seen at half of its places or more.
fn border(fitted: &fit::Fitted, places: &[Observed], number: i32) -> Option<Seen> {
    let frame = &fitted.frame;
    let length = frame.length(f64::from(number), 0.5);
    let here = places.iter().filter(|place| place.on == On::Border(number));
    let offs: Vec<f64> = here.map(|place| fit::off(frame, place)).collect();
    let near: Vec<f64> = offs.into_iter().filter(|off| off.abs() < 0.12 * length + 0.5).collect();
    if near.len() < 2 || near.len() * 3 < super::observe::bins(frame, number) {
        return None;
    }
    let middle = robust::median(&near)?;
    let spread = robust::MAD_TO_SIGMA * robust::median_absolute_deviation(&near)?;
    // The median's standard error for normal places (1.2533 / sqrt n), and no better than a fiftieth of a pixel.
    let u = 1.2533 * spread / math::sqrt(near.len() as f64);
    Some(Seen { off: middle, u: u.max(0.02) })
}

/// The first step after which tone clearly turns back.
fn goes_back(reader: &Reader<'_>, fitted: &fit::Fitted, steps: u32, rising: bool) -> Option<u32> {
    let all: Vec<Option<ends::Interval>> =
        (0..steps as i32).map(|step| ends::Interval::read(reader, &fitted.frame, step)).collect();
    let sign = if rising { 1.0 } else { -1.0 };
    let back = all.windows(2).position(|pair| match pair {
        [Some(a), Some(b)] => sign * (b.inside - a.inside) < -(0.02 + 4.0 * (a.u + b.u)),
        _ => false,
    });
    back.map(|at| at as u32 + 1)
}

fn borders(fitted: &fit::Fitted, seen: &[Option<Seen>], turned: bool, steps: u32) -> Vec<Border> {
    let frame = &fitted.frame;
    let border = |after: u32| {
        let number = if turned { steps - after } else { after };
        let seen = seen[number as usize].as_ref();
        let sign = if turned { -1.0 } else { 1.0 };
        let place = f64::from(number)
            + seen.map_or(0.0, |seen| seen.off / frame.length(f64::from(number), 0.5).max(1e-9));
        let ends = if turned {
            [frame.place(place, 1.0), frame.place(place, 0.0)]
        } else {
            [frame.place(place, 0.0), frame.place(place, 1.0)]
        };
        let u = seen.map_or(fitted.corner_u.max(fitted.spread), |seen| seen.u);
        Border { after, ends, off: seen.map(|seen| sign * seen.off), u }
    };
    (0..=steps).map(border).collect()
}

fn notes(reader: &Reader<'_>, table: &ToneTable, shape: &StripShape, borders: &[Border]) -> Vec<StepNote> {
    let samples = sample_strip(reader.plane, table, shape).unwrap_or_default();
    let frame = super::frame(&shape.quad, shape.steps);
    let note = |step: u32| {
        let mut reasons = Vec::new();
        let unseen = |border: u32| borders.get(border as usize).is_some_and(|border| border.off.is_none());
        if step > 1 && unseen(step - 1) {
            reasons.push(StepReason::NoBorder(step - 1));
        }
        if step < shape.steps && unseen(step) {
            reasons.push(StepReason::NoBorder(step + 1));
        }
        if let Some(sample) = samples.get(step as usize - 1) {
            if sample.flags().contains(Flags::CLIPPED) {
                reasons.push(StepReason::Saturated);
            }
            let share = sample.left_out as f64 / (sample.left_out + sample.used).max(1) as f64;
            if share > SCRATCHED {
                reasons.push(StepReason::Scratched(share));
            }
        }
        if let Some(range) = frame.as_ref().and_then(|frame| unevenness(reader, frame, step as i32 - 1)) {
            reasons.push(StepReason::Uneven(range));
        }
        StepNote { step, reasons }
    };
    (1..=shape.steps).map(note).collect()
}

/// By how much the tone of parts of a step differs across the strip, where it is more than noise and light falling off explain.
fn unevenness(reader: &Reader<'_>, frame: &super::Frame, step: i32) -> Option<f64> {
    let mut parts = Vec::with_capacity(8);
    let mut spreads = Vec::with_capacity(8);
    for part in 0..8 {
        let mut tones = Vec::with_capacity(40);
        for k in 0..5 {
            for i in 0..8 {
                let s = f64::from(step) + 0.22 + 0.08 * f64::from(i);
                let v = 0.2 + 0.075 * (f64::from(part) + 0.2 * (f64::from(k) + 0.5));
                tones.push(reader.at(frame.place(s, v))?.1);
            }
        }
        parts.push(robust::median(&tones)?);
        spreads.push(robust::MAD_TO_SIGMA * robust::median_absolute_deviation(&tones)?);
    }
    let sorted = robust::sorted(&parts);
    let range = sorted[6] - sorted[1];
    let noise = robust::median(&spreads)? / 3.0;
    (range > UNEVEN + 5.0 * noise).then_some(range)
}
