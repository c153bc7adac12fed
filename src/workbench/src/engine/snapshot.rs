//! What results are derived from: the document at one moment.

use std::collections::HashMap;
use std::path::Path;
use std::sync::Arc;

use twinwedge_core::document::{FilmId, Series};

use super::names::Names;

/// The document at one moment, and where its files lie.
#[derive(Debug, Clone)]
pub(crate) struct Snapshot {
    /// The document as it was then.
    pub(crate) series: Arc<Series>,
    /// Where each film stands in it.
    places: Arc<HashMap<FilmId, usize>>,
    /// What its films are called; the same as before where no label changed.
    pub(super) names: Arc<Names>,
    /// The folder that scan paths are relative to.
    pub(crate) folder: Arc<Path>,
    /// Rises with every change of document or files.
    pub(crate) revision: u64,
}

impl Snapshot {
    pub(crate) fn new(series: Arc<Series>, folder: Arc<Path>) -> Self {
        let names = Arc::new(Names::of(&series.films));
        Self { places: places(&series), names, series, folder, revision: 0 }
    }

    /// The next revision, with what `change` made of this one.
    pub(super) fn next(&self, change: impl FnOnce(&mut Self)) -> Self {
        let mut next = self.clone();
        change(&mut next);
        if !Arc::ptr_eq(&next.series, &self.series) {
            next.places = places(&next.series);
            let names = Names::of(&next.series.films);
            if names != *self.names {
                next.names = Arc::new(names);
            }
        }
        Self { revision: self.revision + 1, ..next }
    }

    /// Where a film stands in the document: found as fast among thousands as among ten.
    pub(crate) fn place(&self, id: &FilmId) -> Option<usize> {
        self.places.get(id).copied()
    }
}

/// Where each film stands; of two of one name the first.
fn places(series: &Series) -> Arc<HashMap<FilmId, usize>> {
    // From the last, so that the first of a name is what remains.
    Arc::new(series.films.iter().enumerate().rev().map(|(place, film)| (film.id.clone(), place)).collect())
}
