//! Files: asking for them, taking them in, saving, leaving one series for another.

use std::path::{Path, PathBuf};

use egui::ViewportCommand;
use twinwedge_workbench::core::document::FilmId;
use twinwedge_workbench::core::problem::Problem;
use twinwedge_workbench::intake::{Purpose, Taken, in_one};
use twinwedge_workbench::sample::Sample;
use twinwedge_workbench::session::Session;
use twinwedge_workbench::store::{self, InTheWay, NotWritten, Replace, recovery};

use super::App;
use crate::outbox::{FileFor, Outbox};
use crate::pages::PageId;
use crate::shell::asking::Asking;
use crate::shell::beginning::{Beginning, News};
use crate::shell::gathering::{self, Gathering};
use crate::shell::intake::Came;
use crate::shell::question::{Answer, Blocked, Leaving, Question};
use crate::shell::{Message, present};
use crate::still::{PASSES, Scene};

/// A picture of the page that waits until all it shows has come.
#[derive(Debug)]
pub(super) struct StillWanted {
    size: (u32, u32),
    path: PathBuf,
    /// What a person has seen in its way.
    seen: Option<Box<InTheWay>>,
    /// Frames in a row in which nothing was under way: what was just asked for may not have begun.
    calm: u32,
}

/// So many are enough.
const CALM: u32 = 10;

impl App {
    pub(super) fn ask(&mut self, ctx: &egui::Context, purpose: FileFor) {
        let folder = self.usual_folder();
        let start = match (&purpose, self.session.path()) {
            (FileFor::SaveSeries, Some(path)) => path.to_path_buf(),
            (FileFor::SaveSeries, None) => folder.join(file_name(self.title(), "series", "twinwedge")),
            (FileFor::SaveLayout, _) => {
                folder.join(file_name(self.title(), "target", store::LAYOUT_EXTENSION))
            }
            (FileFor::Export(Some(film), _), _) => folder.join(file_name(&self.pair(film), "report", "html")),
            (FileFor::Slides(Some(film), _), _) => folder.join(file_name(&self.pair(film), "slides", "png")),
            (FileFor::Slides(None, _), _) => folder.join(file_name(self.title(), "slides", "png")),
            (FileFor::Drawing(_), _) => folder.join(file_name(&self.on_page(), "plot", "svg")),
            (FileFor::Still(..), _) => folder.join(file_name(&self.on_page(), "page", "png")),
            (FileFor::Export(None, _), _) => folder.join(file_name(self.title(), "report", "html")),
            (FileFor::Read(_) | FileFor::First(_) | FileFor::MissingIn, _) => folder,
        };
        self.shell.asking = Some(Asking::new(purpose, &start, self.settings.own_file_dialog, ctx));
    }

    fn title(&self) -> &str {
        &self.session.series().title
    }

    /// Both films on the bench and the page that shows them.
    fn on_page(&self) -> String {
        let pair = self.bench.candidate.as_ref().map(|film| self.pair(film)).unwrap_or_default();
        format!("{pair} {}", self.bench.page.word()).trim().to_owned()
    }

    /// Both films of a comparison, by their labels.
    fn pair(&self, candidate: &FilmId) -> String {
        let series = self.session.series();
        let films = [series.reference_film(), series.film(candidate)];
        films.into_iter().flatten().map(|film| film.label.as_str()).collect::<Vec<_>>().join(" and ")
    }

    /// Where files are looked for first: beside the series, else where the last file was.
    fn usual_folder(&self) -> PathBuf {
        let beside = self.session.path().filter(|_| !self.is_sample()).and_then(Path::parent);
        let last = self.settings.folder.as_deref().filter(|folder| folder.is_dir());
        let folder = beside.or(last).map(Path::to_path_buf);
        folder.unwrap_or_else(|| std::env::current_dir().unwrap_or_default())
    }

    pub(super) fn take_file(&mut self, ctx: &egui::Context, purpose: FileFor, path: PathBuf) {
        if let Some(folder) = path.parent().filter(|folder| folder.is_absolute()) {
            self.settings.folder = Some(folder.to_path_buf());
        }
        match purpose {
            FileFor::SaveSeries => {
                let path = if path.extension().is_none() { path.with_extension("twinwedge") } else { path };
                let done = self.session.save_as(&path);
                self.saved(ctx, done);
            }
            FileFor::Still(width, height) => {
                self.still = Some(StillWanted { size: (width, height), path, seen: None, calm: 0 });
                ctx.request_repaint();
            }
            FileFor::Export(..) | FileFor::Slides(..) | FileFor::SaveLayout | FileFor::Drawing(_) => {
                let paper = self.settings.paper;
                self.shell.intake.write(purpose, path, (paper, None), &self.session, ctx);
            }
            FileFor::MissingIn => self.shell.intake.find_all(path, &self.session, ctx),
            FileFor::First(which) => {
                self.shell.beginning.get_or_insert_default().chosen(which, path, ctx);
            }
            FileFor::Read(purpose) => self.read_file(ctx, purpose, path),
        }
    }

    /// Draws the still that is wanted, once all that it shows is there.
    pub(super) fn keep_still(&mut self, ctx: &egui::Context) {
        let Some(mut wanted) = self.still.take() else { return };
        // One pass asks for everything that the page shows in that size.
        let mut scene = self.scene(ctx, wanted.size, 1);
        wanted.calm = if self.session.is_at_rest() { wanted.calm + 1 } else { 0 };
        if wanted.calm < CALM {
            self.still = Some(wanted);
            ctx.request_repaint_after(std::time::Duration::from_millis(100));
            return;
        }
        scene = self.scene(ctx, scene.size(), PASSES);
        self.shell.intake.keep_still(scene, wanted.path, wanted.seen, &self.session, ctx);
    }

    fn scene(&mut self, ctx: &egui::Context, size: (u32, u32), passes: usize) -> Scene {
        let mut pages = std::mem::take(&mut self.pages);
        // Textures belong to the window: a still has its own.
        pages.page(self.bench.page).forget_pictures();
        let mut outbox = Outbox::default();
        let view = self.view();
        let scene = Scene::of(ctx, size, passes, |ui| {
            present::page(ui, pages.page(self.bench.page), self.bench.page, &view, &mut outbox);
        });
        pages.page(self.bench.page).forget_pictures();
        self.pages = pages;
        scene
    }

    /// What has come of the sheet that begins a series.
    pub(super) fn begun(&mut self, ctx: &egui::Context) {
        let Some(beginning) = &mut self.shell.beginning else { return };
        match beginning.news(&self.session, ctx) {
            Some(News::Begin(operation, notes)) => {
                self.shell.beginning = None;
                self.carry_out_change(*operation);
                self.bench.candidate = self.session.series().films.last().map(|film| film.id.clone());
                self.bench.page = PageId::Curves;
                if let Some(told) = in_one(&notes) {
                    self.shell.messages.say(Message::note(told));
                }
            }
            Some(News::Leave) => {
                self.shell.beginning = None;
                self.bench.page = PageId::Films;
            }
            None => return,
        }
        ctx.request_repaint();
    }

    fn read_file(&mut self, ctx: &egui::Context, purpose: Purpose, path: PathBuf) {
        let typed = purpose.over_typed(self.session.series());
        match (purpose, typed) {
            (purpose, Some(typed)) => {
                self.shell.question = Some(Question::OverTyped { purpose, path, typed });
            }
            // The sample is there to be looked at: a folder of one's own begins a series of one's own.
            (Purpose::Folder, _) if self.is_sample() => {
                self.leave(ctx, Leaving::Open(Purpose::Folder, path));
            }
            (Purpose::Folder, _) => self.gather(ctx, path),
            (purpose @ (Purpose::Series | Purpose::List), _) => {
                self.leave(ctx, Leaving::Open(purpose, path));
            }
            (purpose, None) => self.shell.intake.begin(purpose, path, &self.session, ctx),
        }
    }

    /// Whether the series at hand is one that the program carries.
    fn is_sample(&self) -> bool {
        let path = self.session.path();
        path.is_some_and(|path| Sample::ALL.iter().any(|sample| path.starts_with(sample.place())))
    }

    fn gather(&mut self, ctx: &egui::Context, folder: PathBuf) {
        self.shell.gathering = Some(Gathering::look(folder, &self.session, ctx));
    }

    /// What has come of a folder.
    pub(super) fn gathered(&mut self, ctx: &egui::Context) {
        let Some(of) = &mut self.shell.gathering else { return };
        let news = of.news(ctx);
        if of.over() {
            self.shell.gathering = None;
        }
        match news {
            Some(gathering::News::Take(prepared, notes)) => {
                self.carry_out_change(*prepared);
                if let Some(first) = notes.first() {
                    self.shell.messages.say(Message::problem(first));
                }
                self.bench.page = PageId::Films;
            }
            Some(gathering::News::Trouble(problem)) => self.shell.messages.say(Message::problem(&problem)),
            None => return,
        }
        ctx.request_repaint();
    }

    pub(super) fn save(&mut self, ctx: &egui::Context) {
        if self.session.path().is_none() {
            self.ask(ctx, FileFor::SaveSeries);
        } else {
            let done = self.session.save();
            self.saved(ctx, done);
        }
    }

    /// What came of saving; what waits for it goes on.
    fn saved(&mut self, ctx: &egui::Context, done: Result<(), NotWritten>) {
        let then = match self.shell.question.take() {
            Some(Question::Unsaved(leaving)) => Some(leaving),
            _ => None,
        };
        self.saved_then(ctx, done, then);
    }

    fn saved_then(&mut self, ctx: &egui::Context, done: Result<(), NotWritten>, then: Option<Leaving>) {
        match done {
            Ok(()) => {
                if let Some(path) = self.session.path().map(Path::to_path_buf) {
                    self.settings.was_open(path);
                }
                let place = self.session.path().map(|path| path.display().to_string()).unwrap_or_default();
                self.shell.messages.say(Message::note(format!("Saved as {place}")));
                if let Some(leaving) = then {
                    self.go(ctx, leaving);
                }
            }
            Err(NotWritten::InTheWay(way)) => {
                let blocked = Blocked { purpose: FileFor::SaveSeries, way, then };
                self.shell.question = Some(Question::InTheWay(blocked));
            }
            Err(NotWritten::Unsure(problem) | NotWritten::Failed(problem)) => {
                self.shell.messages.say(Message::problem(&problem));
            }
        }
    }

    /// Shows what somebody else's file has otherwise than the series at hand.
    pub(super) fn compare_on_disk(&mut self) {
        if let Some(way) = self.session.in_the_way() {
            let blocked = Blocked { purpose: FileFor::SaveSeries, way, then: None };
            self.shell.question = Some(Question::InTheWay(blocked));
        } else {
            self.shell.messages.say(Message::note("The file holds the same as the series here"));
        }
    }

    /// Takes in what somebody else saved.
    pub(super) fn reload(&mut self) {
        let done = self.session.reload();
        if done.is_ok() {
            self.shell.messages.say(Message::note("Taken in as it is in the file; Undo gives yours back"));
        }
        self.tell(done);
    }

    /// Lists what was not saved before the program ended.
    pub(super) fn recover(&mut self) {
        let left = self.session.recoveries();
        if left.is_empty() {
            self.shell.messages.say(Message::note("Nothing is left to recover"));
        } else {
            self.shell.question = Some(Question::Recover(left));
        }
    }

    /// Replaces what a person saw in the way.
    fn replace(&mut self, ctx: &egui::Context, blocked: Blocked) {
        let Blocked { purpose, way, then } = blocked;
        if let FileFor::Still(width, height) = purpose {
            let path = way.path.clone();
            self.still = Some(StillWanted { size: (width, height), path, seen: Some(way), calm: 0 });
            return;
        }
        if purpose == FileFor::SaveSeries {
            let done = self.session.save_as_replacing(&way.path, Replace::Seen(&way));
            self.saved_then(ctx, done, then);
        } else {
            let paper = self.settings.paper;
            self.shell.intake.write(purpose, way.path.clone(), (paper, Some(way)), &self.session, ctx);
        }
    }

    pub(super) fn take(&mut self, ctx: &egui::Context, came: Result<Came, Problem>) {
        match came {
            Ok(Came::Taken(Taken::Operation(operation, notes))) => {
                self.carry_out_change(operation);
                if let Some(told) = in_one(&notes) {
                    self.shell.messages.say(Message::note(told));
                }
            }
            Ok(Came::Taken(Taken::Changed(scan, path))) => {
                self.shell.question = Some(Question::ChangedScan(scan, path));
            }
            Ok(Came::Blocked(purpose, way)) => {
                self.shell.question = Some(Question::InTheWay(Blocked { purpose, way, then: None }));
            }
            Ok(Came::Written(path)) => {
                self.shell.messages.say(Message::note(format!("Written: {}", path.display())));
            }
            Ok(Came::Taken(Taken::Opened(session, problems))) => {
                self.session = *session;
                self.welcome(ctx);
                let title = self.session.series().title.clone();
                self.shell.messages.say(match problems.iter().max_by_key(|problem| problem.severity) {
                    Some(problem) => Message::problem(problem),
                    None => Message::note(format!("Opened: {title}")),
                });
            }
            Err(problem) => self.shell.messages.say(Message::problem(&problem)),
        }
        ctx.request_repaint();
    }

    /// Leaves the series at hand; asks first where changes would be lost, for undo does not reach there.
    pub(super) fn leave(&mut self, ctx: &egui::Context, leaving: Leaving) {
        if self.session.unsaved() {
            self.shell.question = Some(Question::Unsaved(leaving));
        } else {
            self.go(ctx, leaving);
        }
    }

    pub(super) fn go(&mut self, ctx: &egui::Context, leaving: Leaving) {
        match leaving {
            Leaving::New => {
                self.empty(ctx);
                self.shell.beginning = Some(Beginning::default());
            }
            Leaving::Sample(sample) => self.shell.intake.open_sample(sample, ctx),
            Leaving::Open(Purpose::Folder, path) => {
                self.empty(ctx);
                self.gather(ctx, path);
            }
            Leaving::Open(purpose, path) => self.shell.intake.begin(purpose, path, &self.session, ctx),
            Leaving::Quit => {
                self.may_close = true;
                ctx.send_viewport_cmd(ViewportCommand::Close);
            }
        }
    }

    fn empty(&mut self, ctx: &egui::Context) {
        self.session = Session::empty();
        self.welcome(ctx);
        self.bench.page = PageId::Films;
    }

    pub(super) fn ask_question(&mut self, ctx: &egui::Context) {
        // A path that is being asked for was asked for by the answer.
        if self.shell.asking.is_some() {
            return;
        }
        let Some(question) = self.shell.question.take() else { return };
        match question.show(ctx) {
            Ok(answer) => self.answer(ctx, answer),
            Err(open) => {
                self.shell.question = Some(open);
                return;
            }
        }
        ctx.request_repaint();
    }

    fn answer(&mut self, ctx: &egui::Context, answer: Answer) {
        match answer {
            Answer::Save(leaving) => {
                self.shell.question = Some(Question::Unsaved(leaving));
                self.save(ctx);
            }
            Answer::Leave(leaving) => {
                self.session.discard_recoveries();
                self.go(ctx, leaving);
            }
            Answer::TakeUp(offer) => {
                // What is unsaved here is kept like any other, and offered again.
                let kept = self.session.keep_now();
                self.session = Session::recovered(offer.recovery);
                self.welcome(ctx);
                self.tell(kept);
            }
            Answer::DoWithout(offer, others) => {
                let done = recovery::decline(&offer.recovery);
                self.tell(done);
                self.shell.question = Some(others).filter(|others| !others.is_empty()).map(Question::Recover);
            }
            Answer::Replace(blocked) => self.replace(ctx, blocked),
            Answer::OtherName(purpose) => self.ask(ctx, purpose),
            Answer::KeepBoth(then) => {
                let done = self.session.save_copy().map(drop);
                self.saved_then(ctx, done, then);
            }
            Answer::TakeTheirs => self.reload(),
            Answer::TakeChangedScan(scan, path) => {
                self.shell.intake.find(scan, path, true, &self.session, ctx);
            }
            Answer::TakeScan(purpose, path) => self.shell.intake.begin(purpose, path, &self.session, ctx),
            Answer::Stay => {}
        }
    }
}

/// A name for a file from what it holds, without signs that some system does not allow.
fn file_name(holds: &str, otherwise: &str, ending: &str) -> String {
    let allowed = |sign: char| if sign.is_alphanumeric() || " -_.,()+".contains(sign) { sign } else { '-' };
    let name: String = holds.chars().take(80).map(allowed).collect();
    let name = name.trim().trim_matches('.').trim();
    format!("{}.{ending}", if name.is_empty() { otherwise } else { name })
}

#[cfg(test)]
mod tests {
    use super::file_name;

    #[test]
    fn a_file_is_called_by_what_it_holds() {
        assert_eq!(file_name("Tern 160 and Plover 640", "report", "html"), "Tern 160 and Plover 640.html");
        assert_eq!(file_name("spring/autumn: *2*", "series", "twinwedge"), "spring-autumn- -2-.twinwedge");
        assert_eq!(file_name(" .. ", "series", "twinwedge"), "series.twinwedge");
    }
}
