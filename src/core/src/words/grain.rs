//! What is said of grain, its spectrum and how it is seen.

use super::{Sentence, sentences};

sentences! {
    /// What is said of granularity and of what it was measured on.
    Grain {
        LawSlope { slope: f64, half: f64, from: f64, to: f64 } => "slope {slope:.2} ± {half:.2} from {from:.0} to {to:.0} µm",
        BlurredByEdge { own_spectrum: bool, percent: f64, low: f64, high: f64 } => {
            let (of, less) = if *own_spectrum {
                ("this film's grain, by its own spectrum,", "")
            } else {
                ("fine grain", " Grain that hangs together by itself loses less.")
            };
            format!(
                "The figure is a lower bound: by the scanner's own edge the blur of scanner and pixels takes so much of {of} \
                 that without it the figure is {percent:.1} % ({low:.1} to {high:.1} %) higher.{less}"
            )
        },
        ModelOfOneScan =>
            "The model rests on one scan of the tablet: grain of the tablet as fine as a pixel is in it, so it may take off \
             too much; noise that hangs together over pixels is not.",
        AlikeInEvery => "Noise that is alike in every scan (a fixed pattern) is left in.",
        CoarseAperture { diameter: f64, percent: u32 } =>
            "The aperture is only {diameter:.1} pixels wide: a round one can hardly be made of so few, and grain that hangs \
             together over a pixel reads wrong by up to {percent} %. Scan at a higher resolution.",
        NoFluctuation => "One of the two does not fluctuate.",
        NearestTooFar { near: f64, density: f64 } =>
            "The nearest uniform area has density {near:.2}, too far from {density:.2} for the square-root law. Mark \
             a uniform area of about that density.",
        NoAreaOfDensity { density: f64, near: f64, why: Sentence } =>
            "No uniform area has density {density:.2}, and granularity is not carried to it from {near:.2} without \
             base+fog: {why}",
        NoNetDensity { why: Sentence } => "Net density is not known: {why}",
        NoArea => "No uniform area was measured.",
        LawNotTold { number: Sentence } => "The area is too small to tell whether the law of apertures holds ({number}).",
        LawSteeper { number: Sentence } =>
            "Granularity falls more with the aperture than the law of apertures has it ({number} instead of -0.50): \
             as in sharpened scans, or where the scanner's noise is a large part of it through small apertures.",
        LawShallower { number: Sentence } =>
            "Granularity falls less with the aperture than the law of apertures has it ({number} instead of -0.50): \
             the grain hangs together over the small apertures, the scan is blurred, or the exposure is uneven.",
        LawHolds { number: Sentence } => "The law of apertures holds ({number}; the law is -0.50).",
        AperturesNotWeighed => "The granularities through the apertures of this area cannot be weighed against each other.",
        TooFewApertures =>
            "The area and the pitch of the scan allow fewer than three apertures: a larger area, or a scan of higher \
             resolution, would show whether the law of apertures holds.",
        ReadsTooHigh { percent: f64, low: f64, high: f64 } =>
            "By the scanner's own edge the scan is sharpened: grain reads {percent:.1} % ({low:.1} to {high:.1} %) too high \
             through this aperture.",
        BlurLoss { blur: f64, percent: f64 } =>
            "Pixels hang together as behind a blur of {blur:.1} µm. As far as that is the scanner's, the figure is a \
             lower bound, by up to {percent:.0} %; as far as it is the grain's own, nothing is lost. A knife edge \
             scanned alike tells which.",
        NotCounted { error: String } => "The number of independent apertures makes no sense: {error}.",
        NothingUniform => "Nearly all of the area looks like dust, scratches or a picture, and none like a uniform area.",
        AreaTooSmall { width: usize, height: usize, diameter: f64 } =>
            "The area of {width} x {height} pixels is too small for an aperture {diameter:.1} pixels wide.",
        AreaOutside { x0: f64, y0: f64, x1: f64, y1: f64, wide: usize, high: usize } =>
            "The area for grain, ({x0}, {y0}) to ({x1}, {y1}), does not lie within the scan of {wide} x {high} pixels.",
        ApertureTooWide { aperture: f64, diameter: f64, pitch: f64, most_pixels_across: f64 } =>
            "An aperture of {aperture:.0} µm is {diameter:.0} pixels of {pitch:.2} µm across; at most \
             {most_pixels_across:.0} are measured through.",
        PixelsTooCoarse { pitch: f64, aperture: f64 } =>
            "One pixel is {pitch:.1} µm: too coarse for an aperture of {aperture:.0} µm.",
        BadSizes { pitch: f64, aperture: f64 } =>
            "Granularity cannot be measured with a pitch of {pitch} µm and an aperture of {aperture} µm.",
        MostlyNoise { percent: f64 } =>
            "{percent:.0} % of the variance was the scanner's noise: what is left is a small difference of large \
             numbers.",
        NoiseIsAll { by: Sentence, noise: f64, whole: f64 } =>
            "The scanner's noise by {by} ({noise:.1}) is as large as all that was measured ({whole:.1}): no grain can \
             be told from it.",
        AlikeInBoth { apart: f64 } =>
            "Noise that is alike in both scans (a fixed pattern) is left in. The second scan lies {apart:.2} pixels \
             from the first.",
        ModelOutOfReach { density: f64 } => "The calibration's noise model does not reach density {density:.2}.",
        BlankUnlike { blank: f64, density: f64 } =>
            "The blank area has density {blank:.2} and the film {density:.2}: the noise of a scanner changes with \
             light, so it must be more alike.",
        ZoneNotTested => "This zone was not tested on the film, or its exposures are not known.",
        PrintLacksDensity => "The print does not reach this density, or the paper was not tested.",
        NoSharedGrain => "The two scans share no grain: they do not show the same piece of film, or not at the same place.",
        TooSmallToCompare => "The area is too small to compare it with the second scan.",
        ApertureTooWideAtAll => "The aperture is wider than granularity is measured through.",
        OtherSize => "The second scan has another size than the first.",
        Sharpened { correlation: f64 } =>
            "Neighbouring pixels differ more than independent ones would (correlation {correlation:.2} at most): the \
             scan was sharpened, and granularity with it. Scan again with sharpening off.",
        HardlyUniform => "So much was left out that this is hardly a uniform area.",
        Picture { percent: f64 } =>
            "{percent:.0} % of the variance is in structures larger than eight apertures: this looks like a picture \
             or a stain and not like a uniform area. Mark an evenly exposed area.",
        Shaded { density: f64 } =>
            "Density changes by {density:.2} across the area, and granularity with it. Mark a more even area.",
        FewApertures { apertures: f64, width: f64, height: f64, across: f64, down: f64 } =>
            "The area is worth only {apertures:.0} independent apertures. For an interval of ±5 % mark about \
             {width:.0} x {height:.0} pixels ({across:.1} x {down:.1} mm).",
        NotFilm => "The area does not fluctuate at all: it is no scan of film.",
        LeftOut { percent: f64 } =>
            "{percent:.2} % of the area was left out as dust or scratches, with what an aperture there would touch.",
        BeyondCalibration { low: f64, high: f64, from: f64, to: f64 } =>
            "The area reaches from density {low:.2} to {high:.2}; the calibration may be trusted from {from:.2} to \
             {to:.2}.",
        Clipped { percent: f64 } =>
            "{percent:.1} % of the pixels have the lowest or highest code of the scan, so the fluctuation may be cut \
             off.",
    }
}

sentences! {
    /// What the scanner's noise is known from.
    Noise {
        CalibrationSteps =>
            "the steps of the calibration, where grain of the tablet as fine as a pixel counts as noise",
        CalibrationTwice => "the calibration scanned twice",
        SecondScanKept => "a second scan of the same film; noise that is alike in both (a fixed pattern) is left in",
        Blank => "a blank area",
        SecondScan => "a second scan of the same film",
        Model => "the calibration's noise model",
    }
}

sentences! {
    /// How granularity at a density is known.
    At {
        AsMeasured => "as measured",
        NetDensity { density: f64 } => "net density {density:.1}",
        Density { density: f64 } => "density {density:.2}",
        PrintDensity { density: f64 } => "print density {density:.2}",
        Zone { zone: &'static str } => "zone {zone} of the subject",
        SquareRoot { from: f64 } => "predicted by the square-root law from density {from:.2}",
        Interpolated => "between two measured densities",
        Measured => "measured at this density",
    }
}

sentences! {
    /// Of noise power spectra.
    Spectrum {
        Still => "Nothing fluctuates.",
        NoiseTaken { white: bool, percent: f64, by: Sentence } => {
            let how = if *white { "the same at all frequencies" } else { "frequency by frequency" };
            format!("Noise of the scanner was taken off, {how}: {percent:.0} % of the variance, from {by}.")
        },
        Streaks { upright: bool, percent: f64 } => {
            let along = if *upright { "down the columns" } else { "along the rows" };
            format!(
                "Streaks {along}, {percent:.1} % of the variance: lines of the scanner differ in level. They were left out of \
                 the radial spectrum."
            )
        },
        StandUpright => "stand upright",
        LieAlongRows => "lie along the rows",
        LieAt { degrees: f64 } => "lie at {degrees:.0}° to the rows",
        AreaTooSmall { width: usize, height: usize } => "The area of {width} x {height} pixels is too small for a spectrum.",
        NoSuchBlocks { side: usize } => "Blocks of {side} pixels are not offered.",
        AreaOutside { x0: f64, y0: f64, x1: f64, y1: f64, wide: f64, high: f64 } =>
            "The area ({x0}, {y0}) to ({x1}, {y1}) does not lie within the scan of {wide} x {high} pixels.",
        BadPitch { pitch: f64 } => "A spectrum cannot be measured with {pitch} µm from sample to sample.",
        NoFall => "Correlation does not fall to 1/e within a quarter of a block.",
        Directed { percent: f64, degrees: f64 } =>
            "Power differs between directions by ±{percent:.0} %, most at {degrees:.0}° from the rows: a scanner that \
             blurs more one way, or marks of development.",
        Lines { apart: f64, frequency: f64, lie: Sentence, rms: f64, percent: f64 } =>
            "Lines {apart:.3} mm apart ({frequency:.2} cycles/mm) that {lie}, standard deviation {rms:.4} density, \
             {percent:.1} % of the variance: not grain, and left out of the radial spectrum.",
        MostlyNoise => "More than half of the variance is the scanner's: the rest is known badly.",
        NoiseLimited =>
            "The calibration knows more noise than the weakest part of this spectrum holds; no more than that was \
             taken.",
        NoiseStays { why: Sentence } => "The scanner's noise is still in it. {why}",
        Sharpened { distance: f64, correlation: f64 } =>
            "Fluctuations {distance:.0} µm apart go against each other (correlation {correlation:.2}), as no grain's \
             do: the scan was sharpened, and its spectrum with it. Scan again with sharpening off.",
        Coarse { frequency: f64 } =>
            "Power falls to a half below {frequency:.1} cycles/mm: what hangs together so far is a picture, a stain \
             or a scan out of focus, and not grain.",
        Rises { ratio: f64 } =>
            "At the lowest frequencies there is {ratio:.1} times the power that the rest of the spectrum leads to: a \
             picture, a stain or uneven development, and not grain alone.",
        BlocksLeftOut { out: usize, all: usize } => "{out} of {all} blocks hold dust or scratches and were left out.",
        SmallArea { percent: f64, width: f64, height: f64 } =>
            "The area is small: the spectrum at low frequencies is known to ±{percent:.0} % only. Mark about \
             {width:.0} x {height:.0} pixels for ±20 %.",
        NotFilm => "The area does not fluctuate: it is no scan of film.",
        NothingUniform { side: usize } =>
            "Every block of {side} x {side} pixels of the area holds something that looks like dust, a scratch or a \
             picture.",
        NoiseNotKnown => "The scanner's noise is not known at this density.",
        ScansApart { apart: f64 } =>
            "The two scans lie {apart:.2} pixels beside whole pixels: at high frequencies they differ by grain.",
    }
}

sentences! {
    /// Of grain as it is seen in a print.
    Viewer {
        DifferenceSeen =>
            "A difference is seen where what the grainier film has more would be seen by itself: grain that both have \
             may hide it until a larger print.",
        Contrast =>
            "Contrast sensitivity by Barten (1999) for a large field and both eyes; thresholds of gratings are taken \
             to hold for noise, which makes enlargements an estimate.",
        EnlargerLosesNothing => "The enlarger loses no sharpness.",
        AsMeasured =>
            "Grain counts as it was measured, at the density of its area, whatever density of the film gives that \
             print density.",
        OnPrint { label: String } => "{label}: measured on a print; paper and enlarger are in it already.",
        GradientAssumed { label: String, gradient: f64 } =>
            "{label}: a usual paper's gradient, {gradient:.1}, for no tested paper reaches that density.",
        GradientTested { label: String, gradient: f64 } => "{label}: the tested paper's gradient at that density, {gradient:.2}.",
        Print { density: f64, lux: f64, luminance: f64, pupil: f64 } =>
            "A print of density {density:.2} under {lux:.0} lx (ISO 3664, condition P2): {luminance:.0} cd/m², pupil \
             {pupil:.1} mm.",
        AboveSpectrum { percent: f64, frequency: f64 } =>
            "{percent:.0} % of what the eye sees of white noise lies beyond {frequency:.0} cycles/mm, the highest \
             frequency of this scan, and is not counted. Scan at a higher resolution.",
        BelowSpectrum { percent: f64, frequency: f64 } =>
            "{percent:.0} % of what the eye sees of white noise lies below {frequency:.2} cycles/mm, the lowest \
             frequency of this spectrum; there it is taken as its value at zero.",
        NotSeen { enlargement: f64 } => "It is not seen up to {enlargement:.0} ×.",
        NoDifferenceSeen { enlargement: f64 } =>
            "Their spectra do not differ beyond chance by as much as could be seen up to {enlargement:.0} ×.",
    }
}
