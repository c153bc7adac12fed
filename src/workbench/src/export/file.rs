//! Report, figures, table and sheet as files.

use std::io::Write;
use std::path::Path;
use std::sync::Arc;

use twinwedge_core::document::FilmId;
use twinwedge_core::problem::{Problem, Subject};

use super::sheets::{self, Decimal, Table};
use super::{Depth, FiguresText, Paper, gather, html, pages, paper, sheet_svg};
use crate::session::Session;
use crate::store::{self, NotWritten, Replace, Sort, Source, Writing};

static REPORT: Sort = Sort { words: "a report", is: is_report, derived: true };
pub(super) static PAPER: Sort =
    Sort { words: "a report or graph sheet as PDF", is: paper::is_ours, derived: true };
static FIGURES: Sort = Sort { words: "figures", is: is_figures, derived: true };
static TABLE: Sort = Sort { words: "a table of figures", is: sheets::is_table, derived: true };
static SHEET: Sort = Sort { words: "a contact sheet", is: is_sheet, derived: true };

fn is_report(head: &[u8]) -> bool {
    String::from_utf8_lossy(head).contains(html::GENERATOR)
}

fn is_figures(head: &[u8]) -> bool {
    let mut head = String::from_utf8_lossy(head).into_owned();
    head.retain(|letter| !letter.is_whitespace());
    let Some(rest) = head.strip_prefix("{\"format\":") else { return false };
    // Version 1 had its number there.
    let old = rest.trim_start_matches(|letter: char| letter.is_ascii_digit()).starts_with(",\"series\":");
    rest.starts_with("\"twinwedgefigures\",") || old
}

fn is_sheet(head: &[u8]) -> bool {
    let head = String::from_utf8_lossy(head);
    head.starts_with("<svg ") && head.contains(": grain of all films</title>")
}

/// What is written to a file of this name, by its ending.
fn sort_of(path: &Path) -> Result<&'static Sort, Problem> {
    let ending = path.extension().and_then(|ending| ending.to_str()).map(str::to_ascii_lowercase);
    match ending.as_deref() {
        Some("html" | "htm") => Ok(&REPORT),
        Some("pdf") => Ok(&PAPER),
        Some("json") => Ok(&FIGURES),
        Some("csv") => Ok(&TABLE),
        Some("svg") => Ok(&SHEET),
        _ => Err(Problem::error(
            Subject::File { path: path.display().to_string(), place: None },
            "Nothing is written to a file with this ending.",
            "End the name in .html or .pdf for the report, .json for all figures, .csv for the table of figures, or .svg for a \
             contact sheet of the grain of all films.",
        )),
    }
}

/// Writes report (.html, .pdf), figures (.json), table (.csv) or contact sheet of grain (.svg) of the series to `path`, by its
/// ending, whole or not at all; PDF for A4. An older one that this program wrote is replaced; anything else that is there, and above all
/// what the series is made from (`sources`, see [`Session::sources`]), only as `replace` says. A report of many films is a first page
/// at `path` and a folder beside it with a page for each. Gives what is missing or doubtful in what was written.
///
/// # Errors
/// An unknown ending, something in the way, or what the writer found.
pub fn to_file(
    session: &Session,
    candidate: Option<&FilmId>,
    path: &Path,
    sources: &[Source],
    replace: Replace<'_>,
) -> Result<Vec<Problem>, NotWritten> {
    to_file_on(session, ReportOf { film: candidate, ..ReportOf::default() }, path, sources, replace)
}

/// What is reported, and how.
#[derive(Debug, Clone, Copy, Default)]
pub struct ReportOf<'a> {
    /// The candidate; all of them otherwise.
    pub film: Option<&'a FilmId>,
    /// Paper of a PDF.
    pub paper: Paper,
    /// How much of each film an HTML or PDF report holds.
    pub depth: Depth,
}

/// As [`to_file`], for the paper and as deep as is asked for.
///
/// # Errors
/// As [`to_file`]; a table has no depth.
pub fn to_file_on(
    session: &Session,
    of: ReportOf<'_>,
    path: &Path,
    sources: &[Source],
    replace: Replace<'_>,
) -> Result<Vec<Problem>, NotWritten> {
    let ReportOf { film: candidate, paper: on, depth } = of;
    let sort = sort_of(path).map_err(NotWritten::Failed)?;
    let writing = Writing { sort, sources, replace };
    store::may_write(path, writing)?;
    if std::ptr::eq(sort, &REPORT) {
        return report(session, of, path, writing);
    }
    if std::ptr::eq(sort, &PAPER) {
        let made = match depth {
            Depth::Whole => paper::report(session, candidate, on),
            Depth::Sheet => paper::sheets(session, candidate, on),
        };
        let (bytes, problems) = made.map_err(NotWritten::Failed)?;
        store::write_file(path, &bytes, writing)?;
        return Ok(problems);
    }
    if depth == Depth::Sheet {
        return Err(NotWritten::Failed(Problem::error(
            Subject::File { path: path.display().to_string(), place: None },
            "One sheet a film is a report, and this ending is not that of a report.",
            "End the name in .pdf or .html, or ask for the whole.",
        )));
    }
    if std::ptr::eq(sort, &FIGURES) {
        let (text, mut problems) = (FiguresText::of(session).map_err(NotWritten::Failed)?, Vec::new());
        let mut write = |out: &mut dyn Write| {
            problems = text.write(out)?;
            Ok(())
        };
        store::put_by(path, &mut write, &mut |place| store::may_go(place, path, writing))?;
        return Ok(problems);
    }
    if std::ptr::eq(sort, &TABLE) {
        return to_table(session, Table::default(), Decimal::default(), path, writing);
    }
    let sheet = sheet_svg(session).map_err(NotWritten::Failed)?;
    store::write_file(path, sheet.as_bytes(), writing)?;
    Ok(session.check())
}

/// Writes a table of the series, as [`to_file`] writes files.
///
/// # Errors
/// Something in the way, or what the writer found.
pub fn to_table_file(
    session: &Session,
    (table, decimal): (Table, Decimal),
    path: &Path,
    sources: &[Source],
    replace: Replace<'_>,
) -> Result<Vec<Problem>, NotWritten> {
    let writing = Writing { sort: &TABLE, sources, replace };
    store::may_write(path, writing)?;
    to_table(session, table, decimal, path, writing)
}

fn to_table(
    session: &Session,
    table: Table,
    decimal: Decimal,
    path: &Path,
    writing: Writing<'_>,
) -> Result<Vec<Problem>, NotWritten> {
    let (text, problems) = sheets::table(session, table, decimal).map_err(NotWritten::Failed)?;
    store::write_file(path, text.as_bytes(), writing)?;
    Ok(problems)
}

/// Writes the report: one page, or many where there are many films and each has all its evidence.
fn report(
    session: &Session,
    of: ReportOf<'_>,
    path: &Path,
    writing: Writing<'_>,
) -> Result<Vec<Problem>, NotWritten> {
    let series = Arc::clone(session.series());
    let (reference, films) = gather::shown(&series, of.film).map_err(NotWritten::Failed)?;
    let mut check = session.begin_check();
    if of.depth == Depth::Whole && films.len() > pages::ON_ONE_PAGE {
        pages::write(&mut check, reference, &films, path, writing)?;
        return Ok(check.finish());
    }
    let gathered = gather::gather(&mut check, reference, &films);
    let page = match of.depth {
        Depth::Whole => html::page(&gathered),
        Depth::Sheet => html::sheets(&gathered, html::MOST_FINDINGS),
    };
    store::write_file(path, page.as_bytes(), writing)?;
    Ok(if of.film.is_some() { gathered.problems } else { check.finish() })
}
