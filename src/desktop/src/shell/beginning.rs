//! The sheet that begins a series of one's own: reference, candidate, tablet, light. It stands in the place of the page and
//! keeps what was entered until the series begins or the tester leaves it; a click beside it loses nothing.

use std::path::{Path, PathBuf};

use egui::{ComboBox, ScrollArea, Ui, WidgetInfo, vec2};
use twinwedge_workbench::beginning::{
    self, Beginning as Begun, FirstFilm, FirstLight, FirstTablet, Proposed, is_table,
};
use twinwedge_workbench::core::document::Exposure;
use twinwedge_workbench::core::problem::Problem;
use twinwedge_workbench::edits::Operation;
use twinwedge_workbench::engine::Progress;
use twinwedge_workbench::intake::Home;
use twinwedge_workbench::session::Session;

use crate::appearance::{STEP, fonts, widgets};
use crate::outbox::{Command, FileFor, First, Outbox};
use crate::work::Work;

/// Most width of the sheet: a line is read without turning the head.
const WIDEST: f32 = 760.0;
/// Width of the words before a field.
const WORDS: f32 = 132.0;
/// Steps of the trade's tablets.
const NOMINAL: [u32; 4] = [11, 21, 31, 41];

/// One of the two films as it is entered.
#[derive(Debug, Default)]
struct EnteredFilm {
    file: Option<PathBuf>,
    label: String,
    box_speed: Option<f64>,
    /// Steps of its table; none of a scan.
    steps: Option<usize>,
    looking: Option<Work<Proposed>>,
    problem: Option<String>,
}

impl EnteredFilm {
    fn chosen(&mut self, path: PathBuf, ctx: &egui::Context) {
        let of = path.clone();
        self.looking =
            Some(Work::begin("Reading a file".to_owned(), ctx, move |_, _| beginning::propose(&of)));
        (self.file, self.problem, self.steps) = (Some(path), None, None);
    }

    fn news(&mut self) {
        let Some(found) = self.looking.as_ref().and_then(Work::news) else { return };
        self.looking = None;
        match found {
            Ok(proposed) => {
                // What the tester typed stays.
                if self.label.trim().is_empty() {
                    self.label = proposed.label;
                }
                self.box_speed = self.box_speed.or(proposed.box_speed);
                self.steps = proposed.steps;
            }
            Err(problem) => {
                self.problem = Some(format!("{} {}", problem.cause, problem.remedy));
                self.file = None;
            }
        }
    }
}

/// The tablet as it is entered.
#[derive(Debug, Default)]
struct Tablet {
    file: Option<PathBuf>,
    nominal: Option<u32>,
    steps: Option<usize>,
    looking: Option<Work<usize>>,
    problem: Option<String>,
}

/// What is known of the light on both films.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
enum Known {
    #[default]
    NotYet,
    Same,
    Less,
    Measured,
}

/// The light as it is entered.
#[derive(Debug, Default)]
struct Light {
    known: Known,
    stops_less: Option<f64>,
    log_h: Option<f64>,
    source: String,
    seconds: Option<f64>,
}

/// Standard uncertainty in log H of a light that was measured, until the tester says otherwise on the Tablets page: a tenth of
/// a stop (common practice, no source).
const MEASURED_U: f64 = 0.03;

impl Light {
    fn exposures(&self) -> Result<[Exposure; 2], &'static str> {
        let less = |stops_less: f64| Exposure::Relative { stops_less };
        match self.known {
            Known::NotYet => Ok([Exposure::NotSaid; 2]),
            Known::Same => Ok([less(0.0), less(0.0)]),
            Known::Less => {
                let stops = self.stops_less.ok_or("Enter by how many stops the candidate had less light.")?;
                Ok([less(0.0), less(stops)])
            }
            Known::Measured => {
                let log_h = self.log_h.ok_or("Enter the log H of the light.")?;
                Ok([Exposure::Absolute { log_h, u: MEASURED_U }; 2])
            }
        }
    }
}

/// What has come of it.
#[derive(Debug)]
pub enum News {
    /// The series begins with this.
    Begin(Box<Operation>, Vec<Problem>),
    /// The tester does without.
    Leave,
}

/// The sheet on which two films and their tablet become a series.
#[derive(Debug)]
pub struct Beginning {
    films: [EnteredFilm; 2],
    tablet: Tablet,
    light: Light,
    taking: Option<Work<(Operation, Vec<Problem>)>>,
    problem: Option<String>,
    /// It stands in the place of the page.
    pub shown: bool,
    begun: bool,
    left: bool,
}

impl Default for Beginning {
    fn default() -> Self {
        Self {
            films: Default::default(),
            tablet: Tablet::default(),
            light: Light::default(),
            taking: None,
            problem: None,
            shown: true,
            begun: false,
            left: false,
        }
    }
}

impl Beginning {
    /// A file was chosen or dropped.
    pub fn chosen(&mut self, which: First, path: PathBuf, ctx: &egui::Context) {
        match which {
            First::Reference => self.films[0].chosen(path, ctx),
            First::Candidate => self.films[1].chosen(path, ctx),
            First::Tablet => {
                let of = path.clone();
                let label = "Reading a tablet".to_owned();
                self.tablet = Tablet {
                    looking: Some(Work::begin(label, ctx, move |_, _| beginning::steps_of_tablet(&of))),
                    file: Some(path),
                    ..Tablet::default()
                };
            }
        }
    }

    /// What a dropped file plainly is: by its name the tablet, else the first film that has no file yet and is not `given` one
    /// of those that were dropped with it.
    #[must_use]
    pub fn place_for(&self, path: &Path, given: &[First]) -> Option<First> {
        let name = path.file_name().unwrap_or_default().to_string_lossy().to_lowercase();
        let tablet = is_table(path) && (name.contains("tablet") || name.contains("wedge"));
        if tablet {
            return Some(First::Tablet);
        }
        let films = [First::Reference, First::Candidate].into_iter().zip(&self.films);
        films
            .filter(|(first, film)| film.file.is_none() && !given.contains(first))
            .map(|(first, _)| first)
            .next()
    }

    /// What has come of it since it was last asked.
    pub fn news(&mut self, session: &Session, ctx: &egui::Context) -> Option<News> {
        self.films.iter_mut().for_each(EnteredFilm::news);
        if let Some(found) = self.tablet.looking.as_ref().and_then(Work::news) {
            self.tablet.looking = None;
            match found {
                Ok(steps) => self.tablet.steps = Some(steps),
                Err(problem) => {
                    self.tablet.problem = Some(format!("{} {}", problem.cause, problem.remedy));
                    self.tablet.file = None;
                }
            }
        }
        if std::mem::take(&mut self.begun)
            && let Ok(of) = self.entered()
        {
            let (series, folder) = (session.series().clone(), session.folder().to_path_buf());
            self.problem = None;
            self.taking = Some(Work::begin("Beginning a series".to_owned(), ctx, move |control, ctx| {
                let home = Home { series: &series, folder: &folder };
                beginning::begin(of, home, &|share| control.go_on_by_share(share, ctx))
            }));
        }
        if let Some(found) = self.taking.as_ref().and_then(Work::news) {
            self.taking = None;
            match found {
                Ok((operation, notes)) => return Some(News::Begin(Box::new(operation), notes)),
                Err(problem) => self.problem = Some(format!("{} {}", problem.cause, problem.remedy)),
            }
        }
        self.left.then_some(News::Leave)
    }

    /// All that was entered; else what is still to come.
    fn entered(&self) -> Result<Begun, String> {
        let film = |film: &EnteredFilm, name: &str| {
            let file = film.file.clone().ok_or_else(|| format!("Choose the file of the {name}."))?;
            let label = film.label.trim().to_owned();
            if film.looking.is_some() {
                return Err(format!("The file of the {name} is still being read."));
            }
            if label.is_empty() {
                return Err(format!("Give the {name} a name."));
            }
            Ok(FirstFilm { label, box_speed: film.box_speed, file })
        };
        let (reference, candidate) =
            (film(&self.films[0], "reference film")?, film(&self.films[1], "candidate film")?);
        let tablet = match (&self.tablet.file, self.nominal()) {
            (Some(file), _) => FirstTablet::File(file.clone()),
            (None, Some(steps)) => FirstTablet::Nominal(steps),
            (None, None) => return Err("Choose the tablet.".to_owned()),
        };
        let steps = self.tablet.steps.or_else(|| self.nominal().map(|steps| steps as usize));
        let more = self.films.iter().filter_map(|film| film.steps).max();
        if let (Some(steps), Some(more)) = (steps, more)
            && more > steps
        {
            return Err(format!(
                "The tablet has {steps} steps and a film {more} readings. Choose the tablet that was exposed."
            ));
        }
        let exposures = self.light.exposures()?;
        let light = FirstLight { exposures, source: self.light.source.clone(), seconds: self.light.seconds };
        Ok(Begun { reference, candidate, tablet, light })
    }

    /// The trade's tablet that serves: as chosen, else the one that has as many steps as the reference's table.
    fn nominal(&self) -> Option<u32> {
        let fitting = || {
            let steps = u32::try_from(self.films[0].steps.or(self.films[1].steps)?).ok()?;
            NOMINAL.contains(&steps).then_some(steps)
        };
        self.tablet.nominal.or_else(fitting).filter(|_| self.tablet.file.is_none())
    }

    /// The sheet, in the place of the page.
    pub fn ui(&mut self, ui: &mut Ui, outbox: &mut Outbox) {
        widgets::title(
            ui,
            "Begin a series",
            "Two films and the tablet behind them: everything else can come later. Files may also be dropped here.",
        );
        ScrollArea::vertical().id_salt("beginning").auto_shrink([false, false]).show(ui, |ui| {
            ui.set_max_width((ui.available_width() - 12.0).min(WIDEST));
            let [reference, candidate] = &mut self.films;
            film(ui, reference, First::Reference, outbox);
            film(ui, candidate, First::Candidate, outbox);
            self.tablet(ui, outbox);
            light(ui, &mut self.light);
        });
    }

    fn tablet(&mut self, ui: &mut Ui, outbox: &mut Outbox) {
        let nominal = self.nominal();
        part(ui, "3  Tablet", "The step tablet that was exposed onto both films.", |ui| {
            let tablet = &mut self.tablet;
            row(ui, "Its densities", |ui| {
                choose(ui, "Choose the tablet's densities", tablet.file.as_deref(), First::Tablet, outbox);
            });
            row(ui, "or the trade's", |ui| {
                let shown = nominal.map_or("none".to_owned(), |steps| format!("{steps} steps, nominal"));
                let combo = ComboBox::from_id_salt("nominal tablet").width(180.0).selected_text(&shown);
                let response = combo.show_ui(ui, |ui| {
                    for steps in NOMINAL {
                        let words = format!("{steps} steps, nominal");
                        if ui.selectable_label(nominal == Some(steps), words).clicked() {
                            *tablet = Tablet { nominal: Some(steps), ..Tablet::default() };
                        }
                    }
                });
                let spoken = format!("Nominal tablet: {shown}");
                response.response.widget_info(|| WidgetInfo::labeled(egui::Role::ComboBox, true, &spoken));
                let hover = "A tablet as the trade makes it, where its own densities were not measured";
                response.response.on_hover_text(hover);
            });
            if let Some(steps) = tablet.steps {
                widgets::muted(ui, &format!("{steps} steps"));
            }
            trouble(ui, tablet.problem.as_deref());
        });
    }

    /// What stands beside it on the right: what the series begins with, and the button that begins it.
    pub fn readout(&mut self, ui: &mut Ui) {
        ui.label(fonts::strong("The series begins with"));
        ui.add_space(STEP);
        for (name, film) in [("Reference", &self.films[0]), ("Candidate", &self.films[1])] {
            let label = if film.label.trim().is_empty() { "not chosen" } else { film.label.trim() };
            widgets::value_row(ui, name, label, "Its name, as all pages show it");
        }
        let tablet = match (&self.tablet.file, self.nominal()) {
            (Some(file), _) => file.file_stem().unwrap_or_default().to_string_lossy().into_owned(),
            (None, Some(steps)) => format!("{steps} steps, nominal"),
            (None, None) => "not chosen".to_owned(),
        };
        widgets::value_row(ui, "Tablet", &tablet, "The tablet behind both films");
        let light = match self.light.known {
            Known::NotYet => "not said yet",
            Known::Same => "the same on both",
            Known::Less => "less on the candidate",
            Known::Measured => "measured",
        };
        widgets::value_row(ui, "Light", light, "What is known of the light on both films");
        ui.add_space(2.0 * STEP);
        if let Some(work) = &self.taking {
            let (done, total) = work.told();
            let share = (total > 0).then(|| done as f32 / total as f32);
            widgets::waiting(ui, "Reading the files", Progress { done: share });
            if widgets::button(ui, "Stop", "Back to the sheet; nothing is taken in").clicked() {
                self.taking = None;
            }
            return;
        }
        let entered = self.entered();
        let why_not = entered.as_ref().err().cloned().unwrap_or_default();
        let hover = "Takes all in as one step and shows both curves";
        self.begun |= widgets::button_if(ui, entered.is_ok(), "Begin the series", hover, &why_not).clicked();
        if !why_not.is_empty() {
            widgets::muted(ui, &why_not);
        }
        trouble(ui, self.problem.as_deref());
        ui.add_space(STEP);
        let hover = "An empty series; films are then added one by one, or as a folder";
        self.left |= widgets::button(ui, "Begin empty", hover).clicked();
        ui.add_space(2.0 * STEP);
        widgets::footnote(
            ui,
            "Nothing is copied or changed: the series keeps the way to each scan, and the readings themselves.",
        );
    }
}

fn film(ui: &mut Ui, film: &mut EnteredFilm, which: First, outbox: &mut Outbox) {
    let (number, name, about) = match which {
        First::Reference => ("1", "Reference film", "The film that all others are compared with."),
        _ => ("2", "Candidate film", "The film under test. More candidates can come later."),
    };
    part(ui, &format!("{number}  {name}"), about, |ui| {
        row(ui, "Readings or strip", |ui| {
            choose(ui, &format!("Choose the {}", name.to_lowercase()), film.file.as_deref(), which, outbox);
        });
        if film.looking.is_some() {
            widgets::waiting(ui, "Reading the file", Progress::default());
        } else if film.file.is_some() {
            let found = film.steps.map_or_else(
                || "A scan: the strip is looked for in it.".to_owned(),
                |steps| format!("{steps} readings"),
            );
            widgets::muted(ui, &found);
        }
        trouble(ui, film.problem.as_deref());
        row(ui, "Name", |ui| {
            let id = ui.scope_id().with((name, "name"));
            let hover = "What the film is called on every page and in the report";
            let spoken = format!("Name of the {}", name.to_lowercase());
            if let Some(label) = widgets::text_field(ui, id, &spoken, &film.label, hover, 220.0) {
                film.label = label;
            }
        });
        row(ui, "Box speed", |ui| {
            let id = ui.scope_id().with((name, "speed"));
            let spoken = format!("Box speed of the {}", name.to_lowercase());
            let hover = "Speed printed on the box, arithmetic; empty where it is not known";
            if let Some(speed) = widgets::number_field(ui, id, &spoken, film.box_speed, hover, 72.0) {
                film.box_speed = speed.filter(|speed| *speed > 0.0);
            }
        });
    });
}

fn light(ui: &mut Ui, light: &mut Light) {
    let about = "Only where the light on both films is known can their speeds be compared.";
    part(ui, "4  Light on the tablet", about, |ui| {
        widgets::choice(
            ui,
            "Light",
            &mut light.known,
            &[
                (Known::Same, "the same on both", "Both films were exposed alike"),
                (
                    Known::Less,
                    "less on the candidate",
                    "A neutral density or a shorter time for the candidate",
                ),
                (Known::Measured, "measured", "A calibrated light: lux seconds before the tablet are known"),
                (Known::NotYet, "not known yet", "Both films have curves, but no speed against each other"),
            ],
        );
        if light.known == Known::Less {
            row(ui, "Stops less", |ui| {
                let hover = "By how many stops the candidate had less light than the reference";
                let id = ui.scope_id().with("less");
                let less = light.stops_less;
                if let Some(less) =
                    widgets::number_field(ui, id, "Stops less on the candidate", less, hover, 72.0)
                {
                    light.stops_less = less;
                }
            });
        }
        if light.known == Known::Measured {
            row(ui, "log H", |ui| {
                let hover = "lg of lux seconds before the tablet";
                let id = ui.scope_id().with("log H");
                if let Some(log_h) =
                    widgets::number_field(ui, id, "log H of the light", light.log_h, hover, 72.0)
                {
                    light.log_h = log_h;
                }
            });
        }
        row(ui, "Lamp", |ui| {
            let id = ui.scope_id().with("lamp");
            let hover = "The lamp or filter in words; may stay empty";
            if let Some(source) = widgets::text_field(ui, id, "Lamp", &light.source, hover, 220.0) {
                light.source = source;
            }
        });
        row(ui, "Seconds", |ui| {
            let id = ui.scope_id().with("seconds");
            let hover = "How long the tablet was exposed; may stay empty";
            if let Some(seconds) = widgets::number_field(ui, id, "Seconds", light.seconds, hover, 72.0) {
                light.seconds = seconds.filter(|seconds| *seconds > 0.0);
            }
        });
    });
}

fn part(ui: &mut Ui, name: &str, about: &str, contents: impl FnOnce(&mut Ui)) {
    widgets::boxed(ui, |ui| {
        ui.label(fonts::strong(name));
        widgets::muted(ui, about);
        ui.add_space(STEP);
        contents(ui);
    });
    ui.add_space(2.0 * STEP);
}

fn row<R>(ui: &mut Ui, words: &str, contents: impl FnOnce(&mut Ui) -> R) -> R {
    ui.horizontal(|ui| {
        let size = vec2(WORDS, ui.spacing().interact_size.y);
        ui.allocate_ui_with_layout(size, egui::Layout::left_to_right(egui::Align::Center), |ui| {
            ui.set_min_width(WORDS);
            widgets::muted_inline(ui, words);
        });
        contents(ui)
    })
    .inner
}

/// The button that asks for a file, and the name of the one that was chosen.
fn choose(ui: &mut Ui, name: &str, file: Option<&Path>, which: First, outbox: &mut Outbox) {
    let hover = match which {
        First::Tablet => "A table of the tablet's densities, step 1 first",
        _ => "A table of densities, step 1 first, or a scan of the exposed strip",
    };
    let response = widgets::button(ui, "Choose …", hover);
    widgets::name_it(&response, name);
    if response.clicked() {
        outbox.send(Command::Ask(FileFor::First(which)));
    }
    match file {
        Some(path) => {
            let shown = path.file_name().unwrap_or_default().to_string_lossy();
            widgets::ellipsis(ui, shown.as_ref()).on_hover_text(path.display().to_string());
        }
        None => {
            widgets::muted_inline(ui, "no file yet");
        }
    }
}

fn trouble(ui: &mut Ui, problem: Option<&str>) {
    if let Some(words) = problem {
        widgets::caution_line(ui, words);
    }
}
