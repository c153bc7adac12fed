//! A folder of scans and tables into a series: what each file is, which film it belongs to, and what is doubtful about that.
//!
//! [`survey`] looks at the folder and gives a [`Plan`]; a person settles what is doubtful in it; [`take::prepare`] and
//! the operation [`take::Prepared`] take it in as one step of the history. Nothing in the folder is copied or changed.

mod anchor;
mod beside;
mod films;
mod kinds;
mod lexicon;
mod names;
mod placing;
mod plan;
mod rows;
mod tables;
pub mod take;
mod walk;

use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicUsize, Ordering};

use rayon::prelude::*;
use twinwedge_core::document::Series;
use twinwedge_core::found::Found;
use twinwedge_core::problem::{Problem, Subject};
use twinwedge_core::recognise::{ScanContent, Small, Stairs, look};
use twinwedge_core::units::Density;

pub use kinds::Kind;
pub use plan::{Asked, Group, Plan, Thumb};

use crate::import::{self, ListRow};
use crate::{load, store};
use names::Name;
pub(crate) use names::film_of;
use placing::{Known, Placed};

/// Longest side of a thumbnail in pixels.
const THUMB: usize = 96;

/// How far a survey is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Seen {
    /// Files looked at.
    pub done: usize,
    /// Files to look at.
    pub total: usize,
}

/// One file as it was found, before films are told.
#[derive(Debug)]
struct Sighted {
    path: PathBuf,
    /// Relative to the folder, with '/'.
    shown: String,
    name: Name,
    kind: Found<Kind>,
    scan: bool,
    steps: Option<usize>,
    /// What its small copy shows, and what size the scan has.
    look: Option<(Found<ScanContent>, (u32, u32))>,
    /// Steps told in its small copy, and its size.
    stairs: Option<(Stairs, (u32, u32))>,
    /// Dots per inch.
    dpi: Option<(f64, f64)>,
    placed: Option<Placed>,
    table: TableSaid,
    thumb: Option<Thumb>,
    problem: Option<Problem>,
}

/// What a table says beside what it is.
#[derive(Debug, Clone, Default, PartialEq)]
struct TableSaid {
    /// Densities by step.
    densities: Vec<Option<f64>>,
    /// The one film that it names.
    film: Option<String>,
    /// What is wrong within it.
    against: Vec<String>,
}

/// Looks at every file below `folder` and says what it would be in `series`, which is kept in `series_folder`. `go_on` is
/// told how far it is, from several threads, and answers whether to go on. Scans are read as small copies, row by row.
///
/// # Errors
/// The folder cannot be read, holds no file that could be taken in, holds far too many, or `go_on` said no.
pub fn survey(
    folder: &Path,
    series: &Series,
    series_folder: &Path,
    go_on: &(dyn Fn(Seen) -> bool + Sync),
) -> Result<Plan, Problem> {
    let files = walk::files(folder)?;
    let (done, total) = (AtomicUsize::new(0), files.len());
    let look = |paths: Vec<PathBuf>| -> Result<Vec<Sighted>, Problem> {
        paths
            .into_par_iter()
            .map(|path| {
                let told = |done| go_on(Seen { done, total });
                let asked = || told(done.load(Ordering::Relaxed));
                if !asked() {
                    return Err(cancelled(folder));
                }
                let file = sight(folder, path, &asked);
                // One whose steps are still to be found is not done.
                if file.stairs.is_none() {
                    done.fetch_add(1, Ordering::Relaxed);
                }
                if asked() { Ok(file) } else { Err(cancelled(folder)) }
            })
            .collect()
    };
    // Tables first: how many steps the tablet has tells more of the scans of strips.
    let (scans, tables): (Vec<PathBuf>, Vec<PathBuf>) =
        files.into_iter().partition(|path| walk::sort_of(path) == walk::Sort::Scan);
    let mut sighted = look(tables)?;
    let known = Known::of(&sighted, series);
    let mut scans = look(scans)?;
    let done = done.into_inner();
    placing::place(&mut scans, &known, &|more| go_on(Seen { done: done + more, total }))
        .ok_or_else(|| cancelled(folder))?;
    beside::settle_kinds(&mut scans);
    sighted.extend(scans);
    sighted.sort_by_cached_key(|file| walk::natural(&file.shown));
    let list = list_of(&sighted);
    Ok(Plan::of(folder, sighted, list, series, series_folder))
}

fn cancelled(folder: &Path) -> Problem {
    let subject = Subject::File { path: folder.display().to_string(), place: None };
    Problem::note(subject, "Looking through the folder was cancelled.", "Nothing was taken in.")
}

/// A list of the folder's files: its place in what was sighted, and its rows.
type List = Option<(usize, Result<Vec<ListRow>, Problem>)>;

fn list_of(files: &[Sighted]) -> List {
    // The one nearest to the folder itself; others are left out.
    let lists = files.iter().enumerate().filter(|(_, file)| file.kind.value == Kind::List);
    let (index, file) = lists.min_by_key(|(_, file)| file.shown.matches('/').count())?;
    Some((index, import::read_rows(&file.path)))
}

fn sight(folder: &Path, path: PathBuf, go_on: &(dyn Fn() -> bool + Sync)) -> Sighted {
    let shown = store::paths::relative(folder, &path);
    let stem = path.file_stem().unwrap_or_default().to_string_lossy().into_owned();
    let mut parts: Vec<&str> = shown.split('/').collect();
    parts.pop();
    let name = names::read(&stem, &parts);
    let file = Sighted {
        path,
        shown,
        name,
        kind: kinds::sure(Kind::Other),
        scan: false,
        steps: None,
        look: None,
        stairs: None,
        dpi: None,
        placed: None,
        table: TableSaid::default(),
        thumb: None,
        problem: None,
    };
    match walk::sort_of(&file.path) {
        walk::Sort::Scan => sight_scan(file, go_on),
        walk::Sort::Table => sight_table(file),
        walk::Sort::Other => file,
    }
}

fn sight_table(mut file: Sighted) -> Sighted {
    let tables::Table { kind, problem, densities, film, against } = tables::sight(&file.path, &file.name);
    if let Some(film) = film.as_deref().filter(|_| !file.name.has_letters()) {
        let said = names::read_film(film);
        file.name.roll = file.name.roll.or(said.roll);
        file.name.film = said.film;
    }
    let steps = (!densities.is_empty()).then_some(densities.len());
    Sighted { kind, problem, steps, table: TableSaid { densities, film, against }, ..file }
}

fn sight_scan(file: Sighted, go_on: &(dyn Fn() -> bool + Sync)) -> Sighted {
    let copy = match load::small(&file.path, load::Limits::default(), go_on) {
        Ok(copy) => copy,
        Err(problem) => {
            let kind = Found { value: Kind::Other, support: 0.0, doubts: vec![problem.cause.clone()] };
            return Sighted { kind, scan: true, problem: Some(problem), ..file };
        }
    };
    let seen = look(&copy.small);
    let kind = kinds::of_scan(&seen, &file.name);
    let stairs = match seen.value {
        ScanContent::Steps(stairs) => Some((stairs, copy.size)),
        _ => None,
    };
    let look = Some((seen, copy.size));
    Sighted { kind, scan: true, look, stairs, dpi: copy.dpi, thumb: Some(thumb(&copy.small)), ..file }
}

fn thumb(small: &Small) -> Thumb {
    let step = small.width.max(small.height).div_ceil(THUMB).max(1);
    let (width, height) = (small.width.div_ceil(step), small.height.div_ceil(step));
    let grey = |x: usize, y: usize| {
        let density = f64::from(small.density[y * step * small.width + x * step]);
        twinwedge_core::drawing::screen_grey(Density(density).light())
    };
    let grey = (0..height).flat_map(|y| (0..width).map(move |x| (x, y))).map(|(x, y)| grey(x, y)).collect();
    Thumb { width, height, grey }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn steps_of_the_sample_are_told_from_step_one_on() {
        let scans = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../sample-projects/saltmarsh/scans");
        // Corners of step 1 as the sample's list has them, from its simulator.
        for (file, darkest, x, y) in [
            ("tern-160-strip.tif", true, 54.18, 57.19),
            ("dunlin-40-strip.tif", true, 55.23, 42.05),
            ("film-scanner-tablet.tif", false, 51.47, 80.42),
        ] {
            let copy = load::small(&scans.join(file), load::Limits::default(), &|| true).unwrap();
            let seen = look(&copy.small);
            let ScanContent::Steps(stairs) = seen.value else { panic!("{file}: {seen:?}") };
            let quad = stairs.quad((1760.0, 300.0), 21, darkest);
            let corner = quad.corners[0];
            assert!(
                (corner.x - x).abs() < 40.0 && (corner.y - y).abs() < 60.0,
                "{file}: {stairs:?} {quad:?}"
            );
        }
    }
}
