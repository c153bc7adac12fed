//! The window: draws the shell around one page, then has carried out what the frame asked for.

pub(crate) mod closing;
mod cost;
mod doing;
mod files;
mod focus;
mod reader;

pub use cost::{FrameCost, frame_costs};

use std::path::Path;
use std::time::Instant;

use egui::{CentralPanel, Frame, Key, Margin, Modifiers, Panel, ScrollArea, ViewportCommand};
use twinwedge_workbench::core::document::FilmId;
use twinwedge_workbench::session::Session;

use self::reader::Reader;
use crate::actions::{Action, Keys};
use crate::appearance::{self, Tokens};
use crate::outbox::{Command, Outbox, take_aside};
use crate::pages::{PageId, Pages, Selected, View};
use crate::place::Aligned;
use crate::settings::Settings;
use crate::shell::question::{Leaving, Question};
use crate::shell::{
    Dialog, Message, Messages, Shell, about, bench, films, help, on_disk, origin, preferences, present,
    screen, stations, status, top,
};

/// The least room, in points, that panels and pages are laid out for. With less, the whole window scrolls.
pub const LEAST_ROOM: egui::Vec2 = egui::vec2(820.0, 512.0);
/// Below this width the stations fold to their marks and the readout narrows by themselves.
const NARROW: f32 = 1000.0;

/// Lays out in no less than the least room: what does not fit into a small window, or beside large text, is scrolled to.
/// `follow` is a place that shall come into sight.
fn roomy(ui: &mut egui::Ui, follow: Option<egui::Rect>, lay_out: impl FnOnce(&mut egui::Ui)) {
    let room = ui.available_size();
    if room.x >= LEAST_ROOM.x && room.y >= LEAST_ROOM.y {
        return lay_out(ui);
    }
    ScrollArea::both().id_salt("whole window").auto_shrink([false, false]).show(ui, |ui| {
        let (rect, _) = ui.allocate_exact_size(room.max(LEAST_ROOM), egui::Sense::hover());
        let mut inner = ui.new_child(egui::UiBuilder::new().max_rect(rect));
        inner.set_clip_rect(inner.clip_rect().intersect(rect));
        lay_out(&mut inner);
        if let Some(place) = follow {
            ui.scroll_to_rect(place, None);
        }
    });
}

/// What lies on the bench beside the reference, and what of it is looked at.
#[derive(Debug, Default)]
struct Bench {
    candidate: Option<FilmId>,
    /// Further films that are laid over the pair.
    also: Vec<FilmId>,
    selected: Selected,
    aligned: Aligned,
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
    /// The page stands alone, for a talk.
    presenting: bool,
    reader: Reader,
    follow: focus::Follow,
    /// A still that waits until everything on the page is there.
    still: Option<files::StillWanted>,
    /// The tester has settled what becomes of unsaved changes: the window may close.
    may_close: bool,
}

impl App {
    /// A window on a session.
    #[must_use]
    pub fn new(ctx: &egui::Context, session: Session, settings: Settings) -> Self {
        closing::begin(ctx);
        appearance::install(ctx);
        appearance::take_up(settings.habits, ctx);
        ctx.set_theme(settings.appearance.theme());
        // The size of text is an action with a key of its own and is remembered.
        ctx.options_mut(|options| options.zoom_with_keyboard = false);
        let keys = Keys::with(&settings.keys);
        let message = settings.complaint.iter().chain(&keys.complaints).next().map(Message::note);
        let mut app = Self {
            session,
            settings,
            keys,
            pages: Pages::default(),
            bench: Bench::default(),
            outbox: Outbox::default(),
            shell: Shell { messages: Messages::beginning_with(message), ..Shell::default() },
            presenting: false,
            reader: Reader::default(),
            follow: focus::Follow::default(),
            still: None,
            may_close: false,
        };
        app.size_text(ctx);
        app.welcome(ctx);
        // Whatever was not saved, of whichever series: nobody has to know the name of a file.
        let left = app.session.recoveries();
        if !left.is_empty() {
            app.shell.question = Some(Question::Recover(left));
        }
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
        self.session.set_scan_limit(self.settings.scan_megabytes.map(|megabytes| megabytes << 20));
        self.bench.candidate = None;
        self.bench.also.clear();
        self.bench.selected = Selected::Nothing;
        self.pages = Pages::default();
        self.shell.beginning = None;
        self.settle();
        if let Some(path) = self.session.path().map(Path::to_path_buf) {
            // Recovered changes carry the path, too, but are not saved: they have been decided on.
            let left = if self.session.unsaved() { Vec::new() } else { self.session.recoveries_of(&path) };
            if !left.is_empty() {
                self.shell.question = Some(Question::Recover(left));
            }
            self.settings.was_open(path);
        }
    }

    fn view<'a>(&'a self) -> View<'a> {
        let series = self.session.series();
        View {
            session: &self.session,
            series,
            reference: series.reference_film(),
            candidate: self.bench.candidate.as_ref().and_then(|id| series.film(id)),
            also: &self.bench.also,
            selected: self.bench.selected,
            aligned: self.bench.aligned,
            keys: &self.keys,
            screen: self.settings.screen,
            film_figures: self.settings.film_figures.as_deref(),
        }
    }

    fn frame(&mut self, ui: &mut egui::Ui) {
        // Taken out for the frame, so that pages and shell can be changed while the view borrows the rest.
        let mut pages = std::mem::take(&mut self.pages);
        let mut shell = std::mem::take(&mut self.shell);
        let mut outbox = std::mem::take(&mut self.outbox);
        let view = self.view();
        if !shell.keys.waits() {
            for action in self.keys.pressed(ui.ctx()) {
                outbox.send(Command::Do(action));
            }
        }
        if self.presenting && ui.input_mut(|input| input.consume_key(Modifiers::NONE, Key::Escape)) {
            outbox.send(Command::Do(Action::Present));
        }
        let begun = shell.beginning.as_ref().filter(|beginning| beginning.shown);
        shell.drops.collect(ui.ctx(), self.bench.page, begun, &view, &mut outbox);
        let follow = self.follow.fresh(ui.ctx());
        roomy(ui, follow, |ui| self.panels(ui, &view, &mut pages, &mut shell, &mut outbox));
        self.dialogs(ui.ctx(), &view, &mut shell, &mut outbox);
        shell.pointer = outbox.take_pointer();
        let mut commands = outbox.drain();
        commands.extend(take_aside(ui.ctx()));
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
        self.gathered(ui.ctx());
        self.begun(ui.ctx());
        self.keep_still(ui.ctx());
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
        if self.presenting {
            return present::page(ui, pages.page(self.bench.page), self.bench.page, view, outbox);
        }
        let tokens = Tokens::get(ui);
        let side = Frame::new().fill(tokens.raised).inner_margin(Margin::same(8));
        let bar = Frame::new().fill(tokens.raised).inner_margin(Margin::symmetric(8, 4));
        Panel::top("series").frame(bar).show_separator_line(false).show(ui, |ui| {
            top::series_bar(ui, view, &self.settings, outbox);
        });
        Panel::top("bench").frame(bar).show(ui, |ui| bench::line(ui, view, &mut shell.filter, outbox));
        Panel::bottom("status").frame(bar).exact_size(40.0).show(ui, |ui| {
            status::line(ui, shell, view, outbox);
        });
        let narrow = ui.available_width() < NARROW;
        let folded = self.settings.stations_folded || narrow;
        let width = if folded { stations::FOLDED } else { stations::WIDE };
        let column = Frame::new().fill(tokens.raised).inner_margin(Margin::symmetric(4, 4));
        Panel::left("stations").frame(column).exact_size(width).resizable(false).show(ui, |ui| {
            stations::column(ui, self.bench.page, folded, view, outbox);
        });
        if self.settings.film_list {
            Panel::left("films").frame(side).default_size(192.0).size_range(160.0..=320.0).show(ui, |ui| {
                films::list(ui, view, &mut shell.filter, true, outbox);
            });
        }
        let page = pages.page(self.bench.page);
        let mut beginning = shell.beginning.as_mut().filter(|beginning| beginning.shown);
        let mut sheet = shell.gathering.as_mut().filter(|gathering| gathering.shown && beginning.is_none());
        let readout = if narrow { 240.0 } else { 304.0 };
        Panel::right(if narrow { "narrow readout" } else { "readout" })
            .frame(side)
            .default_size(readout)
            .size_range(240.0..=440.0)
            .show(ui, |ui| {
                ScrollArea::vertical().auto_shrink([false, false]).show(ui, |ui| {
                    match (&mut beginning, &mut sheet) {
                        (Some(beginning), _) => beginning.readout(ui),
                        (None, Some(sheet)) => sheet.readout(ui),
                        (None, None) => page.readout(ui, view, outbox),
                    }
                });
            });
        let middle = Frame::new().fill(tokens.surface).inner_margin(Margin::same(8));
        CentralPanel::default().frame(middle).show(ui, |ui| {
            if let Some(beginning) = &mut beginning {
                return beginning.ui(ui, outbox);
            }
            if let Some(sheet) = &mut sheet {
                return sheet.ui(ui);
            }
            // A question about the same file offers the same choices, and more of them.
            if shell.question.is_none() {
                on_disk::line(ui, view, outbox);
            }
            page.ui(ui, view, outbox);
        });
    }

    fn dialogs(&self, ctx: &egui::Context, view: &View<'_>, shell: &mut Shell, outbox: &mut Outbox) {
        if shell.asking.as_mut().is_some_and(|asking| asking.show(ctx, outbox)) {
            shell.asking = None;
        }
        if shell.search.as_mut().is_some_and(|search| search.show(ctx, view, outbox)) {
            shell.search = None;
        }
        if shell.origin.as_ref().is_some_and(|asked| origin::show(ctx, asked, view, outbox)) {
            shell.origin = None;
        }
        let over = match shell.dialog {
            Some(Dialog::Keys) => shell.keys.show(ctx, &self.keys, &self.settings, outbox),
            Some(Dialog::Settings) => {
                preferences::show(ctx, &mut shell.keys, &self.keys, &self.settings, outbox)
            }
            Some(Dialog::Help) => help::show(ctx, &mut shell.help, outbox),
            Some(Dialog::About) => about::show(ctx),
            Some(Dialog::Screen) => screen::show(ctx),
            None => false,
        };
        if over {
            shell.dialog = None;
        }
        shell.drops.show(ctx, view, outbox);
    }

    fn watch_closing(&mut self, ctx: &egui::Context) {
        if closing::heed(ctx) {
            return;
        }
        let closing = ctx.input(|input| input.viewport().close_requested());
        if closing && !self.may_close && self.session.unsaved() {
            ctx.send_viewport_cmd(ViewportCommand::CancelClose);
            self.shell.question = Some(Question::Unsaved(Leaving::Quit));
        }
    }
}

impl eframe::App for App {
    fn ui(&mut self, ui: &mut egui::Ui, _frame: &mut eframe::Frame) {
        let ctx = ui.ctx().clone();
        self.watch_closing(&ctx);
        self.reader.follow(&ctx);
        self.follow.begin(&ctx);
        self.frame(ui);
        self.ask_question(&ctx);
        appearance::focus_mark(&ctx);
        // The series' own file is looked at, too, although nothing is unsaved.
        let next = self.session.tick(Instant::now());
        ctx.request_repaint_after(next);
    }

    fn on_exit(&mut self, _gl: Option<&eframe::glow::Context>) {
        // Nobody is left to be told: the next start falls back to what was kept before.
        let _ = self.settings.keep();
        if !self.may_close {
            // The system ends the program: what was not saved is offered at the next start.
            let _ = self.session.keep_now();
        }
    }
}
