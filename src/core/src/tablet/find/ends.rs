//! Which intervals are steps: where the row begins and ends, and how firmly.
//!
//! A step is told from the ground by what lies beside it: at its long sides the ground shows at the same place along the
//! strip. A row whose end steps look like the ground ends where nobody can see it; then a known number of steps decides,
//! counted from the other end.

use super::fit;
use super::observe::{self, Frame, Reader};
use crate::numeric::robust::{self, MAD_TO_SIGMA};

/// Most steps on either side of those that the staircase showed.
const MOST_STEPS: i32 = 60;
/// Tones that differ by less are alike.
const ALIKE: f64 = 0.025;
/// An end step that differs from the ground by this much is firmly seen.
const FIRM: f64 = 0.05;

/// One interval between two borders, seen or not.
#[derive(Debug, Clone)]
pub(super) struct Interval {
    /// Median tone of its middle.
    pub(super) inside: f64,
    /// Standard uncertainty of that.
    pub(super) u: f64,
    /// Tone of the ground beside it, above and below; `None` outside the scan.
    ground: [Option<f64>; 2],
    /// Tone near its end minus tone near its start.
    bend: f64,
}

impl Interval {
    /// `None` where it does not lie in the scan.
    pub(super) fn read(reader: &Reader<'_>, frame: &Frame, step: i32) -> Option<Self> {
        let s = |share: f64| f64::from(step) + share;
        let tone = |share: f64, v: f64| reader.at(frame.place(s(share), v)).map(|(_, tone)| tone);
        let mut columns: Vec<Vec<f64>> = Vec::with_capacity(7);
        for k in 0..7 {
            let share = 0.2 + 0.1 * f64::from(k);
            let column = (0..9).map(|row| tone(share, 0.12 + 0.095 * f64::from(row)));
            columns.push(column.collect::<Option<_>>()?);
        }
        let all: Vec<f64> = columns.concat();
        let inside = robust::median(&all)?;
        let spread = MAD_TO_SIGMA * robust::median_absolute_deviation(&all)?;
        let part = |columns: &[Vec<f64>]| robust::median(&columns.concat());
        let bend = part(&columns[4..6])? - part(&columns[1..3])?;
        let width = frame.width(s(0.5));
        let near = (2.5 / width).max(0.03);
        let far = (4.5 / width).max(0.07);
        let ground = [0, 1].map(|side| {
            let mut tones = Vec::with_capacity(21);
            for k in 0..7 {
                for out in [near, 0.5 * (near + far), far] {
                    let v = if side == 0 { -out } else { 1.0 + out };
                    tones.extend(tone(0.2 + 0.1 * f64::from(k), v));
                }
            }
            (tones.len() > 10).then(|| robust::median(&tones)).flatten()
        });
        Some(Self { inside, u: spread / 5.0, ground, bend })
    }

    /// By how much it differs from the ground on the side where it differs more; infinite where no ground is in the scan.
    fn difference(&self) -> f64 {
        let most = self.ground.iter().flatten().map(|ground| (ground - self.inside).abs()).reduce(f64::max);
        most.unwrap_or(f64::INFINITY)
    }

    fn differs(&self) -> bool {
        self.difference() > ALIKE + 3.0 * self.u
    }
}

/// One end of the row.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub(super) struct End {
    /// Its last step stands out of the ground, and its outer edge lies where the steps have it.
    pub(super) firm: bool,
    /// The scan ends before the row does, or may.
    pub(super) cut: bool,
    /// Steps before the end without a border between them.
    pub(super) run: i32,
    /// No border is seen between its last two steps.
    pub(super) flat: bool,
}

/// Borders at which the row begins and ends, in the numbers of the frame.
#[derive(Debug, Clone, Copy)]
pub(super) struct Ends {
    pub(super) from: i32,
    pub(super) to: i32,
    pub(super) first: End,
    pub(super) last: End,
    /// Tone rises along u.
    pub(super) rising: bool,
}

/// Most steps without a border that an outer edge behind them makes steps.
const RUN: i32 = 12;
/// Least density between the first step and the last.
const LEAST_RANGE: f64 = 0.15;

/// Finds both ends from the staircase outward. `None` where the steps do not rise or fall from one to the next.
pub(super) fn find(reader: &Reader<'_>, frame: &Frame, known: Option<u32>) -> Option<Ends> {
    let steps = frame.steps as i32;
    let inner: Vec<Interval> =
        (0..steps).map(|step| Interval::read(reader, frame, step)).collect::<Option<_>>()?;
    let jumps: Vec<f64> = inner.windows(2).map(|pair| pair[1].inside - pair[0].inside).collect();
    let up = jumps.iter().filter(|jump| **jump > 0.0).count();
    let rising = up * 2 > jumps.len();
    let sign = if rising { 1.0 } else { -1.0 };
    let (from, to) = core(&inner, sign);
    let inner = &inner[from as usize..to as usize];
    let range = sign * (inner.last()?.inside - inner.first()?.inside);
    let agree = inner.windows(2).filter(|pair| sign * (pair[1].inside - pair[0].inside) > -0.003).count();
    if inner.len() < 3 || range < LEAST_RANGE || agree * 4 < (inner.len() - 1) * 3 {
        return None;
    }
    let most = known.map_or(MOST_STEPS, |known| (known as i32 + 2 - (to - from)).max(0));
    let walk = Walk { reader, frame, inner, most };
    let (to, last) = walk.go(to, 1, sign)?;
    let (from, first) = walk.go(from, -1, -sign)?;
    (to - from >= 3).then_some(Ends { from, to, first, last, rising })
}

/// The longest part in which tone never clearly goes back.
fn core(inner: &[Interval], sign: f64) -> (i32, i32) {
    let (mut best, mut from) = ((0, 0), 0);
    for k in 0..inner.len() {
        if k > 0 {
            let (a, b) = (&inner[k - 1], &inner[k]);
            if sign * (b.inside - a.inside) < -(0.03 + 4.0 * (a.u + b.u)) {
                from = k;
            }
        }
        if k + 1 - from > best.1 - best.0 {
            best = (from, k + 1);
        }
    }
    (best.0 as i32, best.1 as i32)
}

struct Walk<'a> {
    reader: &'a Reader<'a>,
    frame: &'a Frame,
    /// Steps that are sure.
    inner: &'a [Interval],
    /// Most steps to be added.
    most: i32,
}

impl Walk<'_> {
    /// The step behind border `end`, seen from the way `way`.
    fn beyond(end: i32, way: i32) -> i32 {
        if way > 0 { end } else { end - 1 }
    }

    /// Whether a border or the row's outer edge is seen where the steps have it; `away` steps lie between it and the last
    /// that was seen, and make its place less sure.
    fn seen(&self, number: i32, way: i32, away: i32) -> bool {
        let edge = observe::edge(self.reader, self.frame, number, f64::from(way));
        let length = self.frame.length(f64::from(number), 0.5);
        let slack = (0.03 * f64::from(away) * length).min(0.2 * length);
        self.holds(&edge, number, 0.12 * length + 0.5 + slack) || self.border(number)
    }

    /// Whether a border between two steps is seen.
    fn border(&self, number: i32) -> bool {
        let length = self.frame.length(f64::from(number), 0.5);
        let border = observe::border(self.reader, self.frame, number, 0.42);
        self.holds(&border, number, 0.12 * length + 0.5)
    }

    fn holds(&self, places: &[observe::Observed], number: i32, most: f64) -> bool {
        let near = places.iter().filter(|place| fit::off(self.frame, place).abs() < most).count();
        near >= 2 && near * 10 >= places.len() * 6 && near * 3 >= observe::bins(self.frame, number)
    }

    /// Tone just behind border `number`; `None` outside the scan.
    fn behind(&self, number: i32, way: i32) -> Option<f64> {
        let length = self.frame.length(f64::from(number), 0.5);
        let mut tones = Vec::with_capacity(27);
        for away in [2.5, 3.5, 4.5] {
            let s = f64::from(number) + f64::from(way) * away / length;
            let tone = |row: i32| self.reader.at(self.frame.place(s, 0.12 + 0.095 * f64::from(row)));
            tones.extend((0..9).filter_map(|row| tone(row).map(|(_, tone)| tone)));
        }
        (tones.len() > 13).then(|| robust::median(&tones)).flatten()
    }

    /// Usual jump from step to step near the end.
    fn jump(&self, way: i32) -> f64 {
        let jumps: Vec<f64> =
            self.inner.windows(2).map(|pair| (pair[1].inside - pair[0].inside).abs()).collect();
        let near = jumps.len().min(4);
        let part = if way > 0 { &jumps[jumps.len() - near..] } else { &jumps[..near] };
        robust::median(part).unwrap_or(0.0)
    }

    fn go(&self, start: i32, way: i32, sign: f64) -> Option<(i32, End)> {
        let at = |step: i32| Interval::read(self.reader, self.frame, step);
        let jump = self.jump(way);
        let mut before = if way > 0 { self.inner.last()? } else { self.inner.first()? }.clone();
        let (mut end, mut pending, mut state) = (start, 0, End::default());
        // Steps that look like the ground may be followed by others that do not.
        let mut alike = 0;
        while (end - start).abs() + pending < self.most {
            let Some(here) = at(Self::beyond(end + way * pending, way)) else {
                state.cut = alike == 0 && before.differs() && !self.seen(end + way * pending, way, pending);
                break;
            };
            let rise = sign * (here.inside - before.inside);
            let back = rise < -(0.015 + 3.0 * (here.u + before.u));
            let bent = here.bend.abs() > 0.5 * jump + 0.02 + 3.0 * here.u;
            let seen = self.seen(end + way * (pending + 1), way, pending);
            if back || (bent && !seen) {
                break;
            }
            alike = if here.differs() { 0 } else { alike + 1 };
            if alike > 4 {
                break;
            }
            pending += 1;
            before = here;
            if alike == 0 && seen {
                if pending > RUN {
                    break;
                }
                end += way * pending;
                state.run += pending - 1;
                pending = 0;
            }
        }
        let open = pending > alike;
        let mut trimmed = 0;
        if end == start {
            while trimmed + 3 < self.inner.len() as i32 && !at(Self::beyond(end, -way))?.differs() {
                end -= way;
                trimmed += 1;
            }
        }
        let last = at(Self::beyond(end, -way))?;
        let behind = self.behind(end, way);
        let near = FIRM + 0.1 * last.difference().min(2.0);
        let joins = behind
            .is_some_and(|tone| !last.ground.iter().flatten().any(|ground| (ground - tone).abs() < near));
        // What lies beyond could be one more step, of the ground's tone.
        let goes_on = behind.is_some_and(|tone| {
            let rise = sign * (tone - last.inside);
            rise > -0.02 && rise < 2.5 * jump + 0.06
        });
        let clear = last.difference() > FIRM + 3.0 * last.u && self.seen(end, way, state.run);
        state.flat = !self.border(end - way);
        state.firm = !open && trimmed == 0 && !state.cut && !joins && !goes_on && clear;
        Some((end, state))
    }
}
