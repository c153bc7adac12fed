//! What the counts of codes tell: tones cut off, stretched, or in steps.

use super::{Fault, Test};
use crate::numeric::{math, robust};
use crate::scan::Plane;
use crate::words;

/// Share of pixels at the lowest or highest code from which tones are called cut off.
const CLIPPED: f64 = 0.001;
/// The same where they pile up at a code within the range.
const PILE: f64 = 0.005;
/// Codes beside a pile that it is compared with.
const BESIDE: usize = 64;
/// Share of codes missing between codes that are used a lot.
const MISSING: f64 = 0.04;
/// A code that is used so often has used neighbours, unless codes are missing: the chance of an empty one is below e^-8.
const OFTEN: u32 = 8;
/// Rows looked at in a large scan.
const ROWS: usize = 4_000;

/// How often each code is used, in rows spread over the scan.
pub(super) fn counts(plane: Plane<'_>, stop: &(dyn Fn() -> bool + Sync)) -> Option<Vec<u32>> {
    counts_of(plane, ROWS, stop)
}

/// The same in so many rows at most.
pub(super) fn counts_of(plane: Plane<'_>, rows: usize, stop: &(dyn Fn() -> bool + Sync)) -> Option<Vec<u32>> {
    let mut counts = vec![0_u32; plane.levels()];
    for y in (0..plane.height()).step_by(plane.height().div_ceil(rows).max(1)) {
        if y % 256 == 0 && stop() {
            return None;
        }
        for code in plane.row(y, 0, plane.width()) {
            counts[usize::from(code)] += 1;
        }
    }
    Some(counts)
}

fn total(counts: &[u32]) -> f64 {
    counts.iter().map(|count| f64::from(*count)).sum::<f64>().max(1.0)
}

/// Tones cut off at either end, or piled up at a code before it.
pub(super) fn clipped(counts: &[u32]) -> Test {
    let all = total(counts);
    let last = counts.len() - 1;
    let ends = [(0, counts[0], "lowest"), (last, counts[last], "highest")];
    let (code, count, end) = if ends[0].1 > ends[1].1 { ends[0] } else { ends[1] };
    let share = f64::from(count) / all;
    if share > CLIPPED {
        let sentence = words::Examined::AtEnd { percent: words::Percent(share), end, code }.into();
        return Test::new(Fault::Clipped, true, share, CLIPPED, sentence);
    }
    if let Some((code, share)) = pile(counts, all) {
        let sentence = words::Examined::PiledUp { percent: words::Percent(share), code }.into();
        return Test::new(Fault::Clipped, true, share, PILE, sentence);
    }
    let sentence = words::Examined::AtEnds { percent: words::Percent(share) }.into();
    Test::new(Fault::Clipped, false, share, CLIPPED, sentence)
}

/// A pile at the outermost code that is used, within the range: what was cut off before levels were changed.
fn pile(counts: &[u32], all: f64) -> Option<(usize, f64)> {
    if counts.len() <= 256 {
        return None;
    }
    let first = counts.iter().position(|count| *count > 0)?;
    let last = counts.iter().rposition(|count| *count > 0)?;
    let judge = |code: usize, beside: &[u32]| {
        let used = beside.iter().filter(|count| **count > 0).count();
        let mean = total(beside) / beside.len().max(1) as f64;
        let share = f64::from(counts[code]) / all;
        (share > PILE && 2 * used > BESIDE && f64::from(counts[code]) > 20.0 * mean).then_some((code, share))
    };
    let low = counts.get(first + 1..first + 1 + BESIDE).and_then(|beside| judge(first, beside));
    let high = last.checked_sub(BESIDE).and_then(|from| judge(last, &counts[from..last]));
    low.into_iter().chain(high).max_by(|a, b| a.1.total_cmp(&b.1))
}

/// Whether tones go from the first code to the last, which a scanner at fixed exposure has no reason to do: its black is
/// above code 0, and its white below the last, or it clips at one end and not at both.
pub(super) fn full_range(counts: &[u32]) -> Test {
    let all = total(counts);
    let span = {
        let quantile = |share: f64| {
            let mut sum = 0.0;
            counts.iter().position(|count| {
                sum += f64::from(*count);
                sum > share * all
            })
        };
        let (low, high) = (quantile(1e-4).unwrap_or(0), quantile(1.0 - 1e-4).unwrap_or(0));
        high.saturating_sub(low) as f64 / (counts.len() - 1) as f64
    };
    let both = counts[0] > 0 && counts[counts.len() - 1] > 0;
    let sentence = if both {
        words::Examined::FullRange { percent: words::Percent(span) }.into()
    } else {
        words::Examined::EndFree { percent: words::Percent(span) }.into()
    };
    Test::new(Fault::FullRange, both, span, 1.0, sentence)
}

/// Codes that are used so often that neighbours of theirs must be used too.
fn often(counts: &[u32]) -> Vec<usize> {
    (0..counts.len()).filter(|code| counts[*code] >= OFTEN).collect()
}

/// The median distance between codes in use: 1 where none is missing.
pub(super) fn spacing(counts: &[u32]) -> f64 {
    let isolated = |code: &usize| {
        let used =
            |other: Option<usize>| other.and_then(|code| counts.get(code)).is_some_and(|count| *count > 0);
        !used(code.checked_sub(1)) && !used(code.checked_add(1))
    };
    let often = often(counts);
    let alone = often.iter().filter(|code| isolated(code)).count();
    // With 8 bits a plain step of little noise may have one code to itself.
    if counts.len() <= 256 || often.len() < 3 || 10 * alone < 9 * often.len() {
        return 1.0;
    }
    let used: Vec<usize> = (0..counts.len()).filter(|code| counts[*code] > 0).collect();
    let distances: Vec<f64> = used.windows(2).map(|pair| (pair[1] - pair[0]) as f64).collect();
    robust::median(&distances).unwrap_or(1.0).max(1.0)
}

/// Codes of a floating point file that holds nothing but the values of whole codes.
pub(super) struct Copied {
    /// Bits of these codes.
    pub(super) bits: u32,
    /// How often each code that such a copy can hold is used.
    pub(super) counts: Vec<u32>,
}

/// Natural logarithm of the chance that codes which are no copy lie all where a copy has some, below which they are one.
const BY_CHANCE: f64 = -20.0;
/// Share of the codes in use that may lie elsewhere: rounding.
const ELSEWHERE: f64 = 0.01;
/// Bits of codes that are copied.
const DEPTHS: [u32; 5] = [8, 10, 12, 14, 16];

/// Whether the square roots of samples are those of whole codes of 8 to 16 bits: `None` where they are not, or too few are dark
/// enough to tell.
pub(super) fn copied(counts: &[u32]) -> Option<Copied> {
    let top = (counts.len() - 1) as f64;
    DEPTHS.into_iter().find_map(|bits| {
        let last = (1_usize << bits) - 1;
        let places = places(counts, bits);
        let held: Vec<u32> = places.iter().map(|place| counts[*place]).collect();
        let used = counts.iter().filter(|count| **count > 0).count() as f64;
        let there = held.iter().filter(|count| **count > 0).count() as f64;
        // Of all codes about one, a copy holds so many.
        let density = |place: usize| (2.0 * place as f64 * last as f64 / (top * top)).clamp(1e-3, 1.0);
        let chance: f64 =
            places.iter().filter(|place| counts[**place] > 0).map(|place| math::ln(density(*place))).sum();
        (used - there <= ELSEWHERE * used && chance < BY_CHANCE).then_some(Copied { bits, counts: held })
    })
}

/// Whether the square roots of samples lie beside those of whole codes of any depth too often to be copies of them.
pub(super) fn never_copied(counts: &[u32]) -> bool {
    let used = counts.iter().filter(|count| **count > 0).count() as f64;
    DEPTHS.into_iter().all(|bits| {
        let there = places(counts, bits).iter().filter(|place| counts[**place] > 0).count() as f64;
        used - there > ELSEWHERE * used
    })
}

/// Where the square roots of whole codes of that depth lie among the codes of a scan.
fn places(counts: &[u32], bits: u32) -> Vec<usize> {
    let (top, last) = ((counts.len() - 1) as f64, (1_usize << bits) - 1);
    let root = |code: usize| (math::sqrt(code as f64 / last as f64) * top + 0.5) as usize;
    let mut places: Vec<usize> = (0..=last).map(root).collect();
    places.dedup();
    places
}

/// Regular holes between codes in use.
pub(super) fn missing_codes(counts: &[u32]) -> Test {
    let spacing = spacing(counts);
    if spacing > 2.5 {
        let bits = math::ln(counts.len() as f64 / spacing) / core::f64::consts::LN_2;
        let sentence = words::Examined::CoarseCodes {
            spacing: words::Number(spacing, 0),
            bits: words::Number(bits, 0),
            file: if counts.len() > 256 { 16 } else { 8 },
        }
        .into();
        return Test::new(Fault::MissingCodes, true, 1.0 - 1.0 / spacing, MISSING, sentence);
    }
    let (mut tested, mut empty) = (0.0, 0.0);
    for code in 1..counts.len() - 1 {
        let (before, here, after) = (counts[code - 1], counts[code], counts[code + 1]);
        if before.min(after) >= OFTEN {
            tested += 1.0;
            empty += f64::from(u8::from(here == 0));
        }
    }
    let least = if counts.len() > 256 { 100.0 } else { 24.0 };
    if tested < least {
        let why = words::Examined::CodesNotUsed.into();
        return Test::not_testable(Fault::MissingCodes, MISSING, why);
    }
    let share = empty / tested;
    let recognised = share > MISSING && empty >= 5.0;
    let sentence = if recognised {
        words::Examined::Stretched { percent: words::Percent(share) }.into()
    } else {
        words::Examined::CodesMissing { percent: words::Percent(share) }.into()
    };
    Test::new(Fault::MissingCodes, recognised, share, MISSING, sentence)
}
