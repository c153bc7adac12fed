//! The keys: all of them, made from the declarations of the actions, and how one is changed. A key that another action has is
//! told and not taken.

use egui::{Context, Event, Grid, Id, Key, KeyboardShortcut, Modal, RichText, ScrollArea, Ui};

use crate::actions::{self, ACTIONS, Action, Keys, Menu};
use crate::appearance::{STEP, Tokens, fonts, widgets};
use crate::outbox::{Command, Outbox};
use crate::settings::Settings;

/// Keys that are fixed: what is done, and by which.
const FIXED: [(&str, &str, &str); 6] = [
    ("Move a handle", "Arrow keys", "ten pixels with Shift"),
    ("Next control, control before", "Tab, Shift+Tab", "the one that has the keyboard is framed"),
    ("Press a control", "Space or Enter", ""),
    ("Break a drag off", "Escape", "everything is as before it"),
    ("Move a plot", "Arrow keys", "while it has the keyboard"),
    ("Zoom a plot", "Ctrl and wheel", "or the wheel alone: Settings"),
];

/// The sheet of all actions and their keys, on which a key is changed.
#[derive(Debug, Default)]
pub struct KeysPage {
    /// The action that waits for its new key.
    waiting: Option<Action>,
    /// What came of the last change.
    told: String,
}

impl KeysPage {
    /// Whether the next key belongs to an action that waits for it.
    #[must_use]
    pub fn waits(&self) -> bool {
        self.waiting.is_some()
    }

    /// Shows it as a page of its own; `true` when it is over.
    #[must_use]
    pub fn show(&mut self, ctx: &Context, keys: &Keys, settings: &Settings, outbox: &mut Outbox) -> bool {
        let mut over = false;
        let waiting = self.waits();
        let response = Modal::new(Id::unique("keys")).show(ctx, |ui| {
            ui.set_width(680.0);
            ui.heading("Keys");
            let height = (ctx.content_rect().height() - 200.0).max(200.0);
            ScrollArea::vertical()
                .max_height(height)
                .min_scrolled_height(height)
                .auto_shrink([false, true])
                .show(ui, |ui| self.table(ui, keys, settings, outbox));
            ui.add_space(2.0 * STEP);
            over = ui.button("Close").on_hover_text("Back to the page").clicked();
        });
        over || (!waiting && response.should_close())
    }

    /// All keys, each with its buttons.
    pub fn table(&mut self, ui: &mut Ui, keys: &Keys, settings: &Settings, outbox: &mut Outbox) {
        match &settings.file {
            Some(file) => widgets::muted(
                ui,
                &format!("Keys that differ from the usual ones are kept in {}.", file.display()),
            ),
            None => widgets::muted(
                ui,
                "This machine offers no place for settings, so changes last until the end.",
            ),
        };
        for complaint in keys.complaints.iter().chain(&settings.complaint) {
            ui.label(fonts::strong(complaint));
        }
        if let Some(action) = self.waiting {
            self.wait(ui, action, keys, outbox);
        }
        if !self.told.is_empty() {
            ui.label(fonts::strong(&self.told));
        }
        ui.add_space(2.0 * STEP);
        Grid::new("keys").num_columns(5).spacing([20.0, 4.0]).show(ui, |ui| {
            for menu in Menu::ALL {
                ui.label(fonts::strong(menu.word()));
                ui.end_row();
                for spec in ACTIONS.iter().filter(|spec| spec.menu == menu) {
                    ui.label(spec.label).on_hover_text(spec.hover);
                    let words = keys.words(spec.action);
                    ui.label(if words.is_empty() { "–" } else { words.as_str() });
                    self.buttons(ui, spec, settings, outbox);
                    ui.label(RichText::new(spec.name).color(Tokens::get(ui).muted));
                    ui.end_row();
                }
            }
            ui.label(fonts::strong("Fixed"));
            ui.end_row();
            for (what, key, more) in FIXED {
                ui.label(what);
                ui.label(key);
                ui.label(RichText::new(more).color(Tokens::get(ui).muted));
                ui.end_row();
            }
        });
    }

    fn buttons(&mut self, ui: &mut Ui, spec: &actions::Spec, settings: &Settings, outbox: &mut Outbox) {
        ui.horizontal(|ui| {
            let change =
                ui.small_button("Change").on_hover_text("The next key that is pressed becomes its key");
            widgets::name_it(&change, &format!("Change the key of {}", spec.label));
            if change.clicked() {
                (self.waiting, self.told) = (Some(spec.action), String::new());
            }
            if settings.keys.contains_key(spec.name) {
                let usual = ui.small_button("Usual").on_hover_text("It has the key again that it came with");
                widgets::name_it(&usual, &format!("Usual key of {}", spec.label));
                if usual.clicked() {
                    outbox.send(Command::Key(spec.action, None));
                }
            }
        });
    }

    /// Takes the next key for an action, unless another has it.
    fn wait(&mut self, ui: &mut Ui, action: Action, keys: &Keys, outbox: &mut Outbox) {
        let label = action.spec().label;
        ui.label(fonts::strong(format!("Press the new key of '{label}'; Escape leaves it as it is.")));
        let pressed = ui.input_mut(|input| {
            let found = input.events.iter().find_map(|event| match event {
                Event::Key { key, pressed: true, modifiers, .. } => {
                    Some(KeyboardShortcut::new(*modifiers, *key))
                }
                _ => None,
            });
            input.events.retain(|event| !matches!(event, Event::Key { .. } | Event::Text(_)));
            found
        });
        let Some(mut shortcut) = pressed else { return };
        // Ctrl is told twice on some systems.
        shortcut.modifiers.ctrl &= !shortcut.modifiers.command;
        self.waiting = None;
        if shortcut.logical_key == Key::Escape {
            return;
        }
        let words = actions::words(shortcut);
        if matches!(shortcut.logical_key, Key::Tab | Key::Enter | Key::Space) && shortcut.modifiers.is_none()
        {
            self.told = format!("{words} moves between controls and presses them; it stays as it is.");
        } else if let Some(other) = keys.taken(shortcut).filter(|other| *other != action) {
            self.told = format!(
                "{words} is the key of '{}' already. Choose another, or change that one first.",
                other.spec().label
            );
        } else {
            self.told = format!("{words} is the key of '{label}' now.");
            outbox.send(Command::Key(action, Some(words)));
        }
    }
}
