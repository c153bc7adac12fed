//! Two films beside each other as they are shown: all that is known of them, without draws.

use serde::Serialize;

use super::rendering::Rendering;
use super::sensitivity::Sensitivity;
use super::stops::{Agreement, Found, Grey, Greys, Route};
use crate::measured::Measured;
use crate::units::Stops;

/// The greys of two films, patch by patch.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct GreysPair {
    /// Names of the patches, in the order of the layout.
    pub names: Vec<String>,
    /// The reference's greys.
    pub reference: Found,
    /// The greys of the candidate.
    pub candidate: Found,
    /// What is said of each patch and each family of colours.
    pub rendering: Rendering,
}

impl GreysPair {
    /// The way from density to exposure; that of the reference, which is the candidate's too where stops are compared.
    #[must_use]
    pub fn route(&self) -> Route {
        if self.candidate.greys.route == Route::Bare { Route::Bare } else { self.reference.greys.route }
    }

    /// How both ways agree, the reference's and the candidate's, where both ways are open.
    #[must_use]
    pub fn agreements(&self) -> [Option<&Agreement>; 2] {
        [self.reference.agreement.as_ref(), self.candidate.agreement.as_ref()]
    }
}

/// The sensitivities of two films.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct BandsPair {
    /// The light that they were found under, in words.
    pub light: String,
    /// The sensitivity of the reference.
    pub reference: Sensitivity,
    /// The sensitivity of the candidate.
    pub candidate: Sensitivity,
    /// By how much more of its exposure the candidate takes from each band, where that is known.
    pub against: Vec<Option<Measured<Stops>>>,
}

impl BandsPair {
    /// For each band whether the patches tell it from the others in both films.
    #[must_use]
    pub fn told(&self) -> Vec<bool> {
        let both = self.reference.told_apart().into_iter().zip(self.candidate.told_apart());
        both.map(|(r, c)| r && c).collect()
    }
}

/// What a band is called, by its place: blue, green or red where there are three.
#[must_use]
pub fn band_words(number: usize, of: usize) -> &'static str {
    match (number, of) {
        (0, _) => "blue",
        (1, 3) => "green",
        (2, 3) => "red",
        _ => "light",
    }
}

impl Grey {
    fn without_draws(&self) -> Self {
        let mut grey = self.clone();
        if let Self::Neutral(stops) | Self::Stops(stops) = &mut grey {
            stops.draws = Vec::new();
        }
        grey
    }

    /// The stops from the grey card, known or read.
    #[must_use]
    pub fn stops(&self) -> Option<&Measured<Stops>> {
        match self {
            Self::Neutral(stops) | Self::Stops(stops) => Some(&stops.stops),
            Self::Bare(_) | Self::Unread(_) => None,
        }
    }
}

impl Found {
    /// The same without its draws: to be shown.
    #[must_use]
    pub fn without_draws(&self) -> Self {
        let patches = self.greys.patches.iter().map(Grey::without_draws).collect();
        Self { greys: Greys { patches, ..self.greys.clone() }, ..self.clone() }
    }

    /// Memory that its draws take, for the budget of the engine.
    #[must_use]
    pub fn bytes_of_draws(&self) -> usize {
        let of = |grey: &Grey| match grey {
            Grey::Neutral(stops) | Grey::Stops(stops) => size_of_val(&*stops.draws),
            Grey::Bare(_) | Grey::Unread(_) => 0,
        };
        self.greys.patches.iter().map(of).sum()
    }
}

impl Rendering {
    /// The same without its draws: to be shown.
    #[must_use]
    pub fn without_draws(mut self) -> Self {
        self.rows.iter_mut().for_each(|row| row.draws = Vec::new());
        self
    }
}

impl Sensitivity {
    /// The same without its draws: to be shown.
    #[must_use]
    pub fn without_draws(&self) -> Self {
        let mut shown = Self { draws: Vec::new(), ..self.clone() };
        shown.bands.iter_mut().for_each(|band| band.draws = Vec::new());
        shown
    }

    /// Memory that its draws take, for the budget of the engine.
    #[must_use]
    pub fn bytes_of_draws(&self) -> usize {
        let nodes: usize = self.draws.iter().map(|draw| size_of_val(&**draw)).sum();
        nodes + self.bands.iter().map(|band| size_of_val(&*band.draws)).sum::<usize>()
    }
}
