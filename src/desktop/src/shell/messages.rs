//! What the program has said: the last message stands in the status line, those before it in a list that opens from there.

use egui::{Label, Popup, PopupCloseBehavior, RichText, ScrollArea, Sense, Ui, WidgetInfo};
use twinwedge_workbench::core::problem::{Problem, Severity};

use crate::appearance::{Tokens, fonts};

/// How many are kept.
const MOST_MESSAGES: usize = 100;

/// A line at the bottom of the window.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Message {
    /// What is said.
    pub text: String,
    /// How much it matters.
    pub severity: Severity,
}

impl Message {
    /// Something that went well.
    pub fn note(text: impl Into<String>) -> Self {
        Self { text: text.into(), severity: Severity::Note }
    }

    /// Something that did not.
    #[must_use]
    pub fn problem(problem: &Problem) -> Self {
        Self { text: problem.to_string(), severity: problem.severity }
    }
}

/// Messages in the order in which they came.
#[derive(Debug, Default)]
pub struct Messages {
    said: Vec<Message>,
}

impl Messages {
    /// Says one more.
    pub fn say(&mut self, message: Message) {
        if self.said.len() == MOST_MESSAGES {
            self.said.remove(0);
        }
        self.said.push(message);
    }

    /// Those that are there from the beginning.
    #[must_use]
    pub fn beginning_with(message: Option<Message>) -> Self {
        Self { said: message.into_iter().collect() }
    }

    /// The last one, cut where the room ends; pressed, it opens the list of all.
    pub fn line(&self, ui: &mut Ui) {
        let Some(last) = self.said.last() else { return };
        let label = Label::new(words(last)).truncate().sense(Sense::click());
        let response = ui.add(label);
        let told = last.text.clone();
        response.widget_info(move || WidgetInfo::labeled(egui::Role::Button, true, told.clone()));
        let earlier = match self.said.len() {
            1 => String::new(),
            number => format!("\nOpens the list of the {number} messages so far"),
        };
        let response = response.on_hover_text(format!("{}{earlier}", last.text));
        Popup::from_toggle_button_response(&response)
            .close_behavior(PopupCloseBehavior::CloseOnClickOutside)
            .show(|ui| self.list(ui));
    }

    /// All of them, the last one first, each whole.
    fn list(&self, ui: &mut Ui) {
        ui.set_width(480.0);
        ui.label(RichText::new("Messages, the last one first").color(Tokens::get(ui).muted));
        ScrollArea::vertical().max_height(320.0).show(ui, |ui| {
            for message in self.said.iter().rev() {
                ui.separator();
                ui.add(Label::new(words(message)).wrap().selectable(true));
            }
        });
    }
}

fn words(message: &Message) -> RichText {
    match message.severity {
        Severity::Note => RichText::new(&message.text),
        Severity::Doubt | Severity::Error => fonts::strong(&message.text),
    }
}
