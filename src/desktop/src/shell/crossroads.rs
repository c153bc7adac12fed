//! Questions that nothing else may go on without: unsaved changes, what a crash left behind, a scan that changed.

use std::path::PathBuf;
use std::time::SystemTime;

use egui::{Id, Modal, Ui};
use twinwedge_workbench::core::document::ScanId;
use twinwedge_workbench::store::recovery::Recovery;

use crate::appearance::widgets;
use crate::outbox::FileFor;

/// What would lose unsaved changes.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Leaving {
    /// An empty series is begun.
    New,
    /// The sample is opened.
    Sample,
    /// A file is opened, as a series or as a list.
    Open(FileFor, PathBuf),
    /// The program ends.
    Quit,
}

/// What has to be decided.
#[derive(Debug)]
pub enum Crossroads {
    /// What becomes of unsaved changes.
    Unsaved(Leaving),
    /// Whether changes kept before a crash are taken up.
    Recovery(Box<Recovery>),
    /// Whether a file that holds something else than the scan did is taken all the same.
    Changed(ScanId, PathBuf),
}

/// What was decided.
#[derive(Debug)]
pub enum Decision {
    /// Save, then go on.
    Save(Leaving),
    /// Go on without saving.
    Leave(Leaving),
    /// Take the recovered changes up.
    TakeUp(Box<Recovery>),
    /// Let the recovered changes go.
    LetGo(Box<Recovery>),
    /// Take the changed scan.
    TakeChanged(ScanId, PathBuf),
    /// Nothing: all stays as it is.
    Stay,
}

impl Crossroads {
    /// Shows the question; the decision when there is one, else the question again.
    ///
    /// # Errors
    /// The question, still open.
    pub fn show(self, ctx: &egui::Context) -> Result<Decision, Self> {
        let mut pressed = None;
        let response = Modal::new(Id::unique("crossroads")).show(ctx, |ui| {
            ui.set_width(440.0);
            ui.heading(self.heading());
            widgets::muted(ui, &self.line());
            ui.add_space(8.0);
            ui.horizontal(|ui| pressed = self.buttons(ui));
        });
        match pressed {
            Some(button) => Ok(self.decide(button)),
            None if response.should_close() => Ok(self.decide(Button::Stay)),
            None => Err(self),
        }
    }

    fn heading(&self) -> &'static str {
        match self {
            Self::Unsaved(_) => "The series has changes that are not saved",
            Self::Recovery(_) => "The program ended before this series was saved",
            Self::Changed(..) => "The file holds something else than the scan did",
        }
    }

    fn line(&self) -> String {
        match self {
            Self::Unsaved(_) => "They would be lost.".to_owned(),
            Self::Recovery(recovery) => {
                format!("Its changes were kept {}. The saved file is as it was.", ago(recovery.written))
            }
            Self::Changed(scan, path) => format!(
                "{} is not the file that was taken in as {}. Taken all the same, what was measured on it is measured anew.",
                path.display(),
                scan.0
            ),
        }
    }

    fn buttons(&self, ui: &mut Ui) -> Option<Button> {
        let words: [(&str, &str, Button); 3] = match self {
            Self::Unsaved(_) => [
                ("Save", "Saves the series, then goes on", Button::First),
                ("Leave without saving", "The changes are lost", Button::Second),
                ("Stay", "Back to the series", Button::Stay),
            ],
            Self::Recovery(_) => [
                ("Take the changes up", "The series is opened with them, not saved", Button::First),
                ("Let them go", "The series is opened as it was saved last", Button::Second),
                ("Decide later", "They are kept until the series is saved", Button::Stay),
            ],
            Self::Changed(..) => [
                ("Take it all the same", "The scan is read from this file", Button::First),
                ("Leave it", "The scan stays missing", Button::Second),
                ("", "", Button::Stay),
            ],
        };
        let mut pressed = None;
        for (word, hover, button) in words.into_iter().filter(|(word, ..)| !word.is_empty()) {
            if widgets::button(ui, word, hover).clicked() {
                pressed = Some(button);
            }
        }
        pressed
    }

    fn decide(self, button: Button) -> Decision {
        match (self, button) {
            (_, Button::Stay) | (Self::Changed(..), Button::Second) => Decision::Stay,
            (Self::Unsaved(leaving), Button::First) => Decision::Save(leaving),
            (Self::Unsaved(leaving), Button::Second) => Decision::Leave(leaving),
            (Self::Recovery(recovery), Button::First) => Decision::TakeUp(recovery),
            (Self::Recovery(recovery), Button::Second) => Decision::LetGo(recovery),
            (Self::Changed(scan, path), Button::First) => Decision::TakeChanged(scan, path),
        }
    }
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Button {
    First,
    Second,
    Stay,
}

/// How long ago, in words.
fn ago(then: SystemTime) -> String {
    let minutes = then.elapsed().map_or(0, |since| since.as_secs() / 60);
    match minutes {
        0 => "less than a minute ago".to_owned(),
        1..=119 => format!("{minutes} min ago"),
        120..=2879 => format!("{} hours ago", minutes / 60),
        _ => format!("{} days ago", minutes / 1440),
    }
}
