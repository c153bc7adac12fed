//! What is typed to see fewer films: letters, and conditions such as "granularity < 12 and speed > 1".

use twinwedge_workbench::core::figures::{FigureId, registry};
use twinwedge_workbench::core::measured::{Bound, Measured};

use crate::appearance::widgets::read_number;

/// Films that hold all the letters and meet all the conditions pass.
#[derive(Debug, Default, PartialEq)]
pub(super) struct Filter {
    /// In small letters.
    pub(super) letters: Vec<String>,
    pub(super) conditions: Vec<Condition>,
    /// Why a condition was not understood; it holds no film back.
    pub(super) problem: Option<String>,
}

/// A number of a film against a limit.
#[derive(Debug, PartialEq)]
pub(super) struct Condition {
    pub(super) quantity: Quantity,
    than: Than,
    limit: f64,
}

/// A number of a film, in the unit of its quantity.
#[derive(Debug, Clone, Copy)]
pub(super) struct Number {
    pub(super) value: f64,
    /// Where only a limit is known, which the value then is.
    pub(super) bound: Option<Bound>,
}

impl Number {
    /// One that was typed.
    pub(super) fn typed(value: f64) -> Self {
        Self { value, bound: None }
    }

    /// One that was measured.
    pub(super) fn measured(measured: &Measured) -> Self {
        Self { value: measured.value, bound: measured.bound() }
    }
}

/// A number that a film may have.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Quantity {
    /// Against the reference, in stops.
    Speed,
    /// As printed on the box.
    BoxSpeed,
    /// To the reference, root mean square of density.
    Similarity,
    /// Of development, minutes.
    Time,
    /// Of development, degrees Celsius.
    Temperature,
    /// One of the figures.
    Figure(FigureId),
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Than {
    Less,
    AtMost,
    More,
    AtLeast,
}

/// How a condition may be written, the longer sign before the shorter one.
const SIGNS: [(&str, Than); 6] = [
    ("<=", Than::AtMost),
    (">=", Than::AtLeast),
    ("≤", Than::AtMost),
    ("≥", Than::AtLeast),
    ("<", Than::Less),
    (">", Than::More),
];
/// Names that are no figure's.
const NAMES: [(&str, Quantity); 8] = [
    ("speed", Quantity::Speed),
    ("box", Quantity::BoxSpeed),
    ("box speed", Quantity::BoxSpeed),
    ("similarity", Quantity::Similarity),
    ("time", Quantity::Time),
    ("minutes", Quantity::Time),
    ("temperature", Quantity::Temperature),
    ("shadow match", Quantity::Figure(FigureId::ShadowMatchIndex)),
];

impl Filter {
    /// Reads what was typed: terms with "and" between them.
    pub(super) fn read(text: &str) -> Self {
        let mut filter = Self::default();
        let text = text.to_lowercase();
        for term in text.split(" and ").map(str::trim).filter(|term| !term.is_empty()) {
            match condition(term) {
                None => filter.letters.push(term.to_owned()),
                Some(Ok(condition)) => filter.conditions.push(condition),
                Some(Err(problem)) => filter.problem = Some(problem),
            }
        }
        filter
    }
}

impl Condition {
    /// Whether a film with this number meets it, whatever the number's uncertainty. One without a number does not, nor one whose
    /// number is a bound that leaves it open.
    pub(super) fn is_met_by(&self, number: Option<Number>) -> bool {
        number.is_some_and(|Number { value, bound }| match (self.than, bound) {
            (Than::Less | Than::AtMost, Some(Bound::AtLeast(_)))
            | (Than::More | Than::AtLeast, Some(Bound::AtMost(_))) => false,
            (Than::Less, _) => value < self.limit,
            (Than::AtMost, _) => value <= self.limit,
            (Than::More, _) => value > self.limit,
            (Than::AtLeast, _) => value >= self.limit,
        })
    }
}

/// A term as a condition; `None` where it has no sign of one.
fn condition(term: &str) -> Option<Result<Condition, String>> {
    let (at, sign, than) = SIGNS
        .iter()
        .filter_map(|(sign, than)| Some((term.find(sign)?, *sign, *than)))
        .min_by_key(|found| found.0)?;
    let (name, limit) = (term[..at].trim(), term[at + sign.len()..].trim());
    Some(quantity(name).and_then(|quantity| match read_number(limit) {
        Some(Some(limit)) => Ok(Condition { quantity, than, limit }),
        Some(None) => Err(format!("A number is missing after \"{name} {sign}\".")),
        None => Err(format!("\"{limit}\" is no number.")),
    }))
}

/// What has this name, or alone begins with it.
fn quantity(name: &str) -> Result<Quantity, String> {
    if let Some((_, quantity)) = NAMES.iter().find(|(known, _)| *known == name) {
        return Ok(*quantity);
    }
    let label = |id: FigureId| registry().iter().find(|figure| figure.id == id).map(|figure| figure.label);
    if let Some(figure) =
        registry().iter().find(|figure| figure.label.to_lowercase() == name || figure.key == name)
    {
        return Ok(Quantity::Figure(figure.id));
    }
    let begins = registry().iter().filter(|figure| figure.label.to_lowercase().starts_with(name));
    let found: Vec<FigureId> = begins.map(|figure| figure.id).collect();
    match found.as_slice() {
        _ if name.is_empty() => Err("The name of a figure is missing before the sign.".to_owned()),
        [] => Err(format!("No figure is called \"{name}\"; the heads of the table are such names.")),
        [one] => Ok(Quantity::Figure(*one)),
        [one, other, ..] => {
            let names = [*one, *other].map(|id| label(id).unwrap_or_default());
            Err(format!("\"{name}\" may be {} or {}; please write more of it.", names[0], names[1]))
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn letters_and_conditions_stand_side_by_side() {
        let filter = Filter::read("Knot and granularity < 12,5 and speed ≥ -1");
        assert_eq!(filter.letters, ["knot"]);
        let [grain, speed] = filter.conditions.as_slice() else { panic!("{filter:?}") };
        assert_eq!(grain.quantity, Quantity::Figure(FigureId::Granularity));
        let typed = |value: f64| Some(Number::typed(value));
        assert!(grain.is_met_by(typed(12.4)) && !grain.is_met_by(typed(12.5)) && !grain.is_met_by(None));
        // What is at least 12.4 may be more than 12.5; what is at most 12.4 is not.
        let bound = |bound: Bound| Some(Number { value: 12.4, bound: Some(bound) });
        assert!(!grain.is_met_by(bound(Bound::AtLeast(12.4))) && grain.is_met_by(bound(Bound::AtMost(12.4))));
        assert_eq!(speed.quantity, Quantity::Speed);
        assert!(speed.is_met_by(typed(-1.0)) && !speed.is_met_by(typed(-1.1)));
        assert_eq!(filter.problem, None);
    }

    #[test]
    fn what_is_not_understood_is_told_and_holds_nothing_back() {
        for (typed, told) in [
            ("granularity <", "A number is missing"),
            ("granularity < fine", "\"fine\" is no number"),
            ("sweetness > 3", "No figure is called \"sweetness\""),
            ("> 3", "The name of a figure is missing"),
        ] {
            let filter = Filter::read(typed);
            assert!(filter.problem.as_deref().is_some_and(|problem| problem.starts_with(told)), "{filter:?}");
            assert!(filter.letters.is_empty() && filter.conditions.is_empty());
        }
    }

    #[test]
    fn every_figure_has_a_name_of_its_own() {
        for figure in registry() {
            let filter = Filter::read(&format!("{} > 1", figure.label));
            let found = filter.conditions.first().map(|condition| condition.quantity);
            assert_eq!(found, Some(Quantity::Figure(figure.id)), "{}: {filter:?}", figure.label);
        }
    }
}
