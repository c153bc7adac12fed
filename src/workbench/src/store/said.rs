//! RON, and what is wrong with it in plain words.

use crate::words::Store;
use ron::error::{Error, SpannedError};
use ron::extensions::Extensions;
use ron::ser::PrettyConfig;
use serde::Serialize;
use serde::de::DeserializeOwned;
use twinwedge_core::problem::{Problem, Subject};
use twinwedge_core::shown::Quoted;
use twinwedge_core::words::Sentence;

/// Lists and records nested deeper than this stand on one line: a reading, the corners of a strip.
const DEPTH: usize = 6;

/// Lists and records nested deeper than this are refused: the documents need some twelve.
const DEEPEST: usize = 64;

pub(super) fn options() -> ron::Options {
    ron::Options::default().with_default_extension(Extensions::IMPLICIT_SOME).with_recursion_limit(DEEPEST)
}

/// A document as text: stable order, one thing a line.
pub(super) fn written<T: Serialize>(document: &T) -> String {
    let pretty = PrettyConfig::new()
        .struct_names(true)
        .depth_limit(DEPTH)
        .indentor("  ")
        .new_line("\n")
        .extensions(Extensions::IMPLICIT_SOME);
    let text = options().to_string_pretty(document, pretty);
    // A document is plain data that RON can always write; see the round trip in the tests.
    text.map_or_else(|_| unreachable!("a document is plain data"), |text| text + "\n")
}

/// Reads a small file in RON that verbs take. `what` the file should be and `remedy` stand in the problem.
///
/// # Errors
/// It has another form; says where.
pub fn parse_small<T: DeserializeOwned>(
    text: &str,
    name: &str,
    what: &str,
    remedy: impl Into<Sentence>,
) -> Result<T, Problem> {
    options().from_str(text).map_err(|error| wrong(&error, name, what, remedy))
}

/// The problem of a text that is not `what` it should be.
pub(super) fn wrong(error: &SpannedError, name: &str, what: &str, remedy: impl Into<Sentence>) -> Problem {
    let place = format!("line {}, column {}", error.span.start.line, error.span.start.col);
    let subject = Subject::File { path: name.to_owned(), place: Some(place) };
    Problem::error(subject, Store::Malformed { what: what.to_owned(), why: in_words(&error.code) }, remedy)
}

/// What is wrong, as the end of a sentence.
fn in_words(error: &Error) -> String {
    let named = |field: &str| Quoted(field).to_string();
    match error {
        Error::Eof | Error::UnclosedBlockComment | Error::UnclosedLineComment => {
            "it ends too early".to_owned()
        }
        Error::ExpectedStringEnd => "a text has no closing quotation mark".to_owned(),
        Error::TrailingCharacters => "something follows after its end".to_owned(),
        Error::ExceededRecursionLimit => "brackets stand in brackets deeper than in any such file".to_owned(),
        Error::NoSuchStructField { found, .. } => format!("it knows no field '{}'", named(found)),
        Error::MissingStructField { field, .. } => format!("the field '{field}' is missing"),
        Error::DuplicateStructField { field, .. } => format!("the field '{field}' stands there twice"),
        Error::NoSuchEnumVariant { found, expected, .. } => {
            format!("'{}' is none of {}", named(found), expected.join(", "))
        }
        Error::ExpectedDifferentStructName { found, .. } => {
            format!("'{}' stands where '(' belongs", named(found))
        }
        Error::ExpectedStructName(name) => in_brackets(name),
        Error::ExpectedNamedStructLike(name) if !name.is_empty() => in_brackets(name),
        Error::ExpectedStructLike | Error::ExpectedNamedStructLike(_) => "'(' belongs there".to_owned(),
        Error::ExpectedStructLikeEnd | Error::ExpectedOptionEnd => "')' belongs there".to_owned(),
        Error::ExpectedArray => "a list '[...]' belongs there".to_owned(),
        Error::ExpectedArrayEnd => "']' belongs there".to_owned(),
        Error::ExpectedMap => "'{' belongs there".to_owned(),
        Error::ExpectedMapEnd => "'}' belongs there".to_owned(),
        Error::ExpectedMapColon => "':' belongs there".to_owned(),
        Error::ExpectedComma => "',' belongs there".to_owned(),
        Error::ExpectedBoolean => "true or false belongs there".to_owned(),
        Error::ExpectedString | Error::ExpectedChar => "a text in quotation marks belongs there".to_owned(),
        Error::ExpectedIdentifier | Error::InvalidIdentifier(_) | Error::SuggestRawIdentifier(_) => {
            "a name belongs there".to_owned()
        }
        Error::ExpectedFloat | Error::FloatUnderscore => "a number belongs there".to_owned(),
        Error::ExpectedInteger | Error::InvalidIntegerDigit { .. } | Error::UnderscoreAtBeginning => {
            "a whole number belongs there".to_owned()
        }
        Error::IntegerOutOfBounds => "the number is larger or smaller than this field can hold".to_owned(),
        Error::ExpectedOption | Error::ExpectedUnit => "a value belongs there".to_owned(),
        Error::InvalidEscape(_) => {
            "a backslash in a text is followed by something that has no meaning".to_owned()
        }
        Error::UnexpectedChar(c) => format!("'{}' has no place there", Quoted(c.encode_utf8(&mut [0; 4]))),
        Error::ExpectedDifferentLength { found, .. } => {
            format!("{found} values stand there, another number belongs")
        }
        Error::InvalidValueForType { .. } => "a value of another kind belongs there".to_owned(),
        // Said by the document itself: see its maps.
        Error::Message(words) if words.starts_with('\'') => named(words),
        _ => "it cannot be understood there".to_owned(),
    }
}

fn in_brackets(form: &str) -> String {
    format!("{} belongs there, in round brackets '(...)'", kind_of(form))
}

/// A form of the documents in the reader's words.
fn kind_of(form: &str) -> &'static str {
    match form {
        "Series" => "a series",
        "Film" => "a film",
        "Process" => "the development of a film",
        "TabletExposure" => "the exposure through a tablet",
        "FurtherStrip" | "Strip" => "a strip",
        "TypedReading" => "a reading",
        "PrintChoice" => "a print",
        "Bracket" => "a bracket",
        "BracketFrame" => "a frame of a bracket",
        "Conditions" => "the conditions of the tests",
        "Settings" => "the settings",
        "Spot" => "a spot",
        "PaperTest" => "a test of the paper",
        "ToneChoices" | "SharpnessChoices" | "DevelopmentChoices" | "ReportChoices" | "Viewing" => {
            "a list of choices"
        }
        "ScanEntry" => "a scan",
        "FileDigest" => "the digest of a file",
        "Tablet" => "a tablet",
        "TabletStep" => "a step of a tablet",
        "Calibration" => "a calibration",
        "CalibrationFile" => "a scan, its tablet and the corners of the tablet",
        "LayoutFile" | "PatchLayout" => "the rows, columns and names of a patch layout",
        "PatchName" => "a patch by row, column and name",
        "Gaps" => "the gaps between patches",
        "KnownPatch" => "a patch of known density",
        "StripShape" => "the place of a strip",
        "GridShape" => "the place of a patch grid",
        "GrainArea" => "a uniform area",
        "EdgeArea" => "the place of an edge",
        "Quad" => "four corners",
        "Rect" => "two corners",
        "Point" => "a point",
        _ => "a value of another kind",
    }
}

#[cfg(test)]
mod tests {
    use serde::Deserialize;

    use super::parse_small;

    #[derive(Debug, Deserialize)]
    struct PatchName {
        #[expect(dead_code, reason = "read, never looked at")]
        row: u32,
    }

    #[test]
    fn no_form_of_the_program_is_named() {
        let problem = parse_small::<PatchName>("5", "layout.ron", "a patch layout", "").unwrap_err();
        assert!(problem.cause.contains("a patch by row, column and name belongs there"), "{problem}");
        assert!(!problem.cause.contains("PatchName"), "{problem}");
    }
}
