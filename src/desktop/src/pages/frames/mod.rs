//! Frames: the brackets of both films, the shadow match, and the print exposure that follows from base+fog.

mod bracket;
mod drawing;

use egui::Ui;

use twinwedge_workbench::core::bracket::{ShadowTarget, reference_shadow};
use twinwedge_workbench::core::compare::{Comparison, Row, format};
use twinwedge_workbench::core::drawing::Role;
use twinwedge_workbench::core::figures::FigureId;
use twinwedge_workbench::core::measured::Value;
use twinwedge_workbench::core::units::Density;
use twinwedge_workbench::engine::ask::ComparisonOf;

use super::{Page, PageId, View};
use crate::appearance::comparison::{self, Line};
use crate::appearance::{STEP, widgets};
use crate::outbox::{Command, Outbox};
use crate::plot;

/// What the page keeps.
#[derive(Debug, Default)]
pub struct Frames {
    /// Text being pasted, for the reference and for the candidate.
    pasting: [Option<String>; 2],
}

/// The shadow density that brackets are matched to.
fn target(view: &View<'_>) -> Result<ShadowTarget, String> {
    let reference = view.reference.ok_or("The series has no reference film.")?;
    reference_shadow(reference.bracket.as_ref(), reference.box_speed, view.series.settings.reading_u)
}

impl Page for Frames {
    fn ui(&mut self, ui: &mut Ui, view: &View<'_>, outbox: &mut Outbox) {
        widgets::title(
            ui,
            "Frames",
            "Shown today: the exposure index at which the candidate's shadow is as dense as the reference's at its box \
             speed, and the print exposure that follows from base+fog. The frames themselves are not looked at.",
        );
        if view.reference.is_none() {
            let why = "Brackets are matched to the reference's shadow.";
            if widgets::empty(ui, "No reference film", why, "Go to Films") {
                outbox.send(Command::Page(PageId::Films));
            }
            return;
        }
        let room = ui.available_height();
        let plot_height = (room * 0.5).clamp(180.0, 560.0);
        let target = target(view);
        let drawing = drawing::plot(view, target.as_ref().ok());
        let look = plot::Look::new(ui.scope_id().with("bracket"), plot_height);
        plot::show(ui, &drawing, &look);
        if let Err(reason) = &target {
            widgets::footnote(ui, reason);
        }
        ui.add_space(STEP);
        let films = [(Role::Reference, view.reference), (Role::Candidate, view.candidate)];
        ui.columns_const(|columns: &mut [Ui; 2]| {
            for ((ui, (role, film)), pasting) in columns.iter_mut().zip(films).zip(&mut self.pasting) {
                match film {
                    Some(film) => bracket::show(ui, film, role, pasting, outbox),
                    None => {
                        widgets::muted(ui, "No candidate lies on the bench.");
                    }
                }
            }
        });
    }

    fn readout(&mut self, ui: &mut Ui, view: &View<'_>, _: &mut Outbox) {
        comparison::films(
            ui,
            view.reference.map(|film| film.label.as_str()),
            view.candidate.map(|film| film.label.as_str()),
        );
        let Some(candidate) = view.candidate else { return };
        let slot = view.session.peek(&ComparisonOf { film: candidate.id.clone() });
        widgets::slot(ui, &slot, &format!("Comparing {}", candidate.label), |ui, comparison| {
            matched(ui, comparison, view);
            print_exposure(ui, comparison);
        });
    }
}

fn row(comparison: &Comparison, id: FigureId) -> Option<&Row> {
    comparison.rows.iter().find(|row| row.figure == id)
}

fn matched(ui: &mut Ui, comparison: &Comparison, view: &View<'_>) {
    widgets::section(ui, "Matched shadow");
    if let Ok(target) = target(view) {
        let hover = "Shadow density of the reference's frame that was metered at its box speed";
        widgets::value_row(ui, "Reference's shadow density", &format::number(target.density, 2), hover);
    }
    if let Some(row) = row(comparison, FigureId::ShadowMatchIndex) {
        comparison::head(ui);
        let lines = [Line::of(row)];
        comparison::line(ui, &lines[0]);
        if let Some(Value::Known(known)) = Some(&row.difference) {
            let thirds = format::thirds(known.value);
            let way = if known.value < 0.0 { "less" } else { "more" };
            let text = if thirds == "0" {
                "the same, to a third".to_owned()
            } else {
                format!("{thirds} stops {way}")
            };
            widgets::value_row(
                ui,
                "Speed in use against the reference",
                &text,
                "To the nearest third of a stop",
            );
        }
        comparison::footnotes(ui, &lines);
    }
}

/// The candidate's print exposure over the reference's: the paper sees both base+fogs alike when the exposure makes up
/// for their difference, `10^dD` (ISO 5-1:2009, density is -lg of transmittance).
fn print_exposure(ui: &mut Ui, comparison: &Comparison) {
    let Some(row) = row(comparison, FigureId::BaseFog) else { return };
    widgets::section(ui, "Print exposure");
    comparison::head(ui);
    let lines = [Line::of(row)];
    comparison::line(ui, &lines[0]);
    match &row.difference {
        Value::Known(known) => {
            let factor = |density: f64| Density(-density).light();
            let text = format!(
                "× {} ({} to {})",
                format::number(factor(known.value), 2),
                format::number(factor(known.low), 2),
                format::number(factor(known.high), 2)
            );
            let hover = "10 to the power of the difference in base+fog: multiply the reference's print exposure by it. In \
                         brackets: its 95 % interval";
            widgets::value_row(ui, "Candidate's exposure", &text, hover);
        }
        Value::Undefined(_) => {
            widgets::value_row(ui, "Candidate's exposure", "–", "Follows from the difference in base+fog");
        }
    }
    comparison::footnotes(ui, &lines);
}
