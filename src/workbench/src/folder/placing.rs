//! Where the steps of scans lie: found in the scans' own pixels, by what the folder's scans say of their tablets together; else
//! roughly and so in doubt.

use std::path::Path;

use twinwedge_core::document::{Channel, Series, StripShape};
use twinwedge_core::found::Found;
use twinwedge_core::geometry::{Point, Quad};
use twinwedge_core::numeric::robust;
use twinwedge_core::problem::Problem;
use twinwedge_core::recognise::Stairs;
use twinwedge_core::scan::{Scan, ToneTable};
use twinwedge_core::tablet::find::{FoundStrip, Order, Wanted};
use twinwedge_core::tablet::sample_strip;
use twinwedge_core::words::Sentence;

use super::Sighted;
use super::anchor::anchored;
use super::kinds::{Kind, said_of_scan};
use crate::{finding, load};

/// Usual numbers of steps where no tablet says its own.
const USUAL: [u32; 4] = [11, 21, 31, 41];
/// Steps of one tablet are as long as each other to this share, in all scans of it.
const ALIKE: f64 = 0.01;
/// Strips of one tablet are as wide as each other to this share.
const AS_WIDE: f64 = 0.12;
/// Share of the borders between steps that a row must show for its length to be trusted, and by how much of a step they stray.
const CLEAR: (f64, f64) = (0.6, 0.05);
/// A scan that is so much longer than wide may be a strip's whatever its small copy shows.
const LONG: f64 = 2.5;
/// Scans of one tablet that say together how many steps it has.
const SEVERAL: usize = 3;

/// How many steps the tablets have that may be meant, each number once and in order.
#[derive(Debug, Clone, Default)]
pub(super) struct Known {
    film: Vec<u32>,
    printed: Vec<u32>,
    /// Of tablets that are told apart by letters.
    lettered: Vec<(char, u32)>,
}

impl Known {
    pub(super) fn of(sighted: &[Sighted], series: &Series) -> Self {
        let of = |printed: bool| {
            let in_folder = sighted.iter().filter(|file| file.kind.value == Kind::Tablet);
            let in_folder =
                in_folder.filter(|file| file.name.printed == printed).filter_map(|file| file.steps);
            let in_series = series.tablets.values().map(|tablet| tablet.steps.len());
            let mut counts: Vec<u32> =
                in_folder.chain(in_series).filter_map(|count| u32::try_from(count).ok()).collect();
            counts.sort_unstable();
            counts.dedup();
            counts
        };
        let tablets = sighted.iter().filter(|file| file.kind.value == Kind::Tablet);
        let lettered = tablets.filter_map(|file| Some((file.name.tablet?, u32::try_from(file.steps?).ok()?)));
        Self { film: of(false), printed: of(true), lettered: lettered.collect() }
    }

    fn of_kind(&self, kind: Kind) -> &[u32] {
        if kind == Kind::CalibrationPrint { &self.printed } else { &self.film }
    }

    /// The number of steps of rows in which so many are counted, in order, and whether no other can be meant: where ends are flat,
    /// some are missed and a few are counted too many.
    fn meant(&self, kind: Kind, counts: &[u32]) -> Option<(u32, bool)> {
        let known = self.of_kind(kind);
        let usual = if known.is_empty() { &USUAL[..] } else { known };
        let (counted, most) =
            (*counts.get((counts.len() * 3).div_ceil(4).saturating_sub(1))?, *counts.last()?);
        let steps = usual.iter().copied().min_by_key(|steps| steps.abs_diff(counted))?;
        let more = usual.iter().copied().find(|more| *more > steps);
        let below = more.is_none_or(|more| 2 * most < steps + more);
        Some((steps, known.len() == 1 || (below && counted + 3 >= steps)))
    }
}

/// Where the steps of a scan lie.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Placed {
    /// How many there are.
    pub(super) steps: u32,
    /// What speaks against it.
    pub(super) doubts: Vec<Sentence>,
    /// Density of each step from the first on, by the file's own tone curve; empty where they are placed roughly.
    pub(super) tones: Vec<f64>,
    /// Length of a step: in millimetres where the file says its resolution, else in pixels.
    pub(super) pitch: f64,
    /// That length is in millimetres.
    pub(super) measured: bool,
    /// Its borders were seen well, so that its length is what it is.
    pub(super) clear: bool,
    /// From the first step to the last in the scan, of length one.
    pub(super) way: (f64, f64),
    lie: Lie,
}

#[derive(Debug, Clone, PartialEq)]
enum Lie {
    /// From step 1 on, if densities go with the steps in this order.
    Found(Quad, Order),
    /// By the small copy of a scan of this size.
    Rough(Stairs, (u32, u32)),
}

fn order(kind: Kind) -> Order {
    match kind {
        Kind::CalibrationFilm | Kind::CalibrationPrint => Order::Rising,
        _ => Order::Falling,
    }
}

impl Placed {
    /// The steps from the first on, as those of this kind of scan are counted, and how many they are.
    pub(super) fn quad(&self, kind: Kind, wanted: u32) -> (Quad, u32) {
        match &self.lie {
            Lie::Found(quad, found) => {
                let [a, b, c, d] = quad.corners;
                // Begun from the other end it is turned by half a turn.
                let quad = if *found == order(kind) { *quad } else { Quad { corners: [c, d, a, b] } };
                (quad, self.steps)
            }
            Lie::Rough(stairs, (width, height)) => {
                let size = (f64::from(*width), f64::from(*height));
                (stairs.quad(size, wanted, order(kind) == Order::Falling), wanted)
            }
        }
    }

    /// Whether they were found, and not only roughly seen.
    pub(super) fn found(&self) -> bool {
        matches!(self.lie, Lie::Found(..))
    }
}

/// What was seen of a row of steps in a scan's own pixels.
struct SeenSteps {
    shape: StripShape,
    doubts: Vec<Sentence>,
    /// Steps that were counted, whatever was known.
    counted: u32,
    /// An end of the row stands out of its ground.
    has_end: bool,
    clear: bool,
    tones: Vec<f64>,
    pitch: f64,
    width: f64,
}

impl SeenSteps {
    fn of(found: Found<FoundStrip>, scan: &Scan, dpi: Option<(f64, f64)>) -> Self {
        let Found { value: strip, doubts, .. } = found;
        let (pitch, width) = lengths(&strip.shape, dpi);
        let inner = strip.borders.len().saturating_sub(2);
        let offs: Vec<f64> =
            strip.borders.iter().skip(1).take(inner).filter_map(|border| border.off).collect();
        let (step, _) = lengths(&strip.shape, None);
        let stray = robust::median(&offs.iter().map(|off| off.abs()).collect::<Vec<_>>()).unwrap_or(0.0);
        let clear = offs.len() as f64 >= CLEAR.0 * inner as f64 && stray < CLEAR.1 * step;
        let has_end = strip.supports.count > 0.7 * strip.supports.order;
        let tones = tones(scan, &strip.shape);
        Self { shape: strip.shape, doubts, counted: strip.counted, has_end, clear, tones, pitch, width }
    }
}

/// Density of each step by the file's own tone curve.
fn tones(scan: &Scan, shape: &StripShape) -> Vec<f64> {
    let samples = sample_strip(scan.plane(Channel::default()), &ToneTable::uncalibrated(scan), shape);
    samples
        .map_or_else(|_| Vec::new(), |samples| samples.iter().map(|sample| sample.density.value.0).collect())
}

/// Length of a step, and width of the row.
fn lengths(shape: &StripShape, dpi: Option<(f64, f64)>) -> (f64, f64) {
    let (x, y) = dpi.map_or((1.0, 1.0), |(x, y)| (25.4 / x, 25.4 / y));
    let [a, b, c, d] = shape.quad.corners;
    let long = |p: Point, q: Point| ((q.x - p.x) * x).hypot((q.y - p.y) * y);
    (0.5 * (long(a, b) + long(d, c)) / f64::from(shape.steps.max(1)), 0.5 * (long(a, d) + long(b, c)))
}

/// A scan in which steps are looked for.
struct Sought<'a> {
    path: &'a Path,
    kind: Kind,
    dpi: Option<(f64, f64)>,
    steps: Option<u32>,
    /// Steps of the tablet that its name names by a letter.
    named: Option<u32>,
}

impl Sought<'_> {
    fn scan(&self, stop: &(dyn Fn() -> bool + Sync)) -> Result<Scan, Problem> {
        load::scan(self.path, load::Limits::of_machine(None), &|_| !stop())
    }

    fn find(&self, scan: &Scan, stop: &(dyn Fn() -> bool + Sync)) -> Result<SeenSteps, Problem> {
        let wanted = Wanted { steps: self.steps, order: order(self.kind) };
        finding::strip_of(scan, Channel::default(), &wanted, stop)
            .map(|found| SeenSteps::of(found, scan, self.dpi))
    }

    /// The row that was seen with the number of steps that other scans say.
    fn again(
        &self,
        seen: &SeenSteps,
        steps: u32,
        stop: &(dyn Fn() -> bool + Sync),
    ) -> Result<SeenSteps, Problem> {
        let scan = self.scan(stop)?;
        let table = ToneTable::uncalibrated(&scan);
        let shape =
            anchored(&scan, &table, &seen.shape, steps).filter(|_| order(self.kind) == Order::Falling);
        let Some(shape) = shape else {
            return Sought { steps: Some(steps), ..*self }.find(&scan, stop);
        };
        let tones = tones(&scan, &shape);
        Ok(SeenSteps { doubts: seen.doubts.clone(), has_end: true, tones, shape, ..*seen })
    }
}

/// Finds the steps of scans that show some, or whose names speak of steps. `go_on` is told how many scans are done; `None` if it
/// said no.
pub(super) fn place(
    scans: &mut [Sighted],
    known: &Known,
    go_on: &(dyn Fn(usize) -> bool + Sync),
) -> Option<()> {
    let sought: Vec<(usize, Sought<'_>)> =
        scans.iter().enumerate().filter_map(|(index, file)| Some((index, sought(file, known)?))).collect();
    let paths: Vec<&Path> = sought.iter().map(|(_, sought)| sought.path).collect();
    let look = |at: usize, stop: &(dyn Fn() -> bool + Sync)| {
        let sought = &sought[at].1;
        sought.scan(stop).and_then(|scan| sought.find(&scan, stop))
    };
    let mut rows = finding::of_each(&paths, &look, go_on)?;
    let total = rows.len();
    let groups = groups(&sought, &rows, known);
    // Once more where the finder alone is not sure.
    let again: Vec<usize> = (0..total)
        .filter(|at| {
            let row = rows[*at].as_ref().ok();
            let settled = |row: &SeenSteps| {
                row.doubts.is_empty() && groups[*at].is_some_and(|group| group.steps == row.shape.steps)
            };
            groups[*at].is_some() && row.is_some_and(|row| !settled(row))
        })
        .collect();
    let paths: Vec<&Path> = again.iter().map(|at| sought[*at].1.path).collect();
    let look = |place: usize, stop: &(dyn Fn() -> bool + Sync)| {
        let at = again[place];
        let (seen, group) = (rows[at].as_ref().ok()?, groups[at]?);
        sought[at].1.again(seen, group.steps, stop).ok()
    };
    let seen = finding::of_each(&paths, &look, &|_| go_on(total))?;
    for (at, row) in again.iter().zip(seen) {
        if let Some(row) = row {
            rows[*at] = Ok(row);
        }
    }
    let placed: Vec<(usize, Option<Placed>)> = sought
        .iter()
        .zip(rows)
        .zip(groups)
        .map(|(((index, sought), row), group)| (*index, placed(&scans[*index], sought, row, group)))
        .collect();
    for (index, placed) in placed {
        let file = &mut scans[index];
        file.placed = placed;
        file.steps = file.placed.as_ref().map(|placed| placed.steps as usize);
    }
    Some(())
}

/// What to look for in a scan that shows steps, or whose name speaks of them.
fn sought<'a>(file: &'a Sighted, known: &Known) -> Option<Sought<'a>> {
    let said = said_of_scan(&file.name);
    let long = file.look.as_ref().is_some_and(|(_, (width, height))| {
        f64::from(*width.max(height)) > LONG * f64::from(*width.min(height))
    });
    let unnamed = said.is_none() && file.name.exposure_index.is_none();
    let said = said.filter(|kind| kind.stepped());
    if file.problem.is_some() || (file.stairs.is_none() && said.is_none() && !(unnamed && long)) {
        return None;
    }
    // What its small copy shows may hide what its name says.
    let own = Some(file.kind.value).filter(|kind| kind.stepped());
    let kind = own.or(said).unwrap_or(Kind::Strip);
    let letter = file.name.tablet;
    let named = known.lettered.iter().find(|(of, _)| Some(*of) == letter).map(|(_, steps)| *steps);
    let steps = match (named, known.of_kind(kind)) {
        (Some(named), _) => Some(named),
        (None, [only]) => Some(*only),
        _ => None,
    };
    Some(Sought { path: &file.path, kind, dpi: file.dpi, steps, named })
}

/// What rows of one length say of their tablet.
#[derive(Debug, Clone, Copy)]
struct Group {
    steps: u32,
    /// A tablet says so, or rows that were seen whole.
    certain: bool,
    /// The tablet itself is scanned.
    scanned: bool,
    /// Rows that are as long, and their median length and width.
    count: usize,
    pitch: f64,
    width: f64,
}

/// The group of each row: one tablet has one number of steps, each of one length.
fn groups(
    sought: &[(usize, Sought<'_>)],
    rows: &[Result<SeenSteps, Problem>],
    known: &Known,
) -> Vec<Option<Group>> {
    let seen = rows.iter().enumerate().filter_map(|(at, row)| row.as_ref().ok().map(|row| (at, row)));
    let mut seen: Vec<(usize, &SeenSteps)> = seen.collect();
    seen.sort_by(|a, b| a.1.pitch.total_cmp(&b.1.pitch));
    let mut of_row = vec![None; rows.len()];
    for like in seen.chunk_by(|a, b| b.1.pitch <= a.1.pitch * (1.0 + ALIKE)) {
        let kind = |at: usize| sought[at].1.kind;
        let whole: Vec<u32> =
            like.iter().filter(|(_, row)| row.doubts.is_empty()).map(|(_, row)| row.shape.steps).collect();
        let of_tablet =
            like.iter().find(|(at, row)| kind(*at) == Kind::CalibrationFilm && row.doubts.is_empty());
        let mut counts: Vec<u32> = like.iter().map(|(_, row)| row.counted).collect();
        counts.sort_unstable();
        let own = like.iter().map(|(at, _)| kind(*at)).find(|kind| *kind != Kind::CalibrationFilm);
        let meant = known.meant(own.unwrap_or(Kind::CalibrationFilm), &counts);
        let named = like.iter().find_map(|(at, _)| sought[*at].1.named);
        let said = named.or(of_tablet.map(|(_, row)| row.shape.steps));
        let Some((steps, alone)) = said.map(|steps| (steps, true)).or(meant) else { continue };
        let seen_whole = whole.iter().filter(|whole| **whole == steps).count() > 1;
        let certain = alone && (!known.film.is_empty() || seen_whole);
        let of = |value: fn(&SeenSteps) -> f64, strips: bool| {
            let some = like.iter().filter(|(at, _)| !strips || kind(*at) != Kind::CalibrationFilm);
            robust::median(&some.map(|(_, row)| value(row)).collect::<Vec<_>>()).unwrap_or(0.0)
        };
        let (pitch, width) = (of(|row| row.pitch, false), of(|row| row.width, true));
        let scanned = of_tablet.is_some();
        let group = Group { steps, certain, scanned, count: like.len(), pitch, width };
        like.iter().for_each(|(at, _)| of_row[*at] = Some(group));
    }
    of_row
}

/// Where its steps lie, by what was seen in its own pixels and in the scans beside it.
fn placed(
    file: &Sighted,
    sought: &Sought<'_>,
    row: Result<SeenSteps, Problem>,
    group: Option<Group>,
) -> Option<Placed> {
    match row {
        Ok(row) => {
            let near = |a: f64, b: f64, share: f64| (a / b - 1.0).abs() < share;
            // Steps as long and wide as those of several others, as many as their tablet has, and counted from an end that is seen.
            let by_others = group.filter(|group| {
                (group.count > SEVERAL || group.scanned || (sought.named.is_some() && row.clear))
                    && near(row.pitch, group.pitch, ALIKE)
                    && near(row.width, group.width, AS_WIDE)
                    && group.steps == row.shape.steps
                    && row.has_end
            });
            let doubts = match by_others {
                Some(group) if group.certain => Vec::new(),
                Some(group) => vec![format!(
                    "It seems to have {} steps like those beside it, but nothing in the folder says so for certain.",
                    group.steps
                ).into()],
                None => row.doubts,
            };
            let [a, b, ..] = row.shape.quad.corners;
            let long = (b.x - a.x).hypot(b.y - a.y).max(1e-9);
            Some(Placed {
                steps: row.shape.steps,
                doubts,
                tones: row.tones,
                pitch: row.pitch,
                measured: sought.dpi.is_some(),
                clear: row.clear,
                way: ((b.x - a.x) / long, (b.y - a.y) / long),
                lie: Lie::Found(row.shape.quad, order(sought.kind)),
            })
        }
        Err(problem) => {
            let (stairs, size) = file.stairs?;
            Some(Placed {
                steps: stairs.steps,
                doubts: vec![
                    format!("Its steps are placed roughly, for they were not found: {}", problem.cause)
                        .into(),
                ],
                tones: Vec::new(),
                pitch: 0.0,
                measured: false,
                clear: false,
                way: (0.0, 0.0),
                lie: Lie::Rough(stairs, size),
            })
        }
    }
}
