//! Fields of a record: a word at the left, the value at the right, its unit behind it.

use egui::{Id, Ui, vec2};

use crate::appearance::{CONTROL, Tokens, widgets};

/// Width of the words at the left.
const WORDS: f32 = 108.0;

/// One field of text. Answers the new text when it was entered.
pub(super) fn text(
    ui: &mut Ui,
    key: impl std::hash::Hash,
    name: &str,
    value: &str,
    hover: &str,
) -> Option<String> {
    row(
        ui,
        name,
        hover,
        |ui, id| {
            let width = ui.available_width() - 16.0;
            widgets::text_field(ui, id, name, value, hover, width)
        },
        key,
    )
}

/// One number with its unit; empty is none. Answers the new number when it was entered.
pub(super) fn number(
    ui: &mut Ui,
    key: impl std::hash::Hash,
    name: &str,
    value: Option<f64>,
    unit: &str,
    hover: &str,
) -> Option<Option<f64>> {
    row(
        ui,
        name,
        hover,
        |ui, id| {
            let entered = widgets::number_field(ui, id, name, value, hover, 72.0);
            let color = Tokens::get(ui).muted;
            ui.label(egui::RichText::new(unit).color(color));
            entered
        },
        key,
    )
}

fn row<R>(
    ui: &mut Ui,
    name: &str,
    hover: &str,
    field: impl FnOnce(&mut Ui, Id) -> R,
    key: impl std::hash::Hash,
) -> R {
    let id = ui.scope_id().with((name, egui::util::hash(key)));
    ui.horizontal(|ui| {
        let color = Tokens::get(ui).muted;
        ui.allocate_ui_with_layout(
            vec2(WORDS, CONTROL),
            egui::Layout::left_to_right(egui::Align::Center),
            |ui| {
                ui.set_min_width(WORDS);
                ui.add(egui::Label::new(egui::RichText::new(name).color(color)).truncate())
                    .on_hover_text(hover);
            },
        );
        field(ui, id)
    })
    .inner
}
