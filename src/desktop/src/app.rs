//! The window: draws the shell around one page and carries out what the frame asked for.

use twinwedge_workbench::core::document::FilmId;
use twinwedge_workbench::session::Session;

use crate::actions::{Action, Keys};
use crate::outbox::{Command, Outbox};
use crate::pages::{PageId, Pages, Selected, View};
use crate::shell::settings::Settings;

/// The window's state. The series and all that follows from it belong to the session.
#[derive(Debug)]
pub struct App {
    session: Session,
    settings: Settings,
    keys: Keys,
    pages: Pages,
    page: PageId,
    candidate: Option<FilmId>,
    selected: Selected,
    outbox: Outbox,
}

impl App {
    /// A window on a session.
    #[must_use]
    pub fn new(ctx: &egui::Context, session: Session, settings: Settings) -> Self {
        crate::appearance::install(ctx);
        ctx.set_theme(settings.appearance.theme());
        let keys = Keys::with(&settings.keys);
        let wake = ctx.clone();
        session.on_news(move || wake.request_repaint());
        let candidate = session.series().candidates().next().map(|film| film.id.clone());
        Self {
            session,
            settings,
            keys,
            pages: Pages::default(),
            page: PageId::default(),
            candidate,
            selected: Selected::Nothing,
            outbox: Outbox::default(),
        }
    }

    fn view<'a>(&'a self) -> View<'a> {
        let series = self.session.series();
        View {
            session: &self.session,
            series,
            reference: series.reference_film(),
            candidate: self.candidate.as_ref().and_then(|id| series.film(id)),
            selected: self.selected,
            keys: &self.keys,
        }
    }

    fn frame(&mut self, ui: &mut egui::Ui) {
        let mut pages = std::mem::take(&mut self.pages);
        let mut outbox = std::mem::take(&mut self.outbox);
        let view = self.view();
        for action in self.keys.pressed(ui.ctx()) {
            outbox.send(Command::Do(action));
        }
        egui::Panel::top("top").show(ui, |ui| {
            ui.horizontal(|ui| {
                for page in PageId::ALL {
                    if ui.selectable_label(self.page == page, page.word()).clicked() {
                        outbox.send(Command::Page(page));
                    }
                }
            });
        });
        egui::Panel::right("readout").show(ui, |ui| pages.page(self.page).readout(ui, &view, &mut outbox));
        egui::CentralPanel::default().show(ui, |ui| pages.page(self.page).ui(ui, &view, &mut outbox));
        let commands = outbox.drain();
        self.pages = pages;
        self.outbox = outbox;
        for command in commands {
            self.carry_out(command);
        }
    }

    fn carry_out(&mut self, command: Command) {
        match command {
            Command::Page(page) => self.page = page,
            Command::Select(selected) => self.selected = selected,
            Command::Do(Action::Quit) => {}
            other => drop(other),
        }
    }
}

impl eframe::App for App {
    fn ui(&mut self, ui: &mut egui::Ui, _frame: &mut eframe::Frame) {
        self.frame(ui);
    }

    fn on_exit(&mut self, _gl: Option<&eframe::glow::Context>) {
        // Nobody is left to be told: the next start falls back to what was kept before.
        let _ = self.settings.keep();
    }
}
