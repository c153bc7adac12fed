//! Draws the core's plots on the screen: films told apart by line, mark and tone; graph paper; zoom, pan and reset.

mod drag;
mod grid;
mod layers;
mod words;

pub use drag::{Dragged, Phase};

use egui::{Id, Key, Response, Role as Reader, Ui, UiBuilder, Vec2, Vec2b, WidgetInfo, vec2};
use egui_plot::{PlotBounds, PlotTransform};

use twinwedge_workbench::core::drawing::{Axis, Plot, Role};

use crate::appearance::Tokens;
use crate::outbox::{self, Command, FileFor};
use crate::settings::Habits;

/// Room for the figures at the left, the same in all plots so that plots under each other line up.
const LEFT: f32 = 52.0;
/// Room for the figures and the label below.
const BELOW: f32 = 40.0;
/// Width of a saved plot.
const SAVED_MM: f64 = 180.0;
/// How near to a mark a press must be, in points.
pub(crate) const REACH: f32 = 10.0;

/// How a plot is shown.
#[derive(Debug, Clone, Copy)]
pub struct PlotLook {
    /// Names it among all plots.
    pub id: Id,
    /// Plots with the same link share what they show of the exposure axis.
    pub link: Option<Id>,
    /// What it shows of the x axis before it is zoomed; the axis' own range where there is none.
    pub x_range: Option<(f64, f64)>,
    /// The tester freed the axes: each fills its room.
    pub free: bool,
    /// Shows everything again.
    pub reset: bool,
    /// Zooms by this factor about the middle: above 1 is nearer.
    pub zoom: Option<f32>,
    /// Whole height with axis.
    pub height: f32,
    /// Where the pointer is in the linked plot.
    pub hair: Option<f64>,
    /// Marks may be dragged up and down.
    pub drag: bool,
    /// How the x axis is figured.
    pub across: Figures,
}

/// What the figures at an axis are.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Figures {
    /// The numbers of the axis themselves.
    #[default]
    Plain,
    /// Exposure indices as a meter shows them, for an axis in stops above 100.
    ExposureIndex,
}

impl PlotLook {
    /// A plot on its own.
    #[must_use]
    pub fn new(id: Id, height: f32) -> Self {
        Self {
            id,
            link: None,
            x_range: None,
            free: false,
            reset: false,
            zoom: None,
            height,
            hair: None,
            drag: false,
            across: Figures::Plain,
        }
    }
}

/// A mark that was pressed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Mark {
    /// What the film is to the comparison.
    pub role: Role,
    /// Its x and y in data coordinates.
    pub at: [f64; 2],
}

/// What came of showing a plot.
#[derive(Debug)]
pub struct Shown {
    /// The plot's own response.
    pub response: Response,
    /// Where the pointer is.
    pub pointer: Option<[f64; 2]>,
    /// Points on the screen for a unit of x and of y.
    pub points_per_unit: [f64; 2],
    /// The mark that was pressed.
    pub pressed: Option<Mark>,
    /// The mark under the pointer.
    pub near: Option<Mark>,
    /// The mark that is dragged.
    pub dragged: Option<Dragged>,
    /// What is shown of the x axis before it is zoomed, for the plot below.
    pub x_range: (f64, f64),
    /// How much nearer than the whole it is shown, along the x axis.
    pub nearer: f64,
}

/// Shows a plot.
pub fn show(ui: &mut Ui, plot: &Plot, look: &PlotLook) -> Shown {
    // A held mark must stay the same widget when something above the plot comes or goes.
    let place = UiBuilder::new().scope_id(look.id.with("place"));
    ui.scope_builder(place, |ui| show_here(ui, plot, look)).inner
}

fn show_here(ui: &mut Ui, plot: &Plot, look: &PlotLook) -> Shown {
    let tokens = Tokens::get(ui);
    let size = vec2(ui.available_width().max(120.0), look.height);
    let aspect = plot.x_per_y.filter(|_| !look.free);
    let (x, y) = fitted(plot, look, size, aspect);
    // Graph paper lies below everything, but its place on the screen is known only when the plot is laid out.
    let paper = ui.painter().add(egui::Shape::Noop);
    let first = ui.data(|data| data.get_temp::<bool>(look.id)).is_none();
    // Until the tester moves or zooms it, a plot follows its own ranges; then it stays, whichever film comes.
    let refit = first || look.reset;
    let mut builder = egui_plot::Plot::new("plot")
        .id(look.id)
        .width(size.x)
        .height(size.y)
        .show_background(false)
        .show_grid(false)
        .show_x(false)
        .show_y(false)
        .allow_boxed_zoom(false)
        .allow_drag(!drag::holds(ui, plot, look))
        .allow_axis_zoom_drag(false)
        .allow_scroll(false)
        .default_x_bounds(x.0, x.1)
        .default_y_bounds(y.0, y.1)
        .custom_x_axes(vec![grid::hints(&plot.x, true, look.across)])
        .custom_y_axes(vec![grid::hints(&plot.y, false, Figures::Plain).min_thickness(LEFT)])
        .x_grid_spacer(grid::spacer(&plot.x, look.across))
        .y_grid_spacer(grid::spacer(&plot.y, Figures::Plain));
    if let Some(aspect) = aspect {
        #[expect(clippy::cast_possible_truncation, reason = "an aspect on the screen")]
        let aspect = aspect as f32;
        builder = builder.data_aspect(aspect);
    }
    if let Some(link) = look.link {
        builder = builder.link_axis(link, Vec2b::new(true, false));
    }
    let shown = builder.show(ui, |plot_ui| {
        if refit {
            plot_ui.set_auto_bounds(true);
        }
        if let Some(factor) = look.zoom {
            plot_ui.zoom_bounds(Vec2::splat(factor), plot_ui.plot_bounds().center());
        }
        wheel(plot_ui);
        keys(plot_ui);
        layers::items(plot_ui, plot, tokens);
    });
    ui.data_mut(|data| data.insert_temp(look.id, true));
    let (response, transform) = (shown.response, shown.transform);
    response.widget_info(|| WidgetInfo::labeled(Reader::Figure, true, &plot.title));
    response.ctx.accesskit_node_builder(response.id, |node| node.set_description(words::words(plot)));
    menu(&response, plot);
    let heavy = grid::paper(plot, look.across, &transform, tokens);
    ui.painter().set(paper, heavy);
    layers::texts(ui, plot, &transform, tokens);
    let pointer = response.hover_pos().map(|at| transform.value_from_position(at)).map(|at| [at.x, at.y]);
    layers::hair(ui, &transform, pointer.map(|at| at[0]).or(look.hair), tokens);
    focus_mark(ui, &response, &transform, tokens);
    let pressed = response
        .clicked()
        .then(|| response.interact_pointer_pos())
        .flatten()
        .and_then(|at| layers::nearest(plot, &transform, at, REACH));
    let dragged = drag::dragged(ui, look, &response, &transform);
    let near = response.hover_pos().and_then(|at| layers::nearest(plot, &transform, at, REACH));
    let nearer = (x.1 - x.0) / (transform.bounds().width()).max(f64::MIN_POSITIVE);
    let points_per_unit = transform.dpos_dvalue().map(f64::abs);
    Shown { response, pointer, points_per_unit, pressed, near, dragged, x_range: x, nearer }
}

/// Where the tester wishes so, the wheel alone zooms about the pointer; with Ctrl, and by pinching, it always does.
fn wheel(plot_ui: &mut egui_plot::PlotUi<'_>) {
    let response = plot_ui.response().clone();
    if !Habits::of(&response.ctx).wheel_zooms || !response.contains_pointer() {
        return;
    }
    let turned = response.ctx.input_mut(|input| {
        if input.modifiers.any() { 0.0 } else { std::mem::take(&mut input.smooth_scroll_delta.y) }
    });
    if turned != 0.0 {
        plot_ui.zoom_bounds_around_hovered(Vec2::splat((turned / 240.0).exp()));
    }
}

/// What can be done with a plot: its menu, by the second button or the menu key.
fn menu(response: &Response, plot: &Plot) {
    response.context_menu(|ui| {
        ui.set_min_width(220.0);
        let copy = "Copies the points of all lines as a table, for a spreadsheet";
        if ui.button("Copy its numbers").on_hover_text(copy).clicked() {
            let comma = Habits::of(ui.ctx()).decimal_comma;
            ui.ctx().copy_text(words::table(plot, comma));
            ui.close();
        }
        let words = "Copies what the plot shows, in words";
        if ui.button("Copy it in words").on_hover_text(words).clicked() {
            ui.ctx().copy_text(words::words(plot));
            ui.close();
        }
        let save = "Saves the whole plot as a drawing, 180 mm wide, for a page or a talk";
        if ui.button("Save as a drawing …").on_hover_text(save).clicked() {
            let drawn = twinwedge_workbench::export::svg(plot, SAVED_MM);
            outbox::send_aside(ui.ctx(), Command::Ask(FileFor::Drawing(drawn.into())));
            ui.close();
        }
    });
}

/// What is shown of both axes so that their ranges fit and, where asked, both have one scale.
fn fitted(plot: &Plot, look: &PlotLook, size: Vec2, aspect: Option<f64>) -> ((f64, f64), (f64, f64)) {
    let x = look.x_range.unwrap_or_else(|| sound(&plot.x));
    let y = sound(&plot.y);
    let Some(aspect) = aspect else { return (x, y) };
    let (width, height) = (f64::from((size.x - LEFT).max(1.0)), f64::from((size.y - BELOW).max(1.0)));
    // Points on the screen per unit of y: the smaller of what the two axes allow.
    let scale = (width / ((x.1 - x.0) * aspect)).min(height / (y.1 - y.0));
    (widened(x, width / (scale * aspect)), widened(y, height / scale))
}

fn sound(axis: &Axis) -> (f64, f64) {
    let (low, high) = axis.range;
    if low.is_finite() && high.is_finite() && high > low { (low, high) } else { (0.0, 1.0) }
}

fn widened((low, high): (f64, f64), length: f64) -> (f64, f64) {
    let more = (length - (high - low)).max(0.0) / 2.0;
    (low - more, high + more)
}

/// Arrow keys move while the plot has the keyboard.
fn keys(plot_ui: &mut egui_plot::PlotUi<'_>) {
    let response = plot_ui.response().clone();
    if !response.has_focus() {
        return;
    }
    let filter = egui::EventFilter { horizontal_arrows: true, vertical_arrows: true, ..Default::default() };
    response.ctx.memory_mut(|memory| memory.set_focus_lock_filter(response.id, filter));
    let bounds: PlotBounds = plot_ui.plot_bounds();
    #[expect(clippy::cast_possible_truncation, reason = "a step on the screen")]
    let step = vec2(bounds.width() as f32 / 12.0, bounds.height() as f32 / 12.0);
    let pressed = |key| response.ctx.input_mut(|input| input.consume_key(egui::Modifiers::NONE, key));
    for (key, direction) in [
        (Key::ArrowLeft, vec2(-step.x, 0.0)),
        (Key::ArrowRight, vec2(step.x, 0.0)),
        (Key::ArrowDown, vec2(0.0, -step.y)),
        (Key::ArrowUp, vec2(0.0, step.y)),
    ] {
        if pressed(key) {
            plot_ui.translate_bounds(direction);
        }
    }
}

fn focus_mark(ui: &Ui, response: &Response, transform: &PlotTransform, tokens: &Tokens) {
    if response.has_focus() {
        let stroke = egui::Stroke::new(1.0, tokens.ink);
        ui.painter().rect_stroke(*transform.frame(), 0.0, stroke, egui::StrokeKind::Inside);
    }
}
