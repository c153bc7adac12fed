//! The four quadrants of tone reproduction as data: subject and camera, film, paper, print against subject.
//!
//! L. A. Jones, "On the theory of tone reproduction", J. Franklin Inst. 190 (1920). All quadrants share the scales of their
//! neighbours: lg H at the film to the right, negative density up, print density to the left, the subject down.

use super::{Axis, Layer, Role};
use crate::tone::{Chain, METERED_ZONE, ZONES, zone_log_h, zone_name};
use crate::units::STOP;

/// One of the four.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Quadrant {
    /// Lower right: the subject's tones as exposures at the film; a camera without flare is a line at 45 degrees.
    Camera,
    /// Upper right: the films' characteristic curves.
    Film,
    /// Upper left: what the paper makes of negative densities at each film's print exposure.
    Paper,
    /// Lower left: print density of the subject's tones.
    Print,
}

/// The diagram. Layers lie in coordinates from the crossing of the axes, one unit of log exposure or density long in every
/// direction: positive x is lg H above the right axis' begin, negative x print density, positive y negative density, negative
/// y the subject above the lower axis' begin.
#[derive(Debug, Clone, PartialEq)]
pub struct FourQuadrants {
    /// What it shows, for readers and captions.
    pub title: String,
    /// lg H at the film.
    pub right: Axis,
    /// Density of the negative.
    pub up: Axis,
    /// Density of the print.
    pub left: Axis,
    /// The subject: lg of luminance against the metered tone.
    pub down: Axis,
    /// What is drawn, back to front.
    pub layers: Vec<Layer>,
    /// Whether the left half has a paper in it.
    pub printed: bool,
}

/// Places along a curve at which it is drawn.
const SAMPLES: u32 = 160;
/// Room beyond the outermost zones, log units.
const MARGIN: f64 = 0.15;
/// Room for the paper before any was tested.
const PAPER: f64 = 2.2;

impl FourQuadrants {
    /// Length of each arm: right, up, left, down.
    #[must_use]
    pub fn arms(&self) -> [f64; 4] {
        [&self.right, &self.up, &self.left, &self.down].map(|axis| axis.range.1 - axis.range.0)
    }

    /// Place of an exposure and a negative density.
    #[must_use]
    pub fn film(&self, log_h: f64, density: f64) -> [f64; 2] {
        [log_h - self.right.range.0, density - self.up.range.0]
    }

    /// Place of an exposure and a zone.
    #[must_use]
    pub fn camera(&self, log_h: f64, zone: f64) -> [f64; 2] {
        [log_h - self.right.range.0, self.down.range.0 - zone_log_h(zone)]
    }

    /// Place of a print density and a negative density.
    #[must_use]
    pub fn paper(&self, print: f64, density: f64) -> [f64; 2] {
        [self.left.range.0 - print, density - self.up.range.0]
    }

    /// Place of a print density and a zone.
    #[must_use]
    pub fn print(&self, print: f64, zone: f64) -> [f64; 2] {
        [self.left.range.0 - print, self.down.range.0 - zone_log_h(zone)]
    }

    /// In which quadrant a place lies.
    #[must_use]
    pub fn quadrant([x, y]: [f64; 2]) -> Quadrant {
        match (x >= 0.0, y >= 0.0) {
            (true, false) => Quadrant::Camera,
            (true, true) => Quadrant::Film,
            (false, true) => Quadrant::Paper,
            (false, false) => Quadrant::Print,
        }
    }

    /// The zone of the subject that a place in any quadrant stands for: by the subject's own axis below, by lg H among the
    /// films, and by the negative density of the film whose paper line is nearest among the papers.
    #[must_use]
    pub fn zone_at(&self, chain: &Chain<'_>, [x, y]: [f64; 2]) -> Option<f64> {
        let by_subject = || METERED_ZONE + (self.down.range.0 - y) / STOP;
        match Self::quadrant([x, y]) {
            Quadrant::Camera | Quadrant::Print => Some(by_subject()),
            Quadrant::Film => chain.zone(x + self.right.range.0),
            Quadrant::Paper => {
                let density = y + self.up.range.0;
                let away = |film: &usize| {
                    let print = chain.best_print(*film, density)?;
                    Some((self.paper(print, density)[0] - x).abs())
                };
                let nearest = (0..chain.len()).filter_map(|film| Some((film, away(&film)?)));
                let (film, _) = nearest.min_by(|a, b| a.1.total_cmp(&b.1))?;
                chain.zone_of_density(film, density)
            }
        }
    }

    /// The way of one tone through all films: a closed path for each, reference on top.
    #[must_use]
    pub fn trace(&self, chain: &Chain<'_>, zone: f64) -> Vec<Layer> {
        let log_h = chain.log_h(zone);
        let mut layers = Vec::new();
        for (film, role) in roles(chain).into_iter().rev() {
            let start = self.camera(log_h, zone);
            let Some(density) = chain.best_density(film, log_h) else { continue };
            let on_film = self.film(log_h, density);
            let print = chain.best_print(film, density);
            let points = match print {
                Some(print) => {
                    vec![start, on_film, self.paper(print, density), self.print(print, zone), start]
                }
                None => vec![[0.0, start[1]], start, on_film, [0.0, on_film[1]]],
            };
            let marks = points[..points.len() - 1].to_vec();
            layers.push(Layer::Line { role, name: String::new(), points });
            layers.push(Layer::Marks {
                role,
                name: String::new(),
                points: marks,
                set_aside: false,
                strip: 0,
            });
        }
        layers
    }
}

/// The films of a chain by their place: reference, candidate, others.
fn roles(chain: &Chain<'_>) -> Vec<(usize, Role)> {
    let role = |film| match film {
        0 => Role::Reference,
        1 => Role::Candidate,
        _ => Role::Other,
    };
    (0..chain.len()).map(|film| (film, role(film))).collect()
}

/// Draws the diagram.
#[must_use]
pub fn four_quadrants(chain: &Chain<'_>) -> FourQuadrants {
    let last = f64::from(ZONES - 1);
    let right = (chain.log_h(0.0) - MARGIN, chain.log_h(last) + MARGIN);
    let highest = (0..=SAMPLES)
        .flat_map(|i| {
            let log_h = right.0 + (right.1 - right.0) * f64::from(i) / f64::from(SAMPLES);
            (0..chain.len()).filter_map(move |film| chain.best_density(film, log_h))
        })
        .fold(1.0, f64::max);
    let darkest = chain.paper_range().map_or(PAPER, |(_, black)| (black + 0.1).max(0.5));
    let axis = |label: &str, range: (f64, f64), major: f64, minor: f64| Axis {
        label: label.to_owned(),
        range,
        major,
        minor,
    };
    let mut diagram = FourQuadrants {
        title: "Tone reproduction in four quadrants".to_owned(),
        right: axis("log H at the film", right, 0.5, 0.1),
        up: axis("Negative density", (0.0, (highest / 0.1).ceil() * 0.1 + 0.1), 0.5, 0.1),
        left: axis("Print density", (0.0, darkest), 0.5, 0.1),
        down: axis("Subject, zones", (zone_log_h(0.0) - MARGIN, zone_log_h(last) + MARGIN), STOP, STOP),
        layers: Vec::new(),
        printed: chain.paper_range().is_some(),
    };
    let mut layers = Vec::new();
    guides(&diagram, chain, &mut layers);
    for (film, role) in roles(chain).into_iter().rev() {
        curves(&diagram, chain, film, role, &mut layers);
    }
    diagram.layers = layers;
    diagram
}

fn line(role: Role, name: &str, points: Vec<[f64; 2]>) -> Option<Layer> {
    (points.len() > 1).then(|| Layer::Line { role, name: name.to_owned(), points })
}

/// The camera's line, the ends of the paper, and a print of gradient 1 through the reference's zone V.
fn guides(diagram: &FourQuadrants, chain: &Chain<'_>, layers: &mut Vec<Layer>) {
    let zones = (0..=SAMPLES).map(|i| zone_along(diagram, i));
    let camera = zones.map(|zone| diagram.camera(chain.log_h(zone), zone));
    let inside = |point: &[f64; 2]| (0.0..=diagram.arms()[0]).contains(&point[0]);
    layers.extend(line(Role::Other, "camera", camera.filter(inside).collect()));
    let Some((white, black)) = chain.paper_range() else { return };
    let (arms, left) = (diagram.arms(), diagram.left.range.0);
    for (density, text) in [
        (white + crate::tone::WHITE_NET, "white"),
        (white + crate::tone::BLACK_SHARE * (black - white), "black"),
    ] {
        let x = left - density;
        layers.extend(line(Role::Guide, text, vec![[x, -arms[3]], [x, arms[1]]]));
    }
    let middle = chain.best_density(0, chain.log_h(METERED_ZONE)).and_then(|d| chain.best_print(0, d));
    if let Some(middle) = middle {
        let at = |print: f64| diagram.print(print, METERED_ZONE + (middle - print) / STOP);
        layers.extend(line(Role::Guide, "gradient 1", vec![at(white), at(black)]));
    }
}

fn zone_along(diagram: &FourQuadrants, i: u32) -> f64 {
    let (from, to) = diagram.down.range;
    METERED_ZONE + (from + (to - from) * f64::from(i) / f64::from(SAMPLES)) / STOP
}

/// One film in its three quadrants, zones marked on its curve and on its reproduction.
fn curves(diagram: &FourQuadrants, chain: &Chain<'_>, film: usize, role: Role, layers: &mut Vec<Layer>) {
    let label = chain.label(film);
    let (from, to) = diagram.right.range;
    let along = |i: u32| from + (to - from) * f64::from(i) / f64::from(SAMPLES);
    let on_film = |log_h: f64| Some(diagram.film(log_h, chain.best_density(film, log_h)?));
    layers.extend(line(role, label, (0..=SAMPLES).filter_map(|i| on_film(along(i))).collect()));
    let up = diagram.up.range;
    let papers = (0..=SAMPLES).filter_map(|i| {
        let density = up.0 + (up.1 - up.0) * f64::from(i) / f64::from(SAMPLES);
        Some(diagram.paper(chain.best_print(film, density)?, density))
    });
    layers.extend(line(role, "", papers.collect()));
    let printed = |zone: f64| {
        let density = chain.best_density(film, chain.log_h(zone))?;
        Some(diagram.print(chain.best_print(film, density)?, zone))
    };
    layers.extend(line(role, "", (0..=SAMPLES).filter_map(|i| printed(zone_along(diagram, i))).collect()));
    let zones = || (0..ZONES).map(f64::from);
    let on_curve = zones().filter_map(|zone| on_film(chain.log_h(zone)));
    let points: Vec<[f64; 2]> = on_curve.chain(zones().filter_map(printed)).collect();
    if !points.is_empty() {
        layers.push(Layer::Marks { role, name: label.to_owned(), points, set_aside: false, strip: 0 });
    }
}

/// The zones along the subject's axis: place below the crossing, and name.
#[must_use]
pub fn zone_marks(diagram: &FourQuadrants) -> Vec<(f64, &'static str)> {
    (0..ZONES).map(|zone| (zone_log_h(f64::from(zone)) - diagram.down.range.0, zone_name(zone))).collect()
}
