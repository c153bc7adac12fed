//! The curves of all films as small pictures on one scale, each over the reference's.

use std::sync::Arc;

use egui::{Rect, ScrollArea, Sense, Shape, Stroke, StrokeKind, Ui, UiBuilder, WidgetInfo, pos2, vec2};

use twinwedge_workbench::core::compare::{FilmFigures, format};
use twinwedge_workbench::core::document::Film;
use twinwedge_workbench::core::drawing::{Alignment, Role};
use twinwedge_workbench::core::figures::FigureId;
use twinwedge_workbench::core::measured::Value;
use twinwedge_workbench::engine::Slot;
use twinwedge_workbench::engine::ask::{ComparisonOf, CurveOf, FiguresOf, FilmCurve};

use crate::appearance::{STEP, Tokens, fonts, widgets};
use crate::pages::View;

/// The least room of one picture, in points.
const LEAST: egui::Vec2 = vec2(240.0, 180.0);
/// Room of the name over a picture.
const NAME: f32 = 24.0;
/// Lines of the grid, in density and in log H.
const GRID: f64 = 0.5;
/// Samples along a curve.
const SAMPLES: u32 = 80;
/// What is shown of log H before the slowest film's speed point and behind the fastest one's: below it is base, and few films are
/// printed from more.
const AROUND: (f64, f64) = (0.8, 2.6);

/// The scale of all pictures.
#[derive(Debug, Clone, Copy)]
struct Scale {
    /// lg H of the left and the right edge.
    log_h: (f64, f64),
    /// Density of the upper edge; the lower one is at 0.
    density: f64,
}

/// One film with what is known of it.
struct Pictured<'a> {
    film: &'a Film,
    role: Role,
    figures: Option<Arc<FilmFigures>>,
}

impl<'a> Pictured<'a> {
    fn new(film: &'a Film, view: &View<'_>) -> Self {
        let figures = view.session.peek(&FiguresOf { film: film.id.clone() }).value().cloned();
        let is_reference = view.reference.is_some_and(|reference| reference.id == film.id);
        let role = if is_reference { Role::Reference } else { Role::Candidate };
        Self { film, role, figures }
    }

    fn figure(&self, id: FigureId) -> Option<f64> {
        let value = self.figures.as_ref()?.figures.get(&id).and_then(Value::known)?;
        Some(value.number())
    }
}

/// Where a film's curve is laid so that it meets the others: what is added to its lg H. `None` where it has no such point.
fn shift(of: &Pictured<'_>, curve: &FilmCurve, alignment: Alignment) -> Option<f64> {
    let at = match alignment {
        Alignment::AsExposed => return Some(0.0),
        Alignment::SpeedPoint => of.figure(FigureId::SpeedPoint)?,
        Alignment::NetDensity(net) => curve.curve.best.log_h_at(of.figure(FigureId::BaseFog)? + net)?,
    };
    Some(-at)
}

impl Scale {
    fn of(films: &[Pictured<'_>], alignment: Alignment) -> Option<Self> {
        let ends = |id: FigureId| {
            let values = films.iter().filter_map(|film| film.figure(id));
            values.fold(None, |ends: Option<(f64, f64)>, value| {
                let (low, high) = ends.unwrap_or((value, value));
                Some((low.min(value), high.max(value)))
            })
        };
        let points = match alignment {
            Alignment::AsExposed => ends(FigureId::SpeedPoint)?,
            Alignment::SpeedPoint | Alignment::NetDensity(_) => (0.0, 0.0),
        };
        let density = ends(FigureId::DMax).map_or(2.5, |(_, highest)| highest);
        let out = |value: f64| (value / GRID).ceil() * GRID;
        Some(Self {
            log_h: (-out(AROUND.0 - points.0), out(points.1 + AROUND.1)),
            density: out(density + 0.05),
        })
    }

    fn place(&self, rect: Rect, log_h: f64, density: f64) -> egui::Pos2 {
        let across = (log_h - self.log_h.0) / (self.log_h.1 - self.log_h.0);
        #[expect(clippy::cast_possible_truncation, reason = "a place on the screen")]
        pos2(
            rect.left() + across as f32 * rect.width(),
            rect.bottom() - (density / self.density) as f32 * rect.height(),
        )
    }

    fn log_h_at(&self, rect: Rect, x: f32) -> f64 {
        self.log_h.0 + f64::from((x - rect.left()) / rect.width()) * (self.log_h.1 - self.log_h.0)
    }

    fn words(&self, alignment: Alignment) -> String {
        format!(
            "All on one scale: density 0 to {} upwards, {} {} to {} across; lines of the grid stand {} apart.",
            format::number(self.density, 1),
            across(alignment),
            format::number(self.log_h.0, 1),
            format::number(self.log_h.1, 1),
            format::number(GRID, 1)
        )
    }
}

/// What runs across.
fn across(alignment: Alignment) -> &'static str {
    match alignment {
        Alignment::AsExposed => "lg H",
        Alignment::SpeedPoint => "lg H from the speed point",
        Alignment::NetDensity(_) => "lg H from the density that all share",
    }
}

/// Why a curve cannot be laid over the others.
fn not_laid(alignment: Alignment) -> &'static str {
    match alignment {
        Alignment::AsExposed | Alignment::SpeedPoint => "Its speed point is not known.",
        Alignment::NetDensity(_) => "It does not reach the density that all share.",
    }
}

/// Shows the films in the order given; answers which was pressed.
pub(super) fn show<'a>(ui: &mut Ui, view: &View<'a>, films: &[&'a Film]) -> Option<&'a Film> {
    let alignment = view.aligned.alignment();
    let reference = view.reference.map(|film| Pictured::new(film, view));
    let pictured: Vec<Pictured<'_>> = films.iter().map(|film| Pictured::new(film, view)).collect();
    // That of the whole series: it stays where a filter takes films away.
    let all: Vec<Pictured<'_>> = view.series.films.iter().map(|film| Pictured::new(film, view)).collect();
    let Some(scale) = Scale::of(&all, alignment) else {
        widgets::muted(ui, "No film has a curve yet.");
        return None;
    };
    let lies_below = reference.as_ref().map_or_else(String::new, |reference| {
        format!(" The solid line is {}, the reference.", reference.film.label)
    });
    widgets::muted(ui, &(scale.words(alignment) + &lies_below));
    ui.add_space(STEP);
    let gap = 2.0 * STEP;
    let room = ui.available_width() - ui.spacing().scroll.bar_width - STEP;
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a small count")]
    let columns = (((room + gap) / (LEAST.x + gap)).floor().max(1.0) as usize).min(films.len().max(1));
    #[expect(clippy::cast_precision_loss, reason = "a small count")]
    let width = ((room + gap) / columns as f32 - gap).min(2.0 * LEAST.x);
    let size = vec2(width, NAME + (width * (LEAST.y / LEAST.x)));
    let mut pressed = None;
    ui.spacing_mut().item_spacing = vec2(gap, gap);
    let rows = films.len().div_ceil(columns);
    ScrollArea::vertical().auto_shrink(false).show_rows(ui, size.y, rows, |ui, range| {
        let below =
            reference.as_ref().and_then(|film| Some((film, curve_of(view, film.film).value().cloned()?)));
        for row in range {
            ui.horizontal(|ui| {
                let end = films.len().min((row + 1) * columns);
                for one in &pictured[row * columns..end] {
                    if picture(
                        ui,
                        view,
                        one,
                        below.as_ref().map(|(film, curve)| (*film, &**curve)),
                        scale,
                        size,
                    ) {
                        pressed = Some(one.film);
                    }
                }
            });
        }
    });
    pressed
}

fn curve_of(view: &View<'_>, film: &Film) -> Slot<FilmCurve> {
    view.session.peek(&CurveOf { film: film.id.clone() })
}

/// One film's picture; whether it was pressed.
fn picture(
    ui: &mut Ui,
    view: &View<'_>,
    one: &Pictured<'_>,
    below: Option<(&Pictured<'_>, &FilmCurve)>,
    scale: Scale,
    size: egui::Vec2,
) -> bool {
    let tokens = Tokens::get(ui);
    let (rect, response) = ui.allocate_exact_size(size, Sense::click());
    let is_candidate = view.candidate.is_some_and(|candidate| candidate.id == one.film.id);
    let (head, plot) = (
        Rect::from_min_size(rect.min, vec2(size.x, NAME)),
        Rect::from_min_max(pos2(rect.left(), rect.top() + NAME), rect.max),
    );
    let speed = view.session.peek(&ComparisonOf { film: one.film.id.clone() });
    let speed = (one.role != Role::Reference).then(|| speed.value().cloned()).flatten();
    let speed = speed.and_then(|comparison| {
        let row = comparison.rows.iter().find(|row| row.figure == FigureId::SpeedPoint)?;
        Some(format::difference(row.difference.known()?, 1))
    });
    let found = curve_of(view, one.film);
    let is_predicted = found.value().is_some_and(|curve| curve.prediction.is_some());
    ui.scope_builder(UiBuilder::new().max_rect(head.shrink2(vec2(2.0, 0.0))), |ui| {
        ui.with_layout(egui::Layout::right_to_left(egui::Align::Center), |ui| {
            if let Some(speed) = &speed {
                let predicted = if is_predicted { ", predicted" } else { "" };
                widgets::muted_inline(ui, &format!("{speed} stops{predicted}"));
            }
            ui.with_layout(egui::Layout::left_to_right(egui::Align::Center), |ui| {
                widgets::ellipsis(ui, fonts::strong(one.film.label.as_str()));
            });
        });
    });
    ui.painter().rect_filled(plot, 2.0, tokens.paper);
    grid(ui, plot, scale, tokens);
    let alignment = view.aligned.alignment();
    if let Some((reference, curve)) = below {
        line(ui, plot, scale, curve, shift(reference, curve, alignment), Role::Reference);
    }
    let why_none = match &found {
        Slot::Pending(_) => "Being computed.".to_owned(),
        Slot::Failed(problem) => problem.cause.to_string(),
        Slot::Ready(curve) | Slot::Stale(curve, _) => match shift(one, curve, alignment) {
            Some(shift) => {
                if one.role != Role::Reference {
                    line(ui, plot, scale, curve, Some(shift), Role::Candidate);
                }
                String::new()
            }
            None => not_laid(alignment).to_owned(),
        },
    };
    if !why_none.is_empty() {
        let inside = Rect::from_min_max(plot.min + vec2(STEP, STEP), plot.max - vec2(STEP, STEP));
        ui.scope_builder(UiBuilder::new().max_rect(inside), |ui| {
            widgets::ellipsis(ui, egui::RichText::new(&why_none).font(fonts::small()))
        });
    }
    let edge = if is_candidate { Stroke::new(2.0, tokens.accent) } else { Stroke::new(1.0, tokens.line) };
    ui.painter().rect_stroke(plot, 2.0, edge, StrokeKind::Inside);
    let spoken = match (&speed, one.role) {
        (_, Role::Reference) => format!("Curve of {}, the reference", one.film.label),
        (Some(speed), _) => format!("Curve of {}, {speed} stops in speed", one.film.label),
        (None, _) => format!("Curve of {}. {why_none}", one.film.label),
    };
    response.widget_info(|| WidgetInfo::selected(egui::Role::Button, true, is_candidate, &spoken));
    let hover = readout(&response, plot, scale, alignment, one, found.value().map(|curve| &**curve), below);
    response.on_hover_text(hover.unwrap_or(spoken)).clicked()
}

/// Densities of both films where the pointer is.
fn readout(
    response: &egui::Response,
    plot: Rect,
    scale: Scale,
    alignment: Alignment,
    one: &Pictured<'_>,
    own: Option<&FilmCurve>,
    below: Option<(&Pictured<'_>, &FilmCurve)>,
) -> Option<String> {
    let at = response.hover_pos().filter(|at| plot.contains(*at))?;
    let log_h = scale.log_h_at(plot, at.x);
    let density = |film: &Pictured<'_>, curve: &FilmCurve| {
        let density = curve.curve.best.density(log_h - shift(film, curve, alignment)?)?;
        Some(format!("\n{}: D {}", film.film.label, format::number(density, 2)))
    };
    let mut text = format!("{} {}", across(alignment), format::number(log_h, 2));
    if let Some((reference, curve)) = below.filter(|_| one.role != Role::Reference) {
        text.push_str(&density(reference, curve).unwrap_or_default());
    }
    text.push_str(&own.and_then(|curve| density(one, curve)).unwrap_or_default());
    Some(text)
}

fn grid(ui: &Ui, plot: Rect, scale: Scale, tokens: &Tokens) {
    let painter = ui.painter();
    let stroke = Stroke::new(1.0, tokens.grid_heavy);
    let lines = |from: f64, to: f64| {
        let first = (from / GRID).ceil();
        std::iter::successors(Some(first), |line| Some(line + 1.0))
            .map(|line| line * GRID)
            .take_while(move |at| *at < to)
    };
    for density in lines(GRID, scale.density) {
        painter.hline(plot.x_range(), scale.place(plot, scale.log_h.0, density).y, stroke);
    }
    for log_h in lines(scale.log_h.0 + 1e-9, scale.log_h.1) {
        painter.vline(scale.place(plot, log_h, 0.0).x, plot.y_range(), stroke);
    }
}

fn line(ui: &Ui, plot: Rect, scale: Scale, curve: &FilmCurve, shift: Option<f64>, role: Role) {
    let Some(shift) = shift else { return };
    let (from, to) = curve.curve.range();
    let points: Vec<egui::Pos2> = (0..=SAMPLES)
        .map(|i| (from + (to - from) * f64::from(i) / f64::from(SAMPLES)).min(to))
        .filter_map(|log_h| Some(scale.place(plot, log_h + shift, curve.curve.best.density(log_h)?)))
        .collect();
    let painter = ui.painter().with_clip_rect(plot.intersect(ui.clip_rect()));
    let color = Tokens::get(ui).role(role);
    if role == Role::Reference {
        painter.add(Shape::line(points, Stroke::new(1.5, color)));
    } else {
        painter.extend(Shape::dashed_line(&points, Stroke::new(2.0, color), 6.0, 3.0));
    }
}
