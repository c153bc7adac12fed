//! What to do, and what was stopped.

use super::sentences;

sentences! {
    /// What a person can do about it.
    Remedy {
        LookAtEdge => "Look at the edge on the Grain page.",
        LookAtArea => "Look at the area on the Grain page.",
        MarkOnFilm => "Mark a uniform area on a scan of the film itself where you have one.",
        CompareByEye => "Compare both prints by eye, and set two pairs of points by hand if they do not lie on each other.",
        LookAtPatches => "Look at the patch grid on the Prints page.",
        AddPrint => "Add a scan of its print.",
        ReadAlike => "Read both in the same density, or take both from spectra.",
        CheckLevel => "Check the neutral density or the time, or let the level follow from the overlap.",
        LookForSteps => "Look for steps that are off, and check the stated uncertainties and the tablet's densities.",
        SayStops =>
            "Say on the Tablets page how many stops less than the series' full exposure it had: 0 where it had all of \
             it.",
        HaveTabletMeasured => "Have it measured: its errors go straight into log exposure and calibration.",
        CheckCalibration => "Check the corners, the tablet's densities, and whether the scanner changed tones by itself.",
        LookAtSteps => "Look at the steps on the Tablets page.",
        ScanTablet => "Scan a tablet of known densities with the same settings and choose it as calibration.",
        BringOldFile => "Bring the old file back, or take it in again as changed.",
        ReadStepAgain => "Read the step again.",
        ChooseReference => "Choose the film that all others are compared with.",
        AddReference => "Add the reference film first.",
        WarmUp => "Let the scanner warm up and scan again, calibrate anew, or shift the scan by its known patch.",
        ScanTabletAlike => "Scan the calibration tablet again with the settings of the scan.",
        ChooseCalibrationOfKind => "Choose a calibration made from a tablet of the same kind, or none.",
        LookAtFrame => "Look at the frame on the Frames page, and lay the patch by hand where it is off.",
        LayPatch => "Lay it on one frame of the reference, on the Frames page; it is then found on all others.",
        EnterFrame => "Enter it on the Frames page, or take the frame out.",
        GiveStepsBetween =>
            "Give the number of steps that lie between the corners, or put the corners round as many as were named.",
        ChooseFile => "Choose another file, or take this one as a changed scan: what was measured on it is measured anew.",
        ChooseScan => "Choose another scan.",
        ReadBothSteps => "Read both steps again, set the wrong one aside, or check that the strip is not the other way round.",
        CheckExposedStrip => "Check that these are the readings of an exposed strip.",
        AddReadings => "Add readings, or take back points set aside.",
        NumberSteps => "Number steps from 1 and name the strip of each.",
        CorrectReading => "Correct the reading or set it aside.",
        CheckReadings => "Check their exposures and uncertainties.",
        SayLevel => "Say by how many stops it had less light, or expose a strip that shares a stop or more with the others.",
        BoxWhereNothingMoved => "Draw the box where nothing moved and the light did not change.",
        BoxFor64 => "Draw a box of at least 64 x 64 pixels, better 400 x 400.",
        MakePictureAnew => "Make the picture anew from the scan.",
        TypeResolutionAndEnlargement => "Type the scan's resolution in dots per inch, and the enlargement of the print.",
        AskAgainIfWanted => "Ask for it again if it is still wanted.",
        BoxWhereBothShow => "Draw the box where both prints show the scene.",
        LookAtRegistration => "Look at their registration on the Prints page.",
        MarkLarger => "Mark a larger area.",
        MarkEvenWithoutDetail => "Mark an evenly exposed area without detail.",
        MarkAtLeast { least: usize, better: usize } =>
            "Mark at least {least} x {least} pixels; for ±5 % some {better} x {better}.",
        MarkInside => "Mark an area inside the scan.",
        CheckResolutionOrAperture => "Check the resolution of the scan, or choose a smaller aperture.",
        ScanFiner { dpi: f64 } => "Scan at {dpi:.0} dots per inch or more.",
        CalibrateAtDepth => "Calibrate with a tablet scanned at the same bit depth as this scan.",
        ResolutionAndAperture => "Give the resolution of the scan and an aperture, both above zero.",
        AskForGranularity => "Ask for the granularity again if it is still wanted.",
        ScanTwiceUnmoved => "Scan the same film twice and move nothing between.",
        AskAgain => "Ask again if it is still wanted.",
        ScanTwiceAlike => "Scan the same film twice with the same frame and resolution.",
        MarkForSpectrum { needed: usize } => "Mark at least {needed} x {needed} pixels; 512 x 512 are good.",
        ChooseBlocks => "Choose blocks of 32, 64, 128 or 256 pixels.",
        GiveResolution => "Give the resolution of the scan.",
        AskForSpectrum => "Ask for the spectrum again if it is still wanted.",
        MarkLargerUniform => "Mark a larger uniform area, or one without detail.",
        ScanTwiceOrBlank => "Scan the same film twice and move nothing between, or mark a blank area.",
        SameTargetOrPoints => "Check that both show the same target; or mark two points in both prints by hand.",
        ChoosePrintOfTarget => "Choose the scan of a print that shows the target.",
        CheckScanAndCalibration => "Check the scan and its calibration.",
        LargerPicture { shortest: usize } => "Use a picture of at least {shortest} pixels a side, better 1500.",
        TurnScan { degrees: f64 } =>
            "Turn that scan by {degrees:.0} degrees, or scan the print again the same way up as the first.",
        ScanRightSideUp => "Scan that print again, right side to the glass and the right way up, or mirror and turn the file.",
        ScanRightSide => "Scan that print again with its right side to the glass, or mirror the file.",
        SameTargetHalf =>
            "Check that both show the same target, with half of it or more on both and at about the same size; or \
             mark two points in both prints by hand.",
        PointsFarApart => "Choose two points far apart, best in opposite corners, and mark both in both prints.",
        ScanBetterTablet => "Scan a tablet with more steps, without clipping, at 16 bits and with automatic corrections off.",
        CheckStripMarks =>
            "Check that the strip is marked from step 1 to the last, with the right number of steps, and that the \
             densities belong to this tablet.",
        ChooseBlank => "Choose a scan of nothing but light or white paper, or mark a border that is only paper white.",
        ScanBlankFrame => "Scan a blank frame of the same size and settings.",
        TypeBorder => "Type how many pixels wide the paper's white is along the sides of the scan.",
        BoxAcross => "Draw the box so that one edge crosses it from side to side, with a uniform area on either side.",
        BoxAroundEdge => "Draw the box around a straight edge between two uniform areas.",
        SmallerAperture => "Choose a smaller one, or check the resolution of the scan.",
        SizeAboveZero => "Type a size above zero.",
        TypeResolutionOrShare => "Type the scan's resolution in dots per inch, or read a share of each step.",
        MarkLargerOrFiner => "Mark a larger area, or scan at a higher resolution.",
        DragInside => "Drag it inside the picture.",
        CalibrationOfBits => "Use a calibration scanned with the same number of bits.",
        CornersInOrder => "Put the four corners in order round it, and sample a share of it above 0 and up to 1.",
        GiveSteps => "Give the number of steps between its corners.",
        StartAgain => "Start it again.",
        DragCorners => "Drag the four corners onto the steps, or scan the strip whole, flat and with some ground around it.",
        MeasureCurve =>
            "Measure the film's characteristic curve over both densities of the edge, or choose an edge of a lower \
             step.",
        ChooseLongerEdge => "Choose a longer edge, or one between fields that differ more.",
        ChooseStep => "Choose an edge between fields that differ by D 0.2 to 0.6.",
        WiderBox => "Draw a wider box, with the edge in its middle.",
        BoxAroundOne => "Draw the box around one straight edge with a plain, evenly lit field on either side.",
        ChooseCutEdge => "Choose a cut or knife edge, or a shorter piece of this one.",
        LongerBox => "Draw a longer box along the edge, or scan at a higher resolution.",
        TurnTarget => "Turn film or target by about five degrees on the glass and scan again, or choose another edge.",
        RoomAtEnds => "Scan again with an exposure that leaves room at both ends.",
        BoxOfSize { least_side: usize, least_rows: usize } =>
            "Draw a box of at least {least_side} x {least_rows} pixels; 200 x 400 is good, and more than 4000 x 4000 \
             no better.",
        BoxInside => "Draw the box inside the scan.",
        CheckNumber => "Check the number, its decimal sign and its unit.",
        ShortenText => "Shorten it, or take out what is not seen; type it anew where it was pasted.",
        TakeSomeOut => "Take some of them out.",
        OtherIdentity => "Give one of them another identity.",
        NameOneOfSeries { what: String } => "Name a {what} of the series, or add this one.",
        EnterSpectrumAnew => "Enter it anew from its file.",
        RelativePath => "Give the path relative to the series file.",
        NamePatches => "Name every patch, row by row.",
        LightOfFirstStrip => "Leave it out there, and say its light as the exposure of the film's tablet.",
    }
}

sentences! {
    /// Work that was stopped before its end.
    Stopped {
        Detail => "Measuring what detail survives was stopped.",
        Granularity => "Measuring granularity was stopped.",
        TwoScans => "Comparing two scans was stopped.",
        Spectrum => "Measuring the noise power spectrum was stopped.",
        Registering => "Registering the prints was stopped.",
        Edge => "Measuring the edge was stopped.",
        Finding => "Looking for the strip was stopped.",
    }
}
