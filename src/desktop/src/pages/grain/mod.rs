//! Grain: the area measured on each film's scan, and crops of both at one physical scale.

mod area;
mod areas;
mod crops;
mod detail;
mod edges;
mod granularity;
mod readout;
mod spectrum;

use std::collections::BTreeSet;

use egui::Ui;
use twinwedge_workbench::core::document::{Film, ScanId};
use twinwedge_workbench::core::drawing::Role;

use super::{Page, View};
use crate::actions::Action;
use crate::appearance::{fonts, widgets};
use crate::canvas::{Tiles, ZoomPan};
use crate::outbox::Outbox;

/// What of grain and detail is shown.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
enum Part {
    #[default]
    Crops,
    Granularity,
    Spectrum,
    Edges,
    Detail,
}

/// The parts of the page, in their order.
const PARTS: [(Part, &str, &str); 5] = [
    (Part::Crops, "crops", "Both films at one physical scale, and the uniform areas that are measured"),
    (Part::Granularity, "granularity", "Granularity of both films over density and over the aperture"),
    (Part::Spectrum, "spectrum", "Grain by frequency, and as an eye sees it in a print"),
    (Part::Edges, "edges", "Sharpness apart from grain: modulation transfer and overshoot of slanted edges"),
    (
        Part::Detail,
        "detail",
        "Up to which spatial frequency both prints agree about the scene, and where detail went",
    ),
];

/// What the page keeps.
#[derive(Debug, Default)]
pub struct Grain {
    part: Part,
    tiles: Tiles,
    areas: [ZoomPan; 2],
    /// Which uniform area of each film is shown.
    chosen: [usize; 2],
    crops: crops::Crops,
    planes: spectrum::Planes,
    edges: edges::Edges,
    detail: detail::Shown,
}

impl Page for Grain {
    fn ui(&mut self, ui: &mut Ui, view: &View<'_>, outbox: &mut Outbox) {
        self.tiles.begin();
        ui.horizontal_wrapped(|ui| widgets::choice(ui, "Show", &mut self.part, &PARTS));
        ui.add_space(4.0);
        match self.part {
            Part::Crops => self.crops(ui, view, outbox),
            Part::Granularity => Self::granularity(ui, view, outbox),
            Part::Spectrum => self.spectrum(ui, view, outbox),
            Part::Edges => self.edges.ui(ui, view, &mut self.tiles, outbox),
            Part::Detail => self.detail(ui, view, outbox),
        }
    }

    fn readout(&mut self, ui: &mut Ui, view: &View<'_>, outbox: &mut Outbox) {
        codes(ui, view, outbox);
        match self.part {
            Part::Crops => readout::granularity(ui, view, self.chosen),
            Part::Granularity => granularity::readout(ui, view),
            Part::Spectrum => spectrum::readout(ui, view),
            Part::Edges => self.edges.readout(ui, view),
            Part::Detail => detail::readout(ui, view),
        }
    }

    fn forget_pictures(&mut self) {
        self.tiles = Tiles::default();
        self.planes = spectrum::Planes::default();
    }

    fn act(&mut self, action: Action, _view: &View<'_>, _outbox: &mut Outbox) -> bool {
        // Keys move the crops, which are compared; the areas follow the pointer.
        match self.part {
            Part::Detail => self.detail.sight().act(action),
            Part::Edges => self.edges.act(action),
            _ => self.crops.act(action),
        }
    }
}

/// What the codes of scans without a calibration stand for: of uniform areas and edges of both films.
fn codes(ui: &mut Ui, view: &View<'_>, outbox: &mut Outbox) {
    for film in view.bench() {
        let uniform = film.uniform_areas.iter().map(|area| &area.scan);
        let scans: BTreeSet<&ScanId> = uniform.chain(film.edges.iter().map(|edge| &edge.scan)).collect();
        for scan in scans {
            super::scan_encoding::row(ui, view, scan, outbox);
        }
    }
}

/// A film's sign and label.
fn film_head(ui: &mut Ui, film: &Film, role: Role) {
    widgets::film_sign(ui, role);
    ui.add(egui::Label::new(fonts::strong(&film.label)).truncate());
}
