//! The page alone, for a talk or a recording: a line that names the films, and nothing else around it.

use egui::{CentralPanel, Frame, Margin, Panel, RichText, Ui};
use twinwedge_workbench::core::drawing::Role;

use crate::appearance::{Tokens, fonts, widgets};
use crate::outbox::Outbox;
use crate::pages::{Page, PageId, View};

/// Draws the page alone over the whole window, with the films' labels.
pub fn page(ui: &mut Ui, page: &mut dyn Page, id: PageId, view: &View<'_>, outbox: &mut Outbox) {
    let tokens = Tokens::get(ui);
    let frame = Frame::new().fill(tokens.surface).inner_margin(Margin::symmetric(16, 8));
    Panel::top("presented films").frame(frame).show_separator_line(false).show(ui, |ui| {
        ui.horizontal(|ui| {
            ui.heading(id.word());
            ui.add_space(16.0);
            for (role, film) in [(Role::Reference, view.reference), (Role::Candidate, view.candidate)] {
                let Some(film) = film else { continue };
                widgets::film_sign(ui, role);
                ui.add(egui::Label::new(fonts::strong(&film.label)).truncate());
            }
            ui.add_space(16.0);
            ui.add(egui::Label::new(RichText::new(&view.series.title).color(tokens.muted)).truncate());
        });
    });
    CentralPanel::default().frame(frame).show(ui, |ui| page.ui(ui, view, outbox));
}
