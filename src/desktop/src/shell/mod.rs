//! What stands around the pages: top bar, bench line, stations, films, readout, status line, menus, dialogs, settings.

pub mod about;
pub mod asking;
pub mod bench;
pub mod drops;
pub mod films;
pub mod gathering;
pub mod intake;
pub mod keys;
pub mod messages;
pub mod on_disk;
pub mod present;
pub mod question;
pub mod search;
pub mod settings;
pub mod stations;
pub mod status;
pub mod top;
mod work;

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
    /// Dropped files that are not understood by themselves.
    pub drops: drops::Drops,
    /// Which films the list shows.
    pub filter: films::Filter,
    /// The words of the search, while it is open.
    pub search: Option<search::Search>,
    /// The page of keys is shown.
    pub keys_shown: bool,
    /// What the program says of itself is shown.
    pub about_shown: bool,
    /// What the tester has to decide before anything else.
    pub question: Option<question::Question>,
}
