//! What stands around the pages: top bar, bench line, stations, films, readout, status line, menus, dialogs, settings.

pub mod about;
pub mod asking;
pub mod beginning;
pub mod bench;
pub mod drops;
pub mod films;
pub mod gathering;
pub mod help;
pub mod intake;
pub mod keys;
pub mod messages;
pub mod on_disk;
mod order;
pub mod origin;
pub mod preferences;
pub mod present;
pub mod question;
pub mod screen;
pub mod search;
pub mod stations;
pub mod status;
pub mod top;

use crate::outbox::PointerReading;
pub use messages::{Message, Messages};

/// What the shell keeps besides the series.
#[derive(Debug, Default)]
pub struct Shell {
    /// What was said, the last of it in the status line.
    pub messages: Messages,
    /// What the pointer read last.
    pub pointer: Option<PointerReading>,
    /// A file that is being asked for.
    pub asking: Option<asking::Asking>,
    /// Files that are being read or written.
    pub intake: intake::Intake,
    /// A folder that is looked through and settled.
    pub gathering: Option<gathering::Gathering>,
    /// The sheet that begins a series.
    pub beginning: Option<beginning::Beginning>,
    /// Dropped files that are not understood by themselves.
    pub drops: drops::Drops,
    /// Which films the list shows.
    pub filter: films::Filter,
    /// The words of the search, while it is open.
    pub search: Option<search::Search>,
    /// The figure of which it is asked how it was got.
    pub origin: Option<crate::origin::Asked>,
    /// What of the program itself is shown.
    pub dialog: Option<Dialog>,
    /// What the page of keys keeps.
    pub keys: keys::KeysPage,
    /// Which part of the help is open.
    pub help: help::Part,
    /// What the tester has to decide before anything else.
    pub question: Option<question::Question>,
}

/// What is shown of the program itself, over the page.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Dialog {
    /// The page of keys.
    Keys,
    /// Settings in one sheet.
    Settings,
    /// The tour, the questions, formulas and cautions.
    Help,
    /// Version, licences, cautions.
    About,
    /// Steps that a screen must show.
    Screen,
}
