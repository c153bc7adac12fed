//! Curves: both characteristic curves over each other, and below them the gradient or the departure from straight.

mod models;
mod plots;
mod readings;
mod readout;
mod start;

use egui::Ui;

use twinwedge_workbench::core::drawing::{Alignment, ExposureAxis, LowerPlot};
use twinwedge_workbench::core::figures::FigureId;

pub(in crate::pages) use models::level_words;

use super::{Aligned, Page, Selected, View};
use crate::actions::Action;
use crate::appearance::{STEP, widgets};
use crate::outbox::{Command, Outbox};

/// What the page keeps.
#[derive(Debug, Default)]
pub struct Curves {
    choices: Choices,
    drawn: Option<plots::Drawn>,
    /// How much nearer than the whole the curves were shown in the last frame.
    nearer: Option<f64>,
    /// Where the pointer was last, in the x of the plots.
    at: Option<f64>,
    /// The figure whose line in the readout is pointed at or in focus: its construction is drawn.
    pointed: Option<FigureId>,
    reset: bool,
    zoom: Option<f32>,
    dragging: Option<readings::Dragging>,
}

/// How the tester wants to see the curves.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Choices {
    /// As the bench line says.
    aligned: Aligned,
    axis: ExposureAxis,
    lower: LowerPlot,
    all_films: bool,
    models: bool,
    free: bool,
}

impl Default for Choices {
    fn default() -> Self {
        Self {
            aligned: Aligned::default(),
            axis: ExposureAxis::LogH,
            lower: LowerPlot::Gradient,
            all_films: false,
            models: false,
            free: false,
        }
    }
}

impl Choices {
    fn alignment(&self) -> Alignment {
        self.aligned.alignment()
    }

    /// Answers whether everything shall be shown again.
    fn bar(&mut self, ui: &mut Ui, nearer: Option<f64>) -> bool {
        let before = *self;
        let mut reset = false;
        widgets::groups(ui, |ui| {
            widgets::group(ui, "exposure", |ui| self.exposure(ui));
            widgets::group(ui, "below", |ui| self.below(ui));
            reset = widgets::group(ui, "sight", |ui| self.sight(ui, nearer));
        });
        reset || before.axis != self.axis || before.free != self.free
    }

    fn exposure(&mut self, ui: &mut Ui) {
        widgets::choice(
            ui,
            "Exposure in",
            &mut self.axis,
            &[
                (ExposureAxis::LogH, "log H", "Decimal logarithm of the exposure; 0.30 is a stop"),
                (ExposureAxis::Stops, "stops", "Factors of two in exposure"),
            ],
        );
    }

    fn below(&mut self, ui: &mut Ui) {
        let departure = "Density above or below each film's own straight line: peaks and valleys";
        widgets::choice(
            ui,
            "Below",
            &mut self.lower,
            &[
                (LowerPlot::Gradient, "gradient", "The slope of each curve, place by place"),
                (LowerPlot::Departure, "departure", departure),
            ],
        );
    }

    /// What is looked at. Answers whether everything shall be shown again.
    fn sight(&mut self, ui: &mut Ui, nearer: Option<f64>) -> bool {
        let all = "Shows every film of the series, thin and pale, with its name at the line";
        widgets::switch(ui, &mut self.all_films, "All films", all);
        let models = "Dotted: toe, straight line and shoulder in few parameters, beside the curve";
        widgets::switch(ui, &mut self.models, "Models", models);
        let free = "Off: a gradient of 1 rises at 45 degrees. On: each axis fills its room";
        widgets::switch(ui, &mut self.free, "Free axes", free);
        let whole = "Shows everything again. In the plot: drag to move, Ctrl and wheel to zoom, double click for everything; \
                     with the keyboard arrows move";
        let reset = widgets::button(ui, "Whole curves", whole).clicked();
        if let Some(nearer) = nearer {
            let hover = "How much larger than the whole the curves are shown, along the exposure axis";
            widgets::muted_inline(ui, &format!("{:.0} %", 100.0 * nearer)).on_hover_text(hover);
        }
        reset
    }
}

impl Page for Curves {
    fn ui(&mut self, ui: &mut Ui, view: &View<'_>, outbox: &mut Outbox) {
        start::line(ui, view, outbox);
        if start::needed(view) {
            start::files(ui, view, outbox);
            if plots::films(view, false).is_empty() {
                return;
            }
        }
        // Another alignment changes what lies over what: everything is shown again.
        let aligned = std::mem::replace(&mut self.choices.aligned, view.aligned) != view.aligned;
        let moved = self.choices.bar(ui, self.nearer) || aligned;
        let reset = std::mem::take(&mut self.reset) || moved;
        ui.add_space(STEP);
        // While a reading is dragged nothing above the plot may move it.
        if self.dragging.is_none() {
            plots::failures(ui, view);
        }
        let films = plots::films(view, self.choices.all_films);
        if films.is_empty() {
            // Without a plot there is nothing left to let go of.
            if self.dragging.take().is_some() {
                outbox.send(Command::Abort);
            }
            return;
        }
        let drawn = plots::drawn(&mut self.drawn, &films, &self.choices);
        for note in &drawn.plots.notes {
            widgets::footnote(ui, &note.to_string());
        }
        let selected = match view.selected {
            Selected::Figure(figure) => Some(figure),
            _ => None,
        };
        let construction = self
            .pointed
            .or(selected)
            .map_or_else(Vec::new, |figure| plots::construction(drawn, &films, &self.choices, figure, view));
        let sight = plots::PlotInput { at: self.at, reset, zoom: self.zoom.take() };
        let seen = plots::show(ui, drawn, construction, &self.choices, sight);
        self.nearer = Some(seen.upper.nearer);
        if let Some(at) = seen.at {
            self.at = Some(at);
            outbox.pointer(plots::pointer(drawn, &films, &self.choices, at));
        }
        if let Some(mark) = seen.upper.pressed {
            readings::press(mark, drawn, &films, &self.choices, view, outbox);
        } else if seen.upper.response.clicked()
            && let Some(figure) = plots::figure_at(drawn, &films, &self.choices, &seen.upper, view)
        {
            outbox.send(Command::Select(Selected::Figure(figure)));
        }
        if let Some(dragged) = seen.upper.dragged {
            let shown = (drawn, films.as_slice(), &self.choices);
            self.dragging = readings::drag(self.dragging.take(), dragged, shown, view, outbox);
        } else if let Some(mark) = seen.upper.near.filter(|_| self.dragging.is_none())
            && let Some(words) = readings::about(mark, drawn, &films, &self.choices, view)
        {
            seen.upper.response.on_hover_text_at_pointer(words);
        }
    }

    fn readout(&mut self, ui: &mut Ui, view: &View<'_>, outbox: &mut Outbox) {
        let films = plots::films(view, self.choices.all_films);
        let drawn = self.drawn.as_ref();
        let pointed = readout::show(ui, view, &films, drawn, &self.choices, self.at, |ui| {
            models::doubts(ui, view, &films, outbox);
        });
        if pointed != self.pointed {
            self.pointed = pointed;
            // The plot may have been painted before the readout.
            ui.ctx().request_repaint();
        }
        models::show(ui, &films);
        readings::list(ui, view, outbox);
    }

    fn act(&mut self, action: Action, _: &View<'_>, _: &mut Outbox) -> bool {
        match action {
            Action::Fit => self.reset = true,
            Action::ZoomIn => self.zoom = Some(1.25),
            Action::ZoomOut => self.zoom = Some(0.8),
            _ => return false,
        }
        true
    }
}
