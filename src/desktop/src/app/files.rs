//! Files: asking for them, taking them in, saving, leaving one series for another.

use std::path::{Path, PathBuf};

use egui::ViewportCommand;
use twinwedge_workbench::core::problem::Problem;
use twinwedge_workbench::sample;
use twinwedge_workbench::session::Session;
use twinwedge_workbench::store::{NotWritten, recovery};

use super::App;
use crate::outbox::FileFor;
use crate::pages::PageId;
use crate::shell::Message;
use crate::shell::asking::Asking;
use crate::shell::crossroads::{Crossroads, Decision, Leaving};
use crate::shell::gathering::{Gathering, News};
use crate::shell::intake::Taken;

impl App {
    pub(super) fn ask(&mut self, ctx: &egui::Context, purpose: FileFor) {
        let series = self.session.path();
        let start = match (&purpose, series) {
            (FileFor::SaveSeries, Some(path)) => path.to_path_buf(),
            (FileFor::Export(_), Some(path)) => path.with_extension("html"),
            (_, Some(path)) => path.parent().unwrap_or(Path::new("")).to_path_buf(),
            (_, None) => std::env::current_dir().unwrap_or_default(),
        };
        self.shell.asking = Some(Asking::new(purpose, &start, self.settings.own_file_dialog, ctx));
    }

    pub(super) fn take_file(&mut self, ctx: &egui::Context, purpose: FileFor, path: PathBuf) {
        match purpose {
            FileFor::SaveSeries => {
                let path = if path.extension().is_none() { path.with_extension("twinwedge") } else { path };
                let done = self.session.save_as(&path).map_err(NotWritten::problem);
                self.saved(ctx, done);
            }
            // The sample is there to be looked at: a folder of one's own begins a series of one's own.
            FileFor::Folder if self.is_sample() => self.leave(ctx, Leaving::Open(FileFor::Folder, path)),
            FileFor::Folder => self.gather(ctx, path),
            FileFor::OpenSeries | FileFor::OpenList => self.leave(ctx, Leaving::Open(purpose, path)),
            FileFor::Missing(scan) => self.shell.intake.find(scan, path, false, &self.session, ctx),
            purpose => self.shell.intake.begin(purpose, path, &self.session, ctx),
        }
    }

    /// Whether the series at hand is the one that the program carries.
    fn is_sample(&self) -> bool {
        let sample = sample::place();
        self.session.path().is_some_and(|path| path.starts_with(sample))
    }

    fn gather(&mut self, ctx: &egui::Context, folder: PathBuf) {
        self.shell.gathering = Some(Gathering::look(folder, &self.session, ctx));
    }

    /// What has come of a folder.
    pub(super) fn gathered(&mut self, ctx: &egui::Context) {
        let Some(gathering) = &mut self.shell.gathering else { return };
        let news = gathering.news(ctx);
        if gathering.over() {
            self.shell.gathering = None;
        }
        match news {
            Some(News::Take(edit, notes)) => {
                self.apply(edit);
                if let Some(first) = notes.first() {
                    self.shell.message = Some(Message::problem(first));
                }
                self.bench.page = PageId::Films;
            }
            Some(News::Trouble(problem)) => self.shell.message = Some(Message::problem(&problem)),
            None => return,
        }
        ctx.request_repaint();
    }

    pub(super) fn save(&mut self, ctx: &egui::Context) {
        if self.session.path().is_none() {
            self.ask(ctx, FileFor::SaveSeries);
        } else {
            let done = self.session.save().map_err(NotWritten::problem);
            self.saved(ctx, done);
        }
    }

    pub(super) fn saved(&mut self, ctx: &egui::Context, done: Result<(), Problem>) {
        match done {
            Ok(()) => {
                self.settings.last_series = self.session.path().map(Path::to_path_buf);
                let place = self.session.path().map(|path| path.display().to_string()).unwrap_or_default();
                self.shell.message = Some(Message::note(format!("Saved as {place}")));
                if let Some(Crossroads::Unsaved(leaving)) = self.shell.crossroads.take() {
                    self.go(ctx, leaving);
                }
            }
            Err(problem) => {
                self.shell.crossroads = None;
                self.shell.message = Some(Message::problem(&problem));
            }
        }
    }

    pub(super) fn take(&mut self, ctx: &egui::Context, taken: Result<Taken, Problem>) {
        match taken {
            Ok(Taken::Edit(edit)) => self.apply(edit),
            Ok(Taken::Changed(scan, path)) => self.shell.crossroads = Some(Crossroads::Changed(scan, path)),
            Ok(Taken::Written(path)) => {
                self.shell.message = Some(Message::note(format!("Written: {}", path.display())));
            }
            Ok(Taken::Opened(session, problems)) => {
                self.session = *session;
                self.welcome(ctx);
                let title = self.session.series().title.clone();
                self.shell.message = Some(match problems.first() {
                    Some(problem) => Message::problem(problem),
                    None => Message::note(format!("Opened: {title}")),
                });
            }
            Err(problem) => self.shell.message = Some(Message::problem(&problem)),
        }
        ctx.request_repaint();
    }

    /// Leaves the series at hand; asks first where changes would be lost, for undo does not reach there.
    pub(super) fn leave(&mut self, ctx: &egui::Context, leaving: Leaving) {
        if self.session.unsaved() {
            self.shell.crossroads = Some(Crossroads::Unsaved(leaving));
        } else {
            self.go(ctx, leaving);
        }
    }

    pub(super) fn go(&mut self, ctx: &egui::Context, leaving: Leaving) {
        match leaving {
            Leaving::New => {
                self.session = Session::empty();
                self.welcome(ctx);
                self.bench.page = PageId::Films;
            }
            Leaving::Sample => self.shell.intake.open_sample(ctx),
            Leaving::Open(FileFor::Folder, path) => {
                self.go(ctx, Leaving::New);
                self.gather(ctx, path);
            }
            Leaving::Open(purpose, path) => self.shell.intake.begin(purpose, path, &self.session, ctx),
            Leaving::Quit => {
                self.may_close = true;
                ctx.send_viewport_cmd(ViewportCommand::Close);
            }
        }
    }

    pub(super) fn at_crossroads(&mut self, ctx: &egui::Context) {
        // A path that is being asked for was asked for by the answer.
        if self.shell.asking.is_some() {
            return;
        }
        let Some(crossroads) = self.shell.crossroads.take() else { return };
        let decision = match crossroads.show(ctx) {
            Ok(decision) => decision,
            Err(open) => {
                self.shell.crossroads = Some(open);
                return;
            }
        };
        match decision {
            Decision::Save(leaving) => {
                self.shell.crossroads = Some(Crossroads::Unsaved(leaving));
                self.save(ctx);
            }
            Decision::Leave(leaving) => {
                self.session.discard_recoveries();
                self.go(ctx, leaving);
            }
            Decision::TakeUp(recovery) => {
                self.session = Session::recovered(*recovery);
                self.welcome(ctx);
            }
            Decision::LetGo(recovery) => {
                if let Err(problem) = recovery::decline(&recovery) {
                    self.shell.message = Some(Message::problem(&problem));
                }
            }
            Decision::TakeChanged(scan, path) => {
                self.shell.intake.find(scan, path, true, &self.session, ctx);
            }
            Decision::Stay => {}
        }
        ctx.request_repaint();
    }
}
