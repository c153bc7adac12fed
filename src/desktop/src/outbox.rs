//! What pages ask for. A page reads its [`View`](crate::pages::View) and puts commands here; the app carries all of them
//! out in one place after the frame, so that nothing changes under a page while it draws.

use std::path::PathBuf;
use std::sync::{Arc, Mutex};

use twinwedge_workbench::core::document::FilmId;
use twinwedge_workbench::core::problem::Problem;
use twinwedge_workbench::edits::Operation;
use twinwedge_workbench::export::{Depth, Paper, SlideSize};
use twinwedge_workbench::intake::Purpose;

use crate::actions::Action;
use crate::origin::Asked;
use crate::place::{Aligned, PageId, Selected};
use crate::settings::{Screen, Settings};

/// What a file is asked for.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum FileFor {
    /// It is read and becomes that.
    Read(Purpose),
    /// Where the series is saved.
    SaveSeries,
    /// Where report (.html, .pdf), figures (.json), table (.csv) or contact sheet (.svg) go: of one candidate or of all.
    Export(Option<FilmId>, Printed),
    /// Where slides of one candidate or of all go (.png, .svg).
    Slides(Option<FilmId>, SlideSize),
    /// Where the series' patch layout goes.
    SaveLayout,
    /// It is one of the files that a series begins with.
    First(First),
    /// The folder in which all missing scans are looked for.
    MissingIn,
    /// Where a drawing goes, as SVG.
    Drawing(Arc<str>),
    /// Where a still of the page goes, as PNG of so many pixels.
    Still(u32, u32),
}

/// One of the three files that a series begins with.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum First {
    /// Readings or strip of the film that all are compared with.
    Reference,
    /// Readings or strip of the film under test.
    Candidate,
    /// Densities of the tablet.
    Tablet,
}

/// How a report is set.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Printed {
    /// Paper of a PDF; else that of the settings.
    pub paper: Option<Paper>,
    /// The whole, or one sheet a film.
    pub depth: Depth,
}

impl From<Purpose> for FileFor {
    fn from(purpose: Purpose) -> Self {
        Self::Read(purpose)
    }
}

impl FileFor {
    /// Title of the dialog that asks for it.
    #[must_use]
    pub fn title(&self) -> String {
        match self {
            Self::Read(purpose) => purpose.title(),
            Self::SaveSeries => "Save the series as".to_owned(),
            Self::Export(..) => {
                "Export report (.html, .pdf), figures (.json), table (.csv) or contact sheet of grain (.svg)"
                    .to_owned()
            }
            Self::Slides(..) => "Export slides (.png or .svg): each is named after what it shows".to_owned(),
            Self::SaveLayout => "Save the patch layout as".to_owned(),
            Self::First(First::Reference) => "Readings or strip of the reference film".to_owned(),
            Self::First(First::Candidate) => "Readings or strip of the candidate film".to_owned(),
            Self::First(First::Tablet) => Purpose::Tablet.title(),
            Self::MissingIn => "Find all missing scans in a folder".to_owned(),
            Self::Drawing(_) => "Save the plot (.svg)".to_owned(),
            Self::Still(width, height) => format!("Save a still of the page, {width} × {height} (.png)"),
        }
    }

    /// Whether a file is written there and not read.
    #[must_use]
    pub fn writes(&self) -> bool {
        !matches!(self, Self::Read(_) | Self::First(_) | Self::MissingIn)
    }

    /// Whether a folder is asked for and not a file.
    #[must_use]
    pub fn is_folder(&self) -> bool {
        matches!(self, Self::Read(Purpose::Folder) | Self::MissingIn)
    }

    /// Endings of the files that fit.
    #[must_use]
    pub fn endings(&self) -> &'static [&'static str] {
        match self {
            Self::Read(purpose) => purpose.endings(),
            Self::SaveSeries => Purpose::Series.endings(),
            Self::Slides(..) => &["png", "svg"],
            Self::Export(..) => &["html", "pdf", "json", "csv", "svg"],
            Self::SaveLayout => Purpose::Layout.endings(),
            Self::First(First::Tablet) => Purpose::Tablet.endings(),
            Self::MissingIn => &[],
            Self::Drawing(_) => &["svg"],
            Self::Still(..) => &["png"],
            Self::First(_) => &["csv", "tsv", "txt", "tif", "tiff", "png", "jpg", "jpeg"],
        }
    }
}

/// What the pointer reads in both films, for the line below the page. Each text is a number with its unit.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct PointerReading {
    /// Where it is: 'log H -1.23', 'x 812, y 344'.
    pub at: String,
    /// What it reads in the reference; `None` where nothing is.
    pub reference: Option<String>,
    /// What it reads in the candidate; `None` where nothing is.
    pub candidate: Option<String>,
    /// Candidate minus reference.
    pub difference: Option<String>,
}

/// One thing asked for.
#[derive(Debug)]
pub enum Command {
    /// One step of the history.
    Change(Operation),
    /// A gesture begins or goes on: the document as this would leave it, done to the document as it was at its begin.
    Preview(Operation),
    /// The gesture ends as one step.
    Commit,
    /// The gesture ends as if it had not been.
    Abort,
    /// Another candidate lies on the bench.
    Candidate(FilmId),
    /// A further film is laid over the pair, or taken away.
    Also(FilmId),
    /// These points of both curves lie over each other.
    Align(Aligned),
    /// The screen is as the tester says.
    Screen(Screen),
    /// The table of films shows these figures, by their keys.
    FilmFigures(Vec<String>),
    /// Another page is shown.
    Page(PageId),
    /// A step, spot or patch is selected; pages show it wherever they can.
    Select(Selected),
    /// An action, as if its key were pressed.
    Do(Action),
    /// A file is asked for and then taken in.
    Ask(FileFor),
    /// A file that is known is taken in.
    Take(FileFor, PathBuf),
    /// A work in progress is cancelled.
    Cancel(u64),
    /// The file that is being taken in is not wanted.
    StopIntake,
    /// Failures and cancellations are tried again.
    Retry,
    /// The file of the series, which somebody else saved, is compared with it.
    CompareOnDisk,
    /// The file of the series, which somebody else saved, is taken in.
    Reload,
    /// The folder under review comes back into sight.
    Gathering,
    /// The sheet that begins a series comes back into sight, or is begun.
    Beginning,
    /// All settings, as they were changed.
    Settings(Box<Settings>),
    /// Another key for an action, in words; the usual one where there is none.
    Key(Action, Option<String>),
    /// How a figure was got.
    Origin(Box<Asked>),
    /// A line for the message at the bottom.
    Say(String),
    /// A problem for the message at the bottom.
    Trouble(Problem),
}

/// Commands of small parts that are drawn without an outbox at hand: lines of tables, menus of plots.
#[derive(Clone, Default)]
struct Aside(Arc<Mutex<Vec<Command>>>);

fn aside(ctx: &egui::Context) -> Aside {
    ctx.data_mut(|data| data.get_temp_mut_or_default::<Aside>(egui::Id::unique("commands aside")).clone())
}

/// Asks for something where no outbox is at hand; it goes the same way.
pub fn send_aside(ctx: &egui::Context, command: Command) {
    if let Ok(mut commands) = aside(ctx).0.lock() {
        commands.push(command);
    }
    ctx.request_repaint();
}

/// What was asked for so, in order.
pub fn take_aside(ctx: &egui::Context) -> Vec<Command> {
    aside(ctx).0.lock().map(|mut commands| std::mem::take(&mut *commands)).unwrap_or_default()
}

/// Collects what a frame asks for.
#[derive(Debug, Default)]
pub struct Outbox {
    commands: Vec<Command>,
    pointer: Option<PointerReading>,
}

impl Outbox {
    /// Puts a command in.
    pub fn send(&mut self, command: Command) {
        self.commands.push(command);
    }

    /// One step of the history.
    pub fn change(&mut self, operation: impl Into<Operation>) {
        self.send(Command::Change(operation.into()));
    }

    /// A gesture begins or goes on.
    pub fn preview(&mut self, operation: impl Into<Operation>) {
        self.send(Command::Preview(operation.into()));
    }

    /// A file is asked for.
    pub fn ask(&mut self, file: impl Into<FileFor>) {
        self.send(Command::Ask(file.into()));
    }

    /// What the pointer reads; the last of a frame stands.
    pub fn pointer(&mut self, reading: PointerReading) {
        self.pointer = Some(reading);
    }

    /// What the pointer reads, taken out.
    pub fn take_pointer(&mut self) -> Option<PointerReading> {
        self.pointer.take()
    }

    /// Takes all commands out, in order.
    pub fn drain(&mut self) -> Vec<Command> {
        std::mem::take(&mut self.commands)
    }
}
