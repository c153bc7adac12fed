//! What is said of scans and their calibrations.

use super::{Number, Percent, Sentence, sentences};

sentences! {
    /// Of a scan beside its tone table.
    Scan {
        OtherCodes { codes: usize, scan: usize } => "The tone table has {codes} codes and the scan has {scan}.",
        CalibrationCodes { codes: usize, scan: usize } => "The calibration has {codes} codes and the scan has {scan}.",
    }
}

sentences! {
    /// Of the scan of a tablet of known densities.
    Calibration {
        StepLeftOut { step: u32, alike: bool } => {
            let why = if *alike { "cannot be told from its neighbour" } else { "is out of order" };
            format!("Step {step} {why} in the scan and is left out.")
        },
        StepTooNear { step: u32 } => "Step {step} hardly differs from the one before in the scan; left out.",
        StepClipped { step: u32 } => "Step {step} is clipped and left out.",
        TooFewSteps { name: String, steps: usize, least_steps: usize } =>
            "The calibration '{name}' has {steps} usable steps; it needs at least {least_steps}.",
        CodesRise => "Codes rise with density: a negative scan, or a strip marked from its other end.",
        NotFollowing { name: String } => "The codes of the calibration '{name}' do not follow the densities of its tablet.",
    }
}

sentences! {
    /// Of the falloff of light over a scan.
    Flat {
        NotEven { density: f64, percent: f64 } =>
            "What should be blank is not even: densities depart by {density:.3} from any smooth falloff, and \
             {percent:.0} % of the places were left out.",
        TooLittle => "The scan holds too little to measure the falloff of its light.",
        BorderWidth { border: f64, most: f64 } =>
            "A border of {border} pixels cannot be read: it must be 3 to {most:.0} pixels wide.",
    }
}

sentences! {
    /// Of a scan that was made otherwise than its calibration.
    Settings {
        DaysApart { days: i64 } => "{days} days lie between it and its calibration: lamps and sensors drift.",
        Other { what: &'static str, scan: String, calibration: String } =>
            "Its {what} is {scan}, that of its calibration {calibration}.",
        OtherResolution { scan: f64, calibration: f64 } =>
            "It was scanned at {scan:.0} dpi, its calibration at {calibration:.0}: exposure may change with \
             resolution.",
        OtherChannel { b: String, a: String } =>
            "It was scanned in {b}, its calibration in {a}: the scanner mixes grey in its own way.",
    }
}

sentences! {
    /// Of what the pixels of a scan say against it.
    Examined {
        OnNoSteps { share: Number } => "The coefficients of its 8 x 8 blocks stand on no steps ({share} of 1).",
        OnSteps { share: Number, step: u32 } =>
            "The coefficients of its 8 x 8 blocks stand on steps ({share} of 1, a step of {step}): it was compressed \
             as JPEG.",
        TooFaint => "its detail is too faint for blocks to show",
        EvenBlocks { percent: Percent } =>
            "{percent} % of its 8 x 8 blocks are quite even, and blocks that begin elsewhere are not: it was \
             compressed as JPEG.",
        NoEdges => "it shows no clear edges",
        EdgesOvershoot { percent: Percent, u: Percent } => "Its edges overshoot by {percent} ± {u} % of their step.",
        EdgesSharpened { percent: Percent, u: Percent } =>
            "Its edges overshoot by {percent} ± {u} % of their step: sharpened, unless the developer did it at the \
             edges of dense areas.",
        CodesMissing { percent: Percent } => "{percent} % of the codes between codes in use are missing.",
        Stretched { percent: Percent } =>
            "{percent} % of the codes between codes in use are missing: its tones were stretched after scanning.",
        CodesNotUsed => "too few of its codes are used often enough",
        CoarseCodes { spacing: Number, bits: Number, file: u32 } =>
            "About every {spacing}th code is used: some {bits} bits of tone in a file of {file}.",
        EndFree { percent: Percent } => "Its tones take {percent} % of the range and leave an end free.",
        FullRange { percent: Percent } =>
            "Its tones go from the first code to the last, {percent} % of the range: stretched by automatic exposure \
             or levels, unless the scanner has neither a dark nor a bright end of its own.",
        AtEnds { percent: Percent } => "{percent} % of its pixels have the lowest or the highest code.",
        PiledUp { percent: Percent, code: usize } =>
            "{percent} % of its pixels pile up at the code {code}, beyond which there is none.",
        AtEnd { percent: Percent, end: &'static str, code: usize } => "{percent} % of its pixels have the {end} code, {code}.",
        NotTested { why: Sentence } => "Could not be tested: {why}.",
        NoNoise { square: Number } =>
            "At the finest detail it has no more noise than rounding leaves ({square} of a squared code), which no \
             scanner does: smoothed.",
        NoiseFalls { percent: Percent } =>
            "Its noise falls to {percent} % within the last tenth of a cycle per pixel, where a scanner's own noise \
             is level: smoothed.",
        EqualNeighbours { percent: Percent, times: Number } =>
            "{percent} % of its neighbouring pixels are equal, {times} times as many as their spread lets expect, as \
             after a filter that takes middle values.",
        LessWhereEven { percent: Percent } =>
            "Where tones are even its finest detail has {percent} % of the noise that it has where they change, \
             rounding taken off, as after a filter that keeps edges.",
        UnevenNoise { times: Number } =>
            "Its noise depends on what lies around it, {times} times as uneven as normal noise: there is less where \
             tones are even and more where they change, as after a filter that keeps edges, unless its grain is of \
             opaque specks larger than its pixels.",
        TooCoarse => "its codes are too coarse for its noise",
        CoarseNoise { percent: Percent, evenly: Sentence } =>
            "As far as its coarse codes tell, quiet places have {percent} % of the noise of others; {evenly}.",
        EvenNoise { uneven: Number, evenly: Sentence } =>
            "Its noise does not depend on what lies around it ({uneven}, where 1 is even); {evenly}.",
        TakenEvenly => "whether some was taken away evenly only a calibration with a noise model can tell",
        ShareOfModel { percent: Percent, u: Percent } =>
            "Its noise at the finest detail has {percent} ± {u} % of the power that the calibration tells of this \
             scanner.",
        Explained => "noise at the finest detail went with another fault",
        NoPlainPlaces => "it shows no plain places with noise in them",
        PulsesOfJpeg { times: Number } =>
            "Its fine detail pulses every 8 pixels, {times} times what chance allows: it was compressed as JPEG.",
        NoRhythm { times: Number } => "Its fine detail has no rhythm ({times} times chance).",
        EmptyAbove { frequency: Number, times: Number } =>
            "Its spectrum is empty above {frequency} cycles per pixel, and ends there at once: made larger, by some \
             {times} times.",
        Pulses { pixels: Number, times: Number } =>
            "Its fine detail pulses every {pixels} pixels, {times} times what chance allows: pixels were interpolated.",
        Small => "it is too small",
    }
}

sentences! {
    /// Why the steps of a tablet do not tell stray light.
    NoFlare {
        FewSteps { steps: usize } => "Stray light cannot be told from {steps} steps.",
        Negative => "Stray light is not looked for in a negative scan.",
        OutOfOrder => "The codes do not follow the densities.",
        NoPowerOfLight { rms: f64 } =>
            "Stray light cannot be told from the tone curve: the steps depart by {rms:.3} from a power of light.",
    }
}

sentences! {
    /// Of what speaks for what the codes of a scan stand for.
    Evidence {
        Bits { bits: u32 } => "It has {bits} bits a sample.",
        CopyOfCodes { bits: u32 } =>
            "Its floating point samples hold nothing but the values of {bits}-bit codes: a copy of such a file, whatever its \
             codes stood for.",
        Tablet { steps: u32, slope: f64, off: f64 } =>
            "{steps} steps of known density read {slope:.2} of their density as linear light, and lie {off:.3} off a \
             straight line.",
        Places { places: u32 } => {
            if *places == 1 {
                "A place of known density was compared with what it reads.".to_owned()
            } else {
                format!("{places} places of known density were compared with what they read.")
            }
        },
        Strip { linear: f64, srgb: f64 } =>
            "Its strip would have a steepest gradient of {linear:.2} as linear light, of {srgb:.2} as sRGB; films mostly have \
             0.5 to 0.9.",
        Darkest { linear: f64, srgb: f64 } =>
            "Its darkest tone would have a density of {linear:.2} as linear light, of {srgb:.2} as sRGB; papers mostly reach \
             1.4 to 2.2.",
        Rising =>
            "Its codes rise with density: they stand for density, it is a negative picture, or the strip is marked from its \
             other end.",
    }
}
