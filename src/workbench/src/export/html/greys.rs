//! Colours as greys: the picture that an eye gets at once, and behind it numbers, sensitivities, filters and light.

use std::fmt::Write;

use twinwedge_core::compare::{format, greys as words};
use twinwedge_core::drawing::greys_picture;
use twinwedge_core::greys::colour::Family;
use twinwedge_core::greys::lighting::Lighting;
use twinwedge_core::greys::pair::{BandsPair, GreysPair, band_words};
use twinwedge_core::greys::rendering::{FamilyRow, Rendered};
use twinwedge_core::greys::stops::Route;
use twinwedge_core::problem::Problem;

use super::aligned;
use crate::engine::ask::FilterAdvice;
use crate::export::gather::{CandidatePart, Gathered, GreysPart};
use crate::export::markup::escape;
use crate::export::svg::greys;

/// Width of the picture on an A4 sheet, millimetres.
const WIDTH: f64 = 178.0;

fn labels<'a>(gathered: &'a Gathered, candidate: &'a CandidatePart) -> [&'a str; 2] {
    [gathered.reference.film.label.as_str(), candidate.part.film.label.as_str()]
}

/// The picture; nothing where one of the two has no print or densities are not corrected for contrast.
pub(super) fn picture(out: &mut String, gathered: &Gathered, candidate: &CandidatePart) {
    let Some(GreysPart { rendering: Ok(pair), .. }) = &candidate.greys else { return };
    if pair.route() == Route::Bare {
        return;
    }
    let picture = greys_picture(pair);
    let _ = write!(
        out,
        "<h2>Colours as greys</h2>\n<figure>\n{}\n<figcaption>{} Numbers stand {}.</figcaption>\n</figure>\n",
        greys(&picture, labels(gathered, candidate), WIDTH),
        picture.caption,
        words::route(pair.route())
    );
}

/// The numbers behind it; nothing where one of the two has no print.
pub(super) fn behind(out: &mut String, gathered: &Gathered, candidate: &CandidatePart) {
    let Some(part) = &candidate.greys else { return };
    let labels = labels(gathered, candidate);
    out.push_str("<h3>Colours as greys</h3>\n");
    match &part.rendering {
        Ok(pair) => families(out, pair, labels),
        Err(problem) => note(out, "Greys were not compared.", problem),
    }
    match &part.bands {
        Ok(bands) => sensitivities(out, bands, labels),
        Err(problem) => note(out, "From which light the films take their exposure was not found.", problem),
    }
    if let Ok(advice) = &part.filters {
        filters(out, advice, part.rendering.as_deref().ok(), labels);
    }
    match &part.light {
        Ok(light) => lighting(out, light),
        Err(problem) => note(out, "The light on both frames was not compared.", problem),
    }
}

fn note(out: &mut String, what: &str, problem: &Problem) {
    let _ = writeln!(out, "<p class=\"small\">{what} {}</p>", escape(&problem.to_string()));
}

fn families(out: &mut String, pair: &GreysPair, labels: [&str; 2]) {
    if pair.route() == Route::Bare {
        for (way, why) in pair.reference.closed.iter().chain(&pair.candidate.closed) {
            let _ = writeln!(out, "<p class=\"small\">{}</p>", words::closed(*way, *why));
        }
        return;
    }
    let rows: Vec<&FamilyRow> =
        pair.rendering.families.iter().filter(|row| row.family != Family::Neutral).collect();
    if !rows.is_empty() {
        let _ = writeln!(
            out,
            "<table>\n<thead><tr><th>colours</th><th>patches</th><th class=\"v\">{} against {}, stops</th><th>it renders \
             them</th></tr></thead>\n<tbody>",
            escape(labels[1]),
            escape(labels[0])
        );
        for row in rows {
            let told = matches!(row.rendered, Rendered::Lighter | Rendered::Darker);
            let names: Vec<&str> =
                row.patches.iter().filter_map(|patch| pair.names.get(*patch).map(String::as_str)).collect();
            let _ = writeln!(
                out,
                "<tr class=\"{}\"><td>{}</td><td>{}</td><td class=\"v d\">{}</td><td>{}</td></tr>",
                if told { "differs" } else { "same" },
                row.family.words(),
                escape(&names.join("; ")),
                aligned(&format::difference_parts(&row.difference.plain(), 2)),
                words::rendered(row.rendered)
            );
        }
        out.push_str("</tbody>\n</table>\n");
    }
    for (found, label) in [(&pair.reference, labels[0]), (&pair.candidate, labels[1])] {
        for doubt in words::doubts(found, &pair.names) {
            let _ = writeln!(out, "<p class=\"small\">{}: {}</p>", escape(label), escape(&doubt));
        }
    }
}

fn sensitivities(out: &mut String, bands: &BandsPair, labels: [&str; 2]) {
    let _ = writeln!(
        out,
        "<p class=\"small\">Share of a white's exposure that each film takes from a band of light, under {}, from the patches' \
         known reflectances; in brackets the widest that any sensitivity could have which explains the patches.</p>\n\
         <table>\n<thead><tr><th>light</th><th class=\"v\">{}</th><th class=\"v\">{}</th><th class=\"v\">difference, \
         stops</th></tr></thead>\n<tbody>",
        escape(&bands.light),
        escape(labels[0]),
        escape(labels[1])
    );
    let count = bands.against.len();
    let told = bands.told();
    let films = bands.reference.bands.iter().zip(&bands.candidate.bands);
    for (number, (reference, candidate)) in films.enumerate() {
        let share = |band: &twinwedge_core::greys::sensitivity::Band| {
            format!(
                "{} <span class=\"pm\">({} to {})</span>",
                aligned(&format::parts(&band.share, 2)),
                format::number(band.possible.0, 2),
                format::number(band.possible.1, 2)
            )
        };
        let against = match &bands.against[number] {
            Some(against) if told[number] => aligned(&format::difference_parts(&against.plain(), 2)),
            _ => "not told by these patches".to_owned(),
        };
        let surely = bands.against[number].as_ref().is_some_and(|one| told[number] && one.excludes_zero());
        let _ = writeln!(
            out,
            "<tr class=\"{}\"><td>{}, {}–{} nm</td><td class=\"v\">{}</td><td class=\"v\">{}</td><td class=\"v \
             d\">{against}</td></tr>",
            if surely { "differs" } else { "same" },
            band_words(number, count),
            format::number(reference.from, 0),
            format::number(reference.to, 0),
            share(reference),
            share(candidate)
        );
    }
    out.push_str("</tbody>\n</table>\n");
    let _ = writeln!(
        out,
        "<p class=\"small\">{} {}</p>",
        escape(&words::classes(labels[0], &bands.reference.classes)),
        escape(&words::classes(labels[1], &bands.candidate.classes))
    );
}

fn filters(out: &mut String, advice: &FilterAdvice, pair: Option<&GreysPair>, labels: [&str; 2]) {
    let _ = writeln!(
        out,
        "<p class=\"small\">Which filter brings {} nearest to {}, predicted from both sensitivities: the root of the mean \
         squared difference that is left, its errors included.</p>\n<table>\n<thead><tr><th>under</th><th>filter</th><th \
         class=\"v\">left, stops</th><th class=\"v\">factor, stops</th><th>stays different</th></tr></thead>\n<tbody>",
        escape(labels[1]),
        escape(labels[0])
    );
    for (number, light) in advice.lights.iter().enumerate() {
        let of_light: Vec<_> = advice.choices.iter().filter(|choice| choice.light == number).collect();
        let bare = of_light.iter().find(|choice| choice.filter.is_none());
        for choice in
            of_light.first().into_iter().chain(bare.filter(|bare| Some(bare) != of_light.first().as_ref()))
        {
            let filter = choice.filter.and_then(|filter| advice.filters.get(filter));
            let stays: Vec<&str> = choice
                .left
                .iter()
                .filter(|left| left.stays)
                .filter_map(|left| pair?.names.get(left.patch).map(String::as_str))
                .collect();
            let _ = writeln!(
                out,
                "<tr><td>{}</td><td>{}</td><td class=\"v\">{}</td><td class=\"v\">{}</td><td>{}</td></tr>",
                escape(light),
                filter.map_or_else(|| "no filter".to_owned(), |filter| words::numbered(*filter)),
                aligned(&format::parts(&choice.distance.plain(), 2)),
                choice
                    .factor
                    .as_ref()
                    .map_or_else(|| "–".to_owned(), |factor| format::number(factor.stops, 1)),
                if stays.is_empty() {
                    "nothing that is distinguishable".to_owned()
                } else {
                    escape(&stays.join("; "))
                }
            );
        }
    }
    out.push_str("</tbody>\n</table>\n");
}

fn lighting(out: &mut String, light: &Lighting) {
    let _ = writeln!(
        out,
        "<p class=\"small\">The light on both frames, by the neutral patches left and right:</p>\n<ul class=\"behind\">"
    );
    for told in &light.told {
        let _ = writeln!(out, "<li>{}</li>", escape(&words::told(told)));
    }
    for untold in &light.untold {
        let _ = writeln!(out, "<li>{}</li>", words::untold(*untold));
    }
    out.push_str("</ul>\n");
}
