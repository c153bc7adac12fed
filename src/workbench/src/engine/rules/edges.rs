//! Edges of a film, its sharpness from all of them, and the scanner's own edge.

use twinwedge_core::document::{EdgeArea, ScanKind, Series};
use twinwedge_core::measured::Flags;
use twinwedge_core::problem::{Problem, Subject};
use twinwedge_core::sharpness::{
    EdgeMeasure, EdgeOutcome, EdgeSettings, EdgeSpace, Response, ScannerEdge, Sharpness, average,
    measure_edge,
};

use super::altered;
use super::measurable::{self, key_of_scan};
use super::sampled::sampled;
use super::{film, label_of};
use crate::engine::ask::{CurveOf, EdgeOf, ScannerEdgeOf, SharpnessOf, ToneOf};
use crate::engine::{Ask, Halt, Key, Kind, Recipe, Table, Tables, View};

/// Resolutions that differ by more than this share are those of two ways of scanning.
pub(super) const SAME_RESOLUTION: f64 = 0.02;

impl EdgeOf {
    fn area<'a>(&self, view: &'a View<'_>) -> Result<&'a EdgeArea, Problem> {
        let film = film(view, &self.film)?;
        film.edges.get(self.edge).ok_or_else(|| no_edge(&self.film, &film.label))
    }

    /// Whether it is asked in exposure, by the film's curve.
    fn in_exposure(&self, view: &View<'_>) -> Result<bool, Problem> {
        let on_film = view.scan_entry(&self.area(view)?.scan)?.kind == ScanKind::Film;
        Ok(on_film && view.series().sharpness.space == EdgeSpace::Exposure)
    }

    /// The scanner's own edge, where there is one and this is a scan of film.
    fn scanner(&self, view: &View<'_>) -> Result<Option<ScannerEdgeOf>, Problem> {
        let on_film = view.scan_entry(&self.area(view)?.scan)?.kind == ScanKind::Film;
        let given = view.series().sharpness.scanner_edge.is_some();
        Ok((on_film && given).then_some(ScannerEdgeOf { quick: self.quick }))
    }
}

fn no_edge(film: &twinwedge_core::document::FilmId, label: &str) -> Problem {
    Problem::note(
        Subject::Film(film.clone()),
        format!("No edge is marked for the sharpness of {label}."),
        "Mark a straight, slanted edge between two plain fields on a scan of the film.",
    )
}

fn key_of_area(name: &'static str, view: &View<'_>, area: &EdgeArea, quick: bool) -> Result<Recipe, Halt> {
    let entry = view.scan_entry(&area.scan)?;
    let recipe = key_of_scan(Recipe::new(name, 2), view, &area.scan)?;
    let on_print = (entry.kind == ScanKind::Print).then_some(view.series().conditions.enlargement);
    let recipe = recipe.with(&area.area).with(&entry.kind).with(&entry.dpi).with(&on_print).with(&quick);
    if quick { Ok(recipe) } else { altered::key(recipe, view, &area.scan) }
}

/// Marks what was measured on a scan that was altered before. A first answer does not wait for that.
fn mark(view: &View<'_>, area: &EdgeArea, found: &mut EdgeMeasure) -> Result<(), Halt> {
    if found.method.quick {
        return Ok(());
    }
    let altered = altered::of(view, &area.scan, altered::DETAIL)?;
    if !altered.is_empty() {
        found.add(Flags::ALTERED_SCAN, altered);
    }
    Ok(())
}

impl Ask for EdgeOf {
    type Output = EdgeMeasure;
    const KIND: Kind = Kind::EdgeOf;

    fn table(tables: &Tables) -> &Table<Self> {
        &tables.edge
    }

    fn label(&self, series: &Series) -> String {
        format!("Measuring an edge of {}", label_of(series, &self.film))
    }

    fn key(&self, view: &View<'_>) -> Result<Key, Halt> {
        let mut recipe = key_of_area("edge", view, self.area(view)?, self.quick)?.with(&self.film);
        if self.in_exposure(view)? {
            recipe = match view.try_digest(&CurveOf { film: self.film.clone() })? {
                Ok(digest) => recipe.key(digest),
                Err(_) => recipe.with("no curve"),
            };
        }
        if let Some(scanner) = self.scanner(view)? {
            recipe = match view.try_digest(&scanner)? {
                Ok(digest) => recipe.key(digest),
                Err(problem) => recipe.with(&problem),
            };
        }
        Ok(recipe.done())
    }

    fn make(&self, view: &View<'_>) -> Result<EdgeMeasure, Halt> {
        let area = self.area(view)?;
        let subject = Subject::Film(self.film.clone());
        let sampled = sampled(view, &area.scan, "frequencies are").map_err(|halt| halt.about(&subject))?;
        let curve = if self.in_exposure(view)? {
            view.try_get(&CurveOf { film: self.film.clone() })?.ok()
        } else {
            None
        };
        let response = curve.and_then(|curve| Response::of(&curve.curve.best));
        let mut notes = sampled.notes;
        let scanner = match self.scanner(view)? {
            Some(ask) => match view.try_get(&ask)? {
                Ok(scanner) => Some(scanner),
                Err(problem) => {
                    notes.push(format!("The scanner's own edge could not be measured: {}", problem.cause));
                    None
                }
            },
            None => None,
        };
        let scanner = scanner.filter(|scanner| {
            let same = (scanner.method.pitch / sampled.pitch.0 - 1.0).abs() <= SAME_RESOLUTION;
            if !same {
                notes.push(
                    "The scanner's own edge was scanned at another resolution, so it was not divided out."
                        .to_owned(),
                );
            }
            same
        });
        let scanner = scanner.as_deref().map(ScannerEdge::of);
        let settings = EdgeSettings {
            pitch: sampled.pitch,
            response: response.as_ref(),
            scanner: scanner.as_ref(),
            knife_edge: false,
            quick: self.quick,
        };
        let mut found = measure(view, area, settings).map_err(|halt| halt.about(&subject))?;
        found.add(sampled.flags, notes);
        mark(view, area, &mut found)?;
        Ok(found)
    }

    fn digest(edge: &EdgeMeasure, _: Key) -> Key {
        Recipe::new("edge value", 1).with(edge).done()
    }

    fn bytes(edge: &EdgeMeasure) -> usize {
        bytes(edge)
    }

    fn slow(&self) -> bool {
        !self.quick
    }
}

fn measure(view: &View<'_>, area: &EdgeArea, settings: EdgeSettings<'_>) -> Result<EdgeMeasure, Halt> {
    let scan = measurable::codes(view, &area.scan)?;
    let table = view.get(&ToneOf { scan: area.scan.clone() })?;
    let plane = scan.plane(view.scan_entry(&area.scan)?.channel);
    Ok(measure_edge(plane, &table, area.area, settings, &|| view.stop())?)
}

fn bytes(edge: &EdgeMeasure) -> usize {
    size_of::<EdgeMeasure>() + size_of_val(&*edge.mtf) + size_of_val(&*edge.spread) + 1024
}

impl ScannerEdgeOf {
    fn area<'a>(self, view: &'a View<'_>) -> Result<&'a EdgeArea, Problem> {
        view.series().sharpness.scanner_edge.as_ref().ok_or_else(|| {
            Problem::note(
                Subject::Series,
                "The series has no edge of the scanner.",
                "Scan a knife edge or a cut piece of opaque film, slanted by about five degrees, as the films are scanned.",
            )
        })
    }
}

impl Ask for ScannerEdgeOf {
    type Output = EdgeMeasure;
    const KIND: Kind = Kind::ScannerEdgeOf;

    fn table(tables: &Tables) -> &Table<Self> {
        &tables.scanner_edge
    }

    fn label(&self, _: &Series) -> String {
        "Measuring the scanner's edge".to_owned()
    }

    fn key(&self, view: &View<'_>) -> Result<Key, Halt> {
        Ok(key_of_area("scanner edge", view, self.area(view)?, self.quick)?.done())
    }

    fn make(&self, view: &View<'_>) -> Result<EdgeMeasure, Halt> {
        let area = self.area(view)?;
        let sampled = sampled(view, &area.scan, "frequencies are")?;
        let settings = EdgeSettings {
            pitch: sampled.pitch,
            response: None,
            scanner: None,
            knife_edge: true,
            quick: self.quick,
        };
        let mut found = measure(view, area, settings)?;
        found.add(sampled.flags, sampled.notes);
        mark(view, area, &mut found)?;
        Ok(found)
    }

    fn digest(edge: &EdgeMeasure, _: Key) -> Key {
        Recipe::new("scanner edge value", 1).with(edge).done()
    }

    fn bytes(edge: &EdgeMeasure) -> usize {
        bytes(edge)
    }

    fn slow(&self) -> bool {
        !self.quick
    }
}

impl Ask for SharpnessOf {
    type Output = Sharpness;
    const KIND: Kind = Kind::SharpnessOf;

    fn table(tables: &Tables) -> &Table<Self> {
        &tables.sharpness
    }

    fn label(&self, series: &Series) -> String {
        format!("Sharpness of {}", label_of(series, &self.film))
    }

    fn key(&self, view: &View<'_>) -> Result<Key, Halt> {
        let mut recipe = Recipe::new("sharpness", 1).with(&self.film);
        for ask in self.edges(view)? {
            recipe = match view.try_digest(&ask)? {
                Ok(digest) => recipe.key(digest),
                Err(problem) => recipe.with(&problem),
            };
        }
        Ok(recipe.done())
    }

    fn make(&self, view: &View<'_>) -> Result<Sharpness, Halt> {
        let (mut edges, mut first) = (Vec::new(), None);
        for ask in self.edges(view)? {
            edges.push(match view.try_get(&ask)? {
                Ok(edge) => EdgeOutcome::Measured(Box::new((*edge).clone())),
                Err(problem) => {
                    let words = format!("{} {}", problem.cause, problem.remedy);
                    first.get_or_insert(problem);
                    EdgeOutcome::Refused(words)
                }
            });
        }
        match (average(edges), first) {
            (Some(sharpness), _) => Ok(sharpness),
            (None, Some(problem)) => Err(problem.into()),
            (None, None) => Err(no_edge(&self.film, label_of(view.series(), &self.film)).into()),
        }
    }

    fn digest(sharpness: &Sharpness, _: Key) -> Key {
        Recipe::new("sharpness value", 1).with(sharpness).done()
    }

    fn bytes(sharpness: &Sharpness) -> usize {
        let edges: usize = sharpness.edges.iter().filter_map(EdgeOutcome::measured).map(bytes).sum();
        edges + size_of_val(&*sharpness.mtf) + 1024
    }

    fn slow(&self) -> bool {
        true
    }
}

impl SharpnessOf {
    fn edges(&self, view: &View<'_>) -> Result<Vec<EdgeOf>, Problem> {
        let film = film(view, &self.film)?;
        if film.edges.is_empty() {
            return Err(no_edge(&self.film, &film.label));
        }
        let ask = |edge| EdgeOf { film: self.film.clone(), edge, quick: false };
        Ok((0..film.edges.len()).map(ask).collect())
    }
}
