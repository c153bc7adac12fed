//! Findings: sentences made from the numbers of a comparison.
//!
//! A difference within its uncertainty is said to be not distinguishable and nothing follows from it; a figure that is
//! missing says why.

mod blank;
mod detail;
mod grain;
mod granularity;
mod greys;
mod rated;
mod sharpness;
mod speed;
mod tone;
mod viewer;
mod worth;

pub use worth::RollPrice;

use super::difference::distinguishable;
use super::{About, Claim, Comparison, FigureRow, FilmFigures, Finding, Kind, Verdict, Whose, format};
use crate::figures::{Difference, FigureId, spec};
use crate::measured::{Flags, Measured, Value};

/// All findings of a comparison whose rows and patches are filled, in the order of their questions.
pub(super) fn findings(
    reference: &FilmFigures,
    candidate: &FilmFigures,
    comparison: &Comparison,
) -> Vec<Finding> {
    let pair = Pair { reference, candidate, comparison };
    let mut list = Vec::new();
    speed::findings(&pair, &mut list);
    tone::shadows(&pair, &mut list);
    tone::middle(&pair, &mut list);
    tone::highlights(&pair, &mut list);
    tone::contrast(&pair, &mut list);
    greys::findings(&pair, &mut list);
    granularity::findings(&pair, &mut list);
    grain::findings(&pair, &mut list);
    grain::worth(&pair, &mut list);
    worth::detail(&pair, &mut list);
    list
}

/// Two films and what is known of their differences.
struct Pair<'a> {
    reference: &'a FilmFigures,
    candidate: &'a FilmFigures,
    comparison: &'a Comparison,
}

impl Pair<'_> {
    /// Both, the reference first.
    fn films(&self) -> [(Whose, &FilmFigures); 2] {
        [(Whose::Reference, self.reference), (Whose::Candidate, self.candidate)]
    }

    fn row(&self, id: FigureId) -> Option<&FigureRow> {
        self.comparison.rows.iter().find(|row| row.figure == id)
    }

    /// The figure of both films, where both have it.
    fn both(&self, id: FigureId) -> Option<(Measured, Measured)> {
        let row = self.row(id)?;
        Some((*row.reference.known()?, *row.candidate.known()?))
    }

    /// Candidate against reference by a rule of its own, whatever rule the figure's table row has.
    fn by(&self, rule: Difference, id: FigureId) -> Option<Value> {
        let row = self.row(id)?;
        let films = [self.reference, self.candidate];
        Some(super::between(rule, id, films, [&row.reference, &row.candidate]))
    }

    /// The difference of a figure by its own rule, as the table has it.
    fn difference(&self, id: FigureId) -> Option<Measured> {
        self.row(id)?.difference.known().copied()
    }

    /// Candidate over reference minus one in per cent.
    fn percent(&self, id: FigureId) -> Option<Measured> {
        self.by(Difference::Percent, id)?.known().copied()
    }

    /// A figure of both films and the candidate's over the reference's; or why it was not compared.
    fn ratio(&self, id: FigureId) -> Result<Ratio, String> {
        let both = self.both(id).zip(self.percent(id)).ok_or_else(|| self.why(id))?;
        let ((reference, candidate), percent) = both;
        let part = |number: f64| 1.0 + number / 100.0;
        let times = Measured {
            value: part(percent.value),
            u: percent.u / 100.0,
            low: part(percent.low),
            high: part(percent.high),
            flags: percent.flags,
        };
        let values =
            format!("{} against {}", figure_in_words(id, &candidate), figure_in_words(id, &reference));
        Ok(Ratio { times, films: [reference, candidate], values })
    }

    /// Why a figure, and with it its difference, is missing.
    fn why(&self, id: FigureId) -> String {
        let Some(row) = self.row(id) else { return "It is not among the figures.".to_owned() };
        match (&row.reference, &row.candidate, &row.difference) {
            (Value::Undefined(r), Value::Undefined(c), _) if r == c => format!("Both films: {}", sentence(r)),
            (Value::Undefined(r), Value::Undefined(c), _) => {
                format!("{}: {} {}: {}", self.reference.label, sentence(r), self.candidate.label, sentence(c))
            }
            (Value::Undefined(r), _, _) => format!("{}: {}", self.reference.label, sentence(r)),
            (_, Value::Undefined(c), _) => format!("{}: {}", self.candidate.label, sentence(c)),
            (_, _, Value::Undefined(reason)) => sentence(reason),
            _ => String::new(),
        }
    }
}

/// A figure of both films as a ratio.
struct Ratio {
    /// Candidate's over the reference's.
    times: Measured,
    /// Reference and candidate.
    films: [Measured; 2],
    /// Both in words, the candidate first.
    values: String,
}

impl Ratio {
    fn differs(&self) -> bool {
        distinguishable(&Value::Known(self.excess())) == Some(true)
    }

    fn verdict(&self) -> Verdict {
        if self.differs() { Verdict::Differs } else { Verdict::NotDistinguishable }
    }

    /// The candidate's over the reference's, less 1.
    fn excess(&self) -> Measured {
        let Measured { value, low, high, .. } = self.times;
        Measured { value: value - 1.0, low: low - 1.0, high: high - 1.0, ..self.times }
    }

    fn claim(&self, about: About) -> Claim {
        Claim::of(about, self.excess(), self.differs())
    }

    /// The ratio with its interval.
    fn figure(&self) -> String {
        format!("{} times", format::measured(&self.times, 2))
    }

    /// What must be said of figures that were measured on prints; nothing otherwise.
    fn on_prints(&self) -> &'static str {
        if self.times.flags.contains(Flags::FROM_PRINT) {
            " Measured on prints: paper and enlarger are part of it."
        } else {
            ""
        }
    }
}

/// A reason as a sentence: it ends in a full stop.
fn sentence(reason: &(impl core::fmt::Display + ?Sized)) -> String {
    let reason = reason.to_string();
    let reason = reason.trim();
    if reason.ends_with(['.', '!', '?']) { reason.to_owned() } else { format!("{reason}.") }
}

fn finding(kind: Kind, verdict: Verdict, sentence: String, evidence: &[FigureId]) -> Finding {
    Finding {
        kind,
        key: kind.key().to_owned(),
        question: kind.question(),
        verdict,
        sentence,
        figure: String::new(),
        detail: String::new(),
        evidence: evidence.to_vec(),
        claims: Vec::new(),
    }
}

impl Finding {
    /// The same with what its sentence commits itself to.
    fn claiming(self, claims: impl IntoIterator<Item = Claim>) -> Self {
        Self { claims: claims.into_iter().collect(), ..self }
    }

    /// The same with its figure.
    fn with_figure(self, figure: impl Into<String>) -> Self {
        Self { figure: figure.into(), ..self }
    }

    /// The same with what is behind it, in whole sentences.
    fn with_detail(self, detail: impl Into<String>) -> Self {
        Self { detail: detail.into().trim().to_owned(), ..self }
    }

    /// The same about one film.
    fn about(self, whose: Whose) -> Self {
        Self { key: format!("{}.{}", self.key, whose.key()), ..self }
    }
}

/// The size of a difference, for sentences that say its direction in words.
fn magnitude(measured: &Measured) -> Measured {
    if measured.number() >= 0.0 {
        return *measured;
    }
    let mut flags = measured.flags.difference(Flags::LOWER_BOUND | Flags::UPPER_BOUND);
    if measured.flags.contains(Flags::LOWER_BOUND) {
        flags |= Flags::UPPER_BOUND;
    }
    if measured.flags.contains(Flags::UPPER_BOUND) {
        flags |= Flags::LOWER_BOUND;
    }
    Measured { value: -measured.value, u: measured.u, low: -measured.high, high: -measured.low, flags }
}

/// A measurement within a sentence: bounds in words.
fn in_words(measured: &Measured, decimals: usize) -> String {
    format::measured(measured, decimals).replace("≥ ", "at least ").replace("≤ ", "at most ")
}

/// A figure of one film within a sentence, with its unit.
fn figure_in_words(id: FigureId, measured: &Measured) -> String {
    let spec = spec(id);
    format::with_unit(&in_words(measured, spec.decimals), spec.unit)
}

/// One word or the other by the sign of a difference.
fn by_sign(measured: &Measured, above: &'static str, below: &'static str) -> &'static str {
    if measured.number() > 0.0 { above } else { below }
}
