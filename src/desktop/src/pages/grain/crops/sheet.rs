//! A contact sheet: the same crop from every film of the series that has one.

use egui::{Align, Layout, Rect, ScrollArea, Sense, Stroke, StrokeKind, Ui, UiBuilder, vec2};
use twinwedge_workbench::core::compare::format;
use twinwedge_workbench::core::document::Film;
use twinwedge_workbench::core::drawing::Role;
use twinwedge_workbench::core::figures::FigureId;
use twinwedge_workbench::engine::ask::FiguresOf;

use super::Source;
use crate::appearance::{Tokens, fonts, widgets};
use crate::outbox::{Command, Outbox};
use crate::pages::View;
use crate::pages::grain::Grain;

/// Least width of a cell, and the height of its words.
const CELL: f32 = 220.0;
const WORDS: f32 = 32.0;
const GAP: f32 = 8.0;

impl Grain {
    /// One cell for each film, as many beside each other as there is room for. A press on its words brings a film to the
    /// bench.
    pub(super) fn sheet(&mut self, ui: &mut Ui, view: &View<'_>, outbox: &mut Outbox) {
        let source = self.crops.source;
        let (films, without): (Vec<&Film>, Vec<&Film>) =
            view.series.films.iter().partition(|film| match source {
                Source::Negatives => !film.uniform_areas.is_empty(),
                Source::Prints => film.print.is_some(),
            });
        if films.is_empty() {
            widgets::muted(ui, "No film of the series has such a scan yet.");
            return;
        }
        ScrollArea::vertical().auto_shrink([false, false]).show(ui, |ui| {
            let width = ui.available_width();
            let columns = ((width + GAP) / (CELL + GAP)).floor().clamp(1.0, films.len() as f32);
            let cell = ((width - GAP * (columns - 1.0)) / columns).floor();
            let size = vec2(cell, WORDS + (0.72 * cell).floor());
            for row in films.chunks(columns as usize) {
                let (rect, _) = ui.allocate_exact_size(vec2(width, size.y), Sense::hover());
                ui.add_space(GAP - ui.spacing().item_spacing.y);
                if !ui.is_rect_visible(rect) {
                    continue;
                }
                for (i, film) in row.iter().enumerate() {
                    let place = Rect::from_min_size(rect.min + vec2(i as f32 * (cell + GAP), 0.0), size);
                    // The row has its room already; a cell takes none of its own.
                    let mut cell = ui.new_child(UiBuilder::new().max_rect(place).id_salt(&film.id.0));
                    self.cell(&mut cell, place, film, view, outbox);
                }
            }
            if !without.is_empty() {
                let names: Vec<&str> = without.iter().map(|film| film.label.as_str()).collect();
                widgets::footnote(ui, &format!("Without such a scan: {}.", names.join(", ")));
            }
        });
    }

    fn cell(&mut self, ui: &mut Ui, place: Rect, film: &Film, view: &View<'_>, outbox: &mut Outbox) {
        let on_bench = |other: Option<&Film>| other.is_some_and(|other| other.id == film.id);
        let (reference, candidate) = (on_bench(view.reference), on_bench(view.candidate));
        let words = place.with_max_y(place.top() + WORDS);
        ui.scope_builder(
            UiBuilder::new().max_rect(words).layout(Layout::right_to_left(Align::Center)),
            |ui| {
                widgets::muted_inline(ui, &granularity(view, film)).on_hover_text("RMS granularity");
                ui.with_layout(Layout::left_to_right(Align::Center), |ui| {
                    if reference || candidate {
                        widgets::film_sign(ui, if reference { Role::Reference } else { Role::Candidate });
                    }
                    let words = egui::Button::selectable(candidate, fonts::strong(&film.label)).truncate();
                    let pressed = ui.add(words).on_hover_text("Lays the film on the bench");
                    if pressed.clicked() && !reference {
                        outbox.send(Command::Candidate(film.id.clone()));
                    }
                });
            },
        );
        let rect = Rect::from_min_max(place.min + vec2(0.0, WORDS), place.max);
        self.crop(ui, rect, film, view);
        if candidate {
            let stroke = Stroke::new(1.5, Tokens::get(ui).accent);
            ui.painter().rect_stroke(rect, 2.0, stroke, StrokeKind::Inside);
        }
    }
}

fn granularity(view: &View<'_>, film: &Film) -> String {
    let figures = view.session.peek(&FiguresOf { film: film.id.clone() });
    let known =
        figures.value().and_then(|figures| figures.figures.get(&FigureId::Granularity)?.known().copied());
    known.map(|known| format::measured(&known, 1)).unwrap_or_default()
}
