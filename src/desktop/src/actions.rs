//! Every action of the window, declared once: name, label, hover text, key, where it can be done. Menus, keys, the search
//! and the page of keys are all made from this table.

use std::collections::BTreeMap;

use egui::{Key, KeyboardShortcut, Modifiers};
use twinwedge_workbench::session::Session;

use crate::place::{PageId, Selected};

/// What can be done by menu, key or search.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Action {
    /// An empty series.
    New,
    /// A series file.
    Open,
    /// A series made from a list of files.
    OpenList,
    /// A folder of scans into the series.
    TakeFolder,
    /// The series that the program carries.
    OpenSample,
    /// The series of fifty films that the program carries.
    OpenFifty,
    /// Saves in its place.
    Save,
    /// Saves the series to another file.
    SaveAs,
    /// What was not saved before the program ended.
    Recover,
    /// Another film in the series.
    AddFilm,
    /// Report, figures or table into a file.
    Export,
    /// Ends the program.
    Quit,
    /// Takes the last step back.
    Undo,
    /// Makes it again.
    Redo,
    /// The candidate after this one.
    NextCandidate,
    /// The candidate before this one.
    PreviousCandidate,
    /// Shows the page Films.
    Films,
    /// Shows the page Tablets.
    Tablets,
    /// Shows the page Curves.
    Curves,
    /// Shows the page Times.
    Times,
    /// Shows the page Tones.
    Tones,
    /// Shows the page Frames.
    Frames,
    /// Shows the page Prints.
    Prints,
    /// Shows the page Greys.
    Greys,
    /// Shows the page Grain.
    Grain,
    /// Shows the page Report.
    Report,
    /// Shows the picture larger.
    ZoomIn,
    /// Shows the picture smaller.
    ZoomOut,
    /// The whole picture.
    Fit,
    /// One scan pixel is one screen pixel.
    OneToOne,
    /// Prints: the next way of laying them beside each other.
    NextArrangement,
    /// Grain: the other film in the same place.
    SwapInPlace,
    /// Prints: keeps the sampled place as a spot of the series.
    KeepSpot,
    /// Takes the selected spot out of the series.
    DeleteSpot,
    /// The stations, or their marks alone.
    FoldStations,
    /// The list of films beside the page.
    FilmList,
    /// The page alone, over the whole screen, for a talk.
    Present,
    /// A still of the page as a picture of 1920 × 1080.
    Still,
    /// The same of 3840 × 2160.
    LargeStill,
    /// Steps of black, white and grey that a screen must show.
    ScreenCheck,
    /// Light or dark surfaces.
    Appearance,
    /// Text and all that goes with it a step larger.
    LargerText,
    /// A step smaller.
    SmallerText,
    /// As large as it is meant to be.
    UsualText,
    /// Finds an action, page or film by its words.
    Search,
    /// Settings in one sheet.
    Settings,
    /// The tour, the questions, every formula, and cautions.
    HelpPages,
    /// The page of keys.
    Keys,
    /// Version, licences, cautions.
    About,
    /// Tries failed and cancelled work again.
    Retry,
}

/// In which menu an action stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Menu {
    /// What is done with series files.
    Series,
    /// Undo, redo, and films that come and go.
    Edit,
    /// What is looked at.
    View,
    /// Keys, and what the program is.
    Help,
}

impl Menu {
    /// All menus, left to right.
    pub const ALL: [Self; 4] = [Self::Series, Self::Edit, Self::View, Self::Help];

    /// What the menu bar calls it.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Series => "Series",
            Self::Edit => "Edit",
            Self::View => "View",
            Self::Help => "Help",
        }
    }
}

/// The declaration of one action.
#[derive(Debug)]
pub struct Spec {
    /// The action that is declared.
    pub action: Action,
    /// Its name in the settings file.
    pub name: &'static str,
    /// What it is called.
    pub label: &'static str,
    /// What it does.
    pub hover: &'static str,
    /// The key it has unless the settings say otherwise.
    pub key: Option<KeyboardShortcut>,
    /// Where it stands.
    pub menu: Menu,
    /// Whether it can be done now.
    pub enabled: fn(&Session, Selected) -> bool,
}

const fn key(key: Key) -> Option<KeyboardShortcut> {
    Some(KeyboardShortcut::new(Modifiers::NONE, key))
}

const fn ctrl(key: Key) -> Option<KeyboardShortcut> {
    Some(KeyboardShortcut::new(Modifiers::COMMAND, key))
}

const fn alt(key: Key) -> Option<KeyboardShortcut> {
    Some(KeyboardShortcut::new(Modifiers::ALT, key))
}

const fn ctrl_shift(key: Key) -> Option<KeyboardShortcut> {
    Some(KeyboardShortcut::new(Modifiers::COMMAND.plus(Modifiers::SHIFT), key))
}

fn always(_: &Session, _: Selected) -> bool {
    true
}

fn has_film(session: &Session, _: Selected) -> bool {
    !session.series().films.is_empty()
}

fn has_candidates(session: &Session, _: Selected) -> bool {
    session.series().candidates().nth(1).is_some()
}

fn spot_selected(_: &Session, selected: Selected) -> bool {
    matches!(selected, Selected::Spot(_))
}

macro_rules! table {
    ($($action:ident, $name:literal, $menu:ident, $key:expr, $enabled:expr, $label:literal, $hover:literal;)+) => {
        /// All actions, in the order of their menus.
        pub static ACTIONS: &[Spec] = &[$(Spec {
            action: Action::$action,
            name: $name,
            label: $label,
            hover: $hover,
            key: $key,
            menu: Menu::$menu,
            enabled: $enabled,
        }),+];
    };
}

table! {
    New, "new", Series, ctrl(Key::N), always, "New ...", "Begins a series from two films and their tablet; the one at hand stays on disk as last saved";
    Open, "open", Series, ctrl(Key::O), always, "Open ...", "Opens a series file";
    OpenList, "open_list", Series, None, always, "Make from a list ...", "Makes a series from a CSV that says what each file in its folder is";
    TakeFolder, "take_folder", Series, ctrl(Key::I), always, "Take in a folder ...", "Takes a folder of scans and tables into the series: files are told by what they show and by their names";
    OpenSample, "open_sample", Series, None, always, "Open the sample", "Opens the invented series that the program carries";
    OpenFifty, "open_fifty", Series, None, always, "Open the sample of fifty films", "Opens fifty invented films with readings, brackets and records, to try a whole series";
    Save, "save", Series, ctrl(Key::S), always, "Save", "Saves the series in its place";
    SaveAs, "save_as", Series, ctrl_shift(Key::S), always, "Save as ...", "Saves the series under another name";
    Recover, "recover", Series, None, always, "Recover ...", "Lists series that were changed and not saved before the program ended";
    AddFilm, "add_film", Series, ctrl(Key::J), always, "Add a film", "Adds a film to the series; the first one is the reference";
    Export, "export", Series, ctrl(Key::E), has_film, "Export ...", "Writes the report (.html), all figures (.json), the table (.csv) or a contact sheet of the grain of all films (.svg)";
    Still, "still", Series, None, always, "Still of the page ...", "Saves the page as it is presented as a picture of 1920 × 1080 pixels, for a talk or a film";
    LargeStill, "large_still", Series, None, always, "Large still of the page ...", "Saves the page as it is presented as a picture of 3840 × 2160 pixels";
    Quit, "quit", Series, ctrl(Key::Q), always, "Quit", "Ends the program; an unsaved series asks first";
    Undo, "undo", Edit, ctrl(Key::Z), |session, _| session.undo_label().is_some(), "Undo", "Takes the last step back";
    Redo, "redo", Edit, ctrl_shift(Key::Z), |session, _| session.redo_label().is_some(), "Redo", "Makes the step taken back again";
    KeepSpot, "keep_spot", Edit, key(Key::K), always, "Keep the spot", "Prints: keeps the sampled place as a named spot of the series";
    DeleteSpot, "delete_spot", Edit, key(Key::Delete), spot_selected, "Delete the spot", "Takes the selected spot out of the series";
    NextCandidate, "next_candidate", View, key(Key::PageDown), has_candidates, "Next candidate", "Lays the next candidate on the bench; page, zoom and spot stay";
    PreviousCandidate, "previous_candidate", View, key(Key::PageUp), has_candidates, "Previous candidate", "Lays the candidate before on the bench; page, zoom and spot stay";
    Films, "films", View, alt(Key::Num1), always, "Films", "The series as a table: records, measured figures, what is missing";
    Tablets, "tablets", View, alt(Key::Num2), always, "Tablets", "Step densities of both films, and the calibration of the scanner";
    Curves, "curves", View, alt(Key::Num3), always, "Curves", "Both characteristic curves over each other";
    Times, "times", View, alt(Key::Num4), always, "Times", "Gradient over development time: the time for a wanted contrast, and predicted curves";
    Tones, "tones", View, alt(Key::Num5), always, "Tones", "Zones on both films rated alike, the paper, and a tone from subject to print";
    Frames, "frames", View, alt(Key::Num6), always, "Frames", "Brackets: shadow match, exposure index, print exposure";
    Prints, "prints", View, alt(Key::Num7), always, "Prints", "Both prints registered to each other; a click samples the same spot in both";
    Greys, "greys", View, alt(Key::Num8), always, "Greys", "The colour patches of both prints as greys";
    Grain, "grain", View, alt(Key::Num9), always, "Grain", "Granularity of both films, and crops at one scale";
    Report, "report", View, alt(Key::Num0), always, "Report", "Findings with their evidence, verdict, export";
    ZoomIn, "zoom_in", View, key(Key::Plus), always, "Nearer", "Enlarges the pictures";
    ZoomOut, "zoom_out", View, key(Key::Minus), always, "Farther", "Shrinks the pictures";
    Fit, "fit", View, key(Key::Num0), always, "Whole picture", "Shows the whole picture";
    OneToOne, "one_to_one", View, key(Key::Num1), always, "Pixel for pixel", "Shows one pixel of the scan as one pixel of the screen";
    NextArrangement, "next_arrangement", View, key(Key::V), always, "Next arrangement", "Prints: side by side, divided, alternating, difference. Grain: side by side, in place, all films";
    SwapInPlace, "swap_in_place", View, key(Key::X), always, "Swap in place", "Grain: shows the reference in the place of the candidate, and back. Prints that alternate with reduced motion: the next one";
    FoldStations, "fold_stations", View, key(Key::F8), always, "Fold the stations", "Leaves only the marks of the stations, or shows their words again";
    FilmList, "film_list", View, key(Key::F9), always, "List of films", "Keeps the list of films beside the page, or puts it away";
    Present, "present", View, key(Key::F11), always, "Present", "Shows the page alone over the whole screen with larger text, for a talk or a recording; the same key or Escape leads back";
    Appearance, "appearance", View, None, always, "Light or dark", "Changes between light and dark surfaces";
    LargerText, "larger_text", View, ctrl(Key::Plus), always, "Larger text", "Text and all that goes with it a step larger, up to 200 per cent";
    SmallerText, "smaller_text", View, ctrl(Key::Minus), always, "Smaller text", "Text and all that goes with it a step smaller, down to 80 per cent";
    UsualText, "usual_text", View, ctrl(Key::Num0), always, "Usual text size", "Text at 100 per cent again";
    Settings, "settings", Edit, ctrl(Key::Comma), always, "Settings ...", "Appearance, text, plots, numbers, folders and keys in one sheet";
    HelpPages, "help", Help, None, always, "Help", "A tour of the pages, the ten questions, every formula with its source, and what to heed in a darkroom";
    ScreenCheck, "screen_check", Help, None, always, "Check the screen", "Shows steps near black, near white and of grey: a screen that hides them cannot be trusted with prints";
    Search, "search", Help, ctrl(Key::K), always, "Search", "Finds an action, a page or a film by its words";
    Keys, "keys", Help, key(Key::F1), always, "Keys", "Lists all keys and how to change them";
    About, "about", Help, None, always, "About Twinwedge", "Version, licences, and what to heed in a darkroom";
    Retry, "retry", Help, key(Key::F5), always, "Try again", "Tries failed and cancelled work again, and looks for missing files";
}

impl Action {
    /// The row of the table that declares it.
    #[must_use]
    pub fn spec(self) -> &'static Spec {
        // The table has a line for every action; a test holds that.
        ACTIONS.iter().find(|spec| spec.action == self).unwrap_or(&ACTIONS[0])
    }

    /// The action that shows a page.
    #[must_use]
    pub fn page(page: PageId) -> Self {
        match page {
            PageId::Films => Self::Films,
            PageId::Tablets => Self::Tablets,
            PageId::Curves => Self::Curves,
            PageId::Times => Self::Times,
            PageId::Tones => Self::Tones,
            PageId::Frames => Self::Frames,
            PageId::Prints => Self::Prints,
            PageId::Greys => Self::Greys,
            PageId::Grain => Self::Grain,
            PageId::Report => Self::Report,
        }
    }

    /// The page that it shows, if it is such an action.
    #[must_use]
    pub fn shows(self) -> Option<PageId> {
        PageId::ALL.into_iter().find(|page| Self::page(*page) == self)
    }
}

/// Which key does what.
#[derive(Debug, Clone)]
pub struct Keys {
    by_action: BTreeMap<Action, KeyboardShortcut>,
    /// Lines of the settings file that name no action or no key, in words.
    pub complaints: Vec<String>,
}

impl Keys {
    /// The keys of the table, changed as the settings say: action name to key in words, e.g. `"undo": "Ctrl+Z"`; an empty
    /// text takes the key away.
    #[must_use]
    pub fn with(changes: &BTreeMap<String, String>) -> Self {
        let mut by_action: BTreeMap<_, _> =
            ACTIONS.iter().filter_map(|spec| Some((spec.action, spec.key?))).collect();
        let mut complaints = Vec::new();
        for (name, text) in changes {
            let Some(spec) = ACTIONS.iter().find(|spec| spec.name == name) else {
                complaints.push(format!("The settings give a key to '{name}', which is no action."));
                continue;
            };
            if text.trim().is_empty() {
                by_action.remove(&spec.action);
            } else if let Some(shortcut) = parse(text) {
                by_action.insert(spec.action, shortcut);
            } else {
                complaints.push(format!("The settings give '{name}' the key '{text}', which is no key."));
            }
        }
        Self { by_action, complaints }
    }

    /// The key of an action.
    #[must_use]
    pub fn shortcut(&self, action: Action) -> Option<KeyboardShortcut> {
        self.by_action.get(&action).copied()
    }

    /// The action that has a key.
    #[must_use]
    pub fn taken(&self, shortcut: KeyboardShortcut) -> Option<Action> {
        let text = words(shortcut);
        self.by_action.iter().find(|(_, other)| words(**other) == text).map(|(action, _)| *action)
    }

    /// The key of an action in words; empty if it has none.
    #[must_use]
    pub fn words(&self, action: Action) -> String {
        self.shortcut(action).map(words).unwrap_or_default()
    }

    /// What an action does and which key does it, for hover texts.
    #[must_use]
    pub fn hover(&self, action: Action) -> String {
        let hover = action.spec().hover;
        match self.shortcut(action) {
            Some(shortcut) => format!("{hover}\nKey: {}", words(shortcut)),
            None => hover.to_owned(),
        }
    }

    /// The actions whose keys were pressed in this frame. While text is typed, plain keys belong to the text.
    #[must_use]
    pub fn pressed(&self, ctx: &egui::Context) -> Vec<Action> {
        let typing = ctx.text_edit_focused();
        let mut shortcuts: Vec<_> = self.by_action.iter().map(|(action, key)| (*action, *key)).collect();
        // Ctrl+Shift+Z before Ctrl+Z: a shorter combination would take the longer one's key.
        shortcuts.sort_by_key(|(_, key)| {
            std::cmp::Reverse(u8::from(key.modifiers.shift) + u8::from(key.modifiers.alt))
        });
        ctx.input_mut(|input| {
            shortcuts
                .into_iter()
                .filter(|(_, key)| !(typing && key.conflicts_with_text_editing()))
                .filter(|(_, key)| input.consume_shortcut(key))
                .map(|(action, _)| action)
                .collect()
        })
    }
}

/// A key in words: 'Ctrl+Shift+Z'.
#[must_use]
pub fn words(shortcut: KeyboardShortcut) -> String {
    shortcut.format(&egui::ModifierNames::NAMES, cfg!(target_os = "macos"))
}

fn parse(text: &str) -> Option<KeyboardShortcut> {
    // A plain '+' is a key of its own.
    let (head, last) = match text.strip_suffix('+') {
        Some(head) => (head.trim_end_matches('+'), "+"),
        None => text.rsplit_once('+').unwrap_or(("", text)),
    };
    let mut modifiers = Modifiers::NONE;
    for word in head.split('+').map(str::trim).filter(|word| !word.is_empty()) {
        modifiers |= match word.to_ascii_lowercase().as_str() {
            "ctrl" | "cmd" => Modifiers::COMMAND,
            "shift" => Modifiers::SHIFT,
            "alt" => Modifiers::ALT,
            _ => return None,
        };
    }
    Some(KeyboardShortcut::new(modifiers, Key::from_name(last.trim())?))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_and_keys_are_each_used_once() {
        for (i, spec) in ACTIONS.iter().enumerate() {
            for other in &ACTIONS[i + 1..] {
                assert_ne!(spec.name, other.name);
                assert_ne!(spec.action, other.action);
                assert!(spec.key.is_none() || spec.key != other.key, "{} and {}", spec.name, other.name);
            }
            assert_eq!(spec.action.spec().name, spec.name);
        }
    }

    #[test]
    fn every_page_has_its_action() {
        for page in PageId::ALL {
            assert_eq!(Action::page(page).shows(), Some(page));
            assert_eq!(Action::page(page).spec().label, page.word());
        }
    }

    #[test]
    fn keys_can_be_changed_and_taken_away() {
        let change = |name: &str, text: &str| (name.to_owned(), text.to_owned());
        let keys = Keys::with(
            &[
                change("undo", "Alt+Shift+U"),
                change("keep_spot", ""),
                change("zoom_in", "Ctrl++"),
                change("nonsense", "A"),
                change("save", "Ctrl+Nokey"),
            ]
            .into(),
        );
        let undo = KeyboardShortcut::new(Modifiers::ALT | Modifiers::SHIFT, Key::U);
        assert_eq!(keys.shortcut(Action::Undo), Some(undo));
        assert_eq!(keys.shortcut(Action::KeepSpot), None);
        assert_eq!(keys.shortcut(Action::ZoomIn), Some(KeyboardShortcut::new(Modifiers::COMMAND, Key::Plus)));
        assert_eq!(keys.shortcut(Action::Save), Action::Save.spec().key);
        assert_eq!(keys.complaints.len(), 2, "{:?}", keys.complaints);
    }
}
