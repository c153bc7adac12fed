//! What happens to files of series on their way to the disk and back.

use twinwedge_core::sentences;

sentences! {
    /// What became of a file of the program's own.
    Store {
        Unreadable { why: String } => "It cannot be read: {why}.",
        // In MiB.
        TooLarge { length: u64, most: u64 } =>
            "The file has {length} MiB; a series file has at most {most} MiB.",
        Empty => "The file is empty.",
        NewerFormat { format: u32, reads: u32 } =>
            "It was saved in format {format}; this version of the program reads up to {reads}.",
        FormatZero => "It says format 0, which no version of the program writes.",
        OtherLayoutFormat { format: u32, reads: u32 } =>
            "It says format {format}; this version of the program reads layouts of format {reads}.",
        // What it should be, and what is wrong with its text, as the end of a sentence.
        Malformed { what: String, why: String } => "It is not {what}: {why}.",
        // In MiB.
        NotSavedTooLarge { length: u64, most: u64 } =>
            "It was not saved: the series would take {length} MiB, and at most {most} MiB can be opened again.",
        NoLayout => "The series has no patch layout.",
        NotKept { why: String } => "What is not saved yet could not be kept for the case of a crash: {why}.",
        NoRecovery => "It is no recovery file of this program.",
        NotPutAside { why: String } => "It could not be put aside: {why}.",
        Cancelled => "Reading it was cancelled.",
        NoPlace { why: String } => "Nothing can be saved here: {why}.",
        NotSaved { why: String } => "It could not be saved: {why}.",
        Busy => "It could not be saved: another window or program is saving this file.",
        NotConfirmed { why: String } =>
            "The new file is in its place, but the disk did not confirm that it would survive a power cut: {why}.",
        SavedByAnother { differences: String } => {
            let stop = if differences.is_empty() { "" } else { " In the file: " };
            format!(
                "Somebody else has saved this file since it was opened, and it was kept as they saved \
                 it.{stop}{differences}"
            )
        },
        IsSource { what: String } => "It is {what}, and was kept.",
        ReadOnly { held: String } => "It is protected from writing, and was kept: {held}.",
        Another { held: String } => "There is {held} already, which was kept.",
    }
}
