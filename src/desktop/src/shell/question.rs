//! Questions that nothing else may go on without: unsaved changes, what a crash left behind, a file in the way, a scan that
//! changed.

use std::path::{Path, PathBuf};
use std::time::SystemTime;

use egui::{Id, Modal, ScrollArea, Ui};
use twinwedge_workbench::core::document::ScanId;
use twinwedge_workbench::intake::Purpose;
use twinwedge_workbench::sample::Sample;
use twinwedge_workbench::store::recovery::{Offer, Saved};
use twinwedge_workbench::store::{InTheWay, Why};

use crate::appearance::{STEP, fonts, widgets};
use crate::outbox::FileFor;

/// What would lose unsaved changes.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Leaving {
    /// An empty series is begun.
    New,
    /// A sample is opened.
    Sample(Sample),
    /// A file is opened, as a series, as a list, or a folder into a new one.
    Open(Purpose, PathBuf),
    /// The program ends.
    Quit,
}

/// A file that was not written, for another is in its way.
#[derive(Debug)]
pub struct Blocked {
    /// What was to be written.
    pub purpose: FileFor,
    /// What is in the way.
    pub way: Box<InTheWay>,
    /// What waits until it is written.
    pub then: Option<Leaving>,
}

/// What has to be decided.
#[derive(Debug)]
pub enum Question {
    /// What becomes of unsaved changes.
    Unsaved(Leaving),
    /// Which of the series that were never saved before the program ended are taken up.
    Recover(Vec<Offer>),
    /// Whether a file is replaced.
    InTheWay(Blocked),
    /// Whether a file that holds something else than the scan did is taken all the same.
    ChangedScan(ScanId, PathBuf),
    /// Whether a scan takes the place of readings that were typed.
    OverTyped {
        /// What the scan is opened as.
        purpose: Purpose,
        /// The file that is asked about.
        path: PathBuf,
        /// What the readings are of, and how many.
        typed: (String, usize),
    },
}

/// What was decided.
#[derive(Debug)]
pub enum Answer {
    /// Save, then go on.
    Save(Leaving),
    /// Go on without saving.
    Leave(Leaving),
    /// Open a recovered series.
    TakeUp(Box<Offer>),
    /// Offer this one no more; the others still wait.
    DoWithout(Box<Offer>, Vec<Offer>),
    /// Replace what is in the way.
    Replace(Blocked),
    /// Write it elsewhere.
    OtherName(FileFor),
    /// Save beside what is in the way.
    KeepBoth(Option<Leaving>),
    /// Take in what somebody else saved.
    TakeTheirs,
    /// The file that was found counts as this scan, although its contents differ.
    TakeChangedScan(ScanId, PathBuf),
    /// Take the scan, in the place of readings that were typed.
    TakeScan(Purpose, PathBuf),
    /// Nothing: all stays as it is.
    Stay,
}

#[derive(Debug, Clone, Copy)]
enum Choice {
    Save,
    Leave,
    TakeUp(usize),
    DoWithout(usize),
    Replace,
    OtherName,
    KeepBoth,
    TakeTheirs,
    TakeChangedScan,
    TakeScan,
    Stay,
}

type Buttons = &'static [(&'static str, &'static str, Choice)];

const UNSAVED: Buttons = &[
    ("Save", "Saves the series, then goes on", Choice::Save),
    ("Leave without saving", "The changes are put aside and not offered again", Choice::Leave),
    ("Stay", "Back to the series", Choice::Stay),
];
const RECOVER: Buttons = &[(
    "Decide later",
    "They are kept, and offered at the next start; Series > Recover shows them",
    Choice::Stay,
)];
const CHANGED_SERIES: Buttons = &[
    (
        "Keep both",
        "Saves yours beside it, under a name of its own; it is then the one that you work on",
        Choice::KeepBoth,
    ),
    ("Take theirs in", "Shows the series as they saved it; Undo gives yours back", Choice::TakeTheirs),
    ("Replace theirs", "Saves yours in its place; what they changed is lost", Choice::Replace),
    ("Stay", "Nothing is saved yet", Choice::Stay),
];
const REPLACEABLE: Buttons = &[
    ("Choose another name", "What is there stays as it is", Choice::OtherName),
    ("Replace it", "What is there is lost", Choice::Replace),
    ("Stay", "Nothing is written", Choice::Stay),
];
const NEEDED: Buttons = &[
    ("Choose another name", "What is there stays as it is", Choice::OtherName),
    ("Stay", "Nothing is written", Choice::Stay),
];
const CHANGED_SCAN: Buttons = &[
    ("Take it all the same", "The scan is read from this file", Choice::TakeChangedScan),
    ("Leave it", "The scan stays missing", Choice::Stay),
];

const OVER_TYPED: Buttons = &[
    ("Keep the readings", "The scan is not taken in", Choice::Stay),
    ("Take the scan", "The densities are read in the scan; Undo gives the typed ones back", Choice::TakeScan),
];

impl Question {
    /// Shows the question; the answer when there is one, else the question again.
    ///
    /// # Errors
    /// The question, still open.
    pub fn show(self, ctx: &egui::Context) -> Result<Answer, Self> {
        let mut chosen = None;
        let response = Modal::new(Id::unique("question")).show(ctx, |ui| {
            ui.set_width((ctx.content_rect().width() - 64.0).min(560.0));
            ui.heading(self.heading());
            for line in self.lines() {
                widgets::muted(ui, &line);
            }
            match &self {
                Self::Recover(offers) => offers_list(ui, offers, &mut chosen),
                Self::InTheWay(blocked) => differences(ui, &blocked.way.differences),
                Self::Unsaved(_) | Self::ChangedScan(..) | Self::OverTyped { .. } => {}
            }
            ui.add_space(2.0 * STEP);
            ui.horizontal_wrapped(|ui| {
                for (word, hover, choice) in self.buttons() {
                    if widgets::button(ui, word, hover).clicked() {
                        chosen = Some(*choice);
                    }
                }
            });
        });
        match chosen {
            Some(choice) => Ok(self.answer(choice)),
            None if response.should_close() => Ok(Answer::Stay),
            None => Err(self),
        }
    }

    fn heading(&self) -> &'static str {
        match self {
            Self::Unsaved(_) => "The series has changes that are not saved",
            Self::Recover(offers) if offers.len() == 1 => "A series was not saved before the program ended",
            Self::Recover(_) => "Several series were not saved before the program ended",
            Self::InTheWay(blocked) => match blocked.way.why {
                Why::Changed => "Somebody else has saved this series meanwhile",
                Why::Source(_) => "This file is needed and was not written over",
                Why::ReadOnly => "This file is protected from writing",
                Why::Another => "There is already a file of this name",
            },
            Self::ChangedScan(..) => "The file holds something else than the scan did",
            Self::OverTyped { .. } => "Readings are there that were typed",
        }
    }

    fn lines(&self) -> Vec<String> {
        match self {
            Self::Unsaved(_) => vec!["They would be lost.".to_owned()],
            Self::Recover(_) => vec!["Its changes were kept. Saved files are as they were.".to_owned()],
            Self::InTheWay(Blocked { way, .. }) => {
                let path = way.path.display();
                let what = match &way.why {
                    Why::Changed => format!("{path} is as they saved it; yours is still here, not saved."),
                    Why::Source(what) => format!("{path} is {what}."),
                    Why::ReadOnly | Why::Another => format!("{path} holds {}.", way.held),
                };
                let mut lines = vec![what];
                if !way.differences.is_empty() {
                    lines.push("What is different in their file:".to_owned());
                }
                lines
            }
            Self::ChangedScan(scan, path) => vec![format!(
                "{} is not the file that was taken in as {}. Taken all the same, what was measured on it is measured anew.",
                path.display(),
                scan.0
            )],
            Self::OverTyped { path, typed: (of, number), .. } => vec![
                format!("{number} readings of {of} were typed. {} would take their place.", path.display()),
                "Which are kept?".to_owned(),
            ],
        }
    }

    fn buttons(&self) -> Buttons {
        match self {
            Self::Unsaved(_) => UNSAVED,
            Self::Recover(_) => RECOVER,
            Self::InTheWay(blocked) => match blocked.way.why {
                Why::Changed => CHANGED_SERIES,
                Why::Source(_) => NEEDED,
                Why::ReadOnly | Why::Another => REPLACEABLE,
            },
            Self::ChangedScan(..) => CHANGED_SCAN,
            Self::OverTyped { .. } => OVER_TYPED,
        }
    }

    fn answer(self, choice: Choice) -> Answer {
        match (self, choice) {
            (Self::Unsaved(leaving), Choice::Save) => Answer::Save(leaving),
            (Self::Unsaved(leaving), Choice::Leave) => Answer::Leave(leaving),
            (Self::Recover(mut offers), Choice::TakeUp(at)) if at < offers.len() => {
                Answer::TakeUp(Box::new(offers.swap_remove(at)))
            }
            (Self::Recover(mut offers), Choice::DoWithout(at)) if at < offers.len() => {
                let declined = Box::new(offers.remove(at));
                Answer::DoWithout(declined, offers)
            }
            (Self::InTheWay(blocked), Choice::Replace) => Answer::Replace(blocked),
            (Self::InTheWay(blocked), Choice::OtherName) => Answer::OtherName(blocked.purpose),
            (Self::InTheWay(blocked), Choice::KeepBoth) => Answer::KeepBoth(blocked.then),
            (Self::InTheWay(_), Choice::TakeTheirs) => Answer::TakeTheirs,
            (Self::ChangedScan(scan, path), Choice::TakeChangedScan) => Answer::TakeChangedScan(scan, path),
            (Self::OverTyped { purpose, path, .. }, Choice::TakeScan) => Answer::TakeScan(purpose, path),
            _ => Answer::Stay,
        }
    }
}

fn differences(ui: &mut Ui, sentences: &[String]) {
    if sentences.is_empty() {
        return;
    }
    ScrollArea::vertical().id_salt("differences").max_height(160.0).show(ui, |ui| {
        ui.set_width(ui.available_width());
        for sentence in sentences {
            ui.add(egui::Label::new(sentence).wrap());
        }
    });
}

/// What can be recovered, each with what is known of it.
fn offers_list(ui: &mut Ui, offers: &[Offer], chosen: &mut Option<Choice>) {
    let height = (ui.ctx().content_rect().height() - 260.0).max(160.0);
    ScrollArea::vertical().id_salt("offers").max_height(height).show(ui, |ui| {
        ui.set_width(ui.available_width());
        for (at, offer) in offers.iter().enumerate() {
            ui.add_space(2.0 * STEP);
            widgets::boxed(ui, |ui| {
                let name = title(offer);
                widgets::ellipsis(ui, fonts::strong(&name)).on_hover_text(&name);
                widgets::muted(ui, &about(offer));
                for sentence in &offer.differences {
                    ui.add(egui::Label::new(sentence).wrap());
                }
                ui.add_space(STEP);
                ui.horizontal(|ui| {
                    let hover = "The series is opened with these changes, not saved";
                    let up = widgets::button(ui, "Take it up", hover);
                    widgets::name_it(&up, &format!("Take up {name}"));
                    if up.clicked() {
                        *chosen = Some(Choice::TakeUp(at));
                    }
                    let hover = "It is put aside and not offered again";
                    let without = widgets::button(ui, "Do without", hover);
                    widgets::name_it(&without, &format!("Do without {name}"));
                    if without.clicked() {
                        *chosen = Some(Choice::DoWithout(at));
                    }
                });
            });
        }
    });
}

fn title(offer: &Offer) -> String {
    let title = offer.recovery.series.title.trim();
    if title.is_empty() { "A series without a name".to_owned() } else { title.to_owned() }
}

/// How many films, when it was kept, and how its saved file is.
fn about(offer: &Offer) -> String {
    let films = match offer.recovery.series.films.len() {
        1 => "1 film".to_owned(),
        number => format!("{number} films"),
    };
    let path = offer.recovery.original.as_deref().unwrap_or(Path::new("")).display();
    let saved = match offer.saved {
        Saved::Never => "It was never saved.".to_owned(),
        Saved::Unchanged => format!("Saved without these changes as {path}"),
        Saved::Changed => format!("Its file was saved again since: {path}"),
        Saved::Gone => format!("Its file is not where it was: {path}"),
    };
    format!("{films}, kept {}. {saved}", ago(offer.recovery.written))
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
