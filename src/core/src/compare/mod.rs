//! Two films side by side: differences of their figures, and findings in sentences made from them.

mod claims;
pub mod difference;
mod findings;
pub mod format;
pub mod greys;
mod patches;
pub mod similarity;
mod speeds;

pub use claims::{About, Claim, Kind, Side, Whose};
pub use findings::RollPrice;
pub use speeds::{Criterion, SpeedRow};

use std::collections::BTreeMap;

use serde::Serialize;

use crate::document::{PatchLayout, PatchRole, ShadowDensity};
use crate::figures::{self, Departures, Difference, Draws, FigureId, FigureSpec, Figures, Opposed, Reach};
use crate::measured::Value;
use crate::patch::PatchSample;
use crate::scan::SharedError;
use crate::words;

/// One row of the table that every page and report shows.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct FigureRow {
    /// The figure that this row compares.
    pub figure: FigureId,
    /// The reference's value, or why it is undefined.
    pub reference: Value,
    /// The candidate's value, or why it is undefined.
    pub candidate: Value,
    /// Candidate against reference by the figure's rule, with its uncertainty.
    pub difference: Value,
    /// What is printed behind the difference; empty for ratios and logarithms.
    pub difference_unit: String,
    /// Whether the difference exceeds its uncertainty; `None` where there is none.
    pub distinguishable: Option<bool>,
}

/// A question of the trade that a finding answers.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
pub enum Question {
    /// How fast is it really?
    Speed,
    /// What happens in the shadows?
    Shadows,
    /// How straight is the middle?
    Middle,
    /// What happens in the highlights?
    Highlights,
    /// Is it developed to the same contrast?
    Contrast,
    /// How does it turn colours into greys?
    Greys,
    /// How grainy is it?
    Grain,
    /// What detail survives?
    Detail,
    /// Rated alike, which keeps more?
    RatedAlike,
    /// Is it worth using?
    Worth,
}

impl Question {
    /// All questions, in order.
    pub const ALL: [Self; 10] = [
        Self::Speed,
        Self::Shadows,
        Self::Middle,
        Self::Highlights,
        Self::Contrast,
        Self::Greys,
        Self::Grain,
        Self::Detail,
        Self::RatedAlike,
        Self::Worth,
    ];

    /// The question as a reader asks it.
    #[must_use]
    pub fn text(self) -> &'static str {
        match self {
            Self::Speed => "How fast is it really?",
            Self::Shadows => "What happens in the shadows?",
            Self::Middle => "How straight is the middle?",
            Self::Highlights => "What happens in the highlights?",
            Self::Contrast => "Is it developed to the same contrast?",
            Self::Greys => "How does it turn colours into greys?",
            Self::Grain => "How grainy is it?",
            Self::Detail => "What detail survives?",
            Self::RatedAlike => "Rated alike, which keeps more?",
            Self::Worth => "Is it worth using?",
        }
    }
}

/// What stands beside every piece of development advice.
pub const DARKROOM_CAUTION: &str = "Advice on development is a starting point for a test, not a promise. Wear gloves and \
    eye protection, ventilate the darkroom, follow the safety data sheets of the chemicals' makers, and dispose of \
    spent solutions by local rules.";

/// What a finding says about a difference.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub enum Verdict {
    /// A difference beyond its uncertainty.
    Differs,
    /// A difference within its uncertainty.
    NotDistinguishable,
    /// The data do not tell, and why.
    NotMeasured,
}

/// One sentence made from the numbers, with the numbers it was made from.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Finding {
    /// What it speaks of.
    pub kind: Kind,
    /// Stable name, e.g. 'speed.relative'; the tester's choices refer to it.
    pub key: String,
    /// The question it answers.
    pub question: Question,
    /// What it says.
    pub verdict: Verdict,
    /// The sentence for readers: what it means, in at most 25 words beside the names of the films.
    pub sentence: String,
    /// The figure that it rests on, with its interval and unit; empty where there is none.
    pub figure: String,
    /// Numbers, conditions and reasons behind it, in whole sentences; empty where there are none.
    pub detail: String,
    /// The figures it was made from.
    pub evidence: Vec<FigureId>,
    /// What the sentence commits itself to.
    pub claims: Vec<Claim>,
}

impl Finding {
    /// What it rests on: its figure, or where it has none what it says.
    #[must_use]
    pub fn number(&self) -> &str {
        if self.figure.is_empty() { &self.sentence } else { &self.figure }
    }
}

/// One patch or spot in both prints.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PatchRow {
    /// The patch's or spot's name.
    pub name: String,
    /// What the layout says it is for; `None` for spots.
    pub role: Option<PatchRole>,
    /// Density in the reference print.
    pub reference: Value,
    /// Density in the candidate print.
    pub candidate: Value,
    /// Candidate minus reference.
    pub difference: Value,
    /// The same, each density first taken against the grey card of its own print. Not corrected for contrast: films and
    /// papers of other contrast part the same greys, so that it says nothing yet of how a film renders a colour.
    pub against_grey: Value,
    /// Whether the difference exceeds its uncertainty.
    pub distinguishable: Option<bool>,
}

/// One film as it enters a comparison.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct FilmFigures {
    /// The film's label as it is shown.
    pub label: String,
    /// Speed printed on its box.
    pub box_speed: Option<f64>,
    /// Every figure of the registry.
    pub figures: Figures,
    /// What its resamplings say of them; for figures without draws the films are taken as independent.
    pub draws: Draws,
    /// The calibration's part in the relative error of figures that are read by its gradient: films on the same calibration
    /// share it.
    pub gradients: BTreeMap<FigureId, SharedError>,
    /// Whether the test reached its toe and shoulder, where it has a curve.
    pub reach: Option<Reach>,
    /// Its departures from its straight line, where it has one.
    pub departures: Option<Departures>,
    /// By which density its shadow was matched first.
    pub shadow_match: ShadowDensity,
    /// The patch grid of the series, which says which patch is the grey card.
    pub layout: Option<PatchLayout>,
    /// Its print's patches, if sampled.
    pub patches: Vec<PatchSample>,
    /// Its print's spots, if sampled.
    pub spots: Vec<PatchSample>,
}

impl FilmFigures {
    /// The same without its draws, a tenth as large or less: to be shown. Compared they would pass for independent.
    #[must_use]
    pub fn without_draws(&self) -> Self {
        Self {
            draws: Draws::default(),
            departures: self.departures.as_ref().map(Departures::without_draws),
            ..self.clone()
        }
    }
}

/// A candidate against the reference.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Comparison {
    /// Label of the reference.
    pub reference: String,
    /// Label of the candidate.
    pub candidate: String,
    /// A row for each figure of the registry.
    pub rows: Vec<FigureRow>,
    /// Speeds by every criterion.
    pub speeds: Vec<SpeedRow>,
    /// Where one film bows above its straight line and the other below its own, at equal exposure above the speed point.
    pub opposed: Vec<Opposed>,
    /// All patches of the layout.
    pub patches: Vec<PatchRow>,
    /// The spots that the tester placed, as patches are.
    pub spots: Vec<PatchRow>,
    /// Findings, in order of their questions.
    pub findings: Vec<Finding>,
}

/// Compares a candidate with the reference: a row for every figure of the registry, whether measured or not, patches,
/// spots, and the findings that the numbers carry.
#[must_use]
pub fn compare(reference: &FilmFigures, candidate: &FilmFigures) -> Comparison {
    let rows: Vec<FigureRow> =
        figures::registry().iter().map(|spec| row(spec, reference, candidate)).collect();
    let mut comparison = Comparison {
        reference: reference.label.clone(),
        candidate: candidate.label.clone(),
        rows,
        opposed: opposed(reference, candidate),
        speeds: speeds::rows(reference, candidate, candidate.shadow_match),
        patches: patches::patch_rows(reference, candidate),
        spots: patches::spot_rows(reference, candidate),
        findings: Vec::new(),
    };
    comparison.findings = findings::findings(reference, candidate, &comparison);
    comparison
}

fn row(spec: &FigureSpec, reference: &FilmFigures, candidate: &FilmFigures) -> FigureRow {
    let of = |film: &FilmFigures| {
        film.figures.get(&spec.id).cloned().unwrap_or_else(|| Value::Undefined(words::Pair::NoData.into()))
    };
    let (of_reference, of_candidate) = (of(reference), of(candidate));
    let difference =
        between(spec.difference, spec.id, [reference, candidate], [&of_reference, &of_candidate]);
    FigureRow {
        figure: spec.id,
        distinguishable: difference::distinguishable(&difference),
        difference_unit: difference::unit(spec.difference, spec.unit).to_owned(),
        reference: of_reference,
        candidate: of_candidate,
        difference,
    }
}

/// Candidate against reference by `rule`, what is common to the errors of both films counted as such.
fn between(rule: Difference, id: FigureId, films: [&FilmFigures; 2], of: [&Value; 2]) -> Value {
    let [reference, candidate] = films;
    let found = difference::difference(rule, of[0], of[1], draws(id, reference, candidate));
    match reference.gradients.get(&id).zip(candidate.gradients.get(&id)) {
        Some((first, second)) => difference::with_common(rule, found, of, first.common(second)),
        None => found,
    }
}

/// What stands beside every table of greys.
pub const GREYS_CAUTION: &str = "Not corrected for contrast: films and papers of other contrast part the same greys, so these \
    densities do not tell how a film renders colours.";

/// The draws of a figure in reference and candidate, where both have them. Two films with the very same readings have the very
/// same draws: their errors are then not known to be one and the same, and the films count as independent.
fn draws<'a>(
    id: FigureId,
    reference: &'a FilmFigures,
    candidate: &'a FilmFigures,
) -> Option<(&'a [f64], &'a [f64])> {
    let both = reference.draws.get(id).zip(candidate.draws.get(id));
    let same = |(r, c): &(&[f64], &[f64])| {
        r.iter().map(|draw| draw.to_bits()).eq(c.iter().map(|draw| draw.to_bits()))
    };
    both.filter(|both| !same(both))
}

/// Places of opposed departures: speed points over each other where both films have one, so that equal shadows meet, else as
/// exposed.
fn opposed(reference: &FilmFigures, candidate: &FilmFigures) -> Vec<Opposed> {
    let point = |film: &FilmFigures| Some(film.figures.get(&FigureId::SpeedPoint)?.known()?.value);
    let shift = point(reference).zip(point(candidate)).map_or(0.0, |(r, c)| r - c);
    let departures = reference.departures.as_ref().zip(candidate.departures.as_ref());
    departures.map_or_else(Vec::new, |(r, c)| figures::opposed(r, c, shift))
}
