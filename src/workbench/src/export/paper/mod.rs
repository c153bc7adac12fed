//! The report on paper: the same page as on the screen, set in lines and pages and written as tagged PDF.
//!
//! Every sentence, row and figure comes from the markup of the HTML report: what that says, paper says. `read` makes a tree of
//! it, `setter` sets its parts as pieces, `pages` puts these onto pages, and `write` writes them; `drawn` draws a page to be
//! looked at.

mod drawing;
mod drawn;
mod faces;
mod graph;
mod lines;
mod pages;
mod piece;
mod read;
mod setter;
mod special;
mod table;
mod tags;
mod write;

use std::str::FromStr;
use std::sync::Arc;

use krilla::tagging::Tag;
use twinwedge_core::document::{FilmId, Series};
use twinwedge_core::problem::{Problem, Subject};

use super::gather::{self, Gathered};
use super::html;
use super::pages::{ON_ONE_PAGE, doubts};
use crate::session::Session;
use faces::Faces;
pub use graph::{COMMON_SCALE, GRAPH_SCALE, GraphSheet};
use piece::{MM, Style};
use setter::{At, Setter};
use tags::{Place, Tags};
use write::{About, Sheet};

/// The paper that a document is set for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Paper {
    /// 210 mm by 297 mm (ISO 216).
    #[default]
    A4,
    /// 8.5 by 11 inches (ANSI/ASME Y14.1).
    Letter,
}

impl FromStr for Paper {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        match text.to_ascii_lowercase().as_str() {
            "a4" => Ok(Self::A4),
            "letter" => Ok(Self::Letter),
            _ => Err("papers are a4 and letter".to_owned()),
        }
    }
}

impl Paper {
    /// Width and height in points.
    fn size(self) -> [f64; 2] {
        match self {
            Self::A4 => [210.0 * MM, 297.0 * MM],
            Self::Letter => [612.0, 792.0],
        }
    }

    /// With less at its edges, for what must stand on one page.
    fn narrow_sheet(self) -> Sheet {
        Sheet { left: 14.0 * MM, top: 15.0 * MM, bottom: 15.0 * MM, ..self.sheet() }
    }

    fn sheet(self) -> Sheet {
        let [width, height] = self.size();
        Sheet { width, height, left: 16.0 * MM, top: 19.0 * MM, bottom: 18.0 * MM }
    }
}

/// `text` as the bundled typeface can draw it: letters that it lacks are put together or shown as lacking.
///
/// # Errors
/// The bundled fonts cannot be read.
pub(super) fn drawable(text: &str) -> Result<String, String> {
    let faces = Faces::new()?;
    let drawn =
        |letter: char| faces.shape(faces::Weight::Regular, letter.encode_utf8(&mut [0; 4])).text.clone();
    let mut out = String::with_capacity(text.len());
    for letter in text.chars() {
        if letter.is_ascii() {
            out.push(letter);
        } else {
            out.push_str(&drawn(letter));
        }
    }
    Ok(out)
}

/// Written into every document: by this it is told from other files.
const MARK: &str = "%Twinwedge ";

/// Whether a file with these first and last bytes was written by this program.
pub(super) fn is_ours(ends: &[u8]) -> bool {
    ends.starts_with(b"%PDF-") && ends.windows(MARK.len()).any(|window| window == MARK.as_bytes())
}

/// The report of one candidate or of all as PDF, with what is missing or doubtful in it.
///
/// # Errors
/// There is no reference or no candidate.
pub(super) fn report(
    session: &Session,
    candidate: Option<&FilmId>,
    paper: Paper,
) -> Result<(Vec<u8>, Vec<Problem>), Problem> {
    let series = Arc::clone(session.series());
    let (reference, films) = gather::shown(&series, candidate)?;
    let mut check = session.begin_check();
    let faces = Faces::new().map_err(|reason| unwritten(&reason))?;
    let mut bound = Bound::new(&faces, paper);
    if films.len() <= ON_ONE_PAGE {
        let gathered = gather::gather(&mut check, reference, &films);
        bound.add(&html::page(&gathered), "", Tags::ROOT)?;
        let bytes = bound.finish(&html::title_of(reference, &films), &series)?;
        return Ok((bytes, if candidate.is_some() { gathered.problems } else { check.finish() }));
    }
    // One film's page is in memory at a time; the first page is written last, for it tells of all of them.
    let front = bound.place();
    let mut lines = Vec::new();
    let mut rest = Vec::new();
    for (at, film) in films.iter().enumerate() {
        let gathered = gather::gather(&mut check, reference, &[film]);
        let (prefix, place) = (format!("{}.", at + 1), bound.place());
        bound.add(&html::page_of_many(&gathered), &prefix, place)?;
        rest.push(std::mem::take(&mut bound.pieces));
        let href = format!("#{prefix}film-0");
        let doubts = doubts(&gathered);
        lines.extend(gathered.candidates.iter().map(|one| html::Line::of(one, href.clone(), doubts)));
    }
    let gathered = gather::gather(&mut check, reference, &[]);
    bound.add(&html::front(&gathered, &lines), "", front)?;
    bound.pieces.extend(rest.into_iter().flatten());
    Ok((bound.finish(&html::title_of(reference, &films), &series)?, check.finish()))
}

/// One sheet a film as PDF, with what is missing or doubtful in it.
///
/// # Errors
/// There is no reference or no candidate.
pub(super) fn sheets(
    session: &Session,
    candidate: Option<&FilmId>,
    paper: Paper,
) -> Result<(Vec<u8>, Vec<Problem>), Problem> {
    let series = Arc::clone(session.series());
    let (reference, films) = gather::shown(&series, candidate)?;
    let mut check = session.begin_check();
    let faces = Faces::new().map_err(|reason| unwritten(&reason))?;
    let mut bound = Bound::on(&faces, paper.narrow_sheet());
    for (at, film) in films.iter().enumerate() {
        let gathered = gather::gather(&mut check, reference, &[film]);
        let place = bound.place();
        bound.add_sheet(&gathered, &format!("{}.", at + 1), place)?;
    }
    Ok((bound.finish(&html::title_of(reference, &films), &series)?, check.finish()))
}

/// The sheet of one film as SVG, with its size in points: as it stands on paper.
///
/// # Errors
/// There is no reference, or the film is none of the series.
pub(super) fn sheet_drawing(
    session: &Session,
    film: &FilmId,
    paper: Paper,
) -> Result<(String, [f64; 2]), Problem> {
    let series = Arc::clone(session.series());
    let (reference, films) = gather::shown(&series, Some(film))?;
    let gathered = gather::gather(&mut session.begin_unchecked(), reference, &films);
    let faces = Faces::new().map_err(|reason| unwritten(&reason))?;
    let sheet = paper.narrow_sheet();
    let mut bound = Bound::on(&faces, sheet);
    bound.add_sheet(&gathered, "1.", Tags::ROOT)?;
    let pages = pages::pages(bound.pieces, sheet.text_height());
    let about = about(&html::title_of(reference, &films), &series);
    Ok((drawn::first_page(&faces, sheet, &about, &pages), [sheet.width, sheet.height]))
}

/// A report as PDF, put together page after page of its HTML.
struct Bound<'a> {
    setter: Setter<'a>,
    sheet: Sheet,
    pieces: Vec<piece::Piece>,
}

impl<'a> Bound<'a> {
    fn new(faces: &'a Faces, paper: Paper) -> Self {
        Self::on(faces, paper.sheet())
    }

    fn on(faces: &'a Faces, sheet: Sheet) -> Self {
        Self { setter: Setter::new(faces), sheet, pieces: Vec::new() }
    }

    /// A place in the structure after those before it, for a page.
    fn place(&mut self) -> Place {
        self.setter.tags.place(Tags::ROOT, Tag::Section)
    }

    /// Puts a page of HTML after those before it. `prefix` keeps its places and the numbers of its figures apart from theirs.
    ///
    /// # Errors
    /// It cannot be read.
    fn add(&mut self, html: &str, prefix: &str, place: Place) -> Result<(), Problem> {
        let mut page = read::read(html).map_err(|reason| unwritten(&reason))?;
        page.prefix_places(prefix);
        self.setter.begin(&page, prefix);
        let parts = drawing::parts(&page);
        let Some(main) = page.find(&|element| element.name == "main") else { return Ok(()) };
        let at = At { width: self.sheet.text_width(), style: Style::TEXT, place, raised: 0 };
        let mut pieces = self.setter.blocks(main, at, &parts);
        if let Some(first) = pieces.first_mut() {
            first.fresh = true;
        }
        self.pieces.append(&mut pieces);
        Ok(())
    }

    /// Puts the sheet of a film after what is before it, with as many findings as leave it one page.
    ///
    /// # Errors
    /// It cannot be read.
    fn add_sheet(&mut self, gathered: &Gathered, prefix: &str, place: Place) -> Result<(), Problem> {
        let fits = |most: &usize| {
            let mut trial = Bound::on(self.setter.faces, self.sheet);
            let added = trial.add(&html::sheets(gathered, *most), "", Tags::ROOT);
            added.is_ok() && pages::pages(trial.pieces, self.sheet.text_height()).len() <= 1
        };
        let most = [html::MOST_FINDINGS, 15, 13, 11, 9, 7, 5, 3].into_iter().find(fits).unwrap_or(0);
        self.add(&html::sheets(gathered, most), prefix, place)
    }

    /// The document.
    ///
    /// # Errors
    /// It does not hold what PDF/UA asks for.
    fn finish(self, title: &str, series: &Series) -> Result<Vec<u8>, Problem> {
        let pages = pages::pages(self.pieces, self.sheet.text_height());
        let Setter { faces, tags, links, .. } = self.setter;
        write::write(faces, self.sheet, &about(title, series), &pages, tags, &links)
            .map_err(|reason| unwritten(&reason))
    }
}

fn about(title: &str, series: &Series) -> About {
    let choices = &series.report;
    let program = format!("Twinwedge {}", env!("CARGO_PKG_VERSION"));
    let signed = [choices.tester.trim(), choices.date.trim(), program.as_str()];
    let signed: Vec<&str> = signed.into_iter().filter(|part| !part.is_empty()).collect();
    About {
        title: title.to_owned(),
        series: if series.title.trim().is_empty() {
            "Film comparison".to_owned()
        } else {
            series.title.clone()
        },
        signed: signed.join(" · "),
        date: date(choices.date.trim()),
        author: choices.tester.trim().to_owned(),
    }
}

/// A date of the form 2026-11-30 (ISO 8601); any other stands on the page as it is, and not in the document's data.
fn date(text: &str) -> Option<(u16, u8, u8)> {
    let mut parts = text.splitn(3, '-');
    let (year, month, day) = (parts.next()?, parts.next()?, parts.next()?);
    let date = (year.parse().ok()?, month.parse().ok()?, day.parse().ok()?);
    (year.len() == 4 && (1..=12).contains(&date.1) && (1..=31).contains(&date.2)).then_some(date)
}

fn unwritten(reason: &str) -> Problem {
    Problem::error(
        Subject::Series,
        format!("The report could not be set as PDF. This is a mistake in the program ({reason})."),
        "Write it as .html, and report this with the series.",
    )
}
