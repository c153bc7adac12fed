//! Prints: both prints registered to each other, side by side, divided, alternating or as a density difference.

mod ends;
mod layouts;
mod panes;
mod patches;
mod points;
mod readout;
mod spots;

use egui::{Slider, Ui};
use twinwedge_workbench::core::document::{Film, PrintChoice};
use twinwedge_workbench::edits::PrintChange;
use twinwedge_workbench::intake::Purpose;

use super::{Page, View, missing, scan_trust};
use crate::actions::Action;
use crate::appearance::{over, widgets};
use crate::canvas::{self, Tiles, ZoomPan};
use crate::outbox::{Command, Outbox};
use crate::settings::Habits;

/// How the two prints lie.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
enum Arrangement {
    #[default]
    Beside,
    Divided,
    Alternating,
    Difference,
}

const ARRANGEMENTS: [(Arrangement, &str, &str); 4] = [
    (Arrangement::Beside, "Side by side", "Reference at the left, candidate at the right"),
    (
        Arrangement::Divided,
        "Divided",
        "One picture, the reference left of the line, the candidate right of it",
    ),
    (Arrangement::Alternating, "Alternating", "One picture, first the one, then the other"),
    (
        Arrangement::Difference,
        "Difference",
        "Density of the candidate minus density of the reference; equal is mid grey",
    ),
];

/// What a press on the picture does.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
enum Tool {
    #[default]
    Spots,
    Patches,
    Points,
}

const TOOLS: [(Tool, &str, &str); 3] = [
    (Tool::Spots, "Spots", "A click samples the same spot in both prints"),
    (Tool::Patches, "Patch grid", "Four corners lay the grid of patches; their names can be changed"),
    (Tool::Points, "Registration", "How the prints lie on each other, corrected by two pairs of points"),
];

/// What the page keeps.
#[derive(Debug)]
pub struct Prints {
    arrangement: Arrangement,
    tool: Tool,
    sight: ZoomPan,
    own: ZoomPan,
    tiles: Tiles,
    spots: spots::Spots,
    divide: f32,
    surround: f32,
    loupe: bool,
    ends: bool,
    /// Which print is shown where they alternate by a key.
    turn: usize,
}

impl Default for Prints {
    fn default() -> Self {
        Self {
            arrangement: Arrangement::default(),
            tool: Tool::default(),
            sight: ZoomPan::default(),
            own: ZoomPan::default(),
            tiles: Tiles::default(),
            spots: spots::Spots::default(),
            divide: 0.5,
            surround: 0.5,
            loupe: false,
            ends: false,
            turn: 0,
        }
    }
}

impl Page for Prints {
    fn ui(&mut self, ui: &mut Ui, view: &View<'_>, outbox: &mut Outbox) {
        self.tiles.begin();
        let Some((film, print)) = first_print(view) else {
            nothing_yet(ui, view, outbox);
            return;
        };
        self.controls(ui, view, outbox);
        let rect = ui.available_rect_before_wrap();
        ui.painter().rect_filled(rect, 0.0, over::surround(self.surround));
        match canvas::size_of(view.session, &print.scan) {
            Err(_) => {
                let without = PrintChange::TakeAway.of(&film.id).into();
                missing::instead(ui, rect, view, &print.scan, Some(without), outbox);
            }
            Ok(size) if self.tool == Tool::Points => self.points(ui, rect, size, view, outbox),
            Ok(size) => self.panes(ui, rect, size, view, outbox),
        }
    }

    fn readout(&mut self, ui: &mut Ui, view: &View<'_>, outbox: &mut Outbox) {
        ui.heading("Prints");
        // What is done now stands first.
        match self.tool {
            Tool::Points => {}
            Tool::Spots => self.spots.readout(ui, view, outbox),
            Tool::Patches => patches::readout(ui, view, outbox),
        }
        if self.ends {
            ends::readout(ui, view);
        }
        readout::registration(ui, view, outbox);
        scan_trust::prints(ui, view, outbox);
        for film in view.bench().filter(|film| film.print.is_some()) {
            widgets::section(ui, &format!("Print of {}", film.label));
            let without = PrintChange::TakeAway.of(&film.id).into();
            let other = Purpose::Print(film.id.clone());
            missing::replace(ui, &format!("print of {}", film.label), other, without, outbox);
        }
        if self.tool == Tool::Points {
            self.spots.readout(ui, view, outbox);
        }
    }

    fn forget_pictures(&mut self) {
        self.tiles = Tiles::default();
    }

    fn act(&mut self, action: Action, view: &View<'_>, outbox: &mut Outbox) -> bool {
        match action {
            Action::NextArrangement => {
                let at = ARRANGEMENTS.iter().position(|(value, ..)| *value == self.arrangement);
                self.arrangement = ARRANGEMENTS[(at.unwrap_or(0) + 1) % ARRANGEMENTS.len()].0;
                true
            }
            Action::SwapInPlace => {
                self.turn += 1;
                true
            }
            Action::KeepSpot => self.spots.keep(view, outbox),
            Action::DeleteSpot => spots::delete_selected(view, outbox),
            _ => {
                let first = self.sight.act(action);
                self.own.act(action) || first
            }
        }
    }
}

impl Prints {
    fn controls(&mut self, ui: &mut Ui, view: &View<'_>, outbox: &mut Outbox) {
        ui.horizontal_wrapped(|ui| {
            widgets::choice(ui, "Prints", &mut self.arrangement, &ARRANGEMENTS);
            ui.add_space(8.0);
            widgets::choice(ui, "Tool", &mut self.tool, &TOOLS);
        });
        ui.horizontal_wrapped(|ui| {
            ui.label("Surround");
            let slider = Slider::new(&mut self.surround, 0.0..=1.0).show_value(false);
            let response = ui.name_inputs("Surround", |ui| ui.add(slider));
            response
                .on_hover_text("What the prints lie on, from black to white: it changes how a tone is seen");
            for (value, word) in [(0.0, "black"), (0.5, "grey"), (1.0, "white")] {
                if widgets::button(ui, word, &format!("A {word} surround")).clicked() {
                    self.surround = value;
                }
            }
            widgets::group(ui, "zoom", |ui| self.sight.control(ui));
            if self.arrangement == Arrangement::Alternating && Habits::of(ui.ctx()).reduced_motion {
                let hover = "The next print in the same place; the key X does the same";
                if widgets::button(ui, "Next print", hover).clicked() {
                    self.turn += 1;
                }
            }
            if widgets::button(ui, "Check the screen", &view.keys.hover(Action::ScreenCheck)).clicked() {
                outbox.send(Command::Do(Action::ScreenCheck));
            }
            widgets::switch(ui, &mut self.loupe, "Magnifier", "Both prints under the pointer, enlarged");
            let hover = "Where the prints are as white as their paper, and where as black as it gets";
            widgets::switch(ui, &mut self.ends, "Blank and blocked", hover);
            if self.tool == Tool::Spots {
                self.spots.size_control(ui, view);
            }
            for film in view.bench().filter(|film| film.print.is_none()) {
                let word = format!("Open the print of {} ...", film.label);
                if widgets::button(ui, &word, "A scan of the film's print of the target").clicked() {
                    outbox.ask(Purpose::Print(film.id.clone()));
                }
            }
        });
        ui.add_space(4.0);
    }
}

/// The print that gives the coordinates: the reference's, else the candidate's own.
fn first_print<'a>(view: &View<'a>) -> Option<(&'a Film, &'a PrintChoice)> {
    view.bench().find_map(|film| Some((film, film.print.as_ref()?)))
}

fn nothing_yet(ui: &mut Ui, view: &View<'_>, outbox: &mut Outbox) {
    let Some(film) = view.reference.or(view.candidate) else {
        if widgets::empty(
            ui,
            "No film yet",
            "A film is added to the series; the first one is the reference.",
            "Add a film",
        ) {
            outbox.send(Command::Do(Action::AddFilm));
        }
        return;
    };
    let pressed = widgets::empty(
        ui,
        &format!("The print of {} goes here", film.label),
        "Scan the prints of one target from all films alike: same paper, same scanner settings. They are laid on each other \
         by themselves, and a click samples the same spot in both. Files can also be dropped on the window.",
        &format!("Open the print of {} ...", film.label),
    );
    if pressed {
        outbox.ask(Purpose::Print(film.id.clone()));
    }
}
