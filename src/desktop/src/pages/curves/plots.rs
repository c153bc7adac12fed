//! The overlay: which films are drawn, their plots, and what the pointer reads in them.

use std::sync::Arc;

use egui::Ui;

use twinwedge_workbench::core::compare::format;
use twinwedge_workbench::core::document::{Film, FilmId};
use twinwedge_workbench::core::drawing::{
    self, Axis, CurvePlots, ExposureAxis, Layer, LowerPlot, Plot, Role,
};
use twinwedge_workbench::core::figures::FigureId;
use twinwedge_workbench::core::units::STOP;
use twinwedge_workbench::engine::Slot;
use twinwedge_workbench::engine::ask::FilmCurve;

use super::Choices;
use crate::appearance::widgets;
use crate::outbox::PointerReading;
use crate::pages::View;
use crate::plot;

/// A film with a curve.
#[derive(Debug, Clone)]
pub(super) struct Shown {
    pub(super) id: FilmId,
    pub(super) label: String,
    pub(super) role: Role,
    pub(super) curve: Arc<FilmCurve>,
}

impl Shown {
    fn drawn(&self) -> drawing::FilmCurve<'_> {
        drawing::FilmCurve {
            label: &self.label,
            role: self.role,
            curve: &self.curve.curve,
            figures: &self.curve.figures,
            straight: self.curve.straight.as_ref().ok(),
            departures: self.curve.departures.as_ref(),
        }
    }
}

/// The films that have a curve: further films first, so that reference and candidate lie on top.
pub(super) fn films(view: &View<'_>, all: bool) -> Vec<Shown> {
    let on_bench = |film: &Film| view.bench().any(|other| other.id == film.id);
    let also = |film: &Film| all || view.also.contains(&film.id);
    let others = view.series.films.iter().filter(|film| also(film) && !on_bench(film));
    let others = others.map(|film| (Role::Other, film));
    let bench = [(Role::Reference, view.reference), (Role::Candidate, view.candidate)];
    others
        .chain(bench.into_iter().filter_map(|(role, film)| Some((role, film?))))
        .filter_map(|(role, film)| {
            let slot = view.session.peek_compared(&film.id);
            let curve = Arc::clone(slot.value()?);
            let label = match &curve.prediction {
                Some(_) => format!("{}, predicted", film.label),
                None => film.label.clone(),
            };
            Some(Shown { id: film.id.clone(), label, role, curve })
        })
        .collect()
}

/// Why a film on the bench has no curve, or that it is being computed.
pub(super) fn failures(ui: &mut Ui, view: &View<'_>) {
    for film in view.bench() {
        match view.session.peek_compared(&film.id) {
            Slot::Ready(_) => {}
            Slot::Stale(_, progress) | Slot::Pending(progress) => {
                widgets::waiting(ui, &format!("Fitting the curve of {}", film.label), progress);
            }
            Slot::Failed(problem) => widgets::problem(ui, &problem),
        }
    }
}

/// The plots of one choice of films and axes, kept until one of them changes: a frame draws, it does not compute.
#[derive(Debug)]
pub(super) struct Drawn {
    of: Vec<(Arc<FilmCurve>, String, Role)>,
    choices: Choices,
    pub(super) plots: CurvePlots,
}

impl Drawn {
    fn is_of(&self, films: &[Shown], choices: &Choices) -> bool {
        let same = |(kept, film): (&(Arc<FilmCurve>, String, Role), &Shown)| {
            Arc::ptr_eq(&kept.0, &film.curve) && kept.1 == film.label && kept.2 == film.role
        };
        self.choices == *choices && self.of.len() == films.len() && self.of.iter().zip(films).all(same)
    }

    /// By how much a film was moved along the exposure axis, in log H.
    pub(super) fn shift(&self, index: usize) -> f64 {
        self.plots.shifts.get(index).copied().unwrap_or_default()
    }
}

/// The plots, drawn anew if need be.
pub(super) fn drawn<'a>(kept: &'a mut Option<Drawn>, films: &[Shown], choices: &Choices) -> &'a Drawn {
    if kept.as_ref().is_some_and(|drawn| !drawn.is_of(films, choices)) {
        *kept = None;
    }
    kept.get_or_insert_with(|| {
        let curves: Vec<_> = films.iter().map(Shown::drawn).collect();
        let mut plots = drawing::curve_plots(&curves, choices.alignment(), choices.axis, choices.lower);
        if choices.lower == LowerPlot::Departure {
            scale_departures(&mut plots.lower);
        }
        if choices.models {
            drawing::add_models(&mut plots, &curves, choices.axis);
        }
        Drawn {
            of: films.iter().map(|film| (Arc::clone(&film.curve), film.label.clone(), film.role)).collect(),
            choices: *choices,
            plots,
        }
    })
}

/// The scale of the departures follows what happens along the straight lines: their bands end with these.
fn scale_departures(plot: &mut Plot) {
    let bands = plot.layers.iter().filter_map(|layer| match layer {
        Layer::Band { points, .. } => Some(points),
        _ => None,
    });
    let farthest = bands.flatten().flat_map(|[_, low, high]| [low.abs(), high.abs()]).fold(0.0, f64::max);
    if farthest > 0.0 && farthest.is_finite() {
        // Whole hundredths, with room above the peaks for their numbers.
        let limit = ((1.5 * farthest / 0.01).ceil() * 0.01).clamp(0.02, 0.5);
        let major = [0.01, 0.02, 0.05, 0.1].into_iter().find(|major| limit / major <= 5.0).unwrap_or(0.1);
        plot.y = Axis { range: (-limit, limit), major, minor: major / 5.0, ..plot.y.clone() };
    }
}

/// How a figure is constructed on the curves of the bench.
pub(super) fn construction(
    drawn: &Drawn,
    films: &[Shown],
    choices: &Choices,
    figure: FigureId,
    view: &View<'_>,
) -> Vec<Layer> {
    let range = view.series.settings.gradient_range;
    let bench = films.iter().enumerate().filter(|(_, film)| film.role != Role::Other);
    bench
        .flat_map(|(index, film)| {
            drawing::construction(&film.drawn(), figure, drawn.shift(index), choices.axis, range)
        })
        .collect()
}

/// The figure whose construction ends where the plot was pressed: a mark on a curve is the way to its number.
pub(super) fn figure_at(
    drawn: &Drawn,
    films: &[Shown],
    choices: &Choices,
    shown: &plot::Shown,
    view: &View<'_>,
) -> Option<FigureId> {
    let at = shown.pointer?;
    let candidate = view.candidate.and_then(|film| films.iter().find(|shown| shown.id == film.id));
    let figures = candidate.or(films.last()).map(|film| film.curve.figures.keys().copied())?;
    let distance = |point: [f64; 2]| {
        let [x, y] = shown.points_per_unit;
        ((point[0] - at[0]) * x).hypot((point[1] - at[1]) * y)
    };
    let near = |layer: &Layer| match layer {
        Layer::Note { at, .. } => distance(*at),
        Layer::Segment { from, to, .. } => distance(*from).min(distance(*to)),
        _ => f64::INFINITY,
    };
    figures
        .filter(|figure| drawing::has_construction(*figure))
        .filter_map(|figure| {
            let layers = construction(drawn, films, choices, figure, view);
            Some((figure, layers.iter().map(near).min_by(f64::total_cmp)?))
        })
        .filter(|(_, distance)| *distance <= f64::from(plot::REACH))
        .min_by(|a, b| a.1.total_cmp(&b.1))
        .map(|(figure, _)| figure)
}

/// What is looked at in this frame.
#[derive(Debug, Clone, Copy)]
pub(super) struct PlotInput {
    /// Where the pointer was last.
    pub(super) at: Option<f64>,
    /// Everything is shown again.
    pub(super) reset: bool,
    /// Nearer or farther.
    pub(super) zoom: Option<f32>,
}

/// What came of showing both plots.
#[derive(Debug)]
pub(super) struct Seen {
    /// Where the pointer is, in the x of the plots.
    pub(super) at: Option<f64>,
    /// What came of the upper one.
    pub(super) upper: plot::Shown,
}

/// Shows both plots.
pub(super) fn show(
    ui: &mut Ui,
    drawn: &Drawn,
    construction: Vec<Layer>,
    choices: &Choices,
    sight: PlotInput,
) -> Seen {
    let room = ui.available_height() - ui.spacing().item_spacing.y;
    let height = (room * 0.3).clamp(110.0, 320.0);
    // The two plots share what they show of the exposure axis.
    let link = Some(ui.scope_id().with("link"));
    let look = |name: &str, height: f32| plot::PlotLook {
        link,
        free: choices.free,
        reset: sight.reset,
        ..plot::PlotLook::new(ui.scope_id().with(name), height)
    };
    let above = plot::PlotLook {
        zoom: sight.zoom,
        hair: sight.at,
        drag: true,
        ..look("curves", (room - height).max(180.0))
    };
    let below = look("below", height);
    let mut with = std::borrow::Cow::Borrowed(&drawn.plots.upper);
    if !construction.is_empty() {
        with.to_mut().layers.extend(construction);
    }
    let upper = plot::show(ui, &with, &above);
    let hair = upper.pointer.map(|at| at[0]).or(sight.at);
    let below = plot::PlotLook { x_range: Some(upper.x_range), hair, ..below };
    let under = plot::show(ui, &drawn.plots.lower, &below);
    let at = upper.pointer.or(under.pointer).map(|at| at[0]);
    Seen { at, upper }
}

/// log H in a film's own exposure at an x of the plots.
pub(super) fn log_h(x: f64, shift: f64, axis: ExposureAxis) -> f64 {
    let x = match axis {
        ExposureAxis::LogH => x,
        ExposureAxis::Stops => x * STOP,
    };
    x - shift
}

/// The x in words.
pub(super) fn place(x: f64, axis: ExposureAxis) -> String {
    match axis {
        ExposureAxis::LogH => format!("log H {}", format::number(x, 2)),
        ExposureAxis::Stops => format!("{} stops", format::signed(x, 2)),
    }
}

/// What the pointer reads in the films on the bench.
pub(super) fn pointer(drawn: &Drawn, films: &[Shown], choices: &Choices, x: f64) -> PointerReading {
    let density = |role: Role| {
        let index = films.iter().position(|film| film.role == role)?;
        let curve = &films.get(index)?.curve.curve;
        let log_h = log_h(x, drawn.shift(index), choices.axis);
        Some((curve.best.density(log_h)?, curve.best.gradient(log_h)?))
    };
    let (reference, candidate) = (density(Role::Reference), density(Role::Candidate));
    let text = |(density, gradient): (f64, f64)| {
        format!("D {}, gradient {}", format::number(density, 2), format::number(gradient, 2))
    };
    PointerReading {
        at: place(x, choices.axis),
        reference: reference.map(text),
        candidate: candidate.map(text),
        difference: reference.zip(candidate).map(|(reference, candidate)| {
            let gradient = format::signed(candidate.1 - reference.1, 2);
            format!("D {}, gradient {gradient}", format::signed(candidate.0 - reference.0, 2))
        }),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn departures(farthest: f64) -> Plot {
        let axis =
            |label: &str| Axis { label: label.to_owned(), range: (-0.5, 0.5), major: 0.1, minor: 0.05 };
        let points = vec![[-2.0, -farthest, 0.5 * farthest], [-1.0, -0.2 * farthest, 0.3 * farthest]];
        Plot {
            title: String::new(),
            x: axis("log H"),
            y: axis("density minus line"),
            x_per_y: None,
            layers: vec![Layer::Band { role: Role::Reference, points }],
        }
    }

    /// Analytic: what reaches 0.013 fills more than half of the height, and the figures beside it stay few.
    #[test]
    fn departures_have_a_scale_of_their_own() {
        for (farthest, least, most) in [(0.013, 0.013, 0.026), (0.08, 0.08, 0.16), (0.3, 0.3, 0.5)] {
            let mut plot = departures(farthest);
            scale_departures(&mut plot);
            let (low, high) = plot.y.range;
            assert!((low + high).abs() < 1e-12 && (least..=most).contains(&high), "{farthest}: {high}");
            assert!((2.0..=6.0).contains(&(high / plot.y.major)), "{farthest}: {}", plot.y.major);
        }
        let mut nothing = Plot { layers: Vec::new(), ..departures(0.1) };
        scale_departures(&mut nothing);
        assert_eq!(nothing.y.range, (-0.5, 0.5));
    }
}
