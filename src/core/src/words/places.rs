//! What is said of strips, patches and prints as they were found in scans.

use super::{Sentence, sentences};

sentences! {
    /// Of strips and patches as they are sampled.
    Tablet {
        ApertureTooLarge { mm: f64, pixels: f64, what: String, number: usize } =>
            "An aperture of {mm} mm ({pixels:.0} pixels) does not fit into the {what} {number}.",
        NoSuchAperture { mm: f64 } => "An aperture of {mm} mm cannot be.",
        NoResolution => "An aperture in millimetres needs the resolution of the scan, which the file does not say.",
        TooFewPixels { what: String, pixels: usize, least_pixels: usize } =>
            "The {what} holds {pixels} pixels; a reading needs at least {least_pixels}.",
        OutsideScan { what: String, width: usize, height: usize } =>
            "The {what} lies outside the scan ({width} x {height} pixels).",
        CornersCross { what: String } => "The corners of the {what} cross over, or it is folded or without area.",
        NoSteps => "The strip has no steps.",
    }
}

sentences! {
    /// Of a strip that was looked for.
    Find {
        Step { step: u32, reason: Sentence } => "Step {step}: {reason}.",
        RunsOut => "The strip seems to run out of the scan.",
        UnusualCount { steps: u32 } => "{steps} steps were counted, which is no usual number; check both ends.",
        OpenEnd { counted: u32 } => "{counted} steps were counted, but an end does not stand out of its ground; check both ends.",
        TooMany { counted: u32, known: u32 } => "{counted} steps seem to be there where the tablet has {known}; check both ends.",
        PlacedByNumber { counted: u32, known: u32 } =>
            "{counted} of {known} steps are seen; the others were placed by their number.",
        NoEnd => "Neither end stands out of its ground; check both ends.",
        OtherCount { counted: u32, known: u32 } =>
            "{counted} steps are seen where the tablet has {known}; check the tablet and both ends.",
        NoEvenStep => "A row of even borders is seen, but what lies between them is no even step.",
        GoesBack { step: u32, next: u32 } => "Density goes back between steps {step} and {next}.",
        CornerOutside => "A corner lies outside the scan.",
        AnotherRow => "The scan shows another row of steps too; check that this is the right one.",
        LongSide => "A long side of the strip is seen at few steps only; check its corners.",
        BordersStray { px: f64 } => "Borders stray from even steps by {px:.1} pixels.",
        SomeBorders { inner: usize, borders: u32 } => "Only {inner} of {borders} borders between steps are seen.",
        UnevenBorders => "The borders that are seen are not evenly spaced.",
        FewBorders { inner: usize } => "Only {inner} borders of steps are seen in a row, too few for a strip.",
        RowLost => "A row of steps is suspected, but its borders do not hold in the scan's own pixels.",
        NoRow => "No row of even steps is seen in the scan.",
        Uneven { density: f64 } => "uneven by {density:.2}, as under a finger mark",
        Scratched { percent: f64 } => "dust or scratches on {percent:.0} % of it",
        Saturated => "saturated in the scan",
        NoBorder { other: u32 } => "no border to step {other} is seen",
    }
}

sentences! {
    /// Of what a scan seems to show.
    Recognised {
        NotPictorial => "Its edges run in one or two directions only, as in no photograph.",
        LowRange { range: f64 } => "Its tones reach over a density range of {range:.2} only.",
        MoreThanStrip => "Beside the steps there is more in the picture than a strip has.",
        FieldUneven { density: f64 } => "The field is not even: its density varies by {density:.2} from place to place.",
        TooSmall => "The scan is too small to tell what it shows.",
        UnevenSteps => "The steps are not evenly wide.",
        PartOnly { along: f64, across: f64 } =>
            "The steps fill {along:.0} of 100 parts of its length and {across:.0} of its width: they may be a part of \
             something else.",
        FewSteps { steps: u32, range: f64 } => "Only {steps} steps over a density range of {range:.2} can be told apart.",
    }
}

sentences! {
    /// Of patches and their borders.
    Patch {
        Resized { percent: f64, larger: bool } => {
            let way = if *larger { "larger" } else { "smaller" };
            format!("Between its borders it is {percent:.0} % {way} than the grid has it: check gaps and margins of the layout.")
        },
        FurtherOff { percent: f64 } =>
            "Its borders lie {percent:.0} % of a patch further off than those of the others, and were not followed.",
        TooFar { percent: f64 } =>
            "A border shows {percent:.0} % of the patch away from its place, too far to be followed: look whether the grid \
             lies on it.",
        OutOfOrder { dark: String, light: String } =>
            "'{dark}' is lighter on the print than '{light}', which is the lighter one on the target: the grid may \
             lie the wrong way round, or on other patches.",
    }
}

sentences! {
    /// Of two prints laid on each other.
    Register {
        PoorHere { u: f64 } => "Here a point is mapped to ±{u:.2} px only.",
        NoDetailHere { u: f64 } => "No detail could be compared around here; the map is carried on to ±{u:.2} px.",
        FewAgreeHere { agreeing: usize, near: usize } =>
            "Around here only {agreeing} of {near} small windows agree with the map.",
        BetterModel { better: &'static str, chosen: &'static str } =>
            "The windows support the {better}; the chosen {chosen} leaves more between the prints.",
        ModelNotSupported { wanted: &'static str, taken: &'static str } =>
            "Too few windows agree for the chosen {wanted}; the {taken} was taken.",
        WindowsInPart { percent: f64 } =>
            "Windows that agree lie in {percent:.0} % of the overlap only; elsewhere the map is carried on.",
        PoorPlace { px: f64 } => "At its worst place a point is mapped to ±{px:.2} px only.",
        SmallOverlap { percent: f64 } => "The prints share only {percent:.0} % of the smaller one.",
        LargeThingsDiffer { correlation: f64 } =>
            "Small windows agree, but large light and dark things do not (rank correlation {correlation:.2}): what \
             repeats itself, as cloth or a fence, may have been laid on its neighbour.",
        LittleAlike { correlation: f64 } =>
            "The prints are little alike where they were laid on each other (correlation {correlation:.2}).",
        FewWindows { agreeing: usize } => "Only {agreeing} small windows could be compared.",
        FewAgree { agreeing: usize, count: usize } => "Only {agreeing} of {count} small windows agree with it.",
        Folds => "The two prints do not match: the map between them would fold one of them over.",
        Flat => "it is flat, without any detail.",
        NoNumbers => "some of its tones are no numbers.",
        PixelsDoNotFit => "its pixels do not fit its size.",
        TooFewPixels { width: usize, height: usize } => "it has only {width} x {height} pixels.",
        PrintRefused { which: &'static str, cause: Sentence } => "The {which} print cannot be registered: {cause}",
        Turned { whole: f64 } => "The two prints do not match as they are: the second is turned by {whole:.0} degrees.",
        MirroredAndTurned { whole: f64 } =>
            "The two prints do not match as they are: one of them is mirrored and turned by {whole:.0} degrees.",
        Mirrored => "The two prints do not match as they are: one of them is mirrored.",
        NoPlace => "The two prints do not match: no place was found where they show the same.",
        NoMatchAtBest { agreeing: usize, windows: usize, correlation: f64 } =>
            "The two prints do not match: at the best place {agreeing} of {windows} small windows agree, with a \
             correlation of {correlation:.2}.",
        PointsCoincide => "The two points of one print lie on each other, so size and turn cannot be told.",
    }
}
