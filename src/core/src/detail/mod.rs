//! Surviving detail: up to which spatial frequency two registered prints still agree about their scene.
//!
//! 1. The candidate's print, and a third film's where there is one, are sampled on the reference's pixels through their
//!    registrations (`sampling`); blocks are transformed and summed over annuli (`blocks`).
//! 2. What is left of a local shift is read from the phase of the cross-spectrum, weighed against the registration's own
//!    uncertainty, and taken out (`shifts`).
//! 3. Blocks in which the frames differ are told and left out (`differing`).
//!    Contrast that differs from place to place is evened out (`contrast`).
//! 4. Coherence (`coherence`) says what both share. Each film's own signal-to-grain needs more than two prints: a third
//!    film of the scene, or a uniform area of each print (`films`).
//! 5. A map of where detail went, and 'lost to grain' or 'lost to blur' where the data separate them (`loss`).

mod blocks;
mod coherence;
mod contrast;
mod differing;
mod draws;
mod films;
mod loss;
mod map;
mod sampling;
mod shifts;

pub use coherence::{below as coherence_below, bias, estimate as coherence_of, of_ratios, zero_level};
pub use differing::{Difference, Place};
pub use films::{FrequencyRow, Separation};
pub use loss::{Loss, Statement};
pub use map::Map;
pub use shifts::Shifts;

use rayon::prelude::*;
use serde::Serialize;

use crate::geometry::{Point, Rect};
use crate::measured::Value;
use crate::numeric::wide;
use crate::problem::{Problem, Subject};
use crate::register::{Picture, Registration};
use crate::words::{self, Sentence};
use blocks::{FIRST, Grid, PARTS, Parts, Plan, Room};
use coherence::{Neighbours, SegmentCounts};
use films::Totals;
use sampling::Source;

/// Densities of a print, or of a part of it.
#[derive(Debug, Clone, PartialEq)]
pub struct Sheet {
    /// The densities of its pixels.
    pub picture: Picture,
    /// Where its upper left corner lies, in pixels of the scan.
    pub origin: Point,
}

/// Another print, and how it lies on the reference's.
#[derive(Debug, Clone, Copy)]
pub struct Other<'a> {
    /// The densities of the print, and how far apart its samples are.
    pub sheet: &'a Sheet,
    /// From the reference's scan to its own.
    pub registration: &'a Registration,
}

/// What is asked.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Asked {
    /// Where, in pixels of the reference's scan; none means wherever the prints overlap.
    pub area: Option<Rect>,
    /// Pixels of the reference's scan to a millimetre of its print.
    pub per_mm: f64,
    /// From negative to print, linear; without it frequencies are those on the print.
    pub enlargement: Option<f64>,
    /// Uniform areas of the reference's and of the candidate's print, both in pixels of the reference's scan: their spectra
    /// are those of grain.
    pub plain: [Option<Rect>; 2],
    /// A first answer from a part of the blocks.
    pub quick: bool,
}

/// What two prints of one scene say of the detail that survived in them.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Detail {
    /// By spatial frequency, lowest first.
    pub rows: Vec<FrequencyRow>,
    /// Whether frequencies are cycles per millimetre on the negative; else on the print.
    pub on_negative: bool,
    /// How each film's own share was had.
    pub separation: Separation,
    /// Frequency up to which each film carries the scene's detail, signal-to-grain of 1: reference, candidate.
    pub limits: [Value; 2],
    /// Frequency up to which the prints agree: coherence above what chance gives in one case of twenty.
    pub agreement: Value,
    /// Where detail went.
    pub map: Map,
    /// Where the frames differ.
    pub differing: Vec<Place>,
    /// What was left between the prints after registration.
    pub shifts: Shifts,
    /// What detail was lost to, as far as the data separate it.
    pub statement: Statement,
    /// Blocks that were used, and blocks that were left out where the frames differ.
    pub blocks: (usize, usize),
    /// Side of a block in pixels of the reference's scan.
    pub block_px: f64,
    /// The area, in pixels of the reference's scan.
    pub area: Rect,
    /// From a part of the blocks.
    pub quick: bool,
    /// Things worth telling.
    pub notes: Vec<Sentence>,
}

impl Detail {
    /// Where frequencies are counted, in words.
    #[must_use]
    pub fn place_words(&self) -> &'static str {
        if self.on_negative { "on the negative" } else { "on the print" }
    }
}

/// Blocks of a quick answer.
const QUICK: usize = 110;
/// Fewest blocks that tell anything.
const FEWEST: usize = 9;
/// A third film whose print covers less than this share of the blocks is not used.
const THIRD_COVERS: f64 = 0.7;

/// How much two registered prints of one scene agree, by spatial frequency and place, and what that says of each film.
///
/// Detail is what the prints have in common; grain, paper, and the scanner's noise are what they have not. `stop` is asked
/// once per block.
///
/// # Errors
/// The area is too small or the prints hardly overlap there, sizes cannot be, or `stop` said so.
pub fn detail(
    reference: &Sheet,
    candidate: Other<'_>,
    third: Option<Other<'_>>,
    asked: &Asked,
    stop: &(dyn Fn() -> bool + Sync),
) -> Result<Detail, Problem> {
    let frame = Frame::of(reference, asked)?;
    let sources = [Some(candidate), third].into_iter().flatten();
    let sources = sources.map(|other| {
        Source::new(reference, other.sheet, &other.registration.transform)
            .ok_or_else(|| refuse(words::Detail::NoMap.into(), words::Remedy::LookAtRegistration.into()))
    });
    let mut sources = sources.collect::<Result<Vec<Source<'_>>, Problem>>()?;
    let mut notes = Vec::new();
    let mut usable = frame.covered(&sources[..1]);
    if sources.len() > 1 {
        let by_all = frame.covered(&sources);
        if by_all.len() as f64 >= THIRD_COVERS * usable.len() as f64 {
            usable = by_all;
        } else {
            sources.truncate(1);
            notes.push(words::Detail::ThirdNotUsed.into());
        }
    }
    if usable.len() < FEWEST {
        return Err(refuse(words::Detail::LittleOverlap.into(), words::Remedy::BoxWhereBothShow.into()));
    }
    let work = Work { reference, frame, sources, asked, stop };
    let registrations: Vec<&Registration> =
        [Some(candidate), third].into_iter().flatten().map(|other| other.registration).collect();
    work.run(&usable, &registrations, notes)
}

fn refuse(cause: Sentence, remedy: Sentence) -> Problem {
    Problem::error(Subject::Series, cause, remedy)
}

fn stopped() -> Problem {
    Problem::note(Subject::Series, words::Stopped::Detail, words::Remedy::AskAgainIfWanted)
}

/// The part of the reference's picture that is looked at, and its blocks.
#[derive(Debug, Clone, Copy)]
struct Frame {
    corner: (usize, usize),
    size: (usize, usize),
    grid: Grid,
}

impl Frame {
    fn of(reference: &Sheet, asked: &Asked) -> Result<Self, Problem> {
        let picture = &reference.picture;
        let enlarged = asked.enlargement.is_none_or(|e| e.is_finite() && e > 0.0);
        if !(asked.per_mm.is_finite() && asked.per_mm > 0.0 && enlarged && picture.scale > 0.0) {
            return Err(refuse(
                words::Detail::NoFrequencies.into(),
                words::Remedy::TypeResolutionAndEnlargement.into(),
            ));
        }
        if picture.tones.len() != picture.width * picture.height {
            return Err(refuse(words::Detail::PixelsDoNotFit.into(), words::Remedy::MakePictureAnew.into()));
        }
        let whole = (0.0, 0.0, picture.width as f64, picture.height as f64);
        let (left, top, right, bottom) = asked.area.map_or(whole, |area| {
            let x =
                |v: f64| ((v - reference.origin.x) / picture.scale).round().clamp(0.0, picture.width as f64);
            let y =
                |v: f64| ((v - reference.origin.y) / picture.scale).round().clamp(0.0, picture.height as f64);
            (x(area.min.x), y(area.min.y), x(area.max.x), y(area.max.y))
        });
        let corner = (left as usize, top as usize);
        let size = ((right - left).max(0.0) as usize, (bottom - top).max(0.0) as usize);
        let shorter = size.0.min(size.1);
        let side = match shorter {
            0..128 => 32,
            128..1400 => 64,
            _ if asked.quick => 64,
            _ => 128,
        };
        let grid = Grid::within(corner, size, side);
        if grid.columns * grid.rows < FEWEST {
            return Err(refuse(
                words::Detail::AreaTooSmall { width: size.0, height: size.1 }.into(),
                words::Remedy::BoxFor64.into(),
            ));
        }
        Ok(Self { corner, size, grid })
    }

    /// Blocks that lie within all sources, by column and row.
    fn covered(&self, sources: &[Source<'_>]) -> Vec<(usize, usize)> {
        let grid = self.grid;
        let all = (0..grid.rows).flat_map(|row| (0..grid.columns).map(move |column| (column, row)));
        all.filter(|at| {
            let (x, y) = grid.corner(*at);
            sources.iter().all(|source| source.covers(x, y, grid.side))
        })
        .collect()
    }

    fn middle(&self) -> Point {
        Point::new(
            self.corner.0 as f64 + self.size.0 as f64 / 2.0,
            self.corner.1 as f64 + self.size.1 as f64 / 2.0,
        )
    }
}

/// Spectra of blocks and what goes with them, in the order of their list.
struct Blocks {
    at: Vec<(usize, usize)>,
    /// Annuli of block after block.
    spectra: Vec<Parts>,
    annuli: usize,
    /// Mean densities of the prints.
    means: Vec<[f32; 3]>,
}

impl Blocks {
    fn parts(&self, block: usize) -> &[Parts] {
        &self.spectra[block * self.annuli..][..self.annuli]
    }
}

struct Work<'a> {
    reference: &'a Sheet,
    frame: Frame,
    sources: Vec<Source<'a>>,
    asked: &'a Asked,
    stop: &'a (dyn Fn() -> bool + Sync),
}

/// Pictures of the other prints on the reference's pixels, where all blocks are used.
type Sampled = Vec<Vec<f32>>;

impl Work<'_> {
    fn run(
        &self,
        usable: &[(usize, usize)],
        registrations: &[&Registration],
        mut notes: Vec<Sentence>,
    ) -> Result<Detail, Problem> {
        let grid = self.frame.grid;
        let plan = Plan::new(grid.side, &self.sources, self.frame.middle());
        let sampled: Sampled = if self.asked.quick {
            Vec::new()
        } else {
            self.sources.iter().map(|source| source.rectangle(self.frame.corner, self.frame.size)).collect()
        };
        if (self.stop)() {
            return Err(stopped());
        }
        let mut coarse: Vec<(usize, usize)> =
            usable.iter().copied().filter(|(column, row)| column % 2 == 0 && row % 2 == 0).collect();
        if self.asked.quick && coarse.len() > QUICK {
            let every = coarse.len().div_ceil(QUICK);
            coarse = coarse.into_iter().step_by(every).collect();
        }
        let priors: Vec<f64> = registrations.iter().map(|found| self.prior(found)).collect();
        let field = shifts::field(&plan, &grid, &self.looked(&plan, &sampled, &coarse)?, &priors);
        let list = if self.asked.quick { &coarse[..] } else { usable };
        let mut blocks = self.spectra(&plan, &sampled, list, &field)?;
        let differing = differing::find(&blocks, &grid, &plan, &field, self.sources.len());
        let used: Vec<bool> = differing.left_out.iter().map(|out| !out).collect();
        notes.extend(differing.notes.iter().cloned());
        if used.iter().filter(|used| **used).count() < FEWEST.min(blocks.at.len()) {
            return Err(refuse(
                words::Detail::DiffersEverywhere.into(),
                words::Remedy::BoxWhereNothingMoved.into(),
            ));
        }
        let worth = SegmentCounts::of(&plan);
        let as_printed = Totals::of(&blocks, &used, &grid, &plan, &worth, &field);
        let spread = contrast::even(&mut blocks, &used, &grid, &worth, self.sources.len());
        let totals = Totals::of(&blocks, &used, &grid, &plan, &worth, &field);
        let plain = self.plain(&plan, &sampled)?;
        let pixel_mm = self.reference.picture.scale / self.asked.per_mm;
        let to_mm = self.asked.enlargement.unwrap_or(1.0) / pixel_mm;
        let films =
            films::films((&as_printed, &totals), self.sources.len() > 1, &plain, to_mm, self.asked.quick);
        let statement = loss::statement(&films, &blocks, &used, &grid, &totals, spread);
        let map = map::map(&blocks, &used, self, &worth, &films);
        if self.asked.enlargement.is_none() {
            notes.push(words::Detail::NoEnlargement.into());
        }
        notes.extend(films.notes.iter().cloned());
        let out = used.iter().filter(|used| !**used).count();
        let corner = self.to_scan(self.frame.corner);
        let far = (self.frame.corner.0 + self.frame.size.0, self.frame.corner.1 + self.frame.size.1);
        Ok(Detail {
            on_negative: self.asked.enlargement.is_some(),
            separation: films.separation,
            limits: films.limits(),
            agreement: films.agreement(),
            rows: films.rows,
            map,
            differing: differing.places(&blocks, &grid, self),
            shifts: field.told(self.reference.picture.scale),
            statement,
            blocks: (blocks.at.len() - out, out),
            block_px: grid.side as f64 * self.reference.picture.scale,
            area: Rect { min: corner, max: self.to_scan(far) },
            quick: self.asked.quick,
            notes,
        })
    }

    /// A corner of a pixel of the reference's picture in its scan.
    fn to_scan(&self, (x, y): (usize, usize)) -> Point {
        let scale = self.reference.picture.scale;
        Point::new(self.reference.origin.x + x as f64 * scale, self.reference.origin.y + y as f64 * scale)
    }

    /// Standard uncertainty of the registration per axis, in pixels of the reference's picture.
    fn prior(&self, found: &Registration) -> f64 {
        let middle = self.frame.middle();
        let at = self.to_scan((middle.x as usize, middle.y as usize));
        found.u_at(at) / found.transform.scale_at(at) / self.reference.picture.scale
    }

    /// Pixels of all prints in one block, and their means.
    fn load(&self, sampled: &Sampled, at: (usize, usize), room: &mut Room) -> [f32; 3] {
        let grid = self.frame.grid;
        let (x0, y0) = grid.corner(at);
        let picture = &self.reference.picture;
        let mut means = [0.0; 3];
        for (print, pixels) in room.pixels.iter_mut().enumerate().take(1 + self.sources.len()) {
            for (y, row) in pixels.chunks_exact_mut(grid.side).enumerate() {
                let (wide, from) = match (print, sampled.get(print.wrapping_sub(1))) {
                    (0, _) => (picture.width, Some((&picture.tones[..], x0, y0 + y))),
                    (_, Some(whole)) => {
                        let (left, top) = self.frame.corner;
                        (self.frame.size.0, Some((&whole[..], x0 - left, y0 + y - top)))
                    }
                    (_, None) => (0, None),
                };
                match from {
                    Some((tones, x, y)) => row.copy_from_slice(&tones[y * wide + x..][..grid.side]),
                    None => self.sources[print - 1].row(y0 + y, x0, row),
                }
            }
            means[print] = (wide::sum(pixels) / pixels.len() as f64) as f32;
        }
        means
    }

    /// A first look at some blocks: what tells their shifts.
    fn looked(
        &self,
        plan: &Plan,
        sampled: &Sampled,
        list: &[(usize, usize)],
    ) -> Result<Vec<shifts::FirstLook>, Problem> {
        let prints = 1 + self.sources.len();
        let looks: Option<Vec<shifts::FirstLook>> = list
            .par_iter()
            .map_init(
                || plan.room(),
                |room, at| {
                    if (self.stop)() {
                        return None;
                    }
                    self.load(sampled, *at, room);
                    plan.transform(room, prints);
                    let mut spectra = vec![[0.0; PARTS]; plan.annuli];
                    plan.annular(room, [(0.0, 0.0); 2], prints, &mut spectra);
                    let cross = (0..prints - 1).map(|print| plan.low_cross(room, print)).collect();
                    Some(shifts::FirstLook { at: *at, spectra, cross })
                },
            )
            .collect();
        looks.ok_or_else(stopped)
    }

    fn spectra(
        &self,
        plan: &Plan,
        sampled: &Sampled,
        list: &[(usize, usize)],
        field: &shifts::Field,
    ) -> Result<Blocks, Problem> {
        let prints = 1 + self.sources.len();
        let mut spectra = vec![[0.0; PARTS]; plan.annuli * list.len()];
        let means: Option<Vec<[f32; 3]>> = list
            .par_iter()
            .zip(spectra.par_chunks_exact_mut(plan.annuli))
            .map_init(
                || plan.room(),
                |room, (at, out)| {
                    if (self.stop)() {
                        return None;
                    }
                    let means = self.load(sampled, *at, room);
                    plan.transform(room, prints);
                    plan.annular(room, field.at(*at), prints, out);
                    Some(means)
                },
            )
            .collect();
        let means = means.ok_or_else(stopped)?;
        Ok(Blocks { at: list.to_vec(), spectra, annuli: plan.annuli, means })
    }

    /// Spectra of the uniform areas, reference's and candidate's: mean over annuli and how many blocks each.
    fn plain(&self, plan: &Plan, sampled: &Sampled) -> Result<[Option<films::Plain>; 2], Problem> {
        let mut found = [None, None];
        for (print, area) in self.asked.plain.iter().enumerate() {
            let Some(area) = area else { continue };
            let asked = Asked { area: Some(*area), quick: false, ..*self.asked };
            let Ok(frame) = Frame::of(self.reference, &asked) else { continue };
            let size = plan.side;
            let grid = Grid::within(frame.corner, frame.size, size);
            let frame = Frame { grid, ..frame };
            let work = Work {
                reference: self.reference,
                frame,
                sources: Vec::new(),
                asked: &asked,
                stop: self.stop,
            };
            let mut room = plan.room();
            let mut sums = vec![[0.0; PARTS]; plan.annuli];
            let list = frame.covered(&self.sources[..1]);
            for at in &list {
                if (self.stop)() {
                    return Err(stopped());
                }
                if print == 0 {
                    work.load(&Vec::new(), *at, &mut room);
                    room.pixels[1].fill(0.0);
                } else {
                    let (x, y) = grid.corner(*at);
                    room.pixels[0].fill(0.0);
                    for (k, row) in room.pixels[1].chunks_exact_mut(size).enumerate() {
                        self.sources[0].row(y + k, x, row);
                    }
                }
                plan.transform(&mut room, 2);
                plan.annular(&room, [(0.0, 0.0); 2], 2, &mut sums);
            }
            if list.is_empty() {
                continue;
            }
            let mut used = vec![false; grid.columns * grid.rows];
            list.iter().for_each(|(column, row)| used[row * grid.columns + column] = true);
            let neighbours = Neighbours::of(&grid, &used);
            let worth = SegmentCounts::of(plan);
            let per = list.len() as f64;
            found[print] = Some(films::Plain {
                power: (0..plan.annuli)
                    .map(|k| f64::from(sums[k][print]) / per / plan.count[k].max(1) as f64)
                    .collect(),
                segments: (0..plan.annuli)
                    .map(|k| if k < FIRST { 1.0 } else { worth.together(k, list.len(), neighbours) })
                    .collect(),
            });
        }
        let _ = sampled;
        Ok(found)
    }
}

#[cfg(test)]
mod tests;
