//! Files dropped on the window: taken in as what they plainly are, asked about where that cannot be told.

use std::path::{Path, PathBuf};

use egui::{ComboBox, Id, Modal};
use twinwedge_workbench::core::document::{Film, FilmId};

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
    pub fn collect(&mut self, ctx: &egui::Context, page: PageId, view: &View<'_>, outbox: &mut Outbox) {
        let dropped = ctx.input(|input| {
            input.raw.dropped_files.iter().map(|file| file.path().to_path_buf()).collect::<Vec<_>>()
        });
        for path in dropped {
            if path.is_dir() {
                outbox.send(Command::Take(FileFor::Folder, path));
                continue;
            }
            match guess(&path, page, view) {
                Some(purpose) => outbox.send(Command::Take(purpose, path)),
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
                        .labelled_by(label.id);
                });
                ui.add_space(4.0);
            }
            for (words, purpose) in choices(&path, film.as_ref(), view) {
                if ui.button(words).clicked() {
                    outbox.send(Command::Take(purpose, path.clone()));
                    over = true;
                }
            }
            ui.add_space(8.0);
            if ui.button("Leave it").on_hover_text("The file is not taken in").clicked() {
                over = true;
            }
        });
        self.film = film;
        if over || response.should_close() {
            self.waiting.remove(0);
        }
    }
}

fn choices(path: &Path, film: Option<&FilmId>, view: &View<'_>) -> Vec<(&'static str, FileFor)> {
    let mut choices = Vec::new();
    // A further strip can be told from a first one only where there is a first.
    let further = film.and_then(|id| view.series.film(id)).filter(|film| film.readings.is_some());
    if is_table(path) {
        if let Some(film) = film {
            choices.push(("Densitometer readings of the film", FileFor::Readings(film.clone())));
        }
        if let Some(film) = further {
            let purpose = FileFor::FurtherReadings(film.id.clone(), film.strips());
            choices.push(("Readings of a further strip of the same roll", purpose));
        }
        choices.push(("Known densities of a step tablet", FileFor::Tablet));
        choices.push(("A list of files that makes a new series", FileFor::OpenList));
    } else {
        if let Some(film) = film {
            choices.push(("The film's exposed strip", FileFor::Strip(film.clone())));
            if let Some(film) = further {
                let purpose = FileFor::FurtherStrip(film.id.clone(), film.strips());
                choices.push(("A further strip of the same roll", purpose));
            }
            choices.push(("The film's print of the target", FileFor::Print(film.clone())));
            choices.push(("A plain area of the film, for grain", FileFor::Grain(film.clone())));
            choices.push(("A slanted edge on the film, for sharpness", FileFor::Edge(film.clone())));
        }
        choices.push(("A step tablet of known densities, for calibration", FileFor::Calibration));
    }
    choices
}

fn ending(path: &Path) -> String {
    path.extension().unwrap_or_default().to_string_lossy().to_lowercase()
}

fn is_table(path: &Path) -> bool {
    FileFor::Tablet.endings().contains(&ending(path).as_str())
}

/// What a dropped file plainly is; `None` where it must be asked.
fn guess(path: &Path, page: PageId, view: &View<'_>) -> Option<FileFor> {
    if FileFor::OpenSeries.endings().contains(&ending(path).as_str()) {
        return Some(FileFor::OpenSeries);
    }
    let file = path.file_name()?.to_string_lossy().into_owned();
    let name = plain(&file);
    let film = named(&name, &view.series.films);
    // Of a film that has readings it may be a further strip.
    let first =
        |film: FilmId| view.series.film(&film).is_none_or(|film| film.readings.is_none()).then_some(film);
    if is_table(path) {
        return match film {
            _ if name.contains("tablet") => Some(FileFor::Tablet),
            Some(film) => first(film).map(FileFor::Readings),
            None => None,
        };
    }
    let missing = view.series.scans.iter().find(|(_, entry)| {
        entry.path.rsplit('/').next() == Some(file.as_str())
            && !view.session.folder().join(&entry.path).exists()
    });
    if let Some((scan, _)) = missing {
        return Some(FileFor::Missing(scan.clone()));
    }
    if name.contains("calibration") {
        return Some(FileFor::Calibration);
    }
    let film = film?;
    Some(match page {
        _ if name.contains("print") => FileFor::Print(film),
        _ if name.contains("strip") => FileFor::Strip(first(film)?),
        _ if name.contains("grain") => FileFor::Grain(film),
        _ if name.contains("edge") => FileFor::Edge(film),
        PageId::Tablets => FileFor::Strip(first(film)?),
        PageId::Prints | PageId::Greys => FileFor::Print(film),
        PageId::Grain => FileFor::Grain(film),
        _ => return None,
    })
}

/// Lower case without blanks and signs, so that 'plover-640_print' holds 'Plover 640'.
fn plain(text: &str) -> String {
    text.chars().filter(|c| c.is_alphanumeric()).flat_map(char::to_lowercase).collect()
}

/// The film whose label or name stands in a file name; the longest where several do.
fn named(name: &str, films: &[Film]) -> Option<FilmId> {
    films
        .iter()
        .flat_map(|film| [(plain(&film.label), film), (plain(&film.id.0), film)])
        .filter(|(word, _)| !word.is_empty() && name.contains(word.as_str()))
        .max_by_key(|(word, _)| word.len())
        .map(|(_, film)| film.id.clone())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_file_name_tells_its_film() {
        let films = [Film::named("Tern".into(), "Tern 160"), Film::named("Tern II".into(), "Tern 16")];
        assert_eq!(named(&plain("tern-160_print.tif"), &films), Some("Tern".into()));
        assert_eq!(named(&plain("Tern 16 strip.tif"), &films), Some("Tern II".into()));
        assert_eq!(named(&plain("scan0001.tif"), &films), None);
    }
}
