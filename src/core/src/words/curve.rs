//! What is said of readings, curves and their figures.

use super::{HalfStops, Sentence, sentences};

sentences! {
    /// Of readings of a strip, and why they give no curve.
    Readings {
        Falls { fall: f64, first: String, second: String, step: u32 } =>
            "Density falls by {fall:.2} from {first} to {second}, although step {step} had more exposure.",
        NoRise => "Densities do not rise with exposure beyond their errors.",
        TooFew { points: usize, fitted: usize } =>
            "A curve needs readings at four exposures or more; there are {points} readings at {fitted}.",
        NoSuchPlace { most_steps: u32 } => "A reading lies on a strip that is not there, or on a step outside 1 to {most_steps}.",
        NotFinite { step: u32 } => "Step {step} holds a number that is not finite, or a negative uncertainty.",
        Undetermined => "The readings do not determine a curve.",
        LevelNotFound { name: String, low: f64, high: f64, from: f64, to: f64 } =>
            "The level of {name} cannot be found from the overlap: its densities go from {low:.2} to {high:.2}, those \
             of the strips before it from {from:.2} to {to:.2}, and too few lie on a rising part of both.",
        NoReadingForLevel { name: String } => "No reading of {name} is left from which its level could be found.",
    }
}

sentences! {
    /// Why a figure of a curve is not to be had.
    Figure {
        WithAdvice { why: Sentence, advice: Sentence } => "{why} {advice}",
        ContrastMissed { gain: f64, window: f64, longer: bool } => {
            let change = if *longer { "Longer" } else { "Shorter" };
            format!(
                "The contrast condition is not met: density gains {gain:.2} over 1.30 in log H from the speed point, not 0.80 \
                 within {window:.2}. {change} development comes nearer."
            )
        },
        NoBoxSpeed => "No speed on the box is on record.",
        Unsettled { percent: f64 } =>
            "Within the errors of the readings it exists in only {percent:.0} of 100 cases: the data do not settle it.",
        NoSpeedPoint => "No reading is 0.10 above base+fog: give more exposure.",
        ShorterThanStop => "The tested range is shorter than a stop.",
        FlatterThanLimits { lower: f64, upper: f64 } =>
            "Its steepest stop is flatter than the limits of {lower:.2} and {upper:.2}.",
        FromSpeedPoint { why: Sentence } => "It starts from the speed point. {why}",
        FractionTooShort => "The tested range is too short: the mean gradient is taken over 1.50 in log H above the point.",
        ArcsNotReached =>
            "The curve does not reach both arcs, 0.2 and 2.2 from one point on the base+fog line, within the \
             exposures that were tested.",
        FromBaseFog { why: Sentence } => "It starts from base+fog. {why}",
        TabletEnds { width: f64, stops: HalfStops } =>
            "The tablet ends before {width:.2} in log H above the speed point: expose {stops} more, or on an \
             additional strip.",
        RelativeExposure => "Exposure is relative: a speed needs the light in lux seconds in front of the tablet.",
        FootNotReached { density: f64 } =>
            "The test did not reach the toe's foot, so that base+fog is only known to be no more than {density:.2}.",
        NoSuchSpeed => "There is no such speed.",
        NoStraightLine =>
            "No straight part: about its steepest place the curve departs by more than 0.02 from any line of 0.45 in \
             log H.",
    }
}

sentences! {
    /// Why a bracket gives no exposure index.
    Bracket {
        ReferenceHasNoBoxSpeed => "The reference has no box speed.",
        ReferenceHasNone => "The reference has no bracket.",
        FrameWithoutNumbers => "A frame of the bracket has no exposure index above zero or no density.",
        TooFewFrames => "A shadow match needs frames at two exposure indices or more.",
        AlikeFrames => "The frames on either side of the match have the same shadow density.",
        OpenEnds => "Within the errors of the readings the match may lie outside the bracket: add frames around it.",
        AllThinner { reference: f64, index: f64 } =>
            "Every frame's shadow is thinner than the {reference:.2} to be matched: frames below index {index:.0} are \
             needed.",
        AllDenser { reference: f64, index: f64 } =>
            "Every frame's shadow is denser than the {reference:.2} to be matched: frames above index {index:.0} are \
             needed.",
        NotFalling { worst: f64 } =>
            "Shadow densities of the bracket do not fall with rising exposure index (by {worst:.2}): check which \
             frame is which.",
        NoFrameAtBoxSpeed { speed: f64 } => "No frame of the reference was metered at its box speed of {speed}.",
    }
}

sentences! {
    /// Why a curve is not moved in a plot.
    Aligned {
        StaysAsExposed { label: String, reason: Sentence } => "{label} stays as exposed. {reason}",
        NoPlace { label: String, reason: Sentence } => "All films stay as exposed: {label} gives no place to align to. {reason}",
        NotThrough { net: f64 } => "It does not pass through {net:.2} above base+fog.",
        NoBaseFog => "Its base+fog is not known.",
        NoSpeedPoint => "It has no speed point.",
    }
}

sentences! {
    /// Whether the test reached toe and shoulder, and what to expose to see them whole.
    Reach {
        ToeReached { read: bool, found: f64, limit: f64 } => {
            format!("Toe reached: {}, which is level.", lowest(*read, *found, *limit))
        },
        ToeOpen { entered: bool, read: bool, found: f64, limit: f64, level: f64 } => {
            let verdict = if *entered { "Toe entered, its foot not reached for certain" } else { "Toe not reached" };
            format!("{verdict}: {}; level is no more than {level:.2}.", lowest(*read, *found, *limit))
        },
        LessLight { stops: HalfStops, density: f64, wanted: f64, long_enough: bool, read: bool } => {
            let tablet = if *long_enough {
                format!("Through the tablet at hand one strip then still reaches {wanted:.2} in log H above the speed point.")
            } else {
                format!(
                    "Through the tablet at hand that strip ends short of {wanted:.2} in log H above the speed point: keep this \
                     one and give the roll an additional strip."
                )
            };
            let base = if *read { "" } else { " Or read base+fog on an unexposed area." };
            format!("Expose at least {stops} less (a neutral density of {density:.2}). {tablet}{base}")
        },
        ShoulderReached { gained: f64, limit: f64 } =>
            "Shoulder reached to its end: density gains {gained:.2} over the highest stop (at most {limit:.2} at 95 %, \
             one-sided), which is level.",
        ShoulderOpen { entered: bool, of_line: bool, percent: f64, limit: f64 } => {
            let verdict =
                if *entered { "Shoulder entered, its end not reached" } else { "Shoulder not reached" };
            let whose = if *of_line { "the straight line's" } else { "the steepest stop's" };
            format!(
                "{verdict}: the highest stop has {percent} % of {whose} gradient (at most {limit} % at 95 %, one-sided)."
            )
        },
        MoreLight { stops: HalfStops, entered: bool, spare: Option<f64> } => {
            let strip = spare.map_or_else(
                || {
                    "Keep this strip and give the roll a further one: more light on one strip alone would lose the toe."
                        .to_owned()
                },
                |spare| {
                    format!(
                        "The tablet at hand has {spare:.1} stops of level toe to spare, so that one strip can be given so \
                         much more."
                    )
                },
            );
            if *entered {
                format!(
                    "To see its end expose about {stops} more, taking what a stop gains to halve from stop to stop \
                     (assumed). {strip}"
                )
            } else {
                format!(
                    "Where highlights begin to close up these data cannot say: expose {stops} more as a first step (common \
                     practice). {strip}"
                )
            }
        },
    }
}

/// What the lowest exposure gave, and its limit.
fn lowest(read: bool, found: f64, limit: f64) -> String {
    let what = if read {
        format!("the lowest exposure gave {found:.2} above base+fog")
    } else {
        format!("density gains {found:.2} over the lowest stop")
    };
    format!("{what} (at most {limit:.2} at 95 %, one-sided)")
}
