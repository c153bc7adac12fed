//! Graph sheets at true scale, for those who plot by hand.

use std::path::Path;

use twinwedge_core::document::ranges::Range;
use twinwedge_core::document::{FilmId, Series};
use twinwedge_core::problem::{Problem, Subject};

use super::piece::MM;
use super::tags::Tags;
use super::write::Sheet;
use super::{Bound, Faces, Paper, unwritten};
use crate::export::file::PAPER;
use crate::export::html::{Room, graph};
use crate::session::Session;
use crate::store::{self, NotWritten, Replace, Source, Writing};

/// Length of 1.00 in log H and of 1.00 in density, in millimetres, where nothing else is asked for (common practice, no source).
pub const COMMON_SCALE: f64 = 50.0;

/// Millimetres of 1.00 on a graph sheet.
pub static GRAPH_SCALE: Range = Range {
    name: "scale",
    unit: "mm",
    lowest: 10.0,
    highest: 200.0,
    why: "a curve smaller than a stamp cannot be read, a larger one fits on no sheet",
};

/// Room that heading, data block and lines under the graph take, millimetres.
const TAKEN: f64 = 58.0;

/// A graph sheet to be written.
#[derive(Debug, Clone, Copy)]
pub struct GraphSheet<'a> {
    /// The film whose curve is drawn, of a session; `None` leaves the sheet blank.
    pub of: Option<(&'a Session, &'a FilmId)>,
    /// It lies across.
    pub paper: Paper,
    /// Millimetres of 1.00 in log H and of 1.00 in density.
    pub mm_per_unit: f64,
}

impl GraphSheet<'_> {
    fn sheet(&self) -> Sheet {
        let [width, height] = self.paper.size();
        Sheet { width: height, height: width, left: 12.0 * MM, top: 10.0 * MM, bottom: 14.0 * MM }
    }

    /// The sheet as PDF.
    ///
    /// # Errors
    /// The film has no curve, or its curve does not fit at this scale.
    pub fn pdf(&self) -> Result<Vec<u8>, Problem> {
        let sheet = self.sheet();
        let size_mm = [sheet.text_width() / MM, sheet.text_height() / MM - TAKEN];
        let room = Room { mm_per_unit: self.mm_per_unit, size_mm };
        let nothing = Series::default();
        let (html, title, series) = match self.of {
            None => (graph(None, &room)?, "Graph sheet".to_owned(), &nothing),
            Some((session, id)) => {
                let series = session.series();
                let film = series.film(id).ok_or_else(|| {
                    Problem::error(Subject::Series, "The film is not in the series.", "Choose one that is.")
                })?;
                let curve = session.wait_compared(id)?;
                (graph(Some((film, &*curve)), &room)?, format!("Graph of {}", film.label), &**series)
            }
        };
        let faces = Faces::new().map_err(|reason| unwritten(&reason))?;
        let mut bound = Bound::on(&faces, sheet);
        bound.add(&html, "", Tags::ROOT)?;
        bound.finish(&title, series)
    }

    /// Writes the sheet to a file that ends in .pdf, whole or not at all; an older one that this program wrote is replaced.
    ///
    /// # Errors
    /// As [`GraphSheet::pdf`], another ending, or something in the way.
    pub fn to_file(&self, path: &Path, sources: &[Source], replace: Replace<'_>) -> Result<(), NotWritten> {
        if path.extension().is_none_or(|ending| !ending.eq_ignore_ascii_case("pdf")) {
            return Err(NotWritten::Failed(Problem::error(
                Subject::File { path: path.display().to_string(), place: None },
                "A graph sheet is written as PDF alone.",
                "End the name in .pdf.",
            )));
        }
        let writing = Writing { sort: &PAPER, sources, replace };
        store::may_write(path, writing)?;
        let bytes = self.pdf().map_err(NotWritten::Failed)?;
        store::write_file(path, &bytes, writing)
    }
}
