//! One sheet a film: verdict and facts with the curves, what differs, the same spot of both prints, grain at equal density, and what
//! it costs.

use std::fmt::Write;

use twinwedge_core::compare::{Comparison, Finding, Kind, Verdict, format};
use twinwedge_core::document::{Film, FindingChoice};

use super::{GENERATOR, card, head, heading, not_compared, pictures, prose, signed, title};
use crate::export::gather::{CandidatePart, FilmPart, Gathered};
use crate::export::markup::{escape, escape_plain};
use crate::export::picture::{GRAIN_MEAN, PrintPictures};

/// Most findings on a sheet; on paper there are as many of them as leave it one page.
pub(in crate::export) const MOST_FINDINGS: usize = 18;

/// Share of a print's width that its piece on the sheet shows.
const PIECE: f64 = 0.3;

/// A sheet for each film, with at most so many findings on each.
pub(in crate::export) fn sheets(gathered: &Gathered, most: usize) -> String {
    let mut out = head(&title(gathered), GENERATOR);
    out.push_str(&pictures::shared(gathered));
    for (number, candidate) in gathered.candidates.iter().enumerate() {
        sheet(&mut out, gathered, candidate, (number, most));
    }
    out.push_str("</main>\n</body>\n</html>\n");
    out
}

fn sheet(out: &mut String, gathered: &Gathered, candidate: &CandidatePart, (number, most): (usize, usize)) {
    let film = &candidate.part.film;
    let class = if number == 0 { "film" } else { "film among-others" };
    let _ = writeln!(out, "<article class=\"{class}\" id=\"film-{number}\">\n<header>");
    heading(out, gathered, film, None);
    signed(out, gathered);
    out.push_str("</header>\n");
    super::development::predicted(out, candidate);
    match &candidate.comparison {
        Err(problem) => not_compared(out, problem),
        Ok(comparison) => {
            card::card(out, gathered, candidate, comparison);
            findings(out, gathered, film, comparison, most);
        }
    }
    pieces(out, gathered, candidate, number);
    let _ = writeln!(
        out,
        "<p class=\"small\">{} What is not distinguishable differs by less than its uncertainty. All numbers, conditions and \
         doubts stand in the whole report. Written by Twinwedge {}.</p>\n</article>",
        format::INTERVAL_NOTE,
        env!("CARGO_PKG_VERSION")
    );
}

/// What differs, in the order of the questions, what it costs first of all that must fit; then what was compared and does not.
fn findings(out: &mut String, gathered: &Gathered, film: &Film, comparison: &Comparison, most: usize) {
    let choices = gathered.series.report.findings.get(&film.id);
    let choice = |finding: &Finding| choices.and_then(|choices| choices.get(&finding.key));
    let kept = |finding: &&Finding| !matches!(choice(finding), Some(FindingChoice::Dropped));
    let differs = |finding: &&Finding| finding.verdict == Verdict::Differs;
    let mut shown: Vec<&Finding> = comparison.findings.iter().filter(kept).filter(differs).collect();
    // What the card says already goes first where there is no room for all.
    let again =
        [Kind::SpeedRelative, Kind::SpeedIso, Kind::SpeedBox, Kind::Granularity, Kind::Gamma, Kind::DMax];
    while let Some(at) = (shown.len() > most)
        .then(|| {
            shown.iter().rposition(|finding| again.contains(&finding.kind)).or(shown.len().checked_sub(2))
        })
        .flatten()
    {
        shown.remove(at);
    }
    if shown.is_empty() {
        return;
    }
    out.push_str("<h2>What differs</h2>\n<ul class=\"differences\">\n");
    for finding in shown {
        let words = match choice(finding) {
            Some(FindingChoice::Reworded(words)) => words,
            _ => &finding.sentence,
        };
        let much = if finding.figure.is_empty() {
            String::new()
        } else {
            format!(" <span class=\"much\">({})</span>", prose(&finding.figure))
        };
        let _ = writeln!(out, "<li>{}{much}</li>", prose(words));
    }
    out.push_str("</ul>\n");
}

/// The same spot of both prints and both films' grain, four pieces in a row.
fn pieces(out: &mut String, gathered: &Gathered, candidate: &CandidatePart, number: usize) {
    let mut figures = String::new();
    let spot = gathered.prints.as_ref().and_then(|prints| {
        let other = candidate.print.as_ref()?.as_ref().ok()?;
        prints.reference.as_ref().ok()?;
        Some((prints, other))
    });
    let mut about = Vec::new();
    if let Some((prints, other)) = spot {
        let ((window, side), name) = place(gathered, prints);
        let view = format!("0 0 {side:.1} {side:.1}");
        let whole =
            format!("<image width=\"{}\" height=\"{}\" href=\"{other}\"/>", prints.width, prints.height);
        for (part, picture) in
            [(&gathered.reference, "<use href=\"#reference-print\"/>"), (&candidate.part, whole.as_str())]
        {
            // A drawing within the drawing is cut off at its edges, on paper, too.
            let cut = format!(
                "<svg x=\"0\" y=\"0\" width=\"{side:.1}\" height=\"{side:.1}\" viewBox=\"{window}\">{picture}</svg>"
            );
            figures.push_str(&figure(part, &view, &cut, "Print", &name));
        }
        about.push(format!("Prints: {name}, registered to each other."));
    }
    let grain = [
        (&gathered.reference, "reference-grain".to_owned()),
        (&candidate.part, pictures::grain_name(number)),
    ];
    if grain.iter().all(|(part, _)| matches!(part.crop, Some(Ok(_)))) {
        for (part, name) in grain {
            let Some(Ok(crop)) = &part.crop else { continue };
            let picture = format!("<use href=\"#{name}\"/>{}", crop.scale_bar());
            let rms = match &part.grain {
                Some(Ok(grain)) => format!("granularity {}", format::measured(&grain.rms, 1)),
                _ => String::new(),
            };
            let view = format!("0 0 {side} {side}", side = crop.side_um);
            figures.push_str(&figure(part, &view, &picture, "Grain", &rms));
        }
        about.push(format!(
            "Grain: pieces of one size, at one mean density of {}.",
            format::number(GRAIN_MEAN, 2)
        ));
    }
    if !figures.is_empty() {
        let _ = write!(
            out,
            "<h2>Prints and grain</h2>\n<div class=\"sheet\">\n{figures}</div>\n<p class=\"small\">{}</p>\n",
            escape(&about.join(" "))
        );
    }
}

fn figure(part: &FilmPart, view: &str, picture: &str, what: &str, more: &str) -> String {
    format!(
        "<figure><svg viewBox=\"{view}\" role=\"img\" aria-label=\"{what} of {}\">{picture}</svg><figcaption>{}{}</figcaption>\
         </figure>\n",
        escape_plain(&part.film.label),
        escape(&part.film.label),
        if more.is_empty() { String::new() } else { format!(", {}", escape(more)) }
    )
}

/// The part of the prints that is shown, as a view box with its side, and what it is called: about the first spot that the tester marked, else the
/// middle.
fn place(gathered: &Gathered, prints: &PrintPictures) -> ((String, f64), String) {
    let side = (PIECE * prints.width).min(prints.height);
    let spot = gathered.series.spots.first();
    let (x, y) = spot.map_or((prints.width / 2.0, prints.height / 2.0), |spot| (spot.at.x, spot.at.y));
    let from = |at: f64, whole: f64| (at - side / 2.0).clamp(0.0, whole - side);
    let name = spot.map_or_else(|| "the middle".to_owned(), |spot| format!("spot {}", spot.name));
    let window = format!("{:.1} {:.1} {side:.1} {side:.1}", from(x, prints.width), from(y, prints.height));
    ((window, side), name)
}
