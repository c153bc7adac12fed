//! What keeps a question about a series from an answer, and what is said beside answers.

use twinwedge_core::sentences;
use twinwedge_core::words::Sentence;

sentences! {
    /// Work that came to no end.
    Work {
        Interrupted { label: String } => "'{label}' was interrupted.",
        Cancelled { label: String } => "'{label}' was cancelled.",
        Broke { label: String } =>
            "'{label}' could not be finished: a fault of this program stopped it. Everything else goes on.",
    }
}

sentences! {
    /// What the series lacks for an answer, or holds that does not fit.
    Rule {
        NoScan => "The series refers to a scan that is not in it.",
        NoFilm => "The series has no film of this name.",
        NoReference => "No film of the series is its reference.",
        NoReferenceFilm => "The series has no reference film.",
        IsReference { called: String } => "{called} is the reference and is not compared with itself.",
        PrintOfReference { called: String } =>
            "{called} is the reference: its print is what others are compared with.",
        NoPrint { called: String } => "{called} has no print.",
        FileMissing { path: String } => "The file {path} is not there.",
        NoLayout => "The series has no patch layout.",
        NoGrid => "The patch grid is not laid on the reference's print yet.",
        // Two sentences as one.
        Both { cause: Sentence, remedy: Sentence } => "{cause} {remedy}",

        NoBracket { called: String } => "{called} has no bracket.",
        NetNeedsBaseFog { whose: &'static str, why: Sentence } =>
            "Net shadow densities need the base+fog of the {whose}: {why} Match gross densities instead.",
        NothingToMatch => "There is nothing to match to.",
        ResamplingsDiffer => "The resamplings of both films differ in number.",
        NoFrameRead => "No frame of the reference's bracket is read.",
        BaseFogBound => "base+fog is only known to be no more than the lowest density.",
        NoBaseFog => "base+fog is not among its figures.",

        NoSuchFrame => "The bracket has no such frame.",
        FrameTyped { frame: String } => "Frame {frame} was typed, not scanned.",
        FrameLacks { frame: String, what: String } => "Frame {frame} has no {what} yet.",
        PatchNotLaid { frame: String } =>
            "The shadow patch is not laid on frame {frame} nor on one that it could be found by.",
        PatchNotFound { by: String, why: Sentence } => "The shadow patch could not be found by {by}: {why}",
        PatchLoose { u: f64, side: f64 } => "It is in place to {u:.0} pixels only, on a patch of {side:.0}.",
        PatchNotRead { frame: String, why: Sentence } => "The shadow patch of frame {frame} could not be read: {why}",
        PatchClipped => "The scan is clipped there.",
        PatchUneven => "It is uneven there: look whether the patch is in place.",

        NoCalibration => "The series refers to a calibration that is not in it.",
        NoTabletOfCalibration { tablet: String } => "Its tablet {tablet} is not in the series.",
        StepsMarked { marked: usize, tablet: String, steps: usize } =>
            "{marked} steps are marked on the scan, and the tablet {tablet} has {steps}.",
        StepsSeen { tablet: String, steps: usize, seen: u32 } =>
            "The tablet {tablet} has {steps} steps, and {seen} steps are seen between its corners in the scan.",
        FalloffTakenOut { corner: f64 } =>
            "The falloff of light over its scan was taken out: {corner:.3} in density at the darkest corner.",
        OtherCodes { calibration: String, codes: usize, scan: usize } =>
            "The calibration {calibration} was made from a scan of {codes} codes, and this scan has {scan}.",
        NoWeight => "The mix of its channels has no weight at all.",
        NoFalloff => "Nothing says where the falloff of its light is to be taken from.",
        // Sides in pixels.
        BlankDiffers { blank: (usize, usize), blank_codes: usize, scan: (usize, usize), codes: usize } => {
            let ((across, down), (width, height)) = (blank, scan);
            format!(
                "The blank scan ({across} x {down} pixels, {blank_codes} codes) does not show the frame of this one \
                 ({width} x {height}, {codes})."
            )
        },
        NoKnownPatch => "No patch of known density is named in it.",
        // How sure the guess is, and what would be read under each encoding.
        CodesGuessed { guess: String, under: String } => "{guess}{under}",
        NoProfile =>
            "It is said to be encoded as its profile says, and its file holds no profile with a tone curve.",

        OfPrint { called: String, said: Sentence } => "The print of {called}: {said}",
        RegistrationInDoubt => "The registration of the prints is in doubt, and with it all of this.",
        Spoils { found: Sentence, what: &'static str, remedy: &'static str } => "{found} That spoils {what}. {remedy}",

        NotPredicted { called: String, why: Sentence } =>
            "{called} cannot be shown as if developed to the reference's contrast. {why}",
        GradientNotKnown { of: String, why: Sentence } => "The gradient of {of} is not known: {why}",
        OwnGradientNotKnown { why: Sentence } => "Its own gradient is not known: {why}",

        NoEdge { called: String } => "No edge is marked for the sharpness of {called}.",
        NoScannerEdge => "The series has no edge of the scanner.",
        ScannerEdgeNotMeasured { why: Sentence } => "The scanner's own edge could not be measured: {why}",
        ScannerEdgeNotDividedOut =>
            "The scanner's own edge was scanned at another resolution, so it was not divided out.",
        ScannerEdgeNotUsed =>
            "The scanner's own edge was scanned at another resolution, so it does not tell what its blur took.",

        PaperEndsNotKnown =>
            "Neither the white nor the deepest black of the paper is known, or no patch tells the noise of the scan.",
        PaperNotTested => "The paper was not tested.",
        PaperTestEmpty => "The paper test has no densities yet.",
        PaperTestTyped => "The densities of the paper test were typed, not taken from a scan.",
        NoTabletOfPaper => "The paper was printed through a tablet that is not in the series.",

        // From 0; the first alone needs no number.
        NoUniformArea { number: usize, called: String } => {
            let which = if *number == 0 { String::new() } else { format!(" {}", number + 1) };
            format!("No uniform area{which} is marked for the grain of {called}.")
        },
        NoiseLeftIn { why: Sentence } => "The scanner's noise is left in. {why}",
        NoiseToBeLeftIn => "It was chosen to leave it in.",
        InBlankArea { said: Sentence } => "In the blank area: {said}",
        NoiseNotKnown { why: Sentence } =>
            "{why} A second scan of the same film, or a blank area of like density, would tell it.",
        NotCalibrated => "The scan has no calibration that tells it.",
        CalibrationNotMade => "Its calibration could not be made.",
        CalibrationGone => "Its calibration is gone.",
        NoNoiseModel => "Its calibration has no noise model.",
        NoiseOfOneChannel =>
            "The calibration's noise model is that of one channel, and the scan is read in a mix.",
        NoiseAtOtherResolution =>
            "Its calibration was scanned at another resolution, at which a pixel's noise is another.",
        ResolutionCannotBe { dpi: f64 } => "A resolution of {dpi} dpi cannot be.",
        NotSquare { across: f64, down: f64 } =>
            "The scan says {across} dpi across and {down} down: its pixels are not square.",
        NoResolution => "The scan does not say its resolution.",
        MeasuredOnPrint => "Measured on a print: paper and enlarger are in it.",
        NoEnlargement { what: String } =>
            "The enlargement is not known, so {what} measured on the paper and not on the film.",
        AtDensity { density: f64, note: Sentence } => "At density {density:.2}: {note}",
        DensityOfPrint => "it was measured on a print, whose density is not the film's.",
        BaseFogNotMeasured => "base+fog was not measured.",
        CurveWithoutBaseFog => "the curve has no base+fog.",
        NotLookedAt { enlargement: f64, mm: f64 } => "A print of {enlargement} × cannot be looked at from {mm} mm.",
        OnPrintOfUnknownEnlargement { called: String } =>
            "The grain of {called} was measured on a print of unknown enlargement.",

        NoGreyCard => "No patch of the layout is its grey card, from which stops are counted.",
        CardNotRead { called: String } => "The grey card was not read in the print of {called}.",
        CardTooLight { called: String } => "The grey card of {called} prints lighter than what could read it.",
        CardTooDark { called: String } => "The grey card of {called} prints darker than what could read it.",
        FewNeutrals { count: usize } => "Only {count} neutral patches of different known density are there.",
        NeutralsOutOfOrder { called: String } =>
            "The neutral patches of {called} do not print in the order of their known densities.",
        PaperNotKnown => "The paper's curve or the print's exposure is not known.",
        PatchWithoutDensity { called: String } => "A patch of {called} has no density.",
        RoutesDiffer =>
            "One print is read by its neutral patches and the other by curves: flare is in one and not in the other.",
        PatchesDiffer => "The prints have not the same patches.",
        DrawsDiffer => "One of both prints was resampled less often than the other.",
        CardNotKnown => "Neither density nor reflectance of the grey card is known.",
        LightNotSaid => "Nothing says which light fell on the target.",
        FewColours { called: String, count: usize, needed: usize } =>
            "{called} has {count} coloured patches in stops with a known reflectance; at least {needed} are needed.",
        SpectraTooShort { from: f64, to: f64 } =>
            "Light and reflectances have in common only {from} to {to} nm; 420 to 660 nm must be there.",
        NoExposure => "The spectra of light and patches give no exposure.",
        FewNeutralsAside =>
            "The light is told from neutral patches at two places, and fewer than two stand in one half of the target.",
        NeutralWithoutExposure => "A neutral patch has no exposure.",

        ReadingsTyped { called: String } => "The readings of {called} were typed, not taken from a scan.",
        NoReadings { called: String } => "{called} has no step densities.",
        TabletNotSaid { called: String } => "Nothing says which tablet was exposed onto {called}.",
        NoTablet { called: String } => "{called} was exposed through a tablet that is not in the series.",
        NoTabletOfStrip { strip: String, called: String } =>
            "{strip} of {called} was exposed through a tablet that is not in the series.",
        MoreStepsThanTablet { called: String, most: usize, strip: Option<String>, tablet: String, steps: usize } => {
            let which = strip.as_ref().map_or_else(String::new, |strip| format!(" on {strip}"));
            format!("{called} has densities of {most} steps{which}, but its tablet {tablet} has {steps} steps.")
        },

        BeyondPicture => "The picture does not reach so far.",
        NoSmallCopy => "There is no such small copy.",
    }
}
