//! What pages ask for. A page reads its [`View`](crate::pages::View) and puts commands here; the app carries all of them
//! out in one place after the frame, so that nothing changes under a page while it draws.

use std::path::PathBuf;

use twinwedge_workbench::core::document::{CalibrationId, FilmId, ScanId, Series};
use twinwedge_workbench::core::problem::Problem;
use twinwedge_workbench::session::Edit;

use crate::actions::Action;
use crate::pages::{PageId, Selected};
use crate::shell::settings::Screen;

/// A change of the document while a drag goes on.
pub type Preview = Box<dyn FnOnce(&mut Series) -> Result<(), Problem>>;

/// What a file is taken in as.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum FileFor {
    /// Opened in place of the series at hand.
    OpenSeries,
    /// A CSV that lists the files of a series; the series made from it is opened.
    OpenList,
    /// A folder of scans and tables that are told by what they show and by their names.
    Folder,
    /// Where the series is saved.
    SaveSeries,
    /// Where report (.html), figures (.json), table (.csv) or contact sheet (.svg) go: of one candidate or of all.
    Export(Option<FilmId>),
    /// Densitometer readings of a film.
    Readings(FilmId),
    /// Reflection densities of the paper test.
    PaperReadings,
    /// A scan of the print of a tablet that tests the paper.
    PaperStrip,
    /// A scan of a film's exposed strip.
    Strip(FilmId),
    /// Densitometer readings of a further strip of its roll: the strip of that number, a new one where there is none.
    FurtherReadings(FilmId, usize),
    /// A scan of a further strip of its roll: the strip of that number, a new one where there is none.
    FurtherStrip(FilmId, usize),
    /// A patch layout that was saved as a file of its own.
    OpenLayout,
    /// Where the series' patch layout goes.
    SaveLayout,
    /// A scan of a film's print.
    Print(FilmId),
    /// A scan of a film in which grain is measured.
    Grain(FilmId),
    /// A scan of a film with a further plain area, of another density.
    FurtherGrain(FilmId),
    /// A second scan of one of its plain areas, by its number: it tells the scanner's noise.
    GrainRepeat(FilmId, usize),
    /// A scan of a slanted edge on this film.
    Edge(FilmId),
    /// A scan of a knife edge: the scanner's own sharpness.
    ScannerEdge,
    /// A scan of a frame of a film's bracket, by its number from 0.
    Frame(FilmId, usize),
    /// The known densities of a tablet.
    Tablet,
    /// A scan of a tablet of known densities, to calibrate the scanner by.
    Calibration,
    /// A second scan of a calibration's tablet, not moved.
    Repeat(CalibrationId),
    /// A blank scan that tells the falloff of light over a scan.
    Blank(ScanId),
    /// The file of a scan that is missing.
    Missing(ScanId),
}

impl FileFor {
    /// Title of the dialog that asks for it.
    #[must_use]
    pub fn title(&self) -> String {
        match self {
            Self::OpenSeries => "Open a series".to_owned(),
            Self::OpenList => "Make a series from a list of files".to_owned(),
            Self::Folder => "Take in a folder of scans".to_owned(),
            Self::SaveSeries => "Save the series as".to_owned(),
            Self::Export(_) => {
                "Export report (.html), figures (.json), table (.csv) or contact sheet of grain (.svg)"
                    .to_owned()
            }
            Self::Readings(film) => format!("Readings of {}", film.0),
            Self::PaperReadings => "Densities of the paper test".to_owned(),
            Self::PaperStrip => "Scan of the print of a tablet".to_owned(),
            Self::Strip(film) => format!("Strip scan of {}", film.0),
            Self::FurtherReadings(film, strip) => format!("Readings of strip {} of {}", strip + 1, film.0),
            Self::FurtherStrip(film, strip) => format!("Scan of strip {} of {}", strip + 1, film.0),
            Self::OpenLayout => "Open a patch layout".to_owned(),
            Self::SaveLayout => "Save the patch layout as".to_owned(),
            Self::Print(film) => format!("Print scan of {}", film.0),
            Self::Grain(film) => format!("Film scan of {} for grain", film.0),
            Self::FurtherGrain(film) => format!("Film scan of {} of another density", film.0),
            Self::GrainRepeat(film, area) => format!("Second scan of plain area {} of {}", area + 1, film.0),
            Self::Edge(film) => format!("Film scan of an edge on {}", film.0),
            Self::ScannerEdge => "Scan of a knife edge by the scanner of the films".to_owned(),
            Self::Frame(film, frame) => format!("Scan of frame {} of {}", frame + 1, film.0),
            Self::Tablet => "Densities of a step tablet".to_owned(),
            Self::Calibration => "Scan of a step tablet of known densities".to_owned(),
            Self::Repeat(id) => format!("Second scan of the tablet of {}", id.0),
            Self::Blank(scan) => format!("Blank scan for {}", scan.0),
            Self::Missing(scan) => format!("Find the missing scan {}", scan.0),
        }
    }

    /// Whether a file is written there and not read.
    #[must_use]
    pub fn writes(&self) -> bool {
        matches!(self, Self::SaveSeries | Self::SaveLayout | Self::Export(_))
    }

    /// Whether a folder is asked for and not a file.
    #[must_use]
    pub fn is_folder(&self) -> bool {
        *self == Self::Folder
    }

    /// Endings of the files that fit.
    #[must_use]
    pub fn endings(&self) -> &'static [&'static str] {
        match self {
            Self::OpenSeries | Self::SaveSeries => &["twinwedge"],
            Self::Folder => &[],
            Self::OpenLayout | Self::SaveLayout => &[twinwedge_workbench::store::LAYOUT_EXTENSION],
            Self::Export(_) => &["html", "json", "csv", "svg"],
            Self::OpenList
            | Self::Readings(_)
            | Self::FurtherReadings(..)
            | Self::PaperReadings
            | Self::Tablet => &["csv", "tsv", "txt"],
            Self::PaperStrip
            | Self::Strip(_)
            | Self::FurtherStrip(..)
            | Self::Print(_)
            | Self::Grain(_)
            | Self::FurtherGrain(_)
            | Self::GrainRepeat(..)
            | Self::Edge(_)
            | Self::ScannerEdge
            | Self::Frame(..)
            | Self::Calibration
            | Self::Repeat(_)
            | Self::Blank(_)
            | Self::Missing(_) => &["tif", "tiff", "png", "jpg", "jpeg"],
        }
    }
}

/// What the pointer reads in both films, for the line below the page. Each text is a number with its unit.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct PointerReading {
    /// Where it is: 'log H -1.23', 'x 812, y 344'.
    pub at: String,
    /// Of the reference.
    pub reference: Option<String>,
    /// Of the candidate.
    pub candidate: Option<String>,
    /// Candidate minus reference.
    pub difference: Option<String>,
}

/// One thing asked for.
pub enum Command {
    /// One named step of the history.
    Edit(Edit),
    /// A gesture begins; the label names it in the menu.
    Begin(String),
    /// The document as the gesture would leave it, made from the document as it was at its begin.
    Preview(Preview),
    /// The gesture ends as one step.
    Commit,
    /// The gesture ends as if it had not been.
    Abort,
    /// Another candidate lies on the bench.
    Candidate(FilmId),
    /// The screen is as the tester says.
    Screen(Screen),
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
    /// A line for the message at the bottom.
    Say(String),
    /// A problem for the message at the bottom.
    Trouble(Problem),
}

impl std::fmt::Debug for Command {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Edit(edit) => f.debug_tuple("Edit").field(edit).finish(),
            Self::Begin(label) => f.debug_tuple("Begin").field(label).finish(),
            Self::Preview(_) => f.write_str("Preview"),
            Self::Commit => f.write_str("Commit"),
            Self::Abort => f.write_str("Abort"),
            Self::Candidate(film) => f.debug_tuple("Candidate").field(film).finish(),
            Self::Screen(screen) => f.debug_tuple("Screen").field(screen).finish(),
            Self::Page(page) => f.debug_tuple("Page").field(page).finish(),
            Self::Select(selected) => f.debug_tuple("Select").field(selected).finish(),
            Self::Do(action) => f.debug_tuple("Do").field(action).finish(),
            Self::Ask(purpose) => f.debug_tuple("Ask").field(purpose).finish(),
            Self::Take(purpose, path) => f.debug_tuple("Take").field(purpose).field(path).finish(),
            Self::Cancel(work) => f.debug_tuple("Cancel").field(work).finish(),
            Self::StopIntake => f.write_str("StopIntake"),
            Self::Retry => f.write_str("Retry"),
            Self::CompareOnDisk => f.write_str("CompareOnDisk"),
            Self::Reload => f.write_str("Reload"),
            Self::Gathering => f.write_str("Gathering"),
            Self::Say(text) => f.debug_tuple("Say").field(text).finish(),
            Self::Trouble(problem) => f.debug_tuple("Trouble").field(problem).finish(),
        }
    }
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

    /// One named step of the history that cannot fail.
    pub fn edit(&mut self, label: impl Into<String>, change: impl FnOnce(&mut Series) + Send + 'static) {
        self.send(Command::Edit(Edit::new(label, change)));
    }

    /// A gesture goes on: the change is made to the document as it was at the begin.
    pub fn preview(&mut self, change: impl FnOnce(&mut Series) + 'static) {
        self.send(Command::Preview(Box::new(move |series| {
            change(series);
            Ok(())
        })));
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
