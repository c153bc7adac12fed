//! What the files of a folder say of each other: what most scans of one look and size are, the rest are; and what one of them
//! shows that does not go with the others.

use std::collections::BTreeMap;
use std::mem::discriminant;
use std::path::Path;

use twinwedge_core::numeric::isotonic::pool_adjacent_violators;
use twinwedge_core::numeric::robust;
use twinwedge_core::problem::{Problem, Subject};

use super::Sighted;
use super::kinds::{Kind, said_of_scan, sure};
use super::names::read_film;
use super::plan::{File, Thumb};

/// As many scans of one kind tell what another of their look and size is.
const REST: usize = 3;
/// Scans of one size differ by no more than this share of a side.
const SIZE: f64 = 0.2;

/// Settles what scans are by what was found in them and by the scans beside them, where their own names and small copies leave
/// doubt.
pub(super) fn settle_kinds(scans: &mut [Sighted]) {
    let told: Vec<(usize, Kind)> = scans
        .iter()
        .enumerate()
        .filter(|(_, file)| !file.kind.is_sure() && file.problem.is_none())
        .filter_map(|(index, file)| Some((index, by_others(scans, index, file)?)))
        .collect();
    for (index, kind) in told {
        scans[index].kind = sure(kind);
    }
}

fn by_others(scans: &[Sighted], index: usize, file: &Sighted) -> Option<Kind> {
    let settled = file.placed.as_ref().is_some_and(|placed| placed.found() && placed.doubts.is_empty());
    match said_of_scan(&file.name) {
        Some(Kind::Strip) => settled.then_some(Kind::Strip),
        Some(Kind::CalibrationFilm) if !file.name.printed => settled.then_some(Kind::CalibrationFilm),
        Some(_) => None,
        None if settled => is_strip(scans, index, file).then_some(Kind::Strip),
        None => of_the_rest(scans, index, file),
    }
}

/// A row of steps that is named by a film alone is its strip where several others are, and it does not look like a tablet.
fn is_strip(scans: &[Sighted], index: usize, file: &Sighted) -> bool {
    let bare = |file: &Sighted| file.name.has_letters() && file.name.exposure_index.is_none();
    let strip = |other: &Sighted| {
        other.kind.value == Kind::Strip && (said_of_scan(&other.name) == Some(Kind::Strip) || bare(other))
    };
    let others =
        scans.iter().enumerate().filter(|(at, other)| *at != index && strip(other) && alike(file, other));
    let tones = file.placed.as_ref().map_or(&[][..], |placed| &placed.tones);
    bare(file) && others.count() >= REST - 1 && !is_even(tones)
}

/// Whether densities go by the same from each step to the next, as a tablet's do and a film's with a toe do not.
fn is_even(tones: &[f64]) -> bool {
    let jumps: Vec<f64> = tones.windows(2).map(|pair| (pair[1] - pair[0]).abs()).collect();
    let Some(usual) = robust::median(&jumps) else { return false };
    let even = jumps.iter().filter(|jump| (*jump - usual).abs() < 0.35 * usual).count();
    even * 20 >= jumps.len() * 19
}

/// What all others of its look and size are.
fn of_the_rest(scans: &[Sighted], index: usize, file: &Sighted) -> Option<Kind> {
    let others = scans.iter().enumerate().filter(|(at, other)| {
        *at != index && other.kind.is_sure() && said_of_scan(&other.name).is_some() && alike(file, other)
    });
    let mut kinds: Vec<Kind> = others.map(|(_, other)| other.kind.value).collect();
    let several = kinds.len() >= REST;
    kinds.dedup();
    match kinds.as_slice() {
        [only] if several && !only.stepped() => Some(*only),
        _ => None,
    }
}

/// Whether two scans show a thing of the same sort and are about as large, either way round.
fn alike(a: &Sighted, b: &Sighted) -> bool {
    let (Some((p, one)), Some((q, two))) = (&a.look, &b.look) else { return false };
    let sides = |(x, y): (u32, u32)| (f64::from(x.max(y)), f64::from(x.min(y)));
    let (p_sides, q_sides) = (sides(*one), sides(*two));
    let near = |a: f64, b: f64| (a / b - 1.0).abs() < SIZE;
    let rows = |file: &Sighted| file.placed.as_ref().is_some_and(super::placing::Placed::found);
    let same = discriminant(&p.value) == discriminant(&q.value) || (rows(a) && rows(b));
    same && near(p_sides.0, q_sides.0) && near(p_sides.1, q_sides.1)
}

/// What speaks against files beside the others of their folder, by their places.
pub(super) fn against(files: &[File]) -> Vec<(usize, String)> {
    let mut found = Vec::new();
    found.extend(files.iter().enumerate().flat_map(|(index, file)| {
        file.said.table.against.iter().map(move |against| (index, against.clone()))
    }));
    found.extend(files.iter().enumerate().filter_map(|(index, file)| Some((index, other_film(file)?))));
    found.extend(other_ways(files));
    found.extend(other_lengths(files));
    found.extend(exchanged(files));
    found.extend(other_subjects(files));
    found
}

/// A table that names another film than its own name does.
fn other_film(file: &File) -> Option<String> {
    let (stated, label) = (file.said.table.film.as_deref()?, file.film.value.as_deref()?);
    let bare = |text: &str| {
        let words = read_film(text).film;
        words.into_iter().map(|word| word.text).collect::<String>()
    };
    let (inside, outside) = (bare(stated), bare(label));
    let same = inside.is_empty() || inside.starts_with(&outside) || outside.starts_with(&inside);
    (!same).then(|| format!("It is taken for {label}, but names the film '{stated}' inside."))
}

/// Strips whose steps were found and seen well.
fn strips(files: &[File]) -> impl Iterator<Item = (usize, &File, &super::placing::Placed)> {
    files.iter().enumerate().filter(|(_, file)| file.kind.value == Kind::Strip).filter_map(|(index, file)| {
        let placed = file.placed.as_ref().filter(|placed| placed.found() && placed.clear)?;
        Some((index, file, placed))
    })
}

/// Fewer scans do not say how a person lays strips down.
const LAID_ALIKE: usize = 5;

/// Strips whose dense end lies on the other side than with nearly all others.
fn other_ways(files: &[File]) -> Vec<(usize, String)> {
    let ways: Vec<(usize, (f64, f64))> =
        strips(files).map(|(index, _, placed)| (index, placed.way)).collect();
    let dot = |a: (f64, f64), b: (f64, f64)| a.0 * b.0 + a.1 * b.1;
    let mut odd = Vec::new();
    for (index, way) in &ways {
        let others = || ways.iter().filter(|(other, _)| other != index);
        let against = others().filter(|(_, other)| dot(*way, *other) < -0.9).count();
        if against >= LAID_ALIKE && against * 20 >= others().count() * 17 {
            let doubt = format!(
                "Its dense end lies on the other side than with {against} other strips: was it laid down the other way round, or is light exchanged for dark?"
            );
            odd.push((*index, doubt));
        }
    }
    odd
}

/// Steps of one tablet are as long in each scan, to this share.
const LENGTH: f64 = 0.025;

/// Strips whose steps are longer or shorter than those of the others, and that do not name a tablet of their own.
fn other_lengths(files: &[File]) -> Vec<(usize, String)> {
    let all: Vec<(usize, &File, &super::placing::Placed)> = strips(files).collect();
    let near = |a: f64, b: f64| (a / b - 1.0).abs() < LENGTH;
    let mut odd = Vec::new();
    for (index, file, placed) in &all {
        let same = |other: &&(usize, &File, &super::placing::Placed)| {
            other.0 != *index && other.2.measured == placed.measured
        };
        let others: Vec<f64> = all.iter().filter(same).map(|(_, _, other)| other.pitch).collect();
        let like = others.iter().filter(|pitch| near(**pitch, placed.pitch)).count();
        let Some(usual) = robust::median(&others) else { continue };
        let usually = others.iter().filter(|pitch| near(**pitch, usual)).count();
        // Several of a length are of a tablet of theirs.
        if like >= 2 || usually < 3 || near(usual, placed.pitch) || file.said.tablet.is_some() {
            continue;
        }
        let other_steps = |other: &&(usize, &File, &super::placing::Placed)| near(other.2.pitch, usual);
        let steps = all.iter().find(other_steps).map_or(0, |other| other.2.steps);
        let doubt = if steps == placed.steps {
            format!(
                "Its steps are {:.0} % {} than those of {usually} other strips: is the scan stretched, or was it another tablet?",
                100.0 * (placed.pitch / usual - 1.0).abs(),
                if placed.pitch > usual { "longer" } else { "shorter" }
            )
        } else {
            format!(
                "It shows {} steps where {usually} other strips show {steps}, of another length: was it exposed through another tablet?",
                placed.steps
            )
        };
        odd.push((*index, doubt));
    }
    odd
}

/// A film's strip and its readings.
struct Both<'a> {
    strip: usize,
    readings: usize,
    tones: &'a [f64],
    densities: &'a [Option<f64>],
}

impl Both<'_> {
    /// What the scan has at each step beside what was read.
    fn pairs(&self, tones: &[f64]) -> Vec<(f64, f64)> {
        let read = tones.iter().zip(self.densities);
        read.filter_map(|(tone, density)| Some((*tone, (*density)?))).collect()
    }
}

/// Densities that scans of one scanner have at each tone go with the tone: how far readings stray from the best curve that rises,
/// root mean square.
fn strays(pairs: &[(f64, f64)]) -> f64 {
    let mut sorted = pairs.to_vec();
    sorted.sort_by(|a, b| a.0.total_cmp(&b.0));
    let densities: Vec<f64> = sorted.iter().map(|pair| pair.1).collect();
    let rising = pool_adjacent_violators(&densities, &vec![1.0; densities.len()]);
    let sum: f64 = densities.iter().zip(&rising).map(|(a, b)| (a - b) * (a - b)).sum();
    (sum / densities.len().max(1) as f64).sqrt()
}

/// Readings stray from scans by less where both are of one film.
const STRAYS: f64 = 0.03;

/// Films of which one strip is scanned and read, with as many steps in both.
fn scanned_and_read(files: &[File]) -> Vec<Both<'_>> {
    let mut of_film: BTreeMap<&str, (Vec<usize>, Vec<usize>)> = BTreeMap::new();
    for (index, file) in files.iter().enumerate() {
        let Some(film) = file.film.value.as_deref() else { continue };
        match file.kind.value {
            Kind::Strip => of_film.entry(film).or_default().0.push(index),
            Kind::Readings => of_film.entry(film).or_default().1.push(index),
            _ => {}
        }
    }
    let both = of_film.values().filter_map(|(strips, readings)| match (&strips[..], &readings[..]) {
        ([strip], [readings]) => {
            let tones = files[*strip].placed.as_ref().map(|placed| placed.tones.as_slice())?;
            let densities = files[*readings].said.table.densities.as_slice();
            let fit = !tones.is_empty() && tones.len() == densities.len();
            fit.then_some(Both { strip: *strip, readings: *readings, tones, densities })
        }
        _ => None,
    });
    both.collect()
}

/// How many films' readings were compared with their scans, and how near they came to each other.
pub(super) fn compared(folder: &Path, files: &[File]) -> Option<Problem> {
    let both = scanned_and_read(files);
    let pairs: Vec<(f64, f64)> = both.iter().flat_map(|film| film.pairs(film.tones)).collect();
    let films = match both.len() {
        0 => return None,
        1 => "1 film is".to_owned(),
        count => format!("{count} films are"),
    };
    let subject = Subject::File { path: folder.display().to_string(), place: None };
    let cause = format!(
        "Strips of {films} both scanned and read: the scans are taken in, the readings stay beside them. One tone curve for all scans brings them within {:.2} of each other.",
        strays(&pairs)
    );
    let remedy = "To measure by readings, say of the scan that it is left out.";
    Some(Problem::note(subject, cause, remedy))
}

/// Films whose readings do not go with their scans: exchanged with each other, or one that is another film's.
fn exchanged(files: &[File]) -> Vec<(usize, String)> {
    let both = scanned_and_read(files);
    let all = |skip: Option<usize>| -> Vec<(f64, f64)> {
        let kept = both.iter().enumerate().filter(|(at, _)| Some(*at) != skip);
        kept.flat_map(|(_, film)| film.pairs(film.tones)).collect()
    };
    let stray = strays(&all(None));
    if stray < STRAYS {
        return Vec::new();
    }
    let shown = |index: usize| files[index].shown.as_str();
    let mut best: Option<(f64, usize, usize)> = None;
    for p in 0..both.len() {
        for q in 0..p {
            if both[p].tones.len() != both[q].tones.len() {
                continue;
            }
            let rest = both.iter().enumerate().filter(|(at, _)| *at != p && *at != q);
            let mut pairs: Vec<(f64, f64)> = rest.flat_map(|(_, film)| film.pairs(film.tones)).collect();
            pairs.extend(both[p].pairs(both[q].tones));
            pairs.extend(both[q].pairs(both[p].tones));
            let left = strays(&pairs);
            if best.is_none_or(|(least, ..)| left < least) {
                best = Some((left, p, q));
            }
        }
    }
    if let Some((_, p, q)) = best.filter(|(left, ..)| *left < 0.5 * stray) {
        return [(p, q), (q, p)]
            .map(|(own, other)| {
                let (own, other) = (&both[own], &both[other]);
                let doubt = format!(
                    "The readings {} go with the strip {}, and not with this one: are the two scans exchanged?",
                    shown(own.readings),
                    shown(other.strip)
                );
                (own.strip, doubt)
            })
            .into();
    }
    // One alone that does not go with the others.
    let odd = (0..both.len()).map(|at| (strays(&all(Some(at))), at)).min_by(|a, b| a.0.total_cmp(&b.0));
    let odd = odd.filter(|(left, _)| both.len() > 2 && *left < 0.5 * stray);
    odd.map(|(_, at)| {
        let doubt = format!(
            "The readings {} and this scan differ by more than those of the other films: is one of them another film's?",
            shown(both[at].readings)
        );
        (both[at].strip, doubt)
    })
    .into_iter()
    .collect()
}

/// Cells of a picture along its sides, in which pictures of one subject are compared.
const CELLS: (usize, usize) = (20, 15);

/// Ranks of the greys of a picture in cells: the same for a picture that is darker or has another contrast.
fn ranks(thumb: &Thumb) -> Option<Vec<f64>> {
    let (columns, rows) = CELLS;
    if thumb.width < columns || thumb.height < rows {
        return None;
    }
    let mean = |cell: usize| {
        let (column, row) = (cell % columns, cell / columns);
        let xs = column * thumb.width / columns..(column + 1) * thumb.width / columns;
        let ys = row * thumb.height / rows..(row + 1) * thumb.height / rows;
        let count = (xs.len() * ys.len()).max(1) as f64;
        let sum: f64 = ys
            .flat_map(|y| xs.clone().map(move |x| (x, y)))
            .map(|(x, y)| f64::from(thumb.grey[y * thumb.width + x]))
            .sum();
        sum / count
    };
    let greys: Vec<f64> = (0..columns * rows).map(mean).collect();
    let mut order: Vec<usize> = (0..greys.len()).collect();
    order.sort_by(|a, b| greys[*a].total_cmp(&greys[*b]));
    let mut ranks = vec![0.0; greys.len()];
    for (rank, cell) in order.into_iter().enumerate() {
        ranks[cell] = rank as f64 - 0.5 * (greys.len() - 1) as f64;
    }
    Some(ranks)
}

/// Correlation of ranks (C. Spearman 1904), the same for a negative and its print.
fn correlation(a: &[f64], b: &[f64]) -> f64 {
    let dot = |a: &[f64], b: &[f64]| a.iter().zip(b).map(|(a, b)| a * b).sum::<f64>();
    (dot(a, b) / (dot(a, a) * dot(b, b)).sqrt().max(1e-9)).abs()
}

/// Frames of a film, and prints of all films, that show another subject than the others.
fn other_subjects(files: &[File]) -> Vec<(usize, String)> {
    let mut groups: BTreeMap<&str, Vec<(usize, Vec<f64>)>> = BTreeMap::new();
    for (index, file) in files.iter().enumerate() {
        let group = match file.kind.value {
            Kind::Frame => file.film.value.as_deref().unwrap_or_default(),
            Kind::Print => "",
            _ => continue,
        };
        if let Some(ranks) = file.thumb.as_ref().and_then(ranks) {
            groups.entry(group).or_default().push((index, ranks));
        }
    }
    let mut odd = Vec::new();
    for group in groups.values().filter(|group| group.len() > 2) {
        let typical: Vec<f64> = group
            .iter()
            .map(|(index, ranks)| {
                let others = group.iter().filter(|(other, _)| other != index);
                let like: Vec<f64> = others.map(|(_, other)| correlation(ranks, other)).collect();
                robust::median(&like).unwrap_or(1.0)
            })
            .collect();
        let usual = robust::median(&typical).unwrap_or(0.0);
        for ((index, _), like) in group.iter().zip(&typical) {
            if usual > 0.75 && *like < 0.6 {
                let others = group.len() - 1;
                let doubt = format!("It shows another subject than the {others} pictures beside it.");
                odd.push((*index, doubt));
            }
        }
    }
    odd
}
