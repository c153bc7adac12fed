//! What is said of edges and of what detail survives.

use super::{Sentence, sentences};

sentences! {
    /// Of edges and their modulation transfer.
    Edge {
        WithScanner => "Film with scanner: the scanner's own edge is not given.",
        GrainPower { per_mm: f64, ratio: f64, u: f64 } =>
            "at {per_mm:.0} c/mm the grain has {ratio:.2} ± {u:.2} of its power at low frequencies",
        NotInOnePiece => "The edge does not rise from 10 to 90 % in one piece: grain hides it.",
        StaysAbove { percent: f64 } => "The modulation does not come down to {percent:.0} % within what the scan resolves.",
        Lost => "No straight edge was found in the box.",
        Plain => "The box holds no edge: all of it has one tone.",
        GrainUndecided { said: Sentence } =>
            "The grain does not decide: {said}. An edge of the scanner itself (a knife edge on its glass) would.",
        GrainNotRaised { said: Sentence, expected: f64 } =>
            "The grain was not raised with the edge: {said}; sharpening would have given it {expected:.2} or more.",
        GrainRaised { said: Sentence } => "The grain is raised with the edge: {said}, and film grain alone never rises so.",
        NoTexture => "The uniform areas are too small to see whether their grain was raised with the edge.",
        ScannerDoesNot => "The scanner's own edge does not overshoot like this.",
        ScannerOvershoots { percent: f64 } =>
            "The scanner's own edge overshoots by {percent:.0} % of its step, over as many pixels.",
        NothingStandsOut { most: f64 } => "Nothing above D {most:.3} stands out of the grain on either side.",
        WideInterval => "Grain leaves a wide interval: a longer edge, a higher step or several edges narrow it.",
        BeyondHalfCycle { share: &'static str, half_a_cycle: f64 } =>
            "{share} lies beyond half a cycle per pixel, {half_a_cycle:.0} c/mm: scan at a higher resolution to be \
             sure of it.",
        ScanSharpened => "The scan was sharpened, so this is not the film's sharpness. Scan again with sharpening off.",
        Bridged => "At this angle some distances from the edge fall between the pixels of all rows and were bridged.",
        Wanders { px: f64 } => "The edge wanders by {px:.1} pixels about its line; that much blur is its own.",
        CurveTooShort => "The characteristic curve does not reach over both densities of the edge, so it is measured in light.",
        HighStepInLight { step: f64 } =>
            "Measured in light over a step of D {step:.2}: so high a step bends the transfer function. With the \
             film's characteristic curve it would be measured in exposure.",
        DustLeftOut { percent: f64 } => "{percent:.2} % of the pixels were left out as dust.",
        BeyondCalibration { thin: f64, dense: f64, low: f64, high: f64 } =>
            "The fields have densities {thin:.2} and {dense:.2}; the calibration may be trusted from {low:.2} to \
             {high:.2}.",
        Clipped { percent: f64 } => "{percent:.1} % of the pixels have the lowest or highest code of the scan.",
        StepTooHigh { step: f64 } =>
            "The step of the edge is D {step:.2}: so high that its light says little of the exposure, and an MTF read \
             in light would depend on the step.",
        StepInGrain { step: f64, percent: f64 } =>
            "The step of the edge, D {step:.2}, is lost in the grain: averaged along the edge, grain still is \
             {percent:.0} % of it.",
        StepTooLow { step: f64 } => "The step of the edge is D {step:.3}: too low to be measured.",
        LittleBeside { free: f64, needed: f64 } =>
            "The box leaves {free:.0} pixels on one side of the edge, and {needed:.0} are needed.",
        MoreThanOne { percent: f64 } =>
            "The box holds more than one edge, or a corner: beside the edge, light steps by another {percent:.0} % of \
             it.",
        NotStraight { px: f64 } =>
            "The edge is not straight: it wanders by {px:.1} pixels about a line, even a slightly bent one.",
        TooShort { rows: usize, degrees: f64, needed: usize } =>
            "The edge is too short: it crosses {rows} rows of pixels, and at {degrees:.1} degrees at least {needed} \
             are needed.",
        TooOblique { degrees: f64, most: f64 } =>
            "The edge is too oblique: {degrees:.1} degrees to the rows or columns, and {most} are the most.",
        TooUpright { degrees: f64, least: f64 } =>
            "The edge is too upright or too level: {degrees:.1} degrees, and at least {least} are needed for its rows \
             to see it at different places of a pixel.",
        BoxClipped { percent: f64 } =>
            "{percent:.0} % of the box has the lowest or the highest code of the scan: its uniform areas are cut off.",
        BoxNotMeasurable { width: usize, height: usize } => "A box of {width} x {height} pixels cannot be measured.",
        BoxOutside { x0: f64, y0: f64, x1: f64, y1: f64, wide: usize, high: usize } =>
            "The box of the edge, ({x0}, {y0}) to ({x1}, {y1}), does not lie within the scan of {wide} x {high} \
             pixels.",
    }
}

sentences! {
    /// Of detail that two prints share.
    Detail {
        Moved { x: f64, y: f64 } => "moved by {x:+.1} px across, {y:+.1} px down",
        Changed => "something moved or changed, or dirt lies on one print",
        Light { density: f64 } => "the light changed: {density:+.2} in print density",
        LightChanged => "The light changed over most of the picture: all of it is used, and low frequencies are in doubt.",
        FrameDiffers { out: usize } => "{out} blocks were left out because the third film's frame differs there.",
        LowCoherence => "Two prints alone do not tell it: their coherence is below one half throughout.",
        NoFrequency => "At no frequency can the films be told apart.",
        GrainTakenAlike =>
            "Grain was measured in uniform areas of the prints and taken to be alike over the picture: it changes \
             with density.",
        PrintsAlone =>
            "Two prints alone give what both films share, not each film's own signal-to-grain: add the print of a \
             third film of this scene, or mark a uniform area for grain on both prints.",
        LittleAgreement => "The prints agree too little to tell grain from blur.",
        FewFrequencies => "The prints agree at too few frequencies to tell.",
        NoThird =>
            "Two prints alone do not tell grain from blur: it takes the print of a third film, or a uniform area on \
             both prints.",
        NoEnlargement => "The enlargement is not known: frequencies are those on the print.",
        DiffersEverywhere => "The frames differ nearly everywhere in this area.",
        AreaTooSmall { width: usize, height: usize } =>
            "The area of {width} x {height} pixels is too small to compare detail in.",
        PixelsDoNotFit => "The pixels of the reference's print do not fit its size.",
        NoFrequencies => "Frequencies cannot be told: the resolution of the scan or the enlargement cannot be.",
        LittleOverlap => "The prints do not overlap enough in this area.",
        ThirdNotUsed => "The third film's print does not cover the area and was not used.",
        NoMap => "The map between the prints cannot be used.",
        LowCoherenceThere => "Coherence is low",
        LowSignal => "Signal-to-grain is under 1",
        Below { what: Sentence, frequency: f64 } => "{what} below {frequency:.3} cycles/mm, the lowest frequency measured.",
    }
}
