//! Carries out, in one place, what a frame asked for.

use twinwedge_workbench::core::document::FilmId;
use twinwedge_workbench::core::problem::Problem;
use twinwedge_workbench::edits::{FilmEdit, Operation};
use twinwedge_workbench::intake::Purpose;

use super::App;
use crate::actions::Action;
use crate::outbox::{Command, FileFor, Printed};
use crate::pages::{PageId, Selected};
use crate::shell::Message;
use crate::shell::question::Leaving;
use crate::shell::search::Search;
use crate::shell::settings::{Appearance, Settings, TextSize};

impl App {
    pub(super) fn carry_out(&mut self, ctx: &egui::Context, command: Command) {
        match command {
            Command::Change(operation) => self.carry_out_change(operation),
            Command::Preview(operation) => {
                let done = self.session.preview(operation);
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
            Command::Say(text) => self.shell.messages.say(Message::note(text)),
            Command::Trouble(problem) => self.shell.messages.say(Message::problem(&problem)),
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
            Action::Open => self.ask(ctx, Purpose::Series.into()),
            Action::OpenList => self.ask(ctx, Purpose::List.into()),
            Action::TakeFolder => self.ask(ctx, Purpose::Folder.into()),
            Action::Save => self.save(ctx),
            Action::SaveAs => self.ask(ctx, FileFor::SaveSeries),
            Action::Recover => self.recover(),
            Action::AddFilm => self.add_film(),
            Action::Export => {
                self.ask(ctx, FileFor::Export(self.bench.candidate.clone(), Printed::default()));
            }
            Action::Undo => {
                let label = self.session.undo_label().map(str::to_owned);
                self.session.undo();
                self.tell_step("Undone", label);
            }
            Action::Redo => {
                let label = self.session.redo_label().map(str::to_owned);
                self.session.redo();
                self.tell_step("Done again", label);
            }
            Action::NextCandidate => self.step(1),
            Action::PreviousCandidate => self.step(-1),
            Action::Appearance => self.turn_appearance(ctx),
            Action::Present => self.present(ctx, !self.presenting),
            Action::LargerText => self.set_text(ctx, self.settings.text.larger()),
            Action::SmallerText => self.set_text(ctx, self.settings.text.smaller()),
            Action::UsualText => self.set_text(ctx, TextSize::default()),
            Action::FoldStations => self.change_settings(|settings| settings.stations_folded ^= true),
            Action::FilmList => self.change_settings(|settings| settings.film_list ^= true),
            Action::Search => self.shell.search = Some(Search::default()),
            Action::Keys => self.shell.keys_shown = true,
            Action::About => self.shell.about_shown = true,
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

    /// Shows the page alone over the whole screen, or the bench around it again.
    pub(super) fn present(&mut self, ctx: &egui::Context, presenting: bool) {
        self.presenting = presenting;
        ctx.send_viewport_cmd(egui::ViewportCommand::Fullscreen(presenting));
        self.size_text(ctx);
    }

    /// Text as large as the settings say; a quarter larger where it is read from the back of a room.
    pub(super) fn size_text(&self, ctx: &egui::Context) {
        const PRESENTED: f32 = 1.25;
        let factor = self.settings.text.factor();
        ctx.set_zoom_factor(if self.presenting { PRESENTED * factor } else { factor });
    }

    fn tell_step(&mut self, what: &str, label: Option<String>) {
        if let Some(label) = label {
            self.shell.messages.say(Message::note(format!("{what}: {label}")));
        }
    }

    fn set_text(&mut self, ctx: &egui::Context, text: TextSize) {
        self.change_settings(|settings| settings.text = text);
        self.size_text(ctx);
        self.shell.messages.say(Message::note(format!("Text size: {} %", text.percent())));
    }

    fn change_settings(&mut self, change: impl FnOnce(&mut Settings)) {
        change(&mut self.settings);
        let kept = self.settings.keep();
        self.tell_text(kept);
    }

    /// Makes one step of the history, and says so; nothing is said where nothing changed.
    pub(super) fn carry_out_change(&mut self, operation: impl Into<Operation>) {
        match self.session.carry_out(operation) {
            Ok(Some(label)) => self.shell.messages.say(Message::note(format!("Done: {label}"))),
            Ok(None) => {}
            Err(problem) => self.shell.messages.say(Message::problem(&problem)),
        }
    }

    pub(super) fn add_film(&mut self) {
        let series = self.session.series();
        let id = series.free_film_id("New film");
        let reference = series.reference.is_none();
        self.carry_out_change(FilmEdit::Add { label: id.0.clone(), id, reference });
        self.bench.candidate = self.session.series().films.last().map(|film| film.id.clone());
        self.bench.page = PageId::Films;
    }

    pub(super) fn tell(&mut self, done: Result<(), Problem>) {
        if let Err(problem) = done {
            self.shell.messages.say(Message::problem(&problem));
        }
    }

    pub(super) fn tell_text(&mut self, done: Result<(), String>) {
        if let Err(text) = done {
            self.shell.messages.say(Message::note(text));
        }
    }
}
