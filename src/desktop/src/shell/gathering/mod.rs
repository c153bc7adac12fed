//! A folder on its way into the series: it is looked through, what is doubtful is settled by the tester, and all of it is
//! taken in as one step. Looking and taking run on threads; a frame touches only what is in sight.

mod lines;
mod sheet;

use std::path::{Path, PathBuf};
use std::sync::Arc;

use egui::Ui;
use twinwedge_workbench::core::document::Series;
use twinwedge_workbench::core::problem::Problem;
use twinwedge_workbench::engine::Progress;
use twinwedge_workbench::folder::take::{self, Prepared};
use twinwedge_workbench::folder::{self, Plan};
use twinwedge_workbench::session::Session;

use self::sheet::Sheet;
use crate::appearance::{STEP, widgets};
use crate::work::Work;

/// What became of the folder since it was last asked.
#[derive(Debug)]
pub enum News {
    /// It is to be taken in, and what is doubtful about that.
    Take(Box<Prepared>, Vec<Problem>),
    /// It could not be looked through or taken in.
    Trouble(Problem),
}

/// A folder on its way.
#[derive(Debug)]
pub struct Gathering {
    folder: PathBuf,
    series: Arc<Series>,
    series_folder: PathBuf,
    state: State,
    /// The sheet stands in the place of the page.
    pub shown: bool,
    over: bool,
}

#[derive(Debug)]
enum State {
    Looking(Work<Plan>),
    Review(Box<Sheet>),
    /// With the sheet to come back to.
    Taking(Work<Prepared>, Box<Sheet>),
    Over,
}

impl Gathering {
    /// Begins to look through a folder.
    #[must_use]
    pub fn look(folder: PathBuf, session: &Session, ctx: &egui::Context) -> Self {
        let (series, series_folder) = (Arc::clone(session.series()), session.folder().to_path_buf());
        let (of, in_series, at) = (folder.clone(), Arc::clone(&series), series_folder.clone());
        let work = Work::begin("Looking through a folder".to_owned(), ctx, move |control, ctx| {
            folder::survey(&of, &in_series, &at, &|seen| {
                control.go_on(count(seen.done), count(seen.total), ctx)
            })
        });
        Self { folder, series, series_folder, state: State::Looking(work), shown: true, over: false }
    }

    /// Whether there is nothing left to do.
    #[must_use]
    pub fn over(&self) -> bool {
        self.over
    }

    /// What is under way, in words, for the line at the bottom.
    #[must_use]
    pub fn words(&self) -> String {
        let name = name(&self.folder);
        match &self.state {
            State::Looking(work) => {
                let (done, total) = work.told();
                format!("Looking through {name}: {done} of {total}")
            }
            State::Review(sheet) => match sheet.doubts() {
                0 => format!("The folder {name} waits"),
                1 => format!("The folder {name} waits: 1 doubt"),
                doubts => format!("The folder {name} waits: {doubts} doubts"),
            },
            State::Taking(..) | State::Over => format!("Taking in {name}"),
        }
    }

    /// What has come of work on threads.
    pub fn news(&mut self, ctx: &egui::Context) -> Option<News> {
        match &mut self.state {
            State::Looking(work) => match work.news()? {
                Ok(plan) => {
                    self.state = State::Review(Box::new(Sheet::of(plan)));
                    None
                }
                Err(problem) => {
                    self.over = true;
                    Some(News::Trouble(problem))
                }
            },
            State::Taking(work, _) => {
                let found = work.news()?;
                let State::Taking(_, sheet) = std::mem::replace(&mut self.state, State::Over) else {
                    return None;
                };
                match found {
                    Ok(prepared) => {
                        self.over = true;
                        let notes = prepared.notes().to_vec();
                        Some(News::Take(Box::new(prepared), notes))
                    }
                    Err(problem) => {
                        self.state = State::Review(sheet);
                        Some(News::Trouble(problem))
                    }
                }
            }
            State::Review(sheet) => {
                if sheet.taken() {
                    let State::Review(sheet) = std::mem::replace(&mut self.state, State::Over) else {
                        return None;
                    };
                    self.state = State::Taking(self.take(sheet.plan().clone(), ctx), sheet);
                } else if sheet.left() {
                    self.over = true;
                }
                None
            }
            State::Over => None,
        }
    }

    fn take(&self, plan: Plan, ctx: &egui::Context) -> Work<Prepared> {
        let (series, at) = (Arc::clone(&self.series), self.series_folder.clone());
        Work::begin("Taking in a folder".to_owned(), ctx, move |control, ctx| {
            let told = |share: f32| control.go_on_by_share(share, ctx);
            take::prepare(&plan, &series, &at, &told)
        })
    }

    /// The sheet, in the place of the page.
    pub fn ui(&mut self, ui: &mut Ui) {
        match &mut self.state {
            State::Looking(work) => {
                widgets::title(ui, "Taking in a folder", &self.folder.display().to_string());
                let (done, total) = work.told();
                let words = if total == 0 {
                    "Listing its files".to_owned()
                } else {
                    format!("Looking at file {} of {total}", (done + 1).min(total))
                };
                self.over |= running(ui, &words, (done, total), "Nothing of the folder is taken in");
            }
            State::Taking(work, _) => {
                widgets::title(ui, "Taking in a folder", &self.folder.display().to_string());
                let stopped = running(
                    ui,
                    "Reading what is taken in, and finding its strips",
                    work.told(),
                    "Back to the review; nothing is taken in",
                );
                if stopped {
                    work.stop();
                }
            }
            State::Review(sheet) => sheet.ui(ui),
            State::Over => {}
        }
    }

    /// What stands beside it on the right.
    pub fn readout(&mut self, ui: &mut Ui) {
        match &mut self.state {
            State::Review(sheet) => sheet.readout(ui),
            _ => {
                widgets::muted(
                    ui,
                    "Files are told by what they show and by their names. Nothing in the folder is copied or changed.",
                );
            }
        }
    }
}

fn running(ui: &mut Ui, words: &str, (done, total): (u32, u32), stopped: &str) -> bool {
    let share = if total == 0 { None } else { Some(done as f32 / total as f32) };
    widgets::waiting(ui, words, Progress { done: share });
    ui.add_space(STEP);
    widgets::button(ui, "Stop", stopped).clicked()
}

fn count(files: usize) -> u32 {
    u32::try_from(files).unwrap_or(u32::MAX)
}

fn name(path: &Path) -> String {
    path.file_name().unwrap_or(path.as_os_str()).to_string_lossy().into_owned()
}
