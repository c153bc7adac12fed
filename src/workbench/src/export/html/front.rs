//! What a report of several films begins with: the table of all films, and their curves over each other.

use std::fmt::Write;
use std::sync::Arc;

use twinwedge_core::compare::Comparison;
use twinwedge_core::curve::Curve;
use twinwedge_core::document::Film;
use twinwedge_core::problem::Problem;

use super::conclusions::conclusions;
use super::summary::{SummaryRow, table};
use super::{GENERATOR, byline, common, curves, head, pictures};
use crate::export::gather::{CandidatePart, Gathered};
use crate::export::markup::escape;

/// What the first page tells of a film that has a page of its own.
#[derive(Debug)]
pub(in crate::export) struct Line {
    film: Film,
    /// Where its page is.
    href: String,
    comparison: Result<Arc<Comparison>, Problem>,
    /// Its curve, without resamplings: thousands are drawn over each other.
    curve: Option<Curve>,
    doubts: usize,
}

impl Line {
    /// From all that was gathered for its page; `doubts` counts what speaks against it alone.
    pub(in crate::export) fn of(candidate: &CandidatePart, href: String, doubts: usize) -> Self {
        Self {
            film: candidate.part.film.clone(),
            href,
            comparison: candidate.comparison.clone(),
            curve: candidate.part.curve.as_ref().ok().map(|curve| curve.curve.without_resamplings()),
            doubts,
        }
    }
}

/// Title, table and curves of a report on one page.
pub(super) fn index(out: &mut String, gathered: &Gathered) {
    title(out, gathered, gathered.candidates.len());
    let rows = gathered.candidates.iter().enumerate().map(|(number, candidate)| SummaryRow {
        film: &candidate.part.film,
        href: format!("#film-{number}"),
        comparison: &candidate.comparison,
        doubts: None,
    });
    conclusions(out, gathered);
    table(out, &gathered.reference.film, &rows.collect::<Vec<_>>());
    curves::all(out, gathered);
    pictures::sheet(out, gathered);
}

/// The first page of a report that has a page for each film; `gathered` holds the reference and what all share.
pub(in crate::export) fn front(gathered: &Gathered, lines: &[Line]) -> String {
    let reference = &gathered.reference.film;
    let mut out = head(&format!("{} films against {}", lines.len(), reference.label), GENERATOR);
    title(&mut out, gathered, lines.len());
    out.push_str(
        "<p class=\"small\">Each film has a page of its own: its name in the table leads there.</p>\n",
    );
    conclusions(&mut out, gathered);
    curves::many(&mut out, gathered, lines.iter().filter_map(|line| line.curve.as_ref()));
    let rows = lines.iter().map(|line| SummaryRow {
        film: &line.film,
        href: line.href.clone(),
        comparison: &line.comparison,
        doubts: Some(if line.doubts == 0 { String::new() } else { line.doubts.to_string() }),
    });
    table(&mut out, reference, &rows.collect::<Vec<_>>());
    common(&mut out, gathered);
    out.push_str("</main>\n</body>\n</html>\n");
    out
}

fn title(out: &mut String, gathered: &Gathered, films: usize) {
    let series = &gathered.series;
    let title = if series.title.is_empty() { "Film comparison" } else { &series.title };
    let _ = write!(
        out,
        "<header>\n<p class=\"kicker\">{films} films against {}</p>\n<h1 id=\"all-films\">{}</h1>\n",
        escape(&gathered.reference.film.label),
        escape(title)
    );
    byline(out, gathered);
    out.push_str("</header>\n");
}
