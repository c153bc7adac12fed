//! What is wrong with a file that was opened: a picture, or a text with a table in it.

use twinwedge_core::sentences;
use twinwedge_core::words::Sentence;

sentences! {
    /// What is wrong with a file as a whole, and with a picture in it.
    File {
        Empty => "The file is empty.",
        Changed => "Another program changed the file while it was read.",
        Folder => "This is a folder, not a file.",
        NotAFile { what: String } => "Nothing can be read here: {what}.",
        Missing => "There is no such file.",
        NoPermission => "You have no permission to read the file.",
        NoMemory => "There is not enough free memory to read the file.",
        Unreadable { why: String } => "The file cannot be read: {why}.",
        Cancelled => "Opening was cancelled.",
        LookCancelled => "Looking at the file was cancelled.",
        Truncated => "The file is truncated: it ends before its picture does.",
        PictureEnds { needs: u64, has: u64 } =>
            "The file is truncated: its picture ends at byte {needs}, the file at byte {has}.",
        HeaderEnds { needs: u64, has: u64 } =>
            "The file is truncated or damaged: its header points to byte {needs}, the file ends at byte {has}.",
        Damaged { how: String } => "The file is damaged: {how}.",
        Unsupported { what: String } => "The file is {what}, which is not supported.",
        NotAPicture { kind: &'static str } =>
            "The file is not a TIFF, PNG or JPEG picture: by its first bytes it is {kind}.",
        TooLong { length: String, most: String } =>
            "The file holds {length}, more than the {most} that its picture could need.",
        MuchBeside { most: String } => "Beside its picture the file holds more than {most}.",
        Pieces { pieces: u64, most: u64 } => "The picture is in {pieces} pieces. The limit is {most}.",
        Tile { needs: String, most: String } => "A tile of the picture needs {needs}. The limit is {most}.",
        // Of a sample.
        Size { width: u32, height: u32, channels: usize, bits: usize, decoded: String } =>
            "The picture is {width} x {height} pixels, {channels} x {bits} bits: {decoded} decoded.",
        TooManyPixels { size: Sentence, side: u32 } => "{size} The limit is {side} pixels on a side.",
        TooManyBytes { size: Sentence, most: String } => "{size} The limit is {most}.",
        Needs { size: Sentence, copies: String, decoding: Option<String> } => {
            let beside = decoding.as_ref().map_or_else(String::new, |bytes| format!(" and {bytes} for decoding"));
            format!("{size} With its smaller copies it needs {copies}{beside}")
        },
        RowNeeds { bytes: String } => "A row of its strips or tiles needs {bytes}",
        RowNoRoom => "A row of the picture finds no room",
        NoRoom { needs: Sentence, room: String } => "{needs}, and {room}.",
        AtOnce { bytes: String, most: Option<String> } => {
            let why = most.as_ref().map_or("more than the machine has free".to_owned(), |most| {
                format!("more than the limit of {most}")
            });
            format!("Reading the file takes {bytes} at once, {why}.")
        },
        LightCannotBe { light: String, x: usize, y: usize } =>
            "The file cannot be measured: light is {light} at pixel ({x}, {y}), where only 0 to 1 can be.",

        LongText { length: String } => "The file holds {length}, and no table of readings more than 16 MiB.",
        // Counted from 1.
        NotText { byte: usize } => "The file is no text: byte {byte} has no meaning in one.",
        NotUtf8 { byte: usize, value: u8 } =>
            "The text is not UTF-8: byte {byte} ({value:#04x}) does not belong there.",
    }
}

sentences! {
    /// What is wrong with a table of readings, of a tablet's densities or of patches.
    Table {
        OneStep => "The tablet has one step only.",
        StepWithoutDensity { step: u32 } => "Step {step} of the tablet has no density.",
        NotRising { step: u32, density: f64, before: f64 } =>
            "Densities of a tablet must rise from step to step, but step {step} has {density} after {before}.",
        Endless => "It goes on beyond any table of readings.",
        NoReading => "There is no reading in it.",
        NotTaken { columns: String } => "Not taken as densities: {columns}.",
        StepTwice { step: u32 } => "Step {step} stands there twice.",
        Means { count: usize, scatter: Option<f64> } => {
            let scatter = match scatter {
                Some(scatter) => {
                    format!("; they scatter by {scatter:.4}, and the uncertainty of each mean follows from that")
                }
                None => "; they are too few to say how they scatter".to_owned(),
            };
            format!("Each density is the mean of {count} readings{scatter}.")
        },
        Disagree { step: u32, least: f64, most: f64 } =>
            "The readings of step {step} disagree: they go from {least} to {most}.",
        OtherMean { step: u32, told: f64, mean: f64 } =>
            "The table's own mean of step {step} is {told}, but the mean of its readings is {mean:.3}.",
        FewSteps { last: usize, read: usize } =>
            "Steps are numbered up to {last}, but only {read} have a density.",
        StepsMissing { steps: String, several: bool } => {
            let (plural, have, are) = if *several { ("s", "have", "are") } else { ("", "has", "is") };
            format!("Step{plural} {steps} {have} no density and {are} left out.")
        },
        ManyLines { lines: usize, most: usize } =>
            "It holds {lines} lines of numbers, and no tablet has more than {most} steps.",
        NoStepNorNames { value: f64 } =>
            "{value} is not the number of a step, which is a whole number from 1, and no line names the columns.",
        NoStep { value: f64 } => "{value} is not the number of a step, which is a whole number from 1.",
        Unnamed { columns: usize } =>
            "There are {columns} columns of numbers, and nothing says what each of them holds.",
        TwoSigns { cell: String, what: String } =>
            "'{cell}' has more than one sign between its digits; the {what} cannot be told for certain.",
        CellMissing { what: String } => "The {what} is missing.",
        NoNumber { cell: String, what: String } =>
            "'{cell}' stands where the {what} belongs, which must be a number.",
        OutOfRange { value: f64, what: String, range: String } => "{value} is no {what}: it must be from {range}.",
        RowOfFields { fields: usize, named: usize } =>
            "The row has {fields} fields, and its format names {named}.",
        NotWhole => "Its rows end without 'END_DATA': the file is not whole.",
        NoVisualDensity => "The CGATS text has neither visual densities nor spectra.",
        NoSpectraFor { density: &'static str } => "It holds no spectra from which {density} could be computed.",
        FromSpectra { density: &'static str, scale: &'static str } =>
            "Its {density} were computed from spectra, which were taken as {scale}.",
        NoNumberAtWavelength { cell: String, nm: f64 } => "'{cell}' stands where the spectrum has its value at {nm} nm.",
        SpectraTooShort { density: &'static str, percent: f64 } =>
            "The spectra end too early for {density}: {percent:.0} % of what counts lies beyond them.",

        NotOfPatches => "It is no table of patches.",
        Cells { cells: usize, named: usize } => "It has {cells} cells, where the first line has {named}.",
        CellNoNumber { cell: String } => "'{cell}' is not a number.",
        PatchWithoutName => "The patch has no name.",
        PatchTwice { name: String } => "The patch '{name}' stands there twice.",
        NoPatch => "It holds no patch.",
    }
}

sentences! {
    /// What is wrong with a value as lists and verbs write it.
    Typed {
        NoPoints { text: String } => "'{text}' is not a list of points.",
        Points { text: String, points: usize, wanted: usize } =>
            "'{text}' holds {points} points where {wanted} belong.",
        NoDensity { text: String } => "'{text}' is no density.",
        NoExposure { text: String } => "'{text}' is no exposure.",
        NoLevel { text: String } => "'{text}' is no level of an additional strip.",
    }
}

sentences! {
    /// What is wrong with spectra of a file, what was put right in them, and what to do.
    Spectra {
        Many { spectra: usize, most: usize } => "It holds {spectra} spectra, and at most {most} are taken.",
        Several { spectra: usize } => "It holds {spectra} spectra where one is wanted.",
        NoNumberInLine { line: usize, cell: String } => "Line {line} has '{cell}' where a number belongs.",
        NoColumns => "It holds no spectrum: there are no two columns of numbers.",
        NumbersOfLine { line: usize, numbers: usize, first: usize } =>
            "Line {line} has {numbers} numbers, where the first row has {first}.",
        NoSpectralField => "It is a CGATS table without spectra: no field is named after a wavelength.",
        CellsOfRow { row: usize, cells: usize, fields: usize } =>
            "Row {row} of its data has {cells} cells, where {fields} fields are named.",
        NoNumberInRow { row: usize, cell: String } => "Row {row} of its data has '{cell}' where a number belongs.",
        NoData => "Its table of data is empty.",

        TurnedColumns => "Its columns stand the other way round; they were taken so.",
        TurnedRows => "Its wavelengths fall from row to row; the rows were turned round.",
        TakenAsMicrometres => "Its wavelengths are in micrometres; they were taken as such.",
        TakenAsAngstroms => "Its wavelengths are in ångströms; they were taken as such.",
        TakenAsWavenumbers => "Its first column holds wavenumbers per centimetre; they were taken as such.",
        TakenAsPerCent => "Its values are in per cent; they were taken as such.",
        PutRight => "It was put right.",

        // Of which spectrum: 'The spectrum', or that with its name.
        Lengths { of: String } => "{of} has not as many values as wavelengths.",
        FewRows { of: String } => "{of} has fewer than two rows.",
        RowWithoutNumber { of: String, row: usize } => "{of} has no number in its row {row}.",
        ColumnsTurned { of: String } => "{of} has its columns the other way round.",
        Falling { of: String } => "{of} has wavelengths that fall from row to row.",
        InMicrometres { of: String } => "{of} has wavelengths in micrometres.",
        InAngstroms { of: String } => "{of} has wavelengths in ångströms.",
        InWavenumbers { of: String } => "{of} has wavenumbers in place of wavelengths.",
        UnknownUnit { of: String } => "{of} has a first column in which no unit of wavelengths fits.",
        Twice { of: String, nm: f64 } => "{of} has the wavelength {nm} nm twice.",
        OutOfOrder { of: String, nm: f64 } => "{of} has the wavelength {nm} nm out of order.",
        Gap { of: String, from: f64, to: f64 } =>
            "{of} has no row between {from} and {to} nm, too far apart for a spectrum.",
        BelowZero { of: String, nm: f64 } => "{of} has a value below zero at {nm} nm.",
        InPerCent { of: String } => "{of} has its values in per cent.",
        AboveOne { of: String, nm: f64 } =>
            "{of} has more light than fell on it at {nm} nm: a share above 1 (or 100 %).",
        Zeros { of: String } => "{of} is zero throughout.",
    }
}
