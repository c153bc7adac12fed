//! The window: draws the shell around one page and carries out, in one place, what the frame asked for.

use std::path::{Path, PathBuf};

use egui::{CentralPanel, Frame, Id, Margin, Modal, Panel, ScrollArea, ViewportCommand};
use twinwedge_workbench::core::document::{Film, FilmId};
use twinwedge_workbench::core::problem::Problem;
use twinwedge_workbench::session::{Edit, Session};

use crate::actions::{Action, Keys};
use crate::appearance::Tokens;
use crate::outbox::{Command, FileFor, Outbox};
use crate::pages::{PageId, Pages, Selected, View};
use crate::shell::asking::Asking;
use crate::shell::intake::Taken;
use crate::shell::search::Search;
use crate::shell::settings::{Appearance, Settings};
use crate::shell::{Leaving, Message, Shell, films, keys, status, top};

/// What lies on the bench beside the reference, and what of it is looked at.
#[derive(Debug, Default)]
struct Bench {
    candidate: Option<FilmId>,
    selected: Selected,
    page: PageId,
}

/// The window's state. The series and all that follows from it belong to the session.
#[derive(Debug)]
pub struct App {
    session: Session,
    settings: Settings,
    keys: Keys,
    pages: Pages,
    bench: Bench,
    outbox: Outbox,
    shell: Shell,
    /// The tester has settled what becomes of unsaved changes: the window may close.
    may_close: bool,
}

impl App {
    /// A window on a session.
    #[must_use]
    pub fn new(ctx: &egui::Context, session: Session, settings: Settings) -> Self {
        crate::appearance::install(ctx);
        ctx.set_theme(settings.appearance.theme());
        let keys = Keys::with(&settings.keys);
        let message = settings.complaint.iter().chain(&keys.complaints).next().map(Message::note);
        let mut app = Self {
            session,
            settings,
            keys,
            pages: Pages::default(),
            bench: Bench::default(),
            outbox: Outbox::default(),
            shell: Shell { message, ..Shell::default() },
            may_close: false,
        };
        app.welcome(ctx);
        app
    }

    /// The open series.
    #[must_use]
    pub fn session(&self) -> &Session {
        &self.session
    }

    /// What has to be done whenever another session comes onto the bench.
    fn welcome(&mut self, ctx: &egui::Context) {
        let wake = ctx.clone();
        self.session.on_news(move || wake.request_repaint());
        self.bench.candidate = None;
        self.bench.selected = Selected::Nothing;
        self.pages = Pages::default();
        self.settle();
        if let Some(path) = self.session.path() {
            self.settings.last_series = Some(path.to_path_buf());
        }
    }

    fn view<'a>(&'a self) -> View<'a> {
        let series = self.session.series();
        View {
            session: &self.session,
            series,
            reference: series.reference_film(),
            candidate: self.bench.candidate.as_ref().and_then(|id| series.film(id)),
            selected: self.bench.selected,
            keys: &self.keys,
        }
    }

    fn frame(&mut self, ui: &mut egui::Ui) {
        // Taken out for the frame, so that pages and shell can be changed while the view borrows the rest.
        let mut pages = std::mem::take(&mut self.pages);
        let mut shell = std::mem::take(&mut self.shell);
        let mut outbox = std::mem::take(&mut self.outbox);
        let view = self.view();
        for action in self.keys.pressed(ui.ctx()) {
            outbox.send(Command::Do(action));
        }
        shell.drops.collect(ui.ctx(), self.bench.page, &view, &mut outbox);
        self.panels(ui, &view, &mut pages, &mut shell, &mut outbox);
        self.dialogs(ui.ctx(), &view, &mut shell, &mut outbox);
        shell.pointer = outbox.take_pointer();
        let commands = outbox.drain();
        let news = shell.intake.news();
        self.pages = pages;
        self.outbox = outbox;
        self.shell = shell;
        for taken in news {
            self.take(ui.ctx(), taken);
        }
        for command in commands {
            self.carry_out(ui.ctx(), command);
        }
        self.settle();
    }

    fn panels(
        &self,
        ui: &mut egui::Ui,
        view: &View<'_>,
        pages: &mut Pages,
        shell: &mut Shell,
        outbox: &mut Outbox,
    ) {
        let tokens = Tokens::get(ui);
        let side = Frame::new().fill(tokens.raised).inner_margin(Margin::same(8));
        let bar = Frame::new().fill(tokens.raised).inner_margin(Margin::symmetric(8, 4));
        let appearance = self.settings.appearance;
        Panel::top("series").frame(bar).show_separator_line(false).show(ui, |ui| {
            top::series_bar(ui, view, appearance, outbox);
        });
        Panel::top("bench").frame(bar).show(ui, |ui| top::bench_bar(ui, self.bench.page, view, outbox));
        Panel::bottom("status").frame(bar).exact_size(32.0).show(ui, |ui| {
            status::line(ui, shell, view, outbox);
        });
        Panel::left("films").frame(side).default_size(208.0).size_range(160.0..=320.0).show(ui, |ui| {
            films::list(ui, view, outbox);
        });
        let page = pages.page(self.bench.page);
        Panel::right("readout").frame(side).default_size(296.0).size_range(240.0..=440.0).show(ui, |ui| {
            ScrollArea::vertical().auto_shrink([false, false]).show(ui, |ui| page.readout(ui, view, outbox));
        });
        let middle = Frame::new().fill(tokens.surface).inner_margin(Margin::same(8));
        CentralPanel::default().frame(middle).show(ui, |ui| page.ui(ui, view, outbox));
    }

    fn dialogs(&self, ctx: &egui::Context, view: &View<'_>, shell: &mut Shell, outbox: &mut Outbox) {
        if shell.asking.as_mut().is_some_and(|asking| asking.show(ctx, outbox)) {
            shell.asking = None;
        }
        if shell.search.as_mut().is_some_and(|search| search.show(ctx, view, outbox)) {
            shell.search = None;
        }
        if shell.keys_shown && keys::show(ctx, &self.keys, &self.settings) {
            shell.keys_shown = false;
        }
        shell.drops.show(ctx, view, outbox);
    }

    fn carry_out(&mut self, ctx: &egui::Context, command: Command) {
        match command {
            Command::Edit(edit) => self.apply(edit),
            Command::Begin(label) => self.session.begin(&label),
            Command::Preview(change) => {
                let done = self.session.preview(change);
                self.tell(done);
            }
            Command::Commit => self.session.commit(),
            Command::Abort => self.session.abort(),
            Command::Candidate(film) => self.bench.candidate = Some(film),
            Command::Page(page) => self.bench.page = page,
            Command::Select(selected) => self.bench.selected = selected,
            Command::Do(action) => self.act(ctx, action),
            Command::Ask(purpose) => self.ask(ctx, purpose),
            Command::Take(purpose, path) => self.take_file(ctx, purpose, path),
            Command::Cancel(work) => self.session.cancel(work),
            Command::Retry => self.session.retry(),
            Command::Say(text) => self.shell.message = Some(Message::note(text)),
            Command::Trouble(problem) => self.shell.message = Some(Message::problem(&problem)),
        }
        ctx.request_repaint();
    }

    fn act(&mut self, ctx: &egui::Context, action: Action) {
        if let Some(page) = action.shows() {
            self.bench.page = page;
            return;
        }
        match action {
            Action::New => self.leave(ctx, Leaving::New),
            Action::OpenSample => self.leave(ctx, Leaving::Sample),
            Action::Quit => self.leave(ctx, Leaving::Quit),
            Action::Open => self.ask(ctx, FileFor::OpenSeries),
            Action::OpenList => self.ask(ctx, FileFor::OpenList),
            Action::Save => self.save(ctx),
            Action::SaveAs => self.ask(ctx, FileFor::SaveSeries),
            Action::AddFilm => self.add_film(),
            Action::Export => self.ask(ctx, FileFor::Export(self.bench.candidate.clone())),
            Action::Undo => self.session.undo(),
            Action::Redo => self.session.redo(),
            Action::NextCandidate => self.step(1),
            Action::PreviousCandidate => self.step(-1),
            Action::Appearance => self.turn_appearance(ctx),
            Action::Search => self.shell.search = Some(Search::default()),
            Action::Keys => self.shell.keys_shown = true,
            Action::Retry => self.session.retry(),
            other => self.page_act(other),
        }
    }

    fn page_act(&mut self, action: Action) {
        let mut pages = std::mem::take(&mut self.pages);
        let mut outbox = std::mem::take(&mut self.outbox);
        pages.page(self.bench.page).act(action, &self.view(), &mut outbox);
        self.pages = pages;
        self.outbox = outbox;
    }

    /// Keeps candidate and selection on what is there.
    fn settle(&mut self) {
        let series = self.session.series();
        let there = |id: &FilmId| series.candidates().any(|film| film.id == *id);
        if !self.bench.candidate.as_ref().is_some_and(there) {
            self.bench.candidate = series.candidates().next().map(|film| film.id.clone());
        }
        if let Selected::Spot(spot) = self.bench.selected
            && spot >= series.spots.len()
        {
            self.bench.selected = Selected::Nothing;
        }
    }

    fn step(&mut self, by: isize) {
        let series = self.session.series();
        let ids: Vec<&FilmId> = series.candidates().map(|film| &film.id).collect();
        let at = ids.iter().position(|id| Some(*id) == self.bench.candidate.as_ref());
        if let (Some(at), count @ 1..) = (at, ids.len() as isize) {
            self.bench.candidate = Some(ids[(at as isize + by).rem_euclid(count) as usize].clone());
        }
    }

    fn turn_appearance(&mut self, ctx: &egui::Context) {
        let dark = ctx.global_style().visuals.dark_mode;
        self.settings.appearance = if dark { Appearance::Light } else { Appearance::Dark };
        ctx.set_theme(self.settings.appearance.theme());
        let kept = self.settings.keep();
        self.tell_text(kept);
    }

    fn apply(&mut self, edit: Edit) {
        let label = edit.label.clone();
        match self.session.apply(edit) {
            Ok(()) => self.shell.message = Some(Message::note(format!("Done: {label}"))),
            Err(problem) => self.shell.message = Some(Message::problem(&problem)),
        }
    }

    fn add_film(&mut self) {
        self.apply(Edit::new("add a film", |series| {
            let id = series.free_film_id("New film");
            let film = Film::named(id.clone(), id.0.clone());
            if series.reference.is_none() {
                series.reference = Some(id);
            }
            series.films.push(film);
        }));
        self.bench.candidate = self.session.series().films.last().map(|film| film.id.clone());
        self.bench.page = PageId::Films;
    }

    fn ask(&mut self, ctx: &egui::Context, purpose: FileFor) {
        let series = self.session.path();
        let start = match (&purpose, series) {
            (FileFor::SaveSeries, Some(path)) => path.to_path_buf(),
            (FileFor::Export(_), Some(path)) => path.with_extension("html"),
            (_, Some(path)) => path.parent().unwrap_or(Path::new("")).to_path_buf(),
            (_, None) => std::env::current_dir().unwrap_or_default(),
        };
        self.shell.asking = Some(Asking::new(purpose, &start, self.settings.own_file_dialog, ctx));
    }

    fn take_file(&mut self, ctx: &egui::Context, purpose: FileFor, path: PathBuf) {
        match purpose {
            FileFor::SaveSeries => {
                let path = if path.extension().is_none() { path.with_extension("twinwedge") } else { path };
                let done = self.session.save_as(&path);
                self.saved(ctx, done);
            }
            FileFor::OpenSeries | FileFor::OpenList => self.leave(ctx, Leaving::Open(purpose, path)),
            purpose => self.shell.intake.begin(purpose, path, &self.session, ctx),
        }
    }

    fn save(&mut self, ctx: &egui::Context) {
        if self.session.path().is_none() {
            self.ask(ctx, FileFor::SaveSeries);
        } else {
            let done = self.session.save();
            self.saved(ctx, done);
        }
    }

    fn saved(&mut self, ctx: &egui::Context, done: Result<(), Problem>) {
        match done {
            Ok(()) => {
                self.settings.last_series = self.session.path().map(Path::to_path_buf);
                let place = self.session.path().map(|path| path.display().to_string()).unwrap_or_default();
                self.shell.message = Some(Message::note(format!("Saved as {place}")));
                if let Some(leaving) = self.shell.leaving.take() {
                    self.leave(ctx, leaving);
                }
            }
            Err(problem) => {
                self.shell.leaving = None;
                self.shell.message = Some(Message::problem(&problem));
            }
        }
    }

    fn take(&mut self, ctx: &egui::Context, taken: Result<Taken, Problem>) {
        match taken {
            Ok(Taken::Edit(edit)) => self.apply(edit),
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
    fn leave(&mut self, ctx: &egui::Context, leaving: Leaving) {
        if self.session.unsaved() && self.shell.leaving.as_ref() != Some(&leaving) {
            self.shell.leaving = Some(leaving);
            return;
        }
        self.shell.leaving = None;
        match leaving {
            Leaving::New => {
                self.session = Session::empty();
                self.welcome(ctx);
                self.bench.page = PageId::Films;
            }
            Leaving::Sample => self.shell.intake.open_sample(ctx),
            Leaving::Open(purpose, path) => self.shell.intake.begin(purpose, path, &self.session, ctx),
            Leaving::Quit => {
                self.may_close = true;
                ctx.send_viewport_cmd(ViewportCommand::Close);
            }
        }
    }

    fn ask_about_unsaved(&mut self, ctx: &egui::Context) {
        let Some(leaving) = self.shell.leaving.clone().filter(|_| self.shell.asking.is_none()) else {
            return;
        };
        let mut chosen = None;
        let response = Modal::new(Id::unique("unsaved")).show(ctx, |ui| {
            ui.set_width(400.0);
            ui.heading("The series has changes that are not saved");
            ui.add_space(8.0);
            ui.horizontal(|ui| {
                if ui.button("Save").on_hover_text("Saves the series, then goes on").clicked() {
                    chosen = Some(true);
                }
                if ui.button("Leave without saving").on_hover_text("The changes are lost").clicked() {
                    chosen = Some(false);
                }
                if ui.button("Stay").on_hover_text("Back to the series").clicked() {
                    ui.close();
                }
            });
        });
        match chosen {
            Some(true) => self.save(ctx),
            Some(false) => self.leave(ctx, leaving),
            None if response.should_close() => self.shell.leaving = None,
            None => {}
        }
    }

    fn tell(&mut self, done: Result<(), Problem>) {
        if let Err(problem) = done {
            self.shell.message = Some(Message::problem(&problem));
        }
    }

    fn tell_text(&mut self, done: Result<(), String>) {
        if let Err(text) = done {
            self.shell.message = Some(Message::note(text));
        }
    }

    fn watch_closing(&mut self, ctx: &egui::Context) {
        let closing = ctx.input(|input| input.viewport().close_requested());
        if closing && !self.may_close && self.session.unsaved() {
            ctx.send_viewport_cmd(ViewportCommand::CancelClose);
            self.shell.leaving = Some(Leaving::Quit);
        }
    }
}

impl eframe::App for App {
    fn ui(&mut self, ui: &mut egui::Ui, _frame: &mut eframe::Frame) {
        self.watch_closing(ui.ctx());
        self.frame(ui);
        self.ask_about_unsaved(&ui.ctx().clone());
    }

    fn on_exit(&mut self, _gl: Option<&eframe::glow::Context>) {
        // Nobody is left to be told: the next start falls back to what was kept before.
        let _ = self.settings.keep();
    }
}
