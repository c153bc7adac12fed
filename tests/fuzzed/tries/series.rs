//! The document: what is read can be written and read again, and every figure of it is had or has a reason.

use twinwedge_workbench::core::document::{ReadingsSource, Series};
use twinwedge_workbench::session::Session;
use twinwedge_workbench::{export, store};

use super::{Finding, as_file, plain, seeds};

/// A series file; figures of what is small enough.
pub(super) fn document(bytes: &[u8]) -> Result<(), Finding> {
    let parsed = match std::str::from_utf8(bytes) {
        Ok(text) => store::parse(text, "try.twinwedge"),
        Err(_) => {
            Session::open(&as_file("try.twinwedge", bytes)).map(|session| Series::clone(session.series()))
        }
    };
    match parsed {
        Err(problem) => plain::refusal(&problem, bytes),
        Ok(series) => {
            there_and_back(&series)?;
            if slight(&series) { figures(series, bytes) } else { Ok(()) }
        }
    }
}

/// A sound series some of whose numbers are others: three bytes for each, which number it is and what it becomes.
pub(super) fn numbers(bytes: &[u8]) -> Result<(), Finding> {
    let text = edited(&seeds::document(), bytes);
    match store::parse(&text, "series") {
        Err(problem) => plain::refusal(&problem, text.as_bytes()),
        Ok(series) => {
            there_and_back(&series)?;
            if slight(&series) { figures(series, text.as_bytes()) } else { Ok(()) }
        }
    }
}

/// A recovery file.
pub(super) fn recovery(bytes: &[u8]) -> Result<(), Finding> {
    let path = as_file("try-recovery.twinwedge", bytes);
    match store::recovery::read(&path) {
        Err(problem) => plain::refusal(&problem, bytes),
        Ok(recovery) => there_and_back(&recovery.series),
    }
}

pub(super) fn there_and_back(series: &Series) -> Result<(), Finding> {
    let written = store::write(series);
    match store::parse(&written, "written") {
        // Not a number is not equal to itself: written again it is the same text.
        Ok(again) if again == *series || store::write(&again) == written => Ok(()),
        Ok(_) => Err("round trip: a series is another one after writing and reading".to_owned()),
        Err(problem) => Err(format!("round trip: a series that was written is refused: {problem}")),
    }
}

/// Whether its figures are had in a few hundredths of a second.
fn slight(series: &Series) -> bool {
    let typed = |source: &ReadingsSource| match source {
        ReadingsSource::Typed(readings) => readings.len() <= 50,
        ReadingsSource::Strip { .. } => false,
    };
    let few = series.films.len() <= 3 && series.scans.len() <= 3 && series.settings.resamplings <= 30;
    few && series
        .films
        .iter()
        .all(|film| film.strips.len() <= 3 && film.strips.iter().all(|strip| typed(&strip.readings)))
}

fn figures(series: Series, input: &[u8]) -> Result<(), Finding> {
    let mut session = Session::of(series, super::folder());
    session.set_recovery_folder(None);
    for problem in session.check() {
        plain::words(&problem, input)?;
    }
    let mut refused = Vec::new();
    let film = session.series().candidates().next().map(|film| film.id.clone());
    refused.extend(export::figures_json(&session).err());
    refused.extend(export::figures_csv(&session).err());
    if let Some(film) = &film {
        refused.extend(export::tones_text(&session, film).err());
        refused.extend(export::development_text(&session, film).err());
    }
    refused.iter().try_for_each(|problem| plain::words(problem, input))
}

/// Numbers that are seldom typed.
const HOSTILE: [&str; 32] = [
    "0.0",
    "-0.0",
    "1.0",
    "-1.0",
    "0",
    "-1",
    "1",
    "2",
    "inf",
    "-inf",
    "NaN",
    "1e300",
    "-1e300",
    "1e-300",
    "5e-324",
    "1.7976931348623157e308",
    "4294967295",
    "4294967296",
    "18446744073709551615",
    "-9223372036854775808",
    "65536",
    "100000",
    "6.0",
    "-0.5",
    "1e10",
    "-1e10",
    "1e-10",
    "0.001",
    "20.0",
    "255",
    "3",
    "1e38",
];

/// The text with some of its numbers replaced.
fn edited(text: &str, edits: &[u8]) -> String {
    let mut numbers = Vec::new();
    let mut start = None;
    for (at, letter) in text.char_indices() {
        let part = letter.is_ascii_digit() || matches!(letter, '.' | '-');
        match (part, start) {
            (true, None)
                if !text[..at]
                    .ends_with(|before: char| before.is_alphanumeric() || before == '_' || before == '"') =>
            {
                start = Some(at);
            }
            (false, Some(begin)) => {
                if text[begin..at].parse::<f64>().is_ok() {
                    numbers.push(begin..at);
                }
                start = None;
            }
            _ => {}
        }
    }
    let mut chosen: Vec<(usize, &str)> = edits
        .chunks_exact(3)
        .map(|edit| {
            let which = usize::from(u16::from_le_bytes([edit[0], edit[1]])) % numbers.len().max(1);
            (which, HOSTILE[usize::from(edit[2]) % HOSTILE.len()])
        })
        .collect();
    chosen.sort_by_key(|(which, _)| std::cmp::Reverse(*which));
    chosen.dedup_by_key(|(which, _)| *which);
    let mut text = text.to_owned();
    for (which, hostile) in chosen {
        text.replace_range(numbers[which].clone(), hostile);
    }
    text
}
