//! Sharpness: the edges of each film in its scan, and transfer and edge-spread functions of both films over each other.

mod boxes;
mod readout;

use std::sync::Arc;

use egui::{Rect, Ui, UiBuilder, vec2};
use twinwedge_workbench::core::compare::format;
use twinwedge_workbench::core::document::Film;
use twinwedge_workbench::core::drawing::{EdgePlots, FilmEdge, Role, edge_plots};
use twinwedge_workbench::core::sharpness::{EdgeMeasure, EdgeSpace, MtfPoint, Sharpness};
use twinwedge_workbench::edits::{EdgeChange, ScannerEdgeEdit};
use twinwedge_workbench::engine::Slot;
use twinwedge_workbench::engine::ask::{EdgeOf, SharpnessOf};
use twinwedge_workbench::intake::Purpose;

use crate::actions::Action;
use crate::appearance::widgets;
use crate::canvas::{Tiles, ZoomPan};
use crate::outbox::{Command, Outbox, PointerReading};
use crate::pages::View;
use crate::plot;

/// What the part keeps.
#[derive(Debug, Default)]
pub(super) struct Edges {
    sights: [ZoomPan; 2],
    /// The edge of each film that is looked at.
    chosen: [usize; 2],
    drawn: Option<(Vec<Known>, EdgePlots)>,
}

/// What is known of a film's edges now.
#[derive(Debug, Clone)]
pub(super) struct Known {
    label: String,
    role: Role,
    /// All edges together, unless the first answer stands in.
    sharpness: Option<Arc<Sharpness>>,
    /// The edge that is looked at.
    edge: Arc<EdgeMeasure>,
}

impl PartialEq for Known {
    fn eq(&self, other: &Self) -> bool {
        let all = match (&self.sharpness, &other.sharpness) {
            (Some(a), Some(b)) => Arc::ptr_eq(a, b),
            (None, None) => true,
            _ => false,
        };
        all && Arc::ptr_eq(&self.edge, &other.edge) && self.role == other.role && self.label == other.label
    }
}

impl Known {
    fn mtf(&self) -> &[MtfPoint] {
        self.sharpness.as_ref().map_or(&self.edge.mtf, |sharpness| &sharpness.mtf)
    }

    /// A first answer from fewer rows, until all are measured.
    pub(super) fn is_first_answer(&self) -> bool {
        self.sharpness.is_none()
    }
}

impl Edges {
    pub(super) fn ui(&mut self, ui: &mut Ui, view: &View<'_>, tiles: &mut Tiles, outbox: &mut Outbox) {
        choices(ui, view, outbox);
        ui.add_space(4.0);
        let whole = ui.available_rect_before_wrap();
        let width = ((whole.width() - 8.0) / 2.0).floor();
        let known = self.known(view);
        let films = [(Role::Reference, view.reference), (Role::Candidate, view.candidate)];
        let nothing = films.iter().all(|(_, film)| film.is_none_or(|film| film.edges.is_empty()));
        let height = if nothing { whole.height() } else { (whole.height() * 0.46).floor() };
        for (i, (role, film)) in films.into_iter().enumerate() {
            let left = whole.left() + i as f32 * (width + 8.0);
            let place = Rect::from_min_size(egui::pos2(left, whole.top()), vec2(width, height));
            ui.scope_builder(UiBuilder::new().max_rect(place).id_salt(i), |ui| match film {
                Some(film) => self.film(ui, film, role, view, tiles, outbox),
                None => {
                    let why = "A film is added to the series; the first one is the reference.";
                    if widgets::empty(ui, "No film here yet", why, "Add a film") {
                        outbox.send(Command::Do(Action::AddFilm));
                    }
                }
            });
        }
        if nothing {
            return;
        }
        let below = Rect::from_min_max(egui::pos2(whole.left(), whole.top() + height + 6.0), whole.max);
        ui.scope_builder(UiBuilder::new().max_rect(below).id_salt("plots"), |ui| {
            self.plots(ui, &known, outbox);
        });
    }

    /// One film's scan with its boxes.
    fn film(
        &mut self,
        ui: &mut Ui,
        film: &Film,
        role: Role,
        view: &View<'_>,
        tiles: &mut Tiles,
        outbox: &mut Outbox,
    ) {
        if film.edges.is_empty() {
            ui.horizontal(|ui| super::film_head(ui, film, role));
            nothing_yet(ui, film, outbox);
            return;
        }
        let side = usize::from(role == Role::Candidate);
        let chosen = &mut self.chosen[side];
        *chosen = (*chosen).min(film.edges.len() - 1);
        ui.horizontal_wrapped(|ui| {
            super::film_head(ui, film, role);
            which(ui, film, chosen);
            change(ui, film, *chosen, outbox);
        });
        let rect = ui.available_rect_before_wrap();
        boxes::show(
            ui,
            rect,
            boxes::Of { film, role, chosen: *chosen, view },
            (&mut self.sights[side], tiles),
            outbox,
        );
    }

    /// What is known of both films' edges: the full answer, else the first one of the edge that is looked at.
    fn known(&self, view: &View<'_>) -> Vec<Known> {
        let films = [(Role::Reference, view.reference), (Role::Candidate, view.candidate)];
        films
            .into_iter()
            .enumerate()
            .filter_map(|(side, (role, film))| {
                let film = film.filter(|film| !film.edges.is_empty())?;
                let chosen = self.chosen[side].min(film.edges.len() - 1);
                let label = film.label.clone();
                let all = view.session.peek(&SharpnessOf { film: film.id.clone() });
                let edge = |quick| view.session.peek(&EdgeOf { film: film.id.clone(), edge: chosen, quick });
                if let Slot::Ready(sharpness) = &all {
                    // The edge that is looked at, else the one that could be measured.
                    let edge = match edge(false).value() {
                        Some(edge) => Arc::clone(edge),
                        None => Arc::new(sharpness.surest()?.clone()),
                    };
                    return Some(Known { label, role, sharpness: Some(Arc::clone(sharpness)), edge });
                }
                if let Slot::Ready(edge) = edge(true) {
                    return Some(Known { label, role, sharpness: None, edge });
                }
                let sharpness = all.value().cloned()?;
                let edge = edge(false).value().cloned()?;
                Some(Known { label, role, sharpness: Some(sharpness), edge })
            })
            .collect()
    }

    fn plots(&mut self, ui: &mut Ui, known: &[Known], outbox: &mut Outbox) {
        if known.is_empty() {
            widgets::muted(ui, "What the edges say is drawn here when one is measured.");
            return;
        }
        if self.drawn.as_ref().is_none_or(|(drawn, _)| **drawn != *known) {
            let films: Vec<FilmEdge<'_>> = known
                .iter()
                .map(|film| FilmEdge {
                    label: &film.label,
                    role: film.role,
                    mtf: film.mtf(),
                    edge: &film.edge,
                })
                .collect();
            self.drawn = Some((known.to_vec(), edge_plots(&films)));
        }
        let Some((_, plots)) = &self.drawn else { return };
        let height = ui.available_height() - 4.0;
        let mut pointer = None;
        ui.columns(2, |columns| {
            for (i, (ui, drawn)) in columns.iter_mut().zip([&plots.mtf, &plots.spread]).enumerate() {
                let look = plot::PlotLook {
                    free: true,
                    ..plot::PlotLook::new(ui.scope_id().with(&drawn.title), height)
                };
                if let Some(at) = plot::show(ui, drawn, &look).pointer {
                    pointer = Some((i, at));
                }
            }
        });
        match pointer {
            Some((0, [f, _])) => outbox.pointer(at_frequency(known, f)),
            Some((_, [d, _])) => outbox.pointer(at_distance(known, d)),
            None => {}
        }
    }

    pub(super) fn readout(&mut self, ui: &mut Ui, view: &View<'_>) {
        readout::show(ui, view, &self.known(view), self.chosen);
    }

    pub(super) fn act(&mut self, action: Action) -> bool {
        // Keys move both scans alike.
        let [reference, candidate] = &mut self.sights;
        reference.act(action) | candidate.act(action)
    }
}

/// What the transfer functions are of, and the scanner's own edge.
fn choices(ui: &mut Ui, view: &View<'_>, outbox: &mut Outbox) {
    ui.horizontal_wrapped(|ui| {
        let mut space = view.series.sharpness.space;
        let options = [
            (
                EdgeSpace::Exposure,
                "exposure",
                "Light is taken back to exposure by the film's characteristic curve where it reaches over both densities",
            ),
            (EdgeSpace::Light, "light", "Light as scanned: right for low steps alone"),
        ];
        if widgets::choice(ui, "Measure in", &mut space, &options) {
            outbox.change(ScannerEdgeEdit::Space(space));
        }
        ui.add_space(8.0);
        widgets::muted_inline(ui, "Scanner's own edge");
        match &view.series.sharpness.scanner_edge {
            Some(edge) => {
                widgets::muted_inline(ui, &edge.scan.0);
                if widgets::button(ui, "Leave out", "The scanner's own sharpness is no longer divided out").clicked() {
                    outbox.change(ScannerEdgeEdit::LeaveOut);
                }
            }
            None => {
                let hover = "Opens the scan of a knife edge, slanted by about five degrees and scanned as the films were: the \
                             scanner's own sharpness is divided out";
                if widgets::button(ui, "Open a scan of it ...", hover).clicked() {
                    outbox.ask(Purpose::ScannerEdge);
                }
            }
        }
    });
}

/// Which edge of several is looked at.
fn which(ui: &mut Ui, film: &Film, chosen: &mut usize) {
    if film.edges.len() < 2 {
        return;
    }
    for number in 0..film.edges.len() {
        let name = format!("Edge {} of {}", number + 1, film.label);
        let response = ui.selectable_label(*chosen == number, (number + 1).to_string()).on_hover_text(&name);
        widgets::name_it(&response, &name);
        if response.clicked() {
            *chosen = number;
        }
    }
}

/// Adds and takes away.
fn change(ui: &mut Ui, film: &Film, chosen: usize, outbox: &mut Outbox) {
    let hover = "Another box on the same scan: edges of one film are averaged";
    if widgets::button(ui, "Add an edge", hover).clicked() {
        outbox.change(EdgeChange::AddLike(chosen).of(&film.id));
    }
    if widgets::button(ui, "Another scan ...", "Opens another scan of an edge on this film").clicked() {
        outbox.ask(Purpose::Edge(film.id.clone()));
    }
    let hover = "The edge that is looked at is measured no longer; its scan stays in the series";
    if widgets::button(ui, "Remove", hover).clicked() {
        outbox.change(EdgeChange::Remove(chosen).of(&film.id));
    }
}

fn nothing_yet(ui: &mut Ui, film: &Film, outbox: &mut Outbox) {
    let pressed = widgets::empty(
        ui,
        "A scan of a slanted edge goes here",
        "A straight edge between two uniform areas, photographed or exposed in contact (a knife edge on the film), slanted by \
         about five degrees, scanned at 2400 dpi or more without sharpening. Densities that differ by 0.2 to 0.6 are best. A \
         file can also be dropped on the window.",
        "Open a film scan ...",
    );
    if pressed {
        outbox.ask(Purpose::Edge(film.id.clone()));
    }
}

fn reading(known: &[Known], at: String, of: &dyn Fn(&Known) -> Option<f64>, unit: &str) -> PointerReading {
    let by = |role: Role| known.iter().find(|film| film.role == role).and_then(of);
    let (reference, candidate) = (by(Role::Reference), by(Role::Candidate));
    let words = |value: f64| format!("{unit} {}", format::number(value, 3));
    let difference = reference.zip(candidate).map(|(reference, candidate)| words(candidate - reference));
    PointerReading { at, reference: reference.map(words), candidate: candidate.map(words), difference }
}

fn at_frequency(known: &[Known], f: f64) -> PointerReading {
    let value = |film: &Known| {
        let points = film.mtf();
        let above = points.partition_point(|point| point.frequency < f).max(1);
        let (a, b) = (points.get(above - 1)?, points.get(above)?);
        Some(a.value + (b.value - a.value) * (f - a.frequency) / (b.frequency - a.frequency))
    };
    reading(known, format!("{} c/mm", format::number(f, 1)), &value, "modulation")
}

fn at_distance(known: &[Known], d: f64) -> PointerReading {
    let value = |film: &Known| {
        let points = &film.edge.spread;
        let above = points.partition_point(|point| point.distance < d).max(1);
        let (a, b) = (points.get(above - 1)?, points.get(above)?);
        Some(a.density + (b.density - a.density) * (d - a.distance) / (b.distance - a.distance))
    };
    reading(known, format!("{} µm", format::number(d, 1)), &value, "D")
}
