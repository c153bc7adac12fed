//! What stands around the pages: top bar, bench line, stations, films, readout, status line, menus, dialogs, settings.

pub mod asking;
pub mod bench;
pub mod drops;
pub mod films;
pub mod gathering;
pub mod intake;
pub mod keys;
pub mod on_disk;
pub mod question;
pub mod search;
pub mod settings;
pub mod stations;
pub mod status;
pub mod top;
mod work;

use twinwedge_workbench::core::problem::{Problem, Severity};

use crate::outbox::PointerReading;

/// What the shell keeps besides the series.
#[derive(Debug, Default)]
pub struct Shell {
    /// The last message.
    pub message: Option<Message>,
    /// What the pointer read last.
    pub pointer: Option<PointerReading>,
    /// A file that is being asked for.
    pub asking: Option<asking::Asking>,
    /// Files that are being read or written.
    pub intake: intake::Intake,
    /// A folder that is looked through and settled.
    pub gathering: Option<gathering::Gathering>,
    /// Dropped files that are not understood by themselves.
    pub drops: drops::Drops,
    /// Which films the list shows.
    pub filter: films::Filter,
    /// The words of the search, while it is open.
    pub search: Option<search::Search>,
    /// The page of keys is shown.
    pub keys_shown: bool,
    /// What the tester has to decide before anything else.
    pub question: Option<question::Question>,
}

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
