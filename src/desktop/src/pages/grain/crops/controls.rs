//! What can be chosen about the crops.

use egui::{ComboBox, Role, Ui, WidgetInfo};
use twinwedge_workbench::core::document::Viewing;
use twinwedge_workbench::edits::ViewingEdit;

use super::{Arrangement, Crops, Source, piece, true_size};
use crate::actions::Action;
use crate::appearance::widgets;
use crate::outbox::Outbox;
use crate::pages::View;

const SOURCES: [(Source, &str, &str); 2] = [
    (Source::Negatives, "negatives", "The film itself, around the uniform area that is measured"),
    (Source::Prints, "prints", "The prints laid on each other: paper and enlarger are in them"),
];

const ARRANGEMENTS: [(Arrangement, &str, &str); 3] = [
    (Arrangement::Beside, "side by side", "Reference at the left, candidate at the right"),
    (
        Arrangement::InPlace,
        "in place",
        "One large crop; the films come to the same place one after the other (keys: next candidate, next arrangement)",
    ),
    (Arrangement::AllFilms, "all films", "A contact sheet of the same crop from every film of the series"),
];

const CONTRASTS: [(i16, &str, &str); 3] = [
    (0, "as it is", "Densities as they are"),
    (
        100,
        "doubled",
        "Differences of density are shown twice as large, so that grain can be seen on a screen",
    ),
    (300, "fourfold", "Differences of density are shown four times as large"),
];

/// The enlargements that are offered, linear.
const ENLARGEMENTS: [f64; 7] = [3.0, 5.0, 8.0, 10.0, 12.0, 15.0, 20.0];
/// Distances offered, millimetres.
const DISTANCES: [f64; 6] = [200.0, 250.0, 400.0, 600.0, 1000.0, 2000.0];

impl Crops {
    pub(super) fn controls(&mut self, ui: &mut Ui, view: &View<'_>, outbox: &mut Outbox) {
        ui.horizontal_wrapped(|ui| {
            widgets::choice(ui, "From", &mut self.source, &SOURCES);
            ui.add_space(8.0);
            widgets::choice(ui, "Lay out", &mut self.arrangement, &ARRANGEMENTS);
            if self.arrangement == Arrangement::InPlace {
                widgets::switch(ui, &mut self.swapped, "Reference", &view.keys.hover(Action::SwapInPlace));
            }
        });
        ui.horizontal_wrapped(|ui| {
            widgets::switch(
                ui,
                &mut self.one_mean,
                "Same mean density",
                "Crops are shown lighter or darker, so that all have the reference's mean",
            );
            self.same_contrast(ui, view);
            if self.source == Source::Negatives {
                widgets::switch(ui, &mut self.positive, "As a positive", "Tones turned round, as on a print");
            }
            widgets::choice(ui, "Contrast", &mut self.contrast, &CONTRASTS);
        });
        ui.horizontal_wrapped(|ui| {
            viewing(ui, view, outbox);
            self.true_size(ui, view, outbox);
        });
    }

    fn same_contrast(&mut self, ui: &mut Ui, view: &View<'_>) {
        let known = view.candidate.is_none_or(|film| piece::contrast_ratio(view, film).is_some());
        let hover = "Densities are spread as if every film were printed to the reference's contrast: by its average gradient \
                     over each film's own";
        ui.add_enabled_ui(known, |ui| widgets::switch(ui, &mut self.one_contrast, "Same contrast", hover))
            .response
            .on_disabled_hover_text(
                "The average gradients of both films are needed: give them curves first.",
            );
    }

    /// The button that brings crops to true size; it asks for the screen's dots first.
    fn true_size(&mut self, ui: &mut Ui, view: &View<'_>, outbox: &mut Outbox) {
        let id = egui::Id::unique("the screen of true size");
        let word = "True size";
        let hover = "Shows crops under the angle that they have on this print";
        let on_film = self.source == Source::Negatives || view.series.conditions.enlargement.is_some();
        let pixels = ui.pixels_per_point();
        let asked = view.screen.dots_per_inch.is_some();
        let pressed = widgets::button(ui, word, hover);
        let mut open = ui.data(|data| data.get_temp::<bool>(id)).unwrap_or(false);
        if pressed.clicked() {
            match true_size::zoom(view.screen, view.series.viewing, on_film, pixels) {
                Some(zoom) => self.sight().zoom_to(zoom),
                None => open = true,
            }
        }
        if asked {
            let hover = "Dots per inch of this screen, and how far you sit from it";
            open ^= widgets::button(ui, "Screen ...", hover).clicked();
        }
        ui.data_mut(|data| data.insert_temp(id, open));
        let points = self.sight().zoom();
        if let Some(words) = points.and_then(|points| true_size::words(points, on_film, view, pixels)) {
            widgets::muted_inline(ui, &words);
        }
        if open {
            ui.end_row();
            widgets::boxed(ui, |ui| {
                true_size::ask(ui, view, outbox);
                if widgets::button(ui, "Done", "Closes this").clicked() {
                    ui.data_mut(|data| data.insert_temp(id, false));
                }
            });
        }
    }
}

/// Enlargement of the print that is imagined, and the distance it is seen from.
pub(in crate::pages::grain) fn viewing(ui: &mut Ui, view: &View<'_>, outbox: &mut Outbox) {
    let now = view.series.viewing;
    let mut chosen = now;
    ui.label("Print of");
    let words = |enlargement: f64| format!("{} ×", widgets::plain(enlargement));
    preset(ui, "Enlargement of the print", &mut chosen.enlargement, &ENLARGEMENTS, words);
    ui.label("seen from");
    let words = |mm: f64| format!("{} cm", widgets::plain(mm / 10.0));
    preset(ui, "Distance from the print", &mut chosen.distance_mm, &DISTANCES, words);
    if chosen != now {
        let Viewing { enlargement, distance_mm, .. } = chosen;
        outbox.change(ViewingEdit::Look { enlargement, distance_mm });
    }
}

fn preset(ui: &mut Ui, name: &str, value: &mut f64, presets: &[f64], words: impl Fn(f64) -> String) {
    let shown = words(*value);
    let combo = ComboBox::from_id_salt(name).width(72.0).selected_text(&shown).show_ui(ui, |ui| {
        for preset in presets {
            ui.selectable_value(value, *preset, words(*preset));
        }
    });
    let spoken = format!("{name}: {shown}");
    combo.response.widget_info(|| WidgetInfo::labeled(Role::ComboBox, true, &spoken));
    combo.response.on_hover_text(name);
}
