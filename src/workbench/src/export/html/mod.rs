//! The report as HTML pages that need nothing but themselves: no script, no font, no picture from elsewhere. A script of their own
//! (`report.js`) adds what a reader may do with figures and tables; without it the page is whole.

mod card;
mod conclusions;
mod curves;
mod detail;
mod development;
mod edges;
mod figures;
mod findings;
mod front;
mod granularity;
mod graph;
mod greys;
mod models;
mod one_sheet;
mod pictures;
mod records;
mod registration;
mod scans;
mod spectrum;
mod summary;
mod tones;

use std::fmt::Write;

use twinwedge_core::compare::{DARKROOM_CAUTION, format};
use twinwedge_core::document::Film;
use twinwedge_core::measured::{Flags, Measured, Value};
use twinwedge_core::problem::Problem;
use twinwedge_core::shown::capital;

pub(super) use card::facts;
pub(super) use curves::both as both_curves;
pub(super) use findings::kept as kept_findings;
pub(super) use front::{Line, front};
pub(super) use graph::{Room, graph};
pub(super) use one_sheet::{MOST_FINDINGS, sheets};

use super::gather::{CandidatePart, Gathered};
use super::markup::{escape, escape_plain};
use super::policy;
use super::svg::FONTS;

/// By this line a report is told from other pages.
pub(super) const GENERATOR: &str = "<meta name=\"generator\" content=\"Twinwedge\">";

const STYLE: &str = include_str!("style.css");

const SCRIPT: &str = include_str!("report.js");

/// Where a page stands among those of a report that has a page for each film: addresses relative to it, and labels.
#[derive(Debug)]
pub(super) struct Among {
    /// The first page.
    pub(super) front: String,
    pub(super) before: Option<(String, String)>,
    pub(super) after: Option<(String, String)>,
}

/// The whole report as one page: for one candidate its report, for several an index with a summary, then a report each.
pub(super) fn page(gathered: &Gathered) -> String {
    let mut out = head(&title(gathered), GENERATOR);
    out.push_str(&pictures::shared(gathered));
    let several = gathered.candidates.len() > 1;
    if several {
        front::index(&mut out, gathered);
    }
    for (number, candidate) in gathered.candidates.iter().enumerate() {
        let way = if several { Way::OnOnePage } else { Way::Alone };
        film(&mut out, gathered, candidate, number, &way);
    }
    for (number, candidate) in gathered.candidates.iter().enumerate() {
        evidence(&mut out, gathered, candidate, number);
    }
    common(&mut out, gathered);
    out.push_str("</main>\n</body>\n</html>\n");
    out
}

/// The page of one film of many: as its report alone, with the ways to the others.
pub(super) fn page_among(gathered: &Gathered, among: &Among) -> String {
    let mut out = head(&title(gathered), &mark(&among.front));
    out.push_str(&pictures::shared(gathered));
    for candidate in &gathered.candidates {
        film(&mut out, gathered, candidate, 0, &Way::Among(among));
        evidence(&mut out, gathered, candidate, 0);
    }
    common(&mut out, gathered);
    ways(&mut out, among, "Other films, at the end");
    out.push_str("</main>\n</body>\n</html>\n");
    out
}

/// The page of one film of many in a document that holds them all; what is common to all stands with its first page.
pub(super) fn page_of_many(gathered: &Gathered) -> String {
    let mut out = head(&title(gathered), GENERATOR);
    out.push_str(&pictures::shared(gathered));
    for candidate in &gathered.candidates {
        film(&mut out, gathered, candidate, 0, &Way::Alone);
        evidence(&mut out, gathered, candidate, 0);
    }
    scans::scans(&mut out, gathered);
    records::problems(&mut out, gathered);
    out.push_str("</main>\n</body>\n</html>\n");
    out
}

/// What wrote a page of one film of many: by this it is known as part of the report that begins at `front`.
pub(super) fn mark(front: &str) -> String {
    format!("<meta name=\"generator\" content=\"Twinwedge, page of {}\">", escape(front))
}

fn head(title: &str, generator: &str) -> String {
    let style = format!("\n{}", STYLE.replace("FONTS", FONTS));
    format!(
        "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n{}\n{generator}\n<meta \
         name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n<title>{}</title>\n<style>{style}</style>\n\
         <script>{SCRIPT}</script>\n</head>\n<body>\n<main>\n",
        policy::of_page(&style, SCRIPT),
        escape_plain(title),
    )
}

/// What holds for all films shown.
fn common(out: &mut String, gathered: &Gathered) {
    out.push_str("<section class=\"common\">\n");
    tones::paper(out, gathered);
    records::conditions(out, gathered);
    scans::scans(out, gathered);
    records::problems(out, gathered);
    let _ = write!(
        out,
        "<h2>How to read the numbers</h2>\n<p>{} A difference whose interval holds zero is called <em>not \
         distinguishable</em> and printed in grey; nothing follows from it. Differences are candidate against \
         reference.</p>\n",
        format::INTERVAL_NOTE
    );
    figures::definitions(out);
    let _ = writeln!(
        out,
        "<h2 id=\"cautions\">Cautions</h2>\n<p class=\"caution\">{DARKROOM_CAUTION}</p>\n<p class=\"small\">Written by \
         Twinwedge {}.</p>",
        env!("CARGO_PKG_VERSION")
    );
    out.push_str("</section>\n");
}

/// How a reader gets from a film to the others.
enum Way<'a> {
    /// There are none.
    Alone,
    /// They follow on the same page.
    OnOnePage,
    /// They have pages of their own.
    Among(&'a Among),
}

/// Links to the first page and to the pages before and after, under a name that a screen reader tells.
fn ways(out: &mut String, among: &Among, name: &str) {
    let link = |text: String, href: &str, rel: &str| {
        format!("<a rel=\"{rel}\" href=\"{}\">{text}</a>", escape(href))
    };
    let mut links = vec![link("All films".to_owned(), &among.front, "up")];
    if let Some((href, label)) = &among.before {
        links.push(link(format!("← {}", escape(label)), href, "prev"));
    }
    if let Some((href, label)) = &among.after {
        links.push(link(format!("{} →", escape(label)), href, "next"));
    }
    let _ = writeln!(out, "<nav class=\"ways\" aria-label=\"{name}\">{}</nav>", links.join("\n"));
}

/// What the report is called.
fn title(gathered: &Gathered) -> String {
    let films: Vec<&Film> = gathered.candidates.iter().map(|candidate| &candidate.part.film).collect();
    title_of(&gathered.reference.film, &films)
}

/// What a report of these films is called.
pub(super) fn title_of(reference: &Film, films: &[&Film]) -> String {
    match films {
        [one] => format!("{} against {}", one.label, reference.label),
        many => format!("{} films against {}", many.len(), reference.label),
    }
}

/// What stands over all of a film: the series, which may lead back to all films, and the pair.
fn heading(out: &mut String, gathered: &Gathered, film: &Film, back: Option<&str>) {
    let title = if gathered.series.title.is_empty() { "Film comparison" } else { &gathered.series.title };
    let series = match back {
        Some(href) => format!("<a href=\"{}\">{}</a>", escape(href), escape(title)),
        None => escape(title),
    };
    let _ = write!(
        out,
        "<p class=\"kicker\">{series}</p>\n<h1><span class=\"candidate\">{}</span> against {}</h1>\n",
        escape(&film.label),
        escape(&gathered.reference.film.label)
    );
}

/// Says why there is no comparison.
fn not_compared(out: &mut String, problem: &Problem) {
    let _ = writeln!(
        out,
        "<p class=\"caution\">This film could not be compared. {}</p>",
        escape(&problem.to_string())
    );
}

fn film(out: &mut String, gathered: &Gathered, candidate: &CandidatePart, number: usize, way: &Way<'_>) {
    let film = &candidate.part.film;
    let class = if matches!(way, Way::OnOnePage) { "film among-others" } else { "film" };
    let _ = writeln!(out, "<article class=\"{class}\" id=\"film-{number}\">\n<header>");
    let back = match way {
        Way::Alone => None,
        Way::OnOnePage => Some("#all-films"),
        Way::Among(among) => {
            ways(out, among, "Other films");
            Some(among.front.as_str())
        }
    };
    heading(out, gathered, film, back);
    if !matches!(way, Way::OnOnePage) {
        byline(out, gathered);
    }
    let _ = writeln!(
        out,
        "<nav class=\"contents\" aria-label=\"Contents: {}\"><a href=\"#findings-{number}\">Findings</a> <a href=\"#evidence-{number}\">Evidence</a> <a \
         href=\"#doubts\">Doubts</a> <a href=\"#definitions\">Definitions</a></nav>",
        escape_plain(&film.label)
    );
    out.push_str("</header>\n");
    development::predicted(out, candidate);
    match &candidate.comparison {
        Err(problem) => not_compared(out, problem),
        Ok(comparison) => {
            card::card(out, gathered, candidate, comparison);
            findings::findings(out, gathered, film, comparison, number);
        }
    }
    pictures::prints(out, gathered, candidate);
    greys::picture(out, gathered, candidate);
    pictures::grain(out, gathered, candidate, number);
    out.push_str("</article>\n");
}

/// All numbers, conditions and doubts on which the findings of a film rest.
fn evidence(out: &mut String, gathered: &Gathered, candidate: &CandidatePart, number: usize) {
    let (reference, film) = (&gathered.reference.film, &candidate.part.film);
    let _ = writeln!(
        out,
        "<section class=\"evidence\" id=\"evidence-{number}\">\n<h2>Evidence: {} against {}</h2>",
        escape(&film.label),
        escape(&reference.label)
    );
    if let Ok(comparison) = &candidate.comparison {
        findings::behind(out, gathered, film, comparison, number);
    }
    curves::curves(out, gathered, candidate);
    // Of another roll of the reference only its development is another.
    let roll = film.roll_of.as_ref() == Some(&reference.id);
    if let Ok(comparison) = &candidate.comparison {
        if !roll {
            figures::speeds(out, gathered, film, comparison);
        }
        figures::table(out, gathered, film, comparison);
    }
    if !roll {
        tones::tones(out, gathered, candidate);
    }
    registration::registration(out, candidate);
    if let Ok(comparison) = &candidate.comparison {
        figures::patches(out, gathered, film, comparison);
    }
    greys::behind(out, gathered, candidate);
    pictures::grain_notes(out, gathered, candidate);
    granularity::granularity(out, gathered, candidate);
    spectrum::spectrum(out, gathered, candidate);
    edges::edges(out, gathered, candidate);
    detail::detail(out, gathered, candidate);
    if first_of_its_family(gathered, number) {
        development::development(out, candidate);
    }
    records::process(out, reference, film);
    out.push_str("</section>\n");
}

/// Whether no film before it on the page is a roll of the same film: what is known of its development stands there.
fn first_of_its_family(gathered: &Gathered, number: usize) -> bool {
    let head = |film: &Film| film.roll_of.clone().unwrap_or_else(|| film.id.clone());
    let own = head(&gathered.candidates[number].part.film);
    gathered.candidates[..number].iter().all(|candidate| head(&candidate.part.film) != own)
}

/// Who, when, and what the data are.
fn byline(out: &mut String, gathered: &Gathered) {
    signed(out, gathered);
    if !gathered.series.about.is_empty() {
        let _ = writeln!(out, "<p class=\"about\">{}</p>", escape(&gathered.series.about));
    }
}

/// Who measured and when, as far as that is said.
fn signed(out: &mut String, gathered: &Gathered) {
    let choices = &gathered.series.report;
    let by = [choices.tester.trim(), choices.date.trim()];
    let by: Vec<&str> = by.into_iter().filter(|text| !text.is_empty()).collect();
    if !by.is_empty() {
        let _ = writeln!(out, "<p class=\"by\">{}</p>", escape(&by.join(", ")));
    }
}

/// A sentence with its numbers kept whole at the ends of lines.
fn prose(sentence: &str) -> String {
    escape(sentence).replace(" ± ", "&nbsp;±&nbsp;").replace(" stop", "&nbsp;stop").replace(" %", "&nbsp;%")
}

/// A value and its interval, aligned at the decimal point.
fn aligned(parts: &format::Parts) -> String {
    let (whole, rest) = match parts.value.find('.') {
        Some(point) => parts.value.split_at(point),
        None => (parts.value.as_str(), ""),
    };
    let mut out = format!("<span class=\"i\">{whole}</span><span class=\"f\">{rest}</span>");
    if !parts.uncertainty.is_empty() {
        let _ = write!(out, " <span class=\"pm\">{}</span>", parts.uncertainty);
    }
    out
}

/// A table cell of a figure; its footnotes are collected.
fn cell(value: &Value, decimals: usize, notes: &mut Footnotes) -> String {
    match value {
        Value::Known(measured) => {
            format!("{}{}", aligned(&format::parts(measured, decimals)), notes.flags(measured))
        }
        Value::Undefined(reason) => {
            format!("<span class=\"none\">–</span>{}", notes.mark(&reason.to_string()))
        }
    }
}

/// As [`cell`], with the sign of a difference.
fn difference_cell(value: &Value, decimals: usize, notes: &mut Footnotes) -> String {
    match value {
        Value::Known(measured) => aligned(&format::difference_parts(measured, decimals)),
        Value::Undefined(reason) => {
            format!("<span class=\"none\">–</span>{}", notes.mark(&reason.to_string()))
        }
    }
}

/// Footnotes of a table: each text once, lettered in the order of their first use.
#[derive(Default)]
struct Footnotes {
    texts: Vec<String>,
    /// Some of what was measured had dust or scratches left out: said once for all.
    defects: bool,
}

impl Footnotes {
    /// The letter of a text: a to z, then aa, ab and so on, so that it is never taken for a digit of a number.
    fn letter(&mut self, text: &str) -> String {
        let at = self.texts.iter().position(|known| known == text).unwrap_or_else(|| {
            self.texts.push(text.to_owned());
            self.texts.len() - 1
        });
        letter(at)
    }

    fn mark(&mut self, text: &str) -> String {
        format!("<span class=\"mark\"> [{}]</span>", self.letter(text))
    }

    /// Marks for all flags of a measurement.
    fn flags(&mut self, measured: &Measured) -> String {
        self.defects |= measured.flags.contains(Flags::DEFECTS_LEFT_OUT);
        let told = measured.flags.difference(Flags::DEFECTS_LEFT_OUT).words();
        let letters: Vec<String> = told.into_iter().map(|word| self.letter(&capital(word))).collect();
        if letters.is_empty() {
            String::new()
        } else {
            format!("<span class=\"mark\"> [{}]</span>", letters.join(", "))
        }
    }

    fn write(&self, out: &mut String) {
        if self.defects {
            out.push_str("<p class=\"small\">Dust and scratches were left out where scans were read.</p>\n");
        }
        if self.texts.is_empty() {
            return;
        }
        out.push_str("<ol class=\"notes\">\n");
        for (index, text) in self.texts.iter().enumerate() {
            let _ = writeln!(
                out,
                "<li><span class=\"n\">[{}]</span>{}</li>",
                letter(index),
                escape(&full_stop(text))
            );
        }
        out.push_str("</ol>\n");
    }
}

fn letter(at: usize) -> String {
    let last = char::from(b'a' + (at % 26) as u8);
    if at < 26 { last.to_string() } else { format!("{}{last}", letter(at / 26 - 1)) }
}

fn full_stop(text: &str) -> String {
    if text.ends_with(['.', '!', '?']) { text.to_owned() } else { format!("{text}.") }
}

#[cfg(test)]
mod tests;
