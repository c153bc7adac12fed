//! How the candidate's print was laid on the reference's, and how far that may be relied on.

use std::fmt::Write;

use twinwedge_core::compare::format;
use twinwedge_core::register::Registration;

use crate::export::gather::CandidatePart;
use crate::export::markup::escape;

/// A table of the registration, and in sentences what speaks against it. Nothing where one of the two has no print.
pub(super) fn registration(out: &mut String, candidate: &CandidatePart) {
    let Some(found) = &candidate.registration else { return };
    out.push_str("<h3>Registration of the prints</h3>\n");
    match found {
        Ok(found) => table(out, found),
        Err(problem) => {
            let _ = writeln!(
                out,
                "<p class=\"caution\">The candidate's print is not laid on the reference's: its patches and spots are not \
                 compared. {} {}</p>",
                escape(&problem.cause.to_string()),
                escape(&problem.remedy.to_string())
            );
        }
    }
}

fn table(out: &mut String, found: &Registration) {
    out.push_str("<table class=\"registration\">\n<tbody>\n");
    for (name, text) in rows(found) {
        let _ = writeln!(out, "<tr><td>{name}</td><td>{}</td></tr>", escape(&text));
    }
    out.push_str("</tbody>\n</table>\n");
    if found.doubts.is_empty() {
        let words = if found.by_hand {
            "Both prints were laid on each other by two pairs of points; nothing was compared between them."
        } else {
            "Nothing speaks against it."
        };
        let _ = writeln!(out, "<p class=\"small\">{words} Pixels are those of the candidate's scan.</p>");
        return;
    }
    out.push_str("<ul class=\"problems\">\n");
    for doubt in &found.doubts {
        let _ = writeln!(out, "<li>{}</li>", escape(&doubt.to_string()));
    }
    out.push_str("</ul>\n<p class=\"small\">Pixels are those of the candidate's scan.</p>\n");
}

fn rows(found: &Registration) -> Vec<(&'static str, String)> {
    let middle = found.middle();
    let model = format!("{}, {}", found.transform.model().word(), chosen(found));
    let turn = format!(
        "{}° and {} times",
        format::signed(found.transform.angle_at(middle).to_degrees(), 2),
        format::number(found.transform.scale_at(middle), 4)
    );
    let sure = format!(
        "± {} px amid the windows, ± {} px at its worst place (standard uncertainties of a mapped point)",
        format::number(found.u_px, 3),
        format::number(found.u_worst_px, 3)
    );
    let mut rows = vec![("Model", model), ("Turn and size", turn), ("Sure to", sure)];
    if found.by_hand {
        return rows;
    }
    let agree = found.windows.iter().filter(|window| window.agrees).count();
    rows.extend([
        (
            "Residual",
            format!("{} px between {agree} windows that agree", format::number(found.residual_px, 3)),
        ),
        ("Windows", format!("{agree} of {} agree", found.windows.len())),
        (
            "Alike",
            format!(
                "correlation of the windows {}, rank correlation of the whole {}",
                format::number(found.correlation, 3),
                format::number(found.likeness, 3)
            ),
        ),
        ("Overlap", format!("{} % of the smaller print", format::number(100.0 * found.overlap, 0))),
    ]);
    rows
}

fn chosen(found: &Registration) -> String {
    if found.by_hand {
        return "from two pairs of points set by hand".to_owned();
    }
    if found.model_given {
        return "chosen by the tester".to_owned();
    }
    let tried = found.tried.iter().filter(|tried| tried.model > found.transform.model());
    let words = tried.map(|tried| {
        let less = format::number(100.0 * (1.0 - tried.ratio), 0);
        format!("the {} would leave {less} % less, no more than chance does", tried.model.word())
    });
    let words: Vec<String> = words.collect();
    if words.is_empty() {
        "chosen by the windows".to_owned()
    } else {
        format!("chosen by the windows: {}", words.join(", "))
    }
}
