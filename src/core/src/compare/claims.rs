//! The kinds of findings, and what each commits itself to in numbers: what a study holds against simulated truth.

use serde::Serialize;

use super::Question;
use crate::greys::colour::Family;
use crate::measured::Measured;

macro_rules! kinds {
    ($($(#[$about:meta])* $kind:ident, $question:ident, $key:literal;)+) => {
        /// What a finding speaks of.
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
        pub enum Kind { $($(#[$about])* $kind),+ }

        impl Kind {
            /// All kinds, in the order of their questions.
            pub const ALL: &'static [Self] = &[$(Self::$kind),+];

            /// Its stable name.
            #[must_use]
            pub fn key(self) -> &'static str {
                match self { $(Self::$kind => $key),+ }
            }

            /// The question that it answers.
            #[must_use]
            pub fn question(self) -> Question {
                match self { $(Self::$kind => Question::$question),+ }
            }
        }
    };
}

kinds! {
    /// Speed against the reference at the speed point.
    SpeedRelative, Speed, "speed.relative";
    /// ISO speed against the box.
    SpeedIso, Speed, "speed.iso";
    /// Speed against the box, the reference taken at its own.
    SpeedBox, Speed, "speed.box";
    /// Exposure index by shadow match.
    ShadowMatch, Speed, "speed.shadow_match";
    /// Which film has more base+fog.
    BaseFog, Shadows, "shadows.base_fog";
    /// A film's toe that was not reached whole.
    Toe, Shadows, "shadows.toe";
    /// Lengths of the straight lines.
    StraightRange, Middle, "middle.range";
    /// Departures from the straight lines.
    Departure, Middle, "middle.departure";
    /// A film's shoulder that was not reached.
    Shoulder, Highlights, "highlights.shoulder";
    /// Which film reaches the higher density.
    DMax, Highlights, "highlights.d_max";
    /// The straight line above the speed point.
    Headroom, Highlights, "highlights.headroom";
    /// From which tone on the films print as blank paper, and whether exposure or development is why.
    Blank, Highlights, "highlights.blank";
    /// Which film has the higher average gradient.
    AverageContrast, Contrast, "contrast.average";
    /// Which film has the steeper straight line.
    Gamma, Contrast, "contrast.gamma";
    /// The grey cards of both prints.
    GreyCard, Greys, "greys.card";
    /// The other patches: why nothing is said of colours.
    Patches, Greys, "greys.patches";
    /// Families of colours as greys.
    Colours, Greys, "greys.colours";
    /// Shares of exposure that the films take from bands of light.
    Bands, Greys, "greys.bands";
    /// RMS granularity as measured.
    Granularity, Grain, "grain.rms";
    /// RMS granularity at net density 1.0.
    GranularityNetOne, Grain, "grain.net_one";
    /// Grain in a print as it is looked at.
    GrainViewed, Grain, "grain.viewed";
    /// Sharpness of edges.
    Edges, Detail, "detail.edges";
    /// Up to where the prints agree about their scene, and each film carries it.
    Agreement, Detail, "detail.agreement";
    /// What detail was lost to.
    Lost, Detail, "detail.lost";
    /// Both films at one exposure index: why they were not compared so.
    AlikeZones, RatedAlike, "alike.zones";
    /// Shadows at one exposure index.
    AlikeShadows, RatedAlike, "alike.shadows";
    /// Highlights at one exposure index.
    AlikeHighlights, RatedAlike, "alike.highlights";
    /// The candidate beside the reference, pushed.
    Pushed, RatedAlike, "alike.pushed";
    /// Speed against grain.
    SpeedForGrain, Worth, "worth.speed_for_grain";
    /// Speed against the sharpness of edges.
    SpeedForDetail, Worth, "worth.speed_for_detail";
    /// Speed against money.
    Price, Worth, "worth.price";
}

/// A side that a sentence names.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub enum Side {
    /// Above zero, or above what is asked of it.
    Above,
    /// Below zero, or below what is asked of it.
    Below,
}

/// Reference or candidate.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub enum Whose {
    /// The reference film.
    Reference,
    /// What the candidate does by itself.
    Candidate,
}

impl Whose {
    /// Its name in keys.
    #[must_use]
    pub fn key(self) -> &'static str {
        match self {
            Self::Reference => "reference",
            Self::Candidate => "candidate",
        }
    }
}

/// What a claim is about.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub enum About {
    /// Candidate against reference, by the measure of the kind: a difference, or of ratios their excess over 1.
    Difference,
    /// One film, by the measure of the kind.
    Film(Whose),
    /// Candidate against reference at a zone: in net density, or in its distance from the next zone.
    AtZone(u32),
    /// Departure of one film from its straight line at a log exposure.
    Place(Whose, f64),
    /// Whether one film keeps a zone.
    Zone(Whose, u32),
    /// Speed of the candidate against the reference, stops.
    Speed,
    /// Grain of the candidate over the reference's, less 1.
    Grain,
    /// How much lighter the candidate renders a family of colours, stops.
    Family(Family),
    /// How much more of its exposure the candidate takes from a band of light, stops.
    Band(usize),
    /// Modulation of the candidate over the reference's, less 1.
    Modulation,
    /// Average gradient of the candidate against the reference's, per cent.
    Contrast,
    /// What a frame on the candidate costs over one on the reference, less 1.
    Price,
}

/// What a sentence commits itself to.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Claim {
    /// What the claim is about.
    pub about: About,
    /// The side that its words name.
    pub side: Option<Side>,
    /// The number that it states, with its interval; where that is a bound, its limit.
    pub size: Option<Measured>,
}

impl Claim {
    /// A number is stated.
    #[must_use]
    pub fn size(about: About, size: Measured) -> Self {
        Self { about, side: None, size: Some(size) }
    }

    /// A side is named.
    #[must_use]
    pub fn side(about: About, above: bool) -> Self {
        Self { about, side: Some(if above { Side::Above } else { Side::Below }), size: None }
    }

    /// A number is stated, and the side of zero that it lies on.
    #[must_use]
    pub fn both(about: About, size: Measured) -> Self {
        Self { size: Some(size), ..Self::side(about, size.value > 0.0) }
    }

    /// A number is stated, and its side where it `differs`.
    pub(super) fn of(about: About, size: Measured, differs: bool) -> Self {
        if differs { Self::both(about, size) } else { Self::size(about, size) }
    }
}
