//! The rows of a list, as they stand in it.

use std::collections::HashMap;
use std::path::Path;

use twinwedge_core::geometry::Point;
use twinwedge_core::problem::{Problem, Subject};

use super::words::parse_points;
use crate::load;

/// The columns that a list may have.
pub(crate) const COLUMNS: [&str; 22] = [
    "file",
    "kind",
    "film",
    "role",
    "tablet",
    "exposure",
    "calibration",
    "resolution",
    "place",
    "steps",
    "seen",
    "exposure_index",
    "box_speed",
    "base_fog",
    "roll_of",
    "light_source",
    "seconds",
    "developer",
    "dilution",
    "temperature",
    "minutes",
    "agitation",
];

/// What a row's file may be.
const KINDS: [&str; 10] =
    ["tablet", "calibration", "readings", "strip", "print", "grain", "edge", "frame", "paper", "paper scan"];

/// One row of a list: values by column, and where it stands.
#[derive(Debug, Clone)]
pub(crate) struct Row {
    pub(super) list: String,
    pub(super) line: u64,
    values: HashMap<String, String>,
}

impl Row {
    /// A row that no list holds: of the file at `line` of what was found in the folder `list`.
    pub(crate) fn found(
        list: &str,
        line: u64,
        values: impl IntoIterator<Item = (&'static str, String)>,
    ) -> Self {
        let values = values.into_iter().map(|(column, value)| (column.to_owned(), value)).collect();
        Self { list: list.to_owned(), line, values }
    }

    /// What stands in a column; empty where it has none.
    pub(crate) fn get(&self, column: &str) -> &str {
        self.values.get(column).map_or("", String::as_str)
    }

    pub(super) fn wrong(&self, column: &str, cause: impl Into<String>, remedy: impl Into<String>) -> Problem {
        let place = Some(format!("line {}, column '{column}'", self.line));
        Problem::error(Subject::File { path: self.list.clone(), place }, cause, remedy)
    }

    pub(super) fn number(&self, column: &str) -> Result<Option<f64>, Problem> {
        let text = self.get(column);
        if text.is_empty() {
            return Ok(None);
        }
        match text.parse::<f64>() {
            Ok(number) if number.is_finite() && number > 0.0 => Ok(Some(number)),
            _ => Err(self.wrong(
                column,
                format!("'{text}' is not a number above zero."),
                "Correct it or leave it empty.",
            )),
        }
    }

    pub(super) fn points(&self, wanted: usize) -> Result<Option<Vec<Point>>, Problem> {
        let text = self.get("place");
        if text.is_empty() {
            return Ok(None);
        }
        parse_points(text, wanted).map(Some).map_err(|cause| {
            self.wrong(
                "place",
                cause,
                format!("Give {wanted} points as 'x,y x,y ...' in pixels, or leave it empty."),
            )
        })
    }
}

/// The rows of a list.
pub(crate) fn read_rows(list: &Path) -> Result<Vec<Row>, Problem> {
    let name = list.display().to_string();
    let text = load::text(list)?;
    let at = |place: Option<String>, cause: String, remedy: &str| {
        Problem::error(Subject::File { path: name.clone(), place }, cause, remedy)
    };
    let mut reader =
        csv::ReaderBuilder::new().trim(csv::Trim::All).flexible(false).from_reader(text.as_bytes());
    let head: Vec<String> = match reader.headers() {
        Ok(head) => head.iter().map(str::to_lowercase).collect(),
        Err(error) => return Err(at(None, format!("it is no CSV: {error}."), "Save it as CSV with commas.")),
    };
    if let Some(unknown) = head.iter().find(|column| !COLUMNS.contains(&column.as_str())) {
        return Err(at(
            Some("line 1".to_owned()),
            format!("'{unknown}' is no column of a list."),
            &format!("Columns are {}.", COLUMNS.join(", ")),
        ));
    }
    for needed in ["file", "kind"] {
        if !head.iter().any(|column| column == needed) {
            return Err(at(
                Some("line 1".to_owned()),
                format!("the column '{needed}' is missing."),
                "Add it.",
            ));
        }
    }
    let mut rows = Vec::new();
    for record in reader.records() {
        let record = record.map_err(|error| {
            let place = error.position().map(|position| format!("line {}", position.line()));
            at(
                place,
                format!("the row cannot be read: {error}."),
                "Give every row as many values as the first.",
            )
        })?;
        let line = record.position().map_or(0, csv::Position::line);
        let values = head.iter().cloned().zip(record.iter().map(str::to_owned)).collect();
        let row = Row { list: name.clone(), line, values };
        let kind = row.get("kind");
        if !KINDS.contains(&kind) {
            return Err(row.wrong(
                "kind",
                format!("'{kind}' is no kind of file."),
                format!("Kinds are {}.", KINDS.join(", ")),
            ));
        }
        rows.push(row);
    }
    if rows.is_empty() {
        return Err(at(None, "it has no rows.".to_owned(), "Give one row for each file."));
    }
    Ok(rows)
}
