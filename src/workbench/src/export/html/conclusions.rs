//! What is said of all films together, and the place of each.

use std::fmt::Write;

use twinwedge_core::ranking::{Conclusion, Ranked};

use super::prose;
use crate::export::gather::Gathered;
use crate::export::markup::escape;

/// How places are to be read.
const NOTE: &str = "Places from the first on. Where two are given, the film's place lies between them; that holds for all films of a \
    column at once, in 95 of 100 series. Films that share a place are not distinguishable.";

/// Sentences of the series, and the table of places.
pub(super) fn conclusions(out: &mut String, gathered: &Gathered) {
    let found = &*gathered.conclusions;
    if found.is_empty() {
        return;
    }
    out.push_str("<h2>All films together</h2>\n<ul class=\"differences\">\n");
    for conclusion in found {
        let much = conclusion.films.first().map_or_else(String::new, |first| conclusion.told(first));
        let _ = writeln!(
            out,
            "<li>{} <span class=\"much\">({})</span></li>",
            prose(&conclusion.sentence.to_string()),
            prose(&much)
        );
    }
    out.push_str("</ul>\n");
    places(out, found);
}

/// A row a film, in the order of the first topic; a column a topic.
fn places(out: &mut String, found: &[Conclusion]) {
    let mut films: Vec<(usize, &str)> = Vec::new();
    for film in found.iter().flat_map(|conclusion| &conclusion.films) {
        if !films.iter().any(|(number, _)| *number == film.number) {
            films.push((film.number, &film.film));
        }
    }
    out.push_str(
        "<table class=\"places sorts\" aria-label=\"Places of all films\">\n<thead><tr><th>film</th>",
    );
    for conclusion in found {
        let _ = write!(out, "<th class=\"v\">{}</th>", escape(conclusion.topic.name()));
    }
    out.push_str("</tr></thead>\n<tbody>\n");
    for (number, label) in films {
        let _ = write!(out, "<tr><td>{}</td>", escape(label));
        for conclusion in found {
            let place = conclusion.films.iter().find(|film| film.number == number);
            let text = place.map_or_else(|| "–".to_owned(), Ranked::told_place);
            let _ = write!(out, "<td class=\"v\">{text}</td>");
        }
        out.push_str("</tr>\n");
    }
    let _ = write!(out, "</tbody>\n</table>\n<p class=\"small\">{NOTE}</p>\n");
}
