//! What stands around the pages: top bar, films, readout, status line, menus, dialogs, settings.

pub mod settings;
