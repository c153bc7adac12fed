//! What the program remembers of its own: appearance, keys, the last series. A RON file in its data folder.

use std::collections::BTreeMap;
use std::path::PathBuf;

use serde::{Deserialize, Serialize};
use twinwedge_workbench::export::Paper;

/// Whether surfaces are light or dark.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
pub enum Appearance {
    /// As the desktop says.
    #[default]
    AsSystem,
    /// Dark text on light surfaces.
    Light,
    /// Light text on dark surfaces.
    Dark,
}

impl Appearance {
    /// For the toolkit.
    #[must_use]
    pub fn theme(self) -> egui::ThemePreference {
        match self {
            Self::AsSystem => egui::ThemePreference::System,
            Self::Light => egui::ThemePreference::Light,
            Self::Dark => egui::ThemePreference::Dark,
        }
    }
}

/// Size of the text, and of all that goes with it, in per cent of the usual.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(from = "u16", into = "u16")]
pub struct TextSize(u16);

impl TextSize {
    /// The sizes that the steps go through.
    const STEPS: [u16; 9] = [80, 90, 100, 110, 125, 140, 160, 180, 200];

    /// Per cent of the usual.
    #[must_use]
    pub fn percent(self) -> u16 {
        self.0
    }

    /// What lengths on the screen are multiplied with.
    #[must_use]
    pub fn factor(self) -> f32 {
        f32::from(self.0) / 100.0
    }

    /// The next step up; the largest stays.
    #[must_use]
    pub fn larger(self) -> Self {
        Self(Self::STEPS.into_iter().find(|step| *step > self.0).unwrap_or(self.0))
    }

    /// The next step down; the smallest stays.
    #[must_use]
    pub fn smaller(self) -> Self {
        Self(Self::STEPS.into_iter().rev().find(|step| *step < self.0).unwrap_or(self.0))
    }
}

impl Default for TextSize {
    fn default() -> Self {
        Self(100)
    }
}

/// Whatever stands in the file is brought to what can be read.
impl From<u16> for TextSize {
    fn from(percent: u16) -> Self {
        Self(percent.clamp(80, 200))
    }
}

impl From<TextSize> for u16 {
    fn from(size: TextSize) -> Self {
        size.0
    }
}

/// The screen that pictures are shown on, where true sizes matter.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct Screen {
    /// Its dots per inch; nobody but the tester knows.
    pub dots_per_inch: Option<f64>,
    /// How far from it the tester's eye is, millimetres.
    pub eye_mm: f64,
}

impl Default for Screen {
    /// At a desk (common practice, no source).
    fn default() -> Self {
        Self { dots_per_inch: None, eye_mm: 600.0 }
    }
}

/// The paper that reports are set for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
pub enum PaperSize {
    /// ISO 216, 210 × 297 mm.
    #[default]
    A4,
    /// ANSI/ASME Y14.1, 8.5 × 11 inches.
    Letter,
}

impl PaperSize {
    /// For the writer of reports.
    #[must_use]
    pub fn paper(self) -> Paper {
        match self {
            Self::A4 => Paper::A4,
            Self::Letter => Paper::Letter,
        }
    }
}

/// How the tester likes to work: read wherever something is drawn.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(default)]
pub struct Habits {
    /// Black on white or white on black, and edges to match.
    pub high_contrast: bool,
    /// Nothing moves by itself: prints alternate by a key.
    pub reduced_motion: bool,
    /// The wheel alone zooms plots; else with Ctrl.
    pub wheel_zooms: bool,
    /// Numbers are shown and copied with a comma.
    pub decimal_comma: bool,
}

impl Habits {
    fn id() -> egui::Id {
        egui::Id::unique("habits")
    }

    /// Those of a window.
    #[must_use]
    pub fn of(ctx: &egui::Context) -> Self {
        ctx.data(|data| data.get_temp(Self::id())).unwrap_or_default()
    }

    /// Keeps them with a window, whose surfaces stay as they are.
    pub(crate) fn keep_in(self, ctx: &egui::Context) {
        ctx.data_mut(|data| data.insert_temp(Self::id(), self));
    }
}

/// What is remembered from one start to the next.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[serde(default)]
pub struct Settings {
    /// Light or dark.
    pub appearance: Appearance,
    /// Size of the text.
    pub text: TextSize,
    /// How the tester likes to work.
    pub habits: Habits,
    /// The paper that reports are set for.
    pub paper: PaperSize,
    /// Keys that differ from the usual ones: action name to key in words.
    pub keys: BTreeMap<String, String>,
    /// Paths are typed inside the window; the desktop's file dialog is left alone.
    pub own_file_dialog: bool,
    /// Most megabytes that one scan with its smaller copies may take; else what the machine has free.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub scan_megabytes: Option<u64>,
    /// The screen, for pictures of true size.
    pub screen: Screen,
    /// Keys of the figures that the table of films shows; the usual ones where none were chosen.
    pub film_figures: Option<Vec<String>>,
    /// The stations are folded to their marks.
    pub stations_folded: bool,
    /// The list of films is kept beside the page.
    pub film_list: bool,
    /// Series that were open, the last one first.
    pub recent: Vec<PathBuf>,
    /// The folder that the last file was in.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub folder: Option<PathBuf>,
    /// Where the settings are kept; nowhere in tests.
    #[serde(skip)]
    pub file: Option<PathBuf>,
    /// What was wrong with the file, to be told once.
    #[serde(skip)]
    pub complaint: Option<String>,
}

impl Settings {
    /// Where the settings file stands on this machine.
    #[must_use]
    pub fn usual_file() -> Option<PathBuf> {
        Some(twinwedge_workbench::store::folders::settings()?.join("settings.ron"))
    }

    /// The settings as last kept; the usual ones where there is no file or a damaged one.
    #[must_use]
    pub fn load() -> Self {
        Self::usual_file().map(Self::from_file).unwrap_or_default()
    }

    /// The settings of one file.
    #[must_use]
    pub fn from_file(file: PathBuf) -> Self {
        let mut settings = match std::fs::read_to_string(&file) {
            Ok(text) => ron::from_str(&text).unwrap_or_else(|error| Self {
                complaint: Some(format!(
                    "The settings in {} could not be read ({error}); the usual ones are used.",
                    file.display()
                )),
                ..Self::default()
            }),
            Err(_) => Self::default(),
        };
        settings.file = Some(file);
        settings
    }

    /// Puts a series at the head of those that were open.
    pub fn was_open(&mut self, path: PathBuf) {
        const MOST_RECENT: usize = 10;
        self.recent.retain(|other| *other != path);
        self.recent.insert(0, path);
        self.recent.truncate(MOST_RECENT);
    }

    /// Keeps the settings. A damaged file is left for its owner to mend.
    ///
    /// # Errors
    /// The file cannot be written.
    pub fn keep(&self) -> Result<(), String> {
        let Some(file) = self.file.as_ref().filter(|_| self.complaint.is_none()) else { return Ok(()) };
        let text = ron::ser::to_string_pretty(self, ron::ser::PrettyConfig::new())
            .map_err(|error| error.to_string())?;
        if let Some(folder) = file.parent() {
            std::fs::create_dir_all(folder).map_err(|error| error.to_string())?;
        }
        twinwedge_workbench::store::save(file, text.as_bytes()).map_err(|problem| problem.to_string())
    }
}
