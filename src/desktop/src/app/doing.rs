//! Carries out, in one place, what a frame asked for.

use twinwedge_workbench::core::document::{Film, FilmId};
use twinwedge_workbench::core::problem::Problem;
use twinwedge_workbench::session::Edit;

use super::App;
use crate::actions::Action;
use crate::outbox::{Command, FileFor};
use crate::pages::{PageId, Selected};
use crate::shell::Message;
use crate::shell::question::Leaving;
use crate::shell::search::Search;
use crate::shell::settings::{Appearance, Settings};

impl App {
    pub(super) fn carry_out(&mut self, ctx: &egui::Context, command: Command) {
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
            Command::Screen(screen) => {
                self.change_settings(|settings| settings.screen = screen);
            }
            Command::Page(page) => self.show_page(page),
            Command::Select(selected) => self.bench.selected = selected,
            Command::Do(action) => self.act(ctx, action),
            Command::Ask(purpose) => self.ask(ctx, purpose),
            Command::Take(purpose, path) => self.take_file(ctx, purpose, path),
            Command::Cancel(work) => self.session.cancel(work),
            Command::StopIntake => self.shell.intake.stop(),
            Command::Retry => self.session.retry(),
            Command::CompareOnDisk => self.compare_on_disk(),
            Command::Reload => self.reload(),
            Command::Gathering => {
                if let Some(gathering) = &mut self.shell.gathering {
                    gathering.shown = true;
                }
            }
            Command::Say(text) => self.shell.message = Some(Message::note(text)),
            Command::Trouble(problem) => self.shell.message = Some(Message::problem(&problem)),
        }
        ctx.request_repaint();
    }

    pub(super) fn act(&mut self, ctx: &egui::Context, action: Action) {
        if let Some(page) = action.shows() {
            self.show_page(page);
            return;
        }
        match action {
            Action::New => self.leave(ctx, Leaving::New),
            Action::OpenSample => self.leave(ctx, Leaving::Sample),
            Action::Quit => self.leave(ctx, Leaving::Quit),
            Action::Open => self.ask(ctx, FileFor::OpenSeries),
            Action::OpenList => self.ask(ctx, FileFor::OpenList),
            Action::TakeFolder => self.ask(ctx, FileFor::Folder),
            Action::Save => self.save(ctx),
            Action::SaveAs => self.ask(ctx, FileFor::SaveSeries),
            Action::Recover => self.recover(),
            Action::AddFilm => self.add_film(),
            Action::Export => self.ask(ctx, FileFor::Export(self.bench.candidate.clone())),
            Action::Undo => self.session.undo(),
            Action::Redo => self.session.redo(),
            Action::NextCandidate => self.step(1),
            Action::PreviousCandidate => self.step(-1),
            Action::Appearance => self.turn_appearance(ctx),
            Action::FoldStations => self.change_settings(|settings| settings.stations_folded ^= true),
            Action::FilmList => self.change_settings(|settings| settings.film_list ^= true),
            Action::Search => self.shell.search = Some(Search::default()),
            Action::Keys => self.shell.keys_shown = true,
            Action::Retry => self.session.retry(),
            other => self.page_act(other),
        }
    }

    /// Shows a page; a folder under review waits behind it.
    fn show_page(&mut self, page: PageId) {
        self.bench.page = page;
        if let Some(gathering) = &mut self.shell.gathering {
            gathering.shown = false;
        }
    }

    pub(super) fn page_act(&mut self, action: Action) {
        let mut pages = std::mem::take(&mut self.pages);
        let mut outbox = std::mem::take(&mut self.outbox);
        pages.page(self.bench.page).act(action, &self.view(), &mut outbox);
        self.pages = pages;
        self.outbox = outbox;
    }

    /// Keeps candidate and selection on what is there.
    pub(super) fn settle(&mut self) {
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

    pub(super) fn step(&mut self, by: isize) {
        let series = self.session.series();
        let ids: Vec<&FilmId> = series.candidates().map(|film| &film.id).collect();
        let at = ids.iter().position(|id| Some(*id) == self.bench.candidate.as_ref());
        if let (Some(at), count @ 1..) = (at, ids.len() as isize) {
            self.bench.candidate = Some(ids[(at as isize + by).rem_euclid(count) as usize].clone());
        }
    }

    pub(super) fn turn_appearance(&mut self, ctx: &egui::Context) {
        let dark = ctx.global_style().visuals.dark_mode;
        self.change_settings(|settings| {
            settings.appearance = if dark { Appearance::Light } else { Appearance::Dark };
        });
        ctx.set_theme(self.settings.appearance.theme());
    }

    fn change_settings(&mut self, change: impl FnOnce(&mut Settings)) {
        change(&mut self.settings);
        let kept = self.settings.keep();
        self.tell_text(kept);
    }

    pub(super) fn apply(&mut self, edit: Edit) {
        let label = edit.label.clone();
        match self.session.apply(edit) {
            Ok(()) => self.shell.message = Some(Message::note(format!("Done: {label}"))),
            Err(problem) => self.shell.message = Some(Message::problem(&problem)),
        }
    }

    pub(super) fn add_film(&mut self) {
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

    pub(super) fn tell(&mut self, done: Result<(), Problem>) {
        if let Err(problem) = done {
            self.shell.message = Some(Message::problem(&problem));
        }
    }

    pub(super) fn tell_text(&mut self, done: Result<(), String>) {
        if let Err(text) = done {
            self.shell.message = Some(Message::note(text));
        }
    }
}
