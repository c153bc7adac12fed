//! The overlay: which films are drawn, their plots, and what the pointer reads in them.

use std::sync::Arc;

use egui::Ui;

use twinwedge_workbench::core::compare::format;
use twinwedge_workbench::core::document::{Film, FilmId};
use twinwedge_workbench::core::drawing::{self, CurvePlots, ExposureAxis, Layer, Role};
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
    let others =
        view.series.films.iter().filter(|film| all && !on_bench(film)).map(|film| (Role::Other, film));
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

/// What is looked at in this frame.
#[derive(Debug, Clone, Copy)]
pub(super) struct Sight {
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
    sight: Sight,
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
