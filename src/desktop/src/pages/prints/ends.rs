//! Blank and blocked areas over both prints, and how much of each print they are.

use egui::{Rect, Shape, Stroke, Ui};
use twinwedge_workbench::core::compare::format;
use twinwedge_workbench::core::document::Film;
use twinwedge_workbench::core::geometry::{Point, Transform};
use twinwedge_workbench::core::greys::ends::Cell;
use twinwedge_workbench::engine::Slot;
use twinwedge_workbench::engine::ask::{EndsOf, PrintEnds, RegistrationOf};

use super::panes::Sheet;
use crate::appearance::{over, widgets};
use crate::canvas::Placement;
use crate::pages::View;

/// Draws the areas of the print that lies on a sheet: blank ones hatched one way, blocked ones the other.
pub(super) fn draw(ui: &Ui, sheet: Sheet, placement: &Placement, view: &View<'_>) {
    let film = if sheet.second { view.candidate } else { view.reference.or(view.candidate) };
    let Some(film) = film else { return };
    let Slot::Ready(ends) = view.session.peek(&EndsOf { film: film.id.clone() }) else { return };
    let back = if sheet.second {
        match view.session.peek(&RegistrationOf { film: film.id.clone() }) {
            Slot::Ready(registration) => Some(registration.transform.inverse()),
            // As it was scanned, where it could not be laid on the reference's.
            Slot::Failed(_) => None,
            Slot::Stale(..) | Slot::Pending(_) => return,
        }
    } else {
        None
    };
    cells(ui, sheet.rect, placement, &ends, back.as_ref());
}

fn cells(ui: &Ui, rect: Rect, placement: &Placement, ends: &PrintEnds, back: Option<&Transform>) {
    let painter = ui.painter_at(rect);
    let side = ends.cell as f64;
    for run in &ends.runs {
        let (left, top) = (run.column as f64 * side, run.row as f64 * side);
        let (right, bottom) = (left + run.cells as f64 * side, top + side);
        let at = |x: f64, y: f64| {
            let point = Point::new(x, y);
            placement.screen(back.map_or(point, |back| back.map(point)))
        };
        let corners = vec![at(left, top), at(right, top), at(right, bottom), at(left, bottom)];
        if !corners.iter().any(|corner| rect.contains(*corner)) {
            continue;
        }
        painter.add(Shape::convex_polygon(corners.clone(), over::end(run.what == Cell::Blank), Stroke::NONE));
        // A slant in each cell tells the two apart where tones do not.
        for cell in 0..run.cells {
            let (a, b) = (left + cell as f64 * side, left + (cell + 1) as f64 * side);
            let slant = if run.what == Cell::Blank {
                [at(a, bottom), at(b, top)]
            } else {
                [at(a, top), at(b, bottom)]
            };
            painter.line_segment(slant, Stroke::new(1.0, over::slant(run.what == Cell::Blank)));
        }
    }
}

/// How much of each print is blank or blocked.
pub(super) fn readout(ui: &mut Ui, view: &View<'_>) {
    widgets::section(ui, "Blank and blocked");
    for film in view.bench().filter(|film| film.print.is_some()) {
        let slot = view.session.peek(&EndsOf { film: film.id.clone() });
        widgets::slot(ui, &slot, &format!("Looking for blank areas of {}", film.label), |ui, ends| {
            shares(ui, film, ends);
        });
    }
    widgets::footnote(
        ui,
        "Blank: as white as the paper within noise, slanting up. Blocked: as black as the paper gets, slanting down. The ends of \
         the paper are those of the paper test; the noise is told from the lightest and the darkest patch.",
    );
}

fn shares(ui: &mut Ui, film: &Film, ends: &PrintEnds) {
    let share = |share: f64| format!("{} %", format::number(100.0 * share, 1));
    if let Some(white) = &ends.white {
        let hover = format!(
            "Cells whose density is that of the paper's white, {}, within noise",
            format::number(white.density, 2)
        );
        widgets::value_row(ui, &format!("{}, blank", film.label), &share(ends.blank), &hover);
    }
    if let Some(black) = &ends.black {
        let hover = format!(
            "Cells whose density is that of the deepest black, {}, within noise",
            format::number(black.density, 2)
        );
        widgets::value_row(ui, &format!("{}, blocked", film.label), &share(ends.blocked), &hover);
    }
}
