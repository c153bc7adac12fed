//! What was chosen about development.

use twinwedge_core::document::{CompareAs, FollowedGradient, Induction, Series};
use twinwedge_core::problem::Problem;

use super::Change;

/// A change of the choices about development.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum DevelopmentEdit {
    /// Which curves comparisons use.
    CompareAs(CompareAs),
    /// The gradient that is followed over time.
    Follow(FollowedGradient),
    /// The gradient wanted; none is the reference film's.
    Wanted(Option<f64>),
    /// How many times faster development runs per 10 °C; none where it is not known.
    TemperatureCoefficient(Option<f64>),
    /// The time before development begins to show.
    Induction(Induction),
}

impl Change for DevelopmentEdit {
    fn label(&self, _: &Series) -> String {
        match self {
            Self::CompareAs(CompareAs::AsDeveloped) => "compare as developed",
            Self::CompareAs(CompareAs::MatchedContrast) => "compare at the reference's contrast",
            Self::Follow(_) => "follow another gradient",
            Self::Wanted(_) => "change the gradient wanted",
            Self::TemperatureCoefficient(_) => "change the speed per 10 °C",
            Self::Induction(Induction::Minutes(_)) => "change the induction time",
            Self::Induction(_) => "change how the induction time is had",
        }
        .to_owned()
    }

    fn apply(self, series: &mut Series) -> Result<(), Problem> {
        let choices = &mut series.development;
        match self {
            Self::CompareAs(compare_as) => choices.compare_as = compare_as,
            Self::Follow(follow) => choices.follow = follow,
            Self::Wanted(wanted) => choices.wanted = wanted,
            Self::TemperatureCoefficient(times) => choices.temperature_coefficient = times,
            Self::Induction(induction) => choices.induction = induction,
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::super::tests::{cause, done, two_films};
    use super::*;

    #[test]
    fn each_choice_goes_where_it_belongs() {
        let chosen = |edit| done(&two_films(), edit).unwrap().0.development;
        let as_matched = DevelopmentEdit::CompareAs(CompareAs::MatchedContrast);
        assert_eq!(chosen(as_matched).compare_as, CompareAs::MatchedContrast);
        assert_eq!(chosen(DevelopmentEdit::Follow(FollowedGradient::Gamma)).follow, FollowedGradient::Gamma);
        assert_eq!(chosen(DevelopmentEdit::Wanted(Some(0.6))).wanted, Some(0.6));
        let per_ten = DevelopmentEdit::TemperatureCoefficient(Some(2.5));
        assert_eq!(chosen(per_ten).temperature_coefficient, Some(2.5));
        let fitted = DevelopmentEdit::Induction(Induction::Fitted);
        assert_eq!(chosen(fitted).induction, Induction::Fitted);
        assert!(cause(&two_films(), DevelopmentEdit::Wanted(Some(9.0))).contains("out of range"));
        let (same, _) = done(&two_films(), DevelopmentEdit::CompareAs(CompareAs::AsDeveloped)).unwrap();
        assert_eq!(same, two_films(), "what is chosen already changes nothing");
    }
}
