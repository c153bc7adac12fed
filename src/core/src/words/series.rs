//! What is said of a series: what is missing or doubtful in it.

use super::{Sentence, sentences};

sentences! {
    /// Of a series, its films and its scans.
    Series {
        Drifted { density: f64, reads: f64, off: f64, half: f64, applied: bool } => {
            let shifted = if *applied { ", and all its densities are shifted by that" } else { "" };
            format!("Its known patch of density {density:.3} reads {reads:.3}: off by {off:+.3} ± {half:.3}{shifted}.")
        },
        NoShadowPatch { whose: &'static str, frames: usize } =>
            "No shadow patch is laid on any of {whose} scanned frames: {frames} of its frames are not read.",
        GrainOnPrint { label: String } => "The grain of {label} is measured on a print: paper and enlarger are in it.",
        RegistrationInDoubt { doubt: Sentence } => "The registration of its print is in doubt: {doubt}",
        PatchesInDoubt { patches: String, doubt: String } => "The place of {patches} on its print is in doubt: {doubt}",
        NoPrint { label: String } => "{label} has no print.",
        LevelsDiffer { strip: String, stated: f64, stated_u: f64, found: f64, found_u: f64 } =>
            "{strip} is said to have had {stated:.2} ± {stated_u:.2} stops less light; what it shares with the other \
             strips says {found:.2} ± {found_u:.2} (standard uncertainties).",
        Scatter { times: f64 } => "Its readings scatter about the curve {times:.1} times as much as their uncertainties say.",
        DensitiesDiffer { own: &'static str, other: &'static str, whose: String } =>
            "Its readings are {own}, those of {whose} are {other}: they differ where the image is tinted.",
        LightNotSaid => "Nothing says how much light it had under its tablet: its speed is compared with no other film's.",
        NotPlausible { what: &'static str, value: f64, unit: &'static str } => "A {what} of {value} {unit} is not plausible.",
        NominalTablet => "Its densities are nominal, not measured on this tablet.",
        TableMisses { rms: f64 } => "Its table misses the known densities by {rms:.3} (root mean square).",
        Uncalibrated { what: &'static str } =>
            "{what} are measured on it without a calibration: densities count from the scanner's own white, and are \
             only as right as what is stated of its codes.",
        FileChanged { path: String } => "The file {path} has changed since it was taken in.",
        PaperTest { sentence: String } => "Test of the paper: {sentence}",
        NoReference => "No film of the series is its reference.",
        NoFilm => "The series has no film.",
        Spoiled { found: Sentence, what: &'static str } => "{found} This spoils {what}.",
        EdgesByFilm => "Its edges overshoot as if it were sharpened, but by its grain the film did it: adjacency effect.",
        OtherKindOfCalibration =>
            "It is read through a calibration of the other kind: film is seen through, a print by reflection, and one \
             says nothing of the other.",
        ShadowInDoubt { name: String, doubt: Sentence } => "The shadow patch of frame {name} is in doubt: {doubt}",
        FrameLacks { frame: String, what: &'static str } =>
            "Frame {frame} of its bracket has no {what} yet, and takes part in nothing.",
        OtherSteps { named: u32, seen: u32 } =>
            "Its strip is read as {named} steps, and {seen} steps are seen between its corners in the scan.",
        OtherFile { path: String } => "{path} holds something else than the scan that was taken in.",
        NoSuchScan => "The series has no such scan.",
    }
}
