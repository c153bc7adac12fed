//! The search: actions, pages and films by their words.

use egui::{Id, Key, Modal, ScrollArea, TextEdit};

use crate::actions::ACTIONS;
use crate::appearance::Tokens;
use crate::outbox::{Command, Outbox};
use crate::pages::View;

/// The search while it is open.
#[derive(Debug, Default)]
pub struct Search {
    words: String,
    marked: usize,
    begun: bool,
}

impl Search {
    /// Shows it; `true` when it is over.
    #[must_use]
    pub fn show(&mut self, ctx: &egui::Context, view: &View<'_>, outbox: &mut Outbox) -> bool {
        let mut over = false;
        let response = Modal::new(Id::unique("search")).show(ctx, |ui| {
            ui.set_width(480.0);
            let (up, down) = ui.input_mut(|input| {
                let none = egui::Modifiers::NONE;
                (input.consume_key(none, Key::ArrowUp), input.consume_key(none, Key::ArrowDown))
            });
            let label = ui.label("Search for an action, a page or a film");
            let field = ui.add(TextEdit::singleline(&mut self.words).desired_width(f32::INFINITY));
            let enter = field.lost_focus() && ui.input(|input| input.key_pressed(Key::Enter));
            let hover = "Words of what is looked for; arrows choose, Enter goes there";
            let field = field.labelled_by(label.id).on_hover_text(hover);
            if field.changed() {
                self.marked = 0;
            }
            if !std::mem::replace(&mut self.begun, true) {
                field.request_focus();
            }
            let found = find(&self.words, view);
            self.marked = (self.marked + usize::from(down))
                .saturating_sub(usize::from(up))
                .min(found.len().saturating_sub(1));
            let mut chosen = enter.then_some(self.marked);
            ui.add_space(4.0);
            ScrollArea::vertical()
                .max_height(320.0)
                .min_scrolled_height(320.0)
                .auto_shrink([false, true])
                .show(ui, |ui| {
                    for (i, (what, hover, _)) in found.iter().enumerate() {
                        let row = ui.selectable_label(i == self.marked, what).on_hover_text(hover);
                        if row.clicked() {
                            chosen = Some(i);
                        }
                    }
                    if found.is_empty() {
                        ui.label(egui::RichText::new("Nothing has these words").color(Tokens::get(ui).muted));
                    }
                });
            if let Some((_, _, command)) = chosen.and_then(|i| found.into_iter().nth(i)) {
                outbox.send(command);
                over = true;
            }
        });
        over || response.should_close()
    }
}

fn find(words: &str, view: &View<'_>) -> Vec<(String, String, Command)> {
    let words: Vec<String> = words.split_whitespace().map(str::to_lowercase).collect();
    let fits = |text: &str| {
        let text = text.to_lowercase();
        words.iter().all(|word| text.contains(word))
    };
    let actions = ACTIONS.iter().filter(|spec| view.allows(spec)).filter_map(|spec| {
        let key = view.keys.words(spec.action);
        let what = if key.is_empty() { spec.label.to_owned() } else { format!("{}    {key}", spec.label) };
        fits(&format!("{} {}", spec.label, spec.hover))
            .then(|| (what, spec.hover.to_owned(), Command::Do(spec.action)))
    });
    let films = view.series.candidates().filter(|film| fits(&film.label)).map(|film| {
        let hover = "Lays this film beside the reference".to_owned();
        (format!("Film {}", film.label), hover, Command::Candidate(film.id.clone()))
    });
    films.chain(actions).collect()
}
