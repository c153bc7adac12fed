//! Carries out, in one place, what a frame asked for.

use twinwedge_workbench::core::document::FilmId;
use twinwedge_workbench::core::problem::Problem;
use twinwedge_workbench::edits::{FilmEdit, Operation};
use twinwedge_workbench::intake::Purpose;
use twinwedge_workbench::sample::Sample;

use super::App;
use crate::actions::{Action, Keys};
use crate::appearance;
use crate::outbox::{Command, FileFor, Printed};
use crate::pages::{ALSO, PageId, Selected};
use crate::settings::{Appearance, Settings, TextSize};
use crate::shell::question::Leaving;
use crate::shell::search::Search;
use crate::shell::{Dialog, Message};

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
            Command::Also(film) => self.also(film),
            Command::Align(aligned) => self.bench.aligned = aligned,
            Command::Screen(screen) => {
                self.change_settings(|settings| settings.screen = screen);
            }
            Command::FilmFigures(keys) => {
                self.change_settings(|settings| settings.film_figures = Some(keys));
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
            Command::Beginning => self.shell.beginning.get_or_insert_default().shown = true,
            Command::Settings(settings) => self.take_settings(ctx, *settings),
            Command::Key(action, key) => self.change_key(action, key),
            Command::Origin(asked) => self.shell.origin = Some(*asked),
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
            Action::OpenSample => self.leave(ctx, Leaving::Sample(Sample::Three)),
            Action::OpenFifty => self.leave(ctx, Leaving::Sample(Sample::Fifty)),
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
            Action::Keys => self.shell.dialog = Some(Dialog::Keys),
            Action::Settings => self.shell.dialog = Some(Dialog::Settings),
            Action::HelpPages => self.shell.dialog = Some(Dialog::Help),
            Action::ScreenCheck => self.shell.dialog = Some(Dialog::Screen),
            Action::About => self.shell.dialog = Some(Dialog::About),
            Action::Still => self.ask(ctx, FileFor::Still(1920, 1080)),
            Action::LargeStill => self.ask(ctx, FileFor::Still(3840, 2160)),
            Action::Retry => self.session.retry(),
            other => self.page_act(other),
        }
    }

    /// Shows a page; a folder under review, or a series that begins, waits behind it.
    fn show_page(&mut self, page: PageId) {
        self.bench.page = page;
        if let Some(gathering) = &mut self.shell.gathering {
            gathering.shown = false;
        }
        if let Some(beginning) = &mut self.shell.beginning {
            beginning.shown = false;
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
        self.bench.also.retain(|id| series.film(id).is_some());
        if let Selected::Spot(spot) = self.bench.selected
            && spot >= series.spots.len()
        {
            self.bench.selected = Selected::Nothing;
        }
    }

    /// Lays a further film over the pair, or takes it away; beyond the most that fit, the first of them goes.
    fn also(&mut self, film: FilmId) {
        let also = &mut self.bench.also;
        if let Some(at) = also.iter().position(|other| *other == film) {
            also.remove(at);
            return;
        }
        if also.len() >= ALSO {
            also.remove(0);
        }
        also.push(film);
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

    /// All settings as they were changed in their sheet.
    fn take_settings(&mut self, ctx: &egui::Context, settings: Settings) {
        self.change_settings(|kept| *kept = settings);
        appearance::take_up(self.settings.habits, ctx);
        ctx.set_theme(self.settings.appearance.theme());
        self.session.set_scan_limit(self.settings.scan_megabytes.map(|megabytes| megabytes << 20));
    }

    fn change_key(&mut self, action: Action, key: Option<String>) {
        let name = action.spec().name.to_owned();
        self.change_settings(|settings| match key {
            Some(key) => drop(settings.keys.insert(name, key)),
            None => drop(settings.keys.remove(&name)),
        });
        self.keys = Keys::with(&self.settings.keys);
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
