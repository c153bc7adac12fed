//! What is said of two films beside each other, of their tones and of rolls developed otherwise.

use super::{Sentence, Side, sentences};

sentences! {
    /// Why two films cannot be put beside each other by a figure.
    Pair {
        OnlyBounds => "Both values are only bounds, so their difference can be anything.",
        RatioOfNothing => "A ratio needs two values above zero.",
        CandidateLacks => "The candidate does not have this figure.",
        ReferenceLacks => "The reference does not have this figure.",
        NeitherHas => "Neither film has this figure.",
        LightNotSaid =>
            "Nothing says how much light one of the films had: say it with its tablet, 0 stops less where it was the \
             series' full exposure.",
        NoData => "The test holds no data for it.",
        NotSampledInBoth => "It was not sampled in both prints.",
        GreyCardNotSampled => "The grey card was not sampled in both prints.",
        NoGreyCard => "The patch layout names no grey card.",
        GreyCardItself => "The grey card is what the others are taken against.",
        NotSampledIn { whose: Side } => "It was not sampled in the print of the {whose}.",
        SpeedPointsUnsettled => "The speed points are not settled within the errors of the readings.",
        LittleInCommon => "The two curves have less than two stops in common.",
        NoSpeedPointOf { whose: &'static str } => "{whose} has no speed point within its readings to lay the curves over each other by.",
        NoBoxSpeeds => "The speeds on both boxes are needed.",
        ReferenceAtBoxSpeed => "With relative light the reference is taken at its box speed.",
    }
}

sentences! {
    /// Of zones, placed subjects and prints.
    Tones {
        PrintAsEntered => "as entered",
        PrintOnRecord => "the seconds on record for its print",
        PrintByZone { above_white: f64 } =>
            "so that its zone V prints {above_white:.2} above the paper's white, for want of a record",
        ZoneNotTested { zone: String } => "Zone {zone} was not tested on both films.",
        NoBaseFogs => "The base+fog of both films must be known to make up for their difference.",
        NoPrintSeconds => "The seconds of its print or of the paper test are not on record.",
        NoPrintExposure => "Its print exposure is not on record, and its zone V was not tested.",
        SpeedPointNotReached { label: String } =>
            "Exposure is relative and is tied to the speed point of {label}, which the test did not reach.",
        SpeedPointUnknown { label: String, why: Sentence } =>
            "Exposure is relative and is tied to the speed point of {label}, which is not known. {why}",
        NoBoxSpeedToTie { label: String } => "Exposure is relative, and {label} has no box speed to tie it to.",
        RelativeToAbsolute { label: String } =>
            "Exposure is relative while that of {label} is absolute: nothing ties the two together.",
        LightNotSaid { label: String } => "Nothing says how much light {label} had under its tablet.",
        SettingsContradict => "Flare factor, subject range, q and K do not make sense together.",
        NoIndex => "No exposure index: enter one, or the reference's box speed on the Films page.",
        NoReference => "There is no reference film.",
        PaperExposureRelative => "Exposure is relative: a paper speed needs the light in lux seconds.",
        PaperLacksDensity => "The paper's curve does not pass through that density.",
        WhiteNotKnown { gained: f64 } =>
            "The paper's white is not known: its density still gains {gained:.2} over the lightest stop of the \
             tablet. Read the white of a piece processed without exposure, or print with less light.",
        NotKnownOfBoth => "It is not known of both films.",
        PaperNotTested => "The paper was not tested.",
        FlareAlone => "Flare alone gives that density.",
        AllDenser { label: String, density: f64 } => "Every tested exposure of {label} is denser than {density:.2}.",
        AllThinner { label: String, density: f64 } => "No tested exposure of {label} is as dense as {density:.2}.",
        RangeExceedsPaper { range: f64 } =>
            "The density range exceeds the paper's log exposure range of {range:.2}: one end prints without detail.",
        LightestStopFlat { least: f64 } => "The lightest stop gains less than {least:.2} in density.",
        LightestAboveTest => "The lightest tone lies above the tested exposures.",
        DarkestBelowTest => "The darkest tone lies below the tested exposures.",
        DarkestThin { least: f64 } => "The darkest tone has less than {least:.2} above base+fog.",
        EndsNotTested => "Neither end of the subject was tested.",
        DensityNotReached { density: f64 } => "The test does not reach {density:.2} above base+fog.",
        TiedByBoxSpeed { label: String, speed: f64 } =>
            "Exposure is relative: tied to lux seconds by taking the speed point of {label} to lie where its box \
             speed of {speed} says (0.80 lx s over it). An error of that speed moves all films alike.",
        TiedByCalibratedLight => "Exposure in lux seconds, from the calibrated light.",
        OutsidePaperTest => "It falls outside the exposures that the paper was tested at.",
        ZonesNotTested => "Neither this zone nor the next was tested.",
    }
}

sentences! {
    /// Of rolls of one film that were developed otherwise.
    Rolls {
        NotMeasured => "Not measured.",
        TimeTooFar { shortest: Option<f64>, longest: f64 } => {
            let range = shortest
                .map_or_else(|| format!("{longest:.1} min"), |shortest| format!("{shortest:.1} to {longest:.1} min"));
            format!("The time would lie far from the tested {range}: develop a roll nearer to the wanted gradient first.")
        },
        Unlike { parts: Vec<&'static str> } => {
            format!("{} differs from that of the film asked for.", parts.join(" and "))
        },
        AssumedFromOne => "by assumed behaviour, from one roll",
        OutsideTimes { shortest: f64, longest: f64 } => "outside the tested times, {shortest:.1} to {longest:.1} min",
        WantedUnsettled { percent: f64 } =>
            "Within the errors of the rolls the wanted gradient is beyond what development reaches in {percent:.0} of \
             100 cases: the data do not settle a time.",
        BeyondLimit { wanted: f64, limit: f64 } =>
            "A gradient of {wanted:.2} is not below {limit:.2}, which development approaches without end.",
        WantedUnknown { reason: Sentence } => "The wanted gradient is not known: {reason}",
        OutsideTemperatures => "outside 18 to 24 °C, where a temperature coefficient may not hold",
        DepartFromLaw { chi_square: f64, freedom: usize, times: f64 } =>
            "The rolls depart from the law by more than their errors allow (chi-square {chi_square:.1} for \
             {freedom}): all intervals are widened {times:.1} times.",
        PoorLimit { minutes: f64 } =>
            "Limit and rate are poorly determined: the gradients grow nearly as fast as time. A roll at about \
             {minutes} min would settle them; times between the rolls are less affected.",
        ExactlyEnough { rolls: usize } =>
            "{rolls} rolls fix as many numbers: the law goes through them, and nothing is left to tell how well it \
             fits. One more roll would.",
        NoLimit =>
            "Within their errors the gradients may grow as fast as time itself: no limit is determined. A roll with a \
             longer time would show one.",
        OneRoll { shorter: f64, longer: f64 } =>
            "One roll alone does not show how this film answers to development time: typical behaviour is assumed \
             (ten per cent more time, three to eight per cent more gradient; common practice, no source). Expose two \
             more rolls alike and develop them for about {shorter} and {longer} min.",
        TooFewForInduction { needed: usize } => "To fit an induction time, {needed} rolls are needed; it is taken as none.",
        TooFewForTemperature => "The rolls differ in temperature and are too few to measure its influence: a third roll would.",
        TemperatureAssumed { low: f64, high: f64 } =>
            "Times at other temperatures are assumed: {low} to {high} times faster per 10 °C is typical of common \
             agents (after Sheppard and Mees, 1907). Rolls at two temperatures, or a coefficient typed in, take its \
             place.",
        NoneComplete => "No roll of this film has both a development time and a gradient.",
        FollowsAnother { gradient: &'static str } =>
            "The law was found for gamma; following the {gradient} by it is an empirical convenience.",
        NoTemperature => "A roll without a temperature on record is taken at that of the others.",
        LeftOut { label: String, reason: Sentence } => "{label} is left out: {reason}",
        GradientUnknown { gradient: &'static str } => "its {gradient} is not known.",
        NoTime => "no development time is on record.",
        AllAlike => "All rolls had one time and one temperature.",
        NotPositive => "A development time or a gradient is not above zero.",
        TooFew { have: usize, need: usize } => "{have} rolls do not determine the {need} numbers of the law.",
        TooFarFromOne { label: String, found: f64, wanted: f64 } =>
            "{label} has a gradient of {found:.2}: {wanted:.2} is too far from it to be assumed from one roll. \
             Develop another roll.",
        RollLacksGradient { gradient: &'static str, label: String } => "The {gradient} of {label} cannot be read off its curve.",
        TooFarBetween { wanted: f64, low: f64, high: f64 } =>
            "A gradient of {wanted:.2} lies too far from those of the rolls, {low:.2} to {high:.2}: develop a roll \
             nearer to it.",
        NotLaidOver { one: String, other: String } => "The curves of {one} and {other} cannot be laid over each other.",
        NothingInCommon { one: String, other: String } => "The tested exposures of {one} and {other} have nothing in common.",
        NoneHasGradient { gradient: &'static str } => "No roll's {gradient} can be read off its curve.",
        MixedExposures { a: String, b: String } =>
            "Exposures of some rolls are in lux seconds and of others relative ({a}, {b}): enter them alike.",
        None => "There is no roll to predict from.",
    }
}
