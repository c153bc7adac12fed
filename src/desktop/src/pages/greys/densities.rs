//! Print densities of the patches, each against the grey card of its own print: not corrected for contrast.

use egui::{Color32, Rect, Stroke, StrokeKind, Ui, pos2};

use twinwedge_workbench::core::compare::{Comparison, GREYS_CAUTION, PatchRow, format};
use twinwedge_workbench::core::document::{PatchLayout, PatchRole};
use twinwedge_workbench::core::drawing::Role;
use twinwedge_workbench::core::measured::{Measured, Value};
use twinwedge_workbench::edits::role_words;
use twinwedge_workbench::engine::ask::ComparisonOf;

use crate::appearance::comparison::{self, Line};
use crate::appearance::table::{self, Column, NumberCell, Table};
use crate::appearance::{Tokens, widgets};
use crate::origin::On;
use crate::outbox::{Command, Outbox};
use crate::pages::{Selected, View};

/// One patch, against the grey card of each print.
struct Patch<'a> {
    row: &'a PatchRow,
    reference: Value,
    candidate: Value,
    distinguishable: Option<bool>,
    /// Its density on the target itself, where that is known, and the same less the grey card's.
    known: Option<(f64, Option<f64>)>,
}

fn patches<'a>(comparison: &'a Comparison, layout: Option<&PatchLayout>) -> Vec<Patch<'a>> {
    let known = |index: usize| layout?.patches.get(index)?.density;
    let of_card = || layout?.patches.iter().find(|patch| patch.role == PatchRole::GreyCard)?.density;
    let card = comparison.patches.iter().find(|row| row.role == Some(PatchRole::GreyCard));
    let against = |value: &Value, card: Option<&Value>| match (value, card) {
        (Value::Known(value), Some(Value::Known(card))) => Value::Known(value.minus(card)),
        (Value::Undefined(reason), _) | (_, Some(Value::Undefined(reason))) => {
            Value::Undefined(reason.clone())
        }
        (_, None) => Value::Undefined("The patch grid has no grey card.".into()),
    };
    comparison
        .patches
        .iter()
        .enumerate()
        .map(|(index, row)| Patch {
            known: known(index).map(|density| (density, of_card().map(|card| density - card))),
            row,
            reference: against(&row.reference, card.map(|card| &card.reference)),
            candidate: against(&row.candidate, card.map(|card| &card.candidate)),
            distinguishable: row.against_grey.known().map(Measured::excludes_zero),
        })
        .collect()
}

/// The largest distance from the grey card that a bar must show.
fn reach(patches: &[Patch<'_>]) -> f64 {
    let numbers = patches.iter().flat_map(|patch| [&patch.reference, &patch.candidate]);
    numbers.filter_map(Value::known).map(|known| known.value.abs()).fold(0.1, f64::max)
}

/// The part: both prints' densities against their cards.
pub(super) fn ui(ui: &mut Ui, view: &View<'_>, outbox: &mut Outbox) {
    let Some(candidate) = view.candidate else { return };
    let slot = view.session.peek(&ComparisonOf { film: candidate.id.clone() });
    widgets::slot(ui, &slot, &format!("Comparing {}", candidate.label), |ui, comparison| {
        show(ui, comparison, view, outbox);
    });
}

/// The patch that is selected, in both prints.
pub(super) fn readout_of(ui: &mut Ui, view: &View<'_>) {
    let Some(candidate) = view.candidate else { return };
    let slot = view.session.peek(&ComparisonOf { film: candidate.id.clone() });
    let Some(comparison) = slot.value() else { return };
    let patches = patches(comparison, view.series.layout.as_ref());
    let Selected::Patch(index) = view.selected else {
        widgets::muted(ui, "Press a patch to read it here.");
        return;
    };
    if let Some(patch) = patches.get(index) {
        readout(ui, patch);
    }
}

fn show(ui: &mut Ui, comparison: &Comparison, view: &View<'_>, outbox: &mut Outbox) {
    let patches = patches(comparison, view.series.layout.as_ref());
    let reach = reach(&patches);
    // Targets whose densities are known have a column more.
    let any_known = patches.iter().any(|patch| patch.known.is_some());
    // All of it has room beside each other in the smallest window.
    let (name, number) = if any_known { (116.0, 126.0) } else { (140.0, 148.0) };
    let mut columns = vec![
        Column::text("Patch", name).hover("As named in the patch grid"),
        Column::measured("Reference", number)
            .hover("Print density minus that of the grey card in the reference's print"),
        Column::measured("Candidate", number)
            .hover("Print density minus that of the grey card in the candidate's print"),
        Column::measured("Difference", number)
            .hover("Candidate minus reference, not corrected for contrast: it does not tell how a film renders colours"),
        Column::text("Thinner than the card  |  denser", 186.0)
            .growing(1.0)
            .hover("Filled bar: reference. Open bar: candidate. Both from the grey card at the middle line"),
    ];
    if any_known {
        let target = Column::measured("Target", 64.0)
            .hover("Known density of the patch on the target itself minus that of its grey card; no print keeps it as it is");
        columns.insert(4, target);
    }
    let bars_at = columns.len() - 1;
    let selected = match view.selected {
        Selected::Patch(index) => Some(index),
        _ => None,
    };
    let table = Table { selected, press: true, ..Table::new("patches", &columns, patches.len()) };
    let pressed = table.show(
        ui,
        |row| patches[row].row.name.clone(),
        |ui, row, column| {
            let patch = &patches[row];
            let name = &patch.row.name;
            match column {
                0 => {
                    table::text_cell(ui, name);
                }
                1 => {
                    let name = format!("{name} in the reference's print");
                    table::number_cell(ui, &NumberCell::difference(name, &patch.reference, 2, Some(true)));
                }
                2 => {
                    let name = format!("{name} in the candidate's print");
                    table::number_cell(ui, &NumberCell::difference(name, &patch.candidate, 2, Some(true)));
                }
                3 => {
                    let name = format!("Difference of {name}");
                    let value = &patch.row.against_grey;
                    table::number_cell(ui, &NumberCell::difference(name, value, 2, patch.distinguishable));
                }
                column if column == bars_at => bars(ui, patch, reach),
                _ => known_cell(ui, patch),
            }
        },
    );
    if let Some(row) = pressed.row {
        outbox.send(Command::Select(Selected::Patch(row)));
    }
}

/// The patch on the target itself, against its grey card.
fn known_cell(ui: &mut Ui, patch: &Patch<'_>) {
    let (text, hover) = match patch.known {
        Some((density, Some(against))) => {
            (format::signed(against, 2), format!("A density of {} on the target", format::number(density, 2)))
        }
        Some((density, None)) => (
            format::number(density, 2),
            "Its density on the target; that of the grey card is not known".to_owned(),
        ),
        None => ("–".to_owned(), "Its density on the target is not known".to_owned()),
    };
    let name = format!("{} on the target", patch.row.name);
    let grey = patch.known.is_none();
    table::number_cell(
        ui,
        &NumberCell {
            name: name.into(),
            text: text.into(),
            hover: hover.into(),
            grey,
            ..NumberCell::plain("", "", 2)
        },
    );
}

/// Both films' bars from the middle line: thinner to the left, denser to the right.
fn bars(ui: &Ui, patch: &Patch<'_>, reach: f64) {
    let tokens = Tokens::get(ui);
    let place = ui.max_rect().shrink2(egui::vec2(0.0, 4.0));
    let middle = place.center().x;
    #[expect(clippy::cast_possible_truncation, reason = "a length on the screen")]
    let length =
        |value: &Value| value.known().map(|known| (known.value / reach) as f32 * (place.width() / 2.0 - 4.0));
    let half = place.height() / 2.0 - 1.0;
    if let Some(length) = length(&patch.reference) {
        let bar = Rect::from_two_pos(pos2(middle, place.top()), pos2(middle + length, place.top() + half));
        ui.painter().rect_filled(bar, 0.0, tokens.role(Role::Reference));
    }
    if let Some(length) = length(&patch.candidate) {
        let bar =
            Rect::from_two_pos(pos2(middle, place.bottom() - half), pos2(middle + length, place.bottom()));
        let stroke = Stroke::new(1.5, tokens.role(Role::Candidate));
        ui.painter().rect(bar, 0.0, Color32::TRANSPARENT, stroke, StrokeKind::Inside);
    }
    let whole = ui.max_rect();
    ui.painter().vline(middle, whole.y_range(), Stroke::new(1.0, tokens.edge));
}

fn readout(ui: &mut Ui, patch: &Patch<'_>) {
    widgets::section(ui, &patch.row.name);
    comparison::head(ui);
    let line = |label: &'static str, about: &str| Line {
        label: label.into(),
        unit: "",
        about: about.to_owned(),
        reference: None,
        candidate: None,
        difference: None,
        difference_unit: "",
        distinguishable: None,
        decimals: 2,
        on: On::Patches,
    };
    let lines = [
        Line {
            reference: Some(&patch.reference),
            candidate: Some(&patch.candidate),
            difference: Some(&patch.row.against_grey),
            distinguishable: patch.distinguishable,
            ..line(
                "Against the card, not corrected for contrast",
                "Print density minus that of the grey card in the same print.",
            )
        },
        Line {
            reference: Some(&patch.row.reference),
            candidate: Some(&patch.row.candidate),
            difference: Some(&patch.row.difference),
            distinguishable: patch.row.distinguishable,
            ..line("Print density", "Mean over the patch's inner area, averaged as light.")
        },
    ];
    for line in &lines {
        comparison::line(ui, line);
    }
    comparison::footnotes(ui, &lines);
    if let Some((density, _)) = patch.known {
        widgets::value_row(
            ui,
            "On the target",
            &format::number(density, 2),
            "Known density of the patch on the target itself, as the layout has it",
        );
    }
    widgets::footnote(ui, &format!("{GREYS_CAUTION} Paper and enlarger are part of them. {}", role(patch)));
}

fn role(patch: &Patch<'_>) -> String {
    patch.row.role.map_or_else(String::new, |role| format!("This patch is a {}.", role_words(role)))
}

#[cfg(test)]
mod tests {
    use super::*;
    use twinwedge_workbench::core::document::{Gaps, PatchName};

    fn row(name: &str, role: PatchRole, reference: f64, candidate: f64) -> PatchRow {
        let known = |value: f64| Value::Known(Measured::normal(value, 0.01));
        PatchRow {
            name: name.to_owned(),
            role: Some(role),
            reference: known(reference),
            candidate: known(candidate),
            difference: known(candidate - reference),
            against_grey: known(0.2),
            distinguishable: Some(true),
        }
    }

    /// By definition: the grey card against itself is zero, other patches are what they are above it.
    #[test]
    fn patches_are_taken_against_their_own_card() {
        let comparison = Comparison {
            reference: "Tern 160".to_owned(),
            candidate: "Plover 640".to_owned(),
            rows: Vec::new(),
            speeds: Vec::new(),
            opposed: Vec::new(),
            patches: vec![
                row("card", PatchRole::GreyCard, 0.7, 0.8),
                row("red", PatchRole::Colour, 0.9, 1.2),
            ],
            spots: Vec::new(),
            findings: Vec::new(),
        };
        let patch = |name: &str, role, density| PatchName { density, ..PatchName::new(name, role) };
        let layout = PatchLayout {
            rows: 1,
            columns: 2,
            patches: vec![
                patch("card", PatchRole::GreyCard, Some(0.74)),
                patch("red", PatchRole::Colour, Some(1.04)),
            ],
            gaps: Gaps::default(),
            fixed: false,
        };
        let patches = patches(&comparison, Some(&layout));
        let (density, against) = patches[1].known.unwrap();
        assert_eq!((density, format::number(against.unwrap(), 6)), (1.04, "0.300000".to_owned()));
        let number = |value: &Value| format::number(value.known().unwrap().value, 6);
        assert_eq!(number(&patches[0].reference), "0.000000");
        assert_eq!(number(&patches[1].reference), "0.200000");
        assert_eq!(number(&patches[1].candidate), "0.400000");
    }
}
