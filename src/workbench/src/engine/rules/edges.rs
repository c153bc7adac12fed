//! Edges of a film, its sharpness from all of them, and the scanner's own edge.

use serde::Serialize;
use twinwedge_core::document::{EdgeArea, FilmId, ScanKind};
use twinwedge_core::geometry::Rect;
use twinwedge_core::measured::Flags;
use twinwedge_core::problem::{Problem, Subject};
use twinwedge_core::sharpness::{
    EdgeMeasure, EdgeOutcome, EdgeSettings, EdgeSpace, Response, ScannerEdge, Sharpness, average,
    measure_edge,
};
use twinwedge_core::words::Sentence;

use super::altered::{self, Altered};
use super::film;
use super::grain::scanner_edge;
use super::measurable::ScanInputs;
use super::sampled::{Sampled, Spacing};
use crate::engine::ask::{CurveOf, EdgeOf, ScannerEdgeOf, SharpnessOf};
use crate::engine::names::stand_in;
use crate::engine::{Computation, Handle, NoAnswer, Query, Tried, View};
use crate::words::{Remedy, Rule};

/// Resolutions that differ by more than this share are those of two ways of scanning.
pub(super) const SAME_RESOLUTION: f64 = 0.02;

fn no_edge(film: &FilmId) -> Problem {
    Problem::note(Subject::Film(film.clone()), Rule::NoEdge { called: stand_in(film) }, Remedy::MarkEdge)
}

/// A box around an edge in a scan.
#[derive(Debug, Serialize)]
pub struct Edge {
    area: Rect,
    sight: ScanInputs,
    spacing: Spacing,
    /// A first answer does not wait for the examination.
    altered: Altered,
    quick: bool,
}

impl Edge {
    fn of(view: &View<'_>, edge: &EdgeArea, quick: bool) -> Result<Self, NoAnswer> {
        Ok(Self {
            area: edge.area,
            sight: ScanInputs::of(view, &edge.scan)?,
            spacing: Spacing::of(view, &edge.scan)?,
            altered: if quick { None } else { altered::examination(view, &edge.scan)? },
            quick,
        })
    }

    fn sampled(&self, work: &Computation<'_>) -> Result<Sampled, NoAnswer> {
        Ok(self.spacing.sampled(&self.sight.codes.get(work)?.meta, "frequencies are")?)
    }

    /// Measures it, and marks what was measured on a scan that was altered before.
    fn measure(
        &self,
        work: &Computation<'_>,
        settings: EdgeSettings<'_>,
        (flags, notes): (Flags, Vec<Sentence>),
    ) -> Result<EdgeMeasure, NoAnswer> {
        let scan = self.sight.read(work)?;
        let (plane, table) = scan.side();
        let mut found = measure_edge(plane, table, self.area, settings, &|| work.stop())?;
        found.add(flags, notes);
        let altered = altered::told(&self.altered, work, altered::DETAIL)?;
        if !altered.is_empty() {
            found.add(Flags::ALTERED_SCAN, altered);
        }
        Ok(found)
    }
}

/// What a film's edge is measured with.
#[derive(Debug, Serialize)]
pub struct FilmEdge {
    film: FilmId,
    edge: Edge,
    /// The film's curve, where it is asked in exposure and there is one.
    curve: Option<Handle<CurveOf>>,
    scanner: Option<Tried<ScannerEdgeOf>>,
}

impl Query for EdgeOf {
    type Inputs = FilmEdge;

    fn inputs(&self, view: &View<'_>) -> Result<FilmEdge, NoAnswer> {
        let area = film(view, &self.film)?.edges.get(self.edge).ok_or_else(|| no_edge(&self.film))?;
        let on_film = view.scan_entry(&area.scan)?.kind == ScanKind::Film;
        let in_exposure = on_film && view.series().sharpness.space == EdgeSpace::Exposure;
        let curve =
            if in_exposure { view.try_handle(CurveOf { film: self.film.clone() })?.ok() } else { None };
        Ok(FilmEdge {
            film: self.film.clone(),
            edge: Edge::of(view, area, self.quick)?,
            curve,
            scanner: scanner_edge(view, &area.scan, self.quick)?,
        })
    }

    fn compute(inputs: &FilmEdge, work: &Computation<'_>) -> Result<EdgeMeasure, NoAnswer> {
        let subject = Subject::Film(inputs.film.clone());
        let sampled = inputs.edge.sampled(work).map_err(|none| none.about(&subject))?;
        let curve = inputs.curve.as_ref().map(|curve| work.get(curve)).transpose()?;
        let response = curve.and_then(|curve| Response::of_curve(&curve.curve));
        let mut notes = sampled.notes;
        let scanner = match &inputs.scanner {
            Some(scanner) => match work.try_get(scanner)? {
                Ok(scanner) => Some(scanner),
                Err(problem) => {
                    notes.push(Rule::ScannerEdgeNotMeasured { why: problem.cause }.into());
                    None
                }
            },
            None => None,
        };
        let scanner = scanner.filter(|scanner| {
            let same = (scanner.method.pitch / sampled.pitch.0 - 1.0).abs() <= SAME_RESOLUTION;
            if !same {
                notes.push(Rule::ScannerEdgeNotDividedOut.into());
            }
            same
        });
        let scanner = scanner.as_deref().map(ScannerEdge::of);
        let settings = EdgeSettings {
            pitch: sampled.pitch,
            response: response.as_ref(),
            scanner: scanner.as_ref(),
            knife_edge: false,
            quick: inputs.edge.quick,
        };
        inputs.edge.measure(work, settings, (sampled.flags, notes)).map_err(|none| none.about(&subject))
    }

    fn slow(&self) -> bool {
        !self.quick
    }
}

impl Query for ScannerEdgeOf {
    type Inputs = Edge;

    fn inputs(&self, view: &View<'_>) -> Result<Edge, NoAnswer> {
        let area = view
            .series()
            .sharpness
            .scanner_edge
            .as_ref()
            .ok_or_else(|| Problem::note(Subject::Series, Rule::NoScannerEdge, Remedy::ScanKnifeEdge))?;
        Edge::of(view, area, self.quick)
    }

    fn compute(edge: &Edge, work: &Computation<'_>) -> Result<EdgeMeasure, NoAnswer> {
        let sampled = edge.sampled(work)?;
        let settings = EdgeSettings {
            pitch: sampled.pitch,
            response: None,
            scanner: None,
            knife_edge: true,
            quick: edge.quick,
        };
        edge.measure(work, settings, (sampled.flags, sampled.notes))
    }

    fn slow(&self) -> bool {
        !self.quick
    }
}

impl Query for SharpnessOf {
    /// All its edges.
    type Inputs = (FilmId, Vec<Tried<EdgeOf>>);

    fn inputs(&self, view: &View<'_>) -> Result<Self::Inputs, NoAnswer> {
        let edges = film(view, &self.film)?.edges.len();
        if edges == 0 {
            return Err(no_edge(&self.film).into());
        }
        let edge = |edge| view.try_handle(EdgeOf { film: self.film.clone(), edge, quick: false });
        Ok((self.film.clone(), (0..edges).map(edge).collect::<Result<_, _>>()?))
    }

    fn compute((film, edges): &Self::Inputs, work: &Computation<'_>) -> Result<Sharpness, NoAnswer> {
        let (mut outcomes, mut first) = (Vec::new(), None);
        for edge in edges {
            outcomes.push(match work.try_get(edge)? {
                Ok(edge) => EdgeOutcome::Measured(Box::new((*edge).clone())),
                Err(problem) => {
                    let words =
                        Rule::Both { cause: problem.cause.clone(), remedy: problem.remedy.clone() }.into();
                    first.get_or_insert(problem);
                    EdgeOutcome::Refused(words)
                }
            });
        }
        match (average(outcomes), first) {
            (Some(sharpness), _) => Ok(sharpness),
            (None, Some(problem)) => Err(problem.into()),
            (None, None) => Err(no_edge(film).into()),
        }
    }
}
