//! Files dropped on the window: taken in as what they plainly are, asked about where that cannot be told.

use std::path::PathBuf;

use egui::{ComboBox, Id, Modal};
use twinwedge_workbench::core::document::FilmId;
use twinwedge_workbench::intake::{self, Home, Shown};

use super::beginning::Beginning;
use crate::appearance::widgets;
use crate::outbox::{Command, FileFor, Outbox};
use crate::pages::{PageId, View};

/// Dropped files that wait to be told what they are.
#[derive(Debug, Default)]
pub struct Drops {
    waiting: Vec<PathBuf>,
    film: Option<FilmId>,
}

impl Drops {
    /// Takes in what was dropped in this frame.
    /// Where a series begins, its sheet comes first.
    pub fn collect(
        &mut self,
        ctx: &egui::Context,
        page: PageId,
        begun: Option<&Beginning>,
        view: &View<'_>,
        outbox: &mut Outbox,
    ) {
        let dropped = ctx.input(|input| {
            input.raw.dropped_files.iter().map(|file| file.path().to_path_buf()).collect::<Vec<_>>()
        });
        let home = Home { series: view.series, folder: view.session.folder() };
        let mut given = Vec::new();
        for path in dropped {
            let first = begun.and_then(|begun| begun.place_for(&path, &given)).filter(|_| !path.is_dir());
            if let Some(first) = first {
                given.push(first);
                outbox.send(Command::Take(FileFor::First(first), path));
                continue;
            }
            match intake::guess(&path, shown(page), home) {
                Some(purpose) => outbox.send(Command::Take(purpose.into(), path)),
                None => self.waiting.push(path),
            }
        }
    }

    /// Asks what the first waiting file is.
    pub fn show(&mut self, ctx: &egui::Context, view: &View<'_>, outbox: &mut Outbox) {
        let Some(path) = self.waiting.first().cloned() else { return };
        let mut film = self.film.clone().or_else(|| view.candidate.or(view.reference).map(|f| f.id.clone()));
        let mut over = false;
        let response = Modal::new(Id::unique("what is it")).show(ctx, |ui| {
            ui.set_width(480.0);
            let name = path.file_name().unwrap_or_default().to_string_lossy().into_owned();
            ui.heading(format!("What is {name}?"));
            ui.add_space(4.0);
            if let Some(chosen) = &mut film {
                ui.horizontal(|ui| {
                    let label = ui.label("Film");
                    let shown = view.series.film(chosen).map_or("", |film| film.label.as_str());
                    ComboBox::from_id_salt("dropped film")
                        .selected_text(shown)
                        .show_ui(ui, |ui| {
                            for film in &view.series.films {
                                ui.selectable_value(chosen, film.id.clone(), &film.label);
                            }
                        })
                        .response
                        .labelled_by(label.id)
                        .on_hover_text("The film that the file is of");
                });
                ui.add_space(4.0);
            }
            let chosen = film.as_ref().and_then(|film| view.series.film(film));
            for (words, purpose) in intake::choices(&path, chosen) {
                let hover = format!("Takes the file in as that: {words}");
                if ui.button(words).on_hover_text(hover).clicked() {
                    outbox.send(Command::Take(purpose.into(), path.clone()));
                    over = true;
                }
            }
            ui.add_space(8.0);
            if ui.button("Leave it").on_hover_text("The file is not taken in").clicked() {
                over = true;
            }
        });
        self.film = film;
        if over || widgets::left_by_key(&response) {
            self.waiting.remove(0);
        }
    }
}

/// What the page in sight is about.
fn shown(page: PageId) -> Shown {
    match page {
        PageId::Tablets => Shown::Strips,
        PageId::Prints | PageId::Greys => Shown::Prints,
        PageId::Grain => Shown::Grain,
        _ => Shown::Other,
    }
}
