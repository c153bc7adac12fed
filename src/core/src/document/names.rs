//! Names that are still free.

use std::collections::{HashMap, HashSet};

use super::{FilmId, ScanId, Series, ranges};
use crate::shown;

/// What a film without any name is called, and a scan.
const FILM: &str = "film";
const SCAN: &str = "scan";

impl Series {
    /// `wanted`, or `wanted 2`, `wanted 3` ... : a film name that is still free.
    #[must_use]
    pub fn free_film_id(&self, wanted: &str) -> FilmId {
        FilmId(free(wanted, FILM, 2, |name| self.films.iter().all(|film| film.id.0 != name)).0)
    }

    /// A scan name that is still free.
    #[must_use]
    pub fn free_scan_id(&self, wanted: &str) -> ScanId {
        ScanId(free(wanted, SCAN, 2, |name| !self.scans.contains_key(&ScanId::from(name))).0)
    }
}

/// The names of a series' films and scans, so that many free ones are found in a time that does not grow with their number.
///
/// ```
/// # use twinwedge_core::document::{FilmId, Names, Series};
/// let mut names = Names::of(&Series::default());
/// assert_eq!(names.film("Tern"), FilmId::from("Tern"));
/// assert_eq!(names.film("Tern"), FilmId::from("Tern 2"));
/// ```
#[derive(Debug, Clone, Default)]
pub struct Names {
    films: Taken,
    scans: Taken,
}

#[derive(Debug, Clone, Default)]
struct Taken {
    names: HashSet<String>,
    /// The least number that was not given yet, by the name it follows.
    next: HashMap<String, u32>,
}

impl Names {
    /// All names of a series.
    #[must_use]
    pub fn of(series: &Series) -> Self {
        let films =
            Taken { names: series.films.iter().map(|film| film.id.0.clone()).collect(), ..Taken::default() };
        let scans = Taken { names: series.scans.keys().map(|id| id.0.clone()).collect(), ..Taken::default() };
        Self { films, scans }
    }

    /// A film name that was free and is taken from now on.
    pub fn film(&mut self, wanted: &str) -> FilmId {
        FilmId(self.films.take(wanted, FILM))
    }

    /// A scan name that was free and is taken from now on.
    pub fn scan(&mut self, wanted: &str) -> ScanId {
        ScanId(self.scans.take(wanted, SCAN))
    }
}

impl Taken {
    fn take(&mut self, wanted: &str, empty: &str) -> String {
        let next = self.next.get(wanted).copied().unwrap_or(2);
        let (name, after) = free(wanted, empty, next, |name| !self.names.contains(name));
        if after > next {
            self.next.insert(wanted.to_owned(), after);
        }
        self.names.insert(name.clone());
        name
    }
}

/// The first of `wanted`, `wanted N`, `wanted N+1` ... that is free, made visible, and short enough that a number can follow;
/// and the number after its own.
fn free(wanted: &str, empty: &str, mut next: u32, is_free: impl Fn(&str) -> bool) -> (String, u32) {
    let seen = wanted.replace(shown::steers, " ");
    let mut base = shown::short(seen.trim(), ranges::NAME.most - 20);
    if base.is_empty() {
        empty.clone_into(&mut base);
    }
    let mut name = base.clone();
    while !is_free(&name) {
        name = format!("{base} {next}");
        next += 1;
    }
    (name, next)
}
