//! Grain by frequency, and as an eye sees it in a print.

use std::fmt::Write;

use twinwedge_core::compare::{Kind, format};
use twinwedge_core::drawing::{Role, SpectrumOf, autocorrelation_plot, spectrum_plot};
use twinwedge_core::grain::spectrum::Spectrum;
use twinwedge_core::grain::viewer::{Seen, Viewed};
use twinwedge_core::measured::{Measured, Value};
use twinwedge_core::units::Micrometres;
use twinwedge_core::words;

use super::findings::saying;
use super::{Footnotes, cell};
use crate::export::gather::{CandidatePart, FilmPart, Gathered};
use crate::export::markup::escape;
use crate::export::svg::inline;

/// Width of the plots, millimetres.
const WIDE: f64 = 178.0;
const NARROW: f64 = 120.0;

pub(super) fn spectrum(out: &mut String, gathered: &Gathered, candidate: &CandidatePart) {
    let parts = [(&gathered.reference, Role::Reference), (&candidate.part, Role::Candidate)];
    if parts.iter().all(|(part, _)| part.spectrum.is_none()) {
        return;
    }
    out.push_str("<h3>Grain by frequency, and as it is seen</h3>\n");
    for (part, _) in parts {
        if let Some(Err(problem)) = &part.spectrum {
            let label = escape(&part.film.label);
            let _ = writeln!(
                out,
                "<p class=\"small\">{label} has no noise power spectrum. {}</p>",
                escape(&problem.to_string())
            );
        }
    }
    let films: Vec<SpectrumOf<'_>> = parts.into_iter().filter_map(|(part, role)| drawn(part, role)).collect();
    if films.is_empty() {
        return;
    }
    let _ = write!(
        out,
        "<figure>\n{}\n<figcaption>Noise power spectrum, mean over directions: density squared times square micrometres. Hann \
         window, blocks half overlapped. Bands: 95 % interval ring by ring. Marks at zero: extrapolated from low frequencies; \
         the square of the granularity through a large aperture times its area tends to it. Pixel and scanner are in it.\
         </figcaption>\n</figure>\n<figure>\n{}\n<figcaption>Autocorrelation: how far fluctuations of density hang together. Bands: \
         95 % interval.</figcaption>\n</figure>\n",
        inline(
            &saying(&spectrum_plot(&films, &gathered.series.viewing), candidate, &[Kind::GrainViewed]),
            WIDE
        ),
        inline(&autocorrelation_plot(&films), NARROW)
    );
    table(out, &films, candidate.viewed.as_deref().ok());
    match &candidate.viewed {
        Ok(viewed) => said(out, viewed),
        Err(problem) => {
            let _ = writeln!(
                out,
                "<p class=\"small\">What an eye sees of it was not estimated. {}</p>",
                escape(&problem.to_string())
            );
        }
    }
    for film in &films {
        let notes = words::joined(&film.spectrum.notes);
        if !notes.is_empty() {
            let _ = writeln!(out, "<p class=\"small\">{}: {}</p>", escape(film.label), escape(&notes));
        }
    }
}

fn drawn(part: &FilmPart, role: Role) -> Option<SpectrumOf<'_>> {
    let Some(Ok(spectrum)) = &part.spectrum else { return None };
    Some(SpectrumOf { role, label: &part.film.label, spectrum })
}

/// One row for each number, a column for each film.
fn table(out: &mut String, films: &[SpectrumOf<'_>], viewed: Option<&Viewed>) {
    let mut notes = Footnotes::default();
    out.push_str("<table>\n<thead><tr><th>Grain</th>");
    for film in films {
        let class = if film.role == Role::Candidate { " class=\"candidate v\"" } else { " class=\"v\"" };
        let _ = write!(out, "<th{class}>{}</th>", escape(film.label));
    }
    out.push_str("</tr></thead>\n<tbody>\n");
    let mut row = |name: &str, decimals: usize, value: &dyn Fn(&Spectrum) -> Value| {
        let _ = write!(out, "<tr><td>{}</td>", escape(name));
        for film in films {
            let _ = write!(out, "<td class=\"v\">{}</td>", cell(&value(film.spectrum), decimals, &mut notes));
        }
        out.push_str("</tr>\n");
    };
    let known = |measured: Measured| Value::Known(measured);
    row("NPS at zero, D² µm²", 3, &|found| known(found.zero));
    row("Granularity by the spectrum, 48 µm", 1, &|found| known(found.rms_through(Micrometres(48.0))));
    row("Correlation length, µm", 1, &|found| found.autocorrelation.length.clone());
    row("Mean density", 2, &|found| known(found.mean_density.plain()));
    let seen = |role: Role| match role {
        Role::Candidate => viewed?.candidate.clone(),
        _ => Some(viewed?.reference.clone()),
    };
    let mut of_print = |name: &str, decimals: usize, value: &dyn Fn(&Seen) -> Value| {
        let _ = write!(out, "<tr><td>{}</td>", escape(name));
        for film in films {
            let missing = || Value::Undefined("What an eye sees of it was not estimated.".into());
            let found = seen(film.role).map_or_else(missing, |seen| value(&seen));
            let _ = write!(out, "<td class=\"v\">{}</td>", cell(&found, decimals, &mut notes));
        }
        out.push_str("</tr>\n");
    };
    of_print("Visible granularity (Barten)", 1, &|seen| known(seen.visible));
    of_print("Visible granularity (Mannos and Sakrison)", 1, &|seen| known(seen.second));
    of_print("Modulation over threshold", 2, &|seen| known(seen.modulation));
    of_print("Grain is seen from an enlargement of, ×", 1, &|seen| seen.from.clone());
    out.push_str("</tbody>\n</table>\n");
    notes.write(out);
}

fn said(out: &mut String, viewed: &Viewed) {
    let viewing = &viewed.viewing;
    let _ = writeln!(
        out,
        "<p>In a print of {} × from {} cm, of density {}.{}</p>",
        format::number(viewing.enlargement, 1).trim_end_matches(".0"),
        format::number(viewing.distance_mm / 10.0, 0),
        format::number(viewing.print_density, 2),
        match &viewed.difference {
            Some(Value::Known(from)) => format!(
                " The difference between the two is seen from <b>{} ×</b> on.",
                escape(&format::measured(from, 1))
            ),
            Some(Value::Undefined(why)) => format!(" {}", escape(&why.to_string())),
            None => String::new(),
        }
    );
    let notes = [Some(&viewed.reference), viewed.candidate.as_ref()];
    for seen in notes.into_iter().flatten().filter(|seen| !seen.notes.is_empty()) {
        let _ = writeln!(
            out,
            "<p class=\"small\">{}: {}</p>",
            escape(&seen.label),
            escape(&words::joined(&seen.notes))
        );
    }
    let _ = writeln!(out, "<p class=\"small\">Supposed: {}</p>", escape(&words::joined(&viewed.assumptions)));
}
