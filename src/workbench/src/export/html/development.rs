//! The development of a candidate, and what a predicted comparison rests on.

use std::fmt::Write;

use twinwedge_core::compare::format;
use twinwedge_core::development::family::{self, Development};
use twinwedge_core::drawing::{Role, development_plots};
use twinwedge_core::shown::capital;

use super::{Footnotes, cell};
use crate::export::development::{basis, coefficient, said, time};
use crate::export::gather::CandidatePart;
use crate::export::markup::escape;
use crate::export::svg::inline;

/// Width of the plot, millimetres.
const WIDTH: f64 = 120.0;

/// Says above everything else that the curves are predicted.
pub(super) fn predicted(out: &mut String, candidate: &CandidatePart) {
    let Ok(curve) = &candidate.part.curve else { return };
    let Some(prediction) = &curve.prediction else { return };
    let _ = writeln!(
        out,
        "<p class=\"caution\"><b>Predicted, not measured.</b> Curve and figures of the candidate are those of {} See the <a \
         href=\"#cautions\">cautions</a>.</p>",
        escape(&prediction.sentence)
    );
}

/// Gradient over time, the time for the wanted gradient, temperatures and rolls.
pub(super) fn development(out: &mut String, candidate: &CandidatePart) {
    let Ok(development) = &candidate.part.development else { return };
    let name = family::name(development.follow);
    out.push_str("<h3>Development</h3>\n");
    out.push_str(
        "<p class=\"small\">A starting point for a test: see the <a href=\"#cautions\">cautions</a>.</p>\n",
    );
    let _ = writeln!(
        out,
        "<p>Wanted {name}: {} ({}). Time at {} °C: <b>{}</b>. {}.</p>",
        escape(&said(&development.wanted, 2, "")),
        escape(&development.wanted_from),
        format::number(development.celsius, 1),
        escape(&time(&development.time)),
        escape(&capital(&coefficient(development)))
    );
    law(out, development);
    if !development.band.is_empty() {
        let plots = development_plots(development, Role::Candidate);
        let _ = write!(
            out,
            "<figure>\n{}\n<figcaption>{} over development time. Band: 95 % interval of the law; dotted beyond the tested \
             times. Upright bars: 95 % intervals of the rolls.</figcaption>\n</figure>\n",
            inline(&plots.gradient, WIDTH),
            capital(name)
        );
    }
    rolls(out, development);
    times(out, development);
    for note in &development.notes {
        let _ = writeln!(out, "<p class=\"small\">{}</p>", escape(&note.to_string()));
    }
}

fn law(out: &mut String, development: &Development) {
    let _ = match &development.law {
        Ok(found) => writeln!(
            out,
            "<p>Law of development (Sheppard and Mees, 1907), {}: limit gradient {}, rate {}.</p>",
            basis(found),
            escape(&said(&found.limit, 2, "")),
            escape(&said(&twinwedge_core::measured::Value::Known(found.rate), 3, "/min"))
        ),
        Err(reason) => writeln!(out, "<p>{}</p>", escape(&reason.to_string())),
    };
}

fn rolls(out: &mut String, development: &Development) {
    let mut notes = Footnotes::default();
    let _ = write!(
        out,
        "<table>\n<thead><tr><th>Roll</th><th>Time</th><th>Temperature</th><th>{}</th><th>Speed point, log H</th>\
         <th>Base+fog</th></tr></thead>\n<tbody>\n",
        capital(family::name(development.follow))
    );
    for roll in &development.rolls {
        let plain = |value: Option<f64>, decimals, unit: &str| {
            value.map_or("–".to_owned(), |value| format!("{}{unit}", format::number(value, decimals)))
        };
        let left = roll.left_out.as_ref().map(|reason| notes.mark(&format!("Left out: {reason}")));
        let _ = writeln!(
            out,
            "<tr><td>{}{}</td><td>{}</td><td>{}</td><td>{}</td><td>{}</td><td>{}</td></tr>",
            escape(&roll.label),
            left.unwrap_or_default(),
            plain(roll.minutes, 2, " min"),
            plain(roll.celsius, 1, " °C"),
            cell(&roll.gradient, 2, &mut notes),
            cell(&roll.speed_point, 2, &mut notes),
            cell(&roll.base_fog, 2, &mut notes)
        );
    }
    out.push_str("</tbody>\n</table>\n");
    notes.write(out);
}

fn times(out: &mut String, development: &Development) {
    if development.table.iter().all(|at| at.minutes.known().is_none()) {
        return;
    }
    out.push_str("<table>\n<thead><tr><th>Temperature</th><th>Time for the wanted gradient</th></tr></thead>\n<tbody>\n");
    for at in &development.table {
        let celsius = format::number(at.celsius, 0);
        let _ = writeln!(out, "<tr><td>{celsius} °C</td><td>{}</td></tr>", escape(&time(at)));
    }
    out.push_str("</tbody>\n</table>\n");
}
