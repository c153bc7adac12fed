//! What is wrong with a value that a person or a file gave for a field.

use super::sentences;

sentences! {
    /// What a field may not hold.
    Field {
        OutOfRange { value: f64, name: &'static str, range: String } => {
            // A number of 300 digits says no more than its power of ten.
            let plain = *value == 0.0 || (1e-6..1e10).contains(&value.abs());
            let shown = if plain { format!("{value}") } else { format!("{value:e}") };
            format!("A value of {shown} is out of range: the {name} must be from {range}.")
        },
        NoNumber { text: String, name: &'static str, range: String } => "'{text}' is not a number ({name}, {range}).",
        TooLong { length: usize, most: usize } => "The text has {length} characters; at most {most} are taken.",
        LineBreak => "The text has a line break, which has no place in it.",
        NotSeen { character: String } =>
            "The text holds the character {character}, which is not seen but changes how text is shown.",
        Number { count: usize, name: &'static str, least: usize, most: usize } =>
            "There are {count} {name}, where {least} to {most} can be.",
        SameIdentity { id: String } => "Two films have the identity '{id}'.",
        NotInSeries { what: String, id: String } => "The series has no {what} '{id}'.",
        SpectrumOfZeros => "All values of its spectrum are zero.",
        NoPath { path: String } => "The path '{path}' is no path of a file.",
        LayoutNames { rows: u32, columns: u32, wanted: usize, count: usize } =>
            "It has {rows} rows of {columns}, which need {wanted} patches, but names {count} patches.",
        LevelOfFirst =>
            "The levels of a film's strips are told against its first strip, which has none of its own.",
        UnknownEncoding { text: String, forms: &'static str } => "'{text}' is no encoding that is known here. {forms}",
        DensitiesAlike { first: f64, last: f64 } =>
            "The codes would stand for densities from {first} to {last} only: no scanner tells them apart.",
    }
}
