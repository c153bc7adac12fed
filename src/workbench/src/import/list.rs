//! The rows of a list, as they stand in it.

use std::path::Path;
use std::sync::Arc;

use twinwedge_core::document::ranges::{self, Length, Range};
use twinwedge_core::geometry::Point;
use twinwedge_core::problem::{Problem, Subject};
use twinwedge_core::shown::Quoted;
use twinwedge_core::words::Sentence;

use crate::cells;
use crate::load::{self, Stated};
use crate::typed::parse_points;

/// The columns that a list may have.
pub(crate) const COLUMNS: [&str; 23] = [
    "file",
    "kind",
    "film",
    "role",
    "tablet",
    "exposure",
    "calibration",
    "encoding",
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
const KINDS: [&str; 13] = [
    "tablet",
    "calibration",
    "layout",
    "reflectances",
    "light",
    "readings",
    "strip",
    "print",
    "grain",
    "edge",
    "frame",
    "paper",
    "paper scan",
];

/// What the columns of text may hold.
const TEXTS: [(&str, Length); 6] = [
    ("film", ranges::NAME),
    ("roll_of", ranges::NAME),
    ("light_source", ranges::LINE),
    ("developer", ranges::LINE),
    ("dilution", ranges::LINE),
    ("agitation", ranges::LINE),
];

/// One row of a list: values by column, and where it stands.
#[derive(Debug, Clone)]
pub(crate) struct ListRow {
    pub(super) list: Arc<str>,
    pub(super) line: u64,
    /// Columns that are not empty.
    values: Vec<(&'static str, String)>,
}

impl ListRow {
    /// A row that no list holds: of the file at `line` of what was found in the folder `list`.
    pub(crate) fn found(
        list: &str,
        line: u64,
        values: impl IntoIterator<Item = (&'static str, String)>,
    ) -> Self {
        Self { list: list.into(), line, values: values.into_iter().collect() }
    }

    /// What stands in a column; empty where it has none.
    pub(crate) fn get(&self, column: &str) -> &str {
        self.values.iter().rev().find(|(of, _)| *of == column).map_or("", |(_, value)| value)
    }

    /// The same row with what its table says itself in the columns that the list leaves empty. A tablet's file is named
    /// relative to the table.
    pub(super) fn with_stated(&self, stated: &Stated) -> Self {
        let beside = |tablet: &String| match Path::new(self.get("file")).parent() {
            Some(folder) if !tablet.starts_with("nominal ") => folder.join(tablet).display().to_string(),
            _ => tablet.clone(),
        };
        let mut values = self.values.clone();
        let said = [
            ("film", stated.film.clone().filter(|film| ranges::NAME.check(film).is_ok())),
            ("tablet", stated.tablet.as_ref().map(beside)),
            ("exposure", stated.exposure.clone()),
            ("base_fog", stated.base_fog.clone()),
        ];
        for (column, value) in said {
            values.extend(value.filter(|_| self.get(column).is_empty()).map(|value| (column, value)));
        }
        Self { list: self.list.clone(), line: self.line, values }
    }

    pub(super) fn wrong(
        &self,
        column: &str,
        cause: impl Into<Sentence>,
        remedy: impl Into<Sentence>,
    ) -> Problem {
        let place = Some(format!("line {}, column '{column}'", self.line));
        Problem::error(Subject::File { path: self.list.to_string(), place }, cause, remedy)
    }

    /// The number in a column, within its range; `None` where it is empty.
    pub(super) fn number(&self, column: &str, range: &Range) -> Result<Option<f64>, Problem> {
        let text = self.get(column);
        if text.is_empty() {
            return Ok(None);
        }
        range
            .parse(text)
            .map(Some)
            .map_err(|cause| self.wrong(column, cause, "Correct it or leave it empty."))
    }

    /// What `read` makes of a column.
    pub(super) fn read<T>(
        &self,
        column: &str,
        read: impl FnOnce(&str) -> Result<T, Sentence>,
        remedy: &str,
    ) -> Result<T, Problem> {
        read(self.get(column)).map_err(|cause| self.wrong(column, cause, remedy))
    }

    /// Whether its texts are such as the fields of a series may hold.
    fn texts(&self) -> Result<(), Problem> {
        let remedy = "Shorten it, or take out what is not seen; type it anew where it was pasted.";
        TEXTS.iter().try_for_each(|(column, length)| self.read(column, |text| length.check(text), remedy))
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
pub(crate) fn read_rows(list: &Path) -> Result<Vec<ListRow>, Problem> {
    let name = list.display().to_string();
    let text = load::text(list)?;
    let at = |place: Option<String>, cause: String, remedy: &str| {
        Problem::error(Subject::File { path: name.clone(), place }, cause, remedy)
    };
    let mut reader =
        csv::ReaderBuilder::new().trim(csv::Trim::All).flexible(false).from_reader(text.as_bytes());
    let head = head(&mut reader).map_err(|(cause, remedy)| at(Some("line 1".to_owned()), cause, &remedy))?;
    let shared: Arc<str> = name.as_str().into();
    let mut rows = Vec::new();
    for record in reader.records() {
        let record = record.map_err(|error| {
            let place = error.position().map(|position| format!("line {}", position.line()));
            let cause = match error.kind() {
                csv::ErrorKind::UnequalLengths { expected_len, len, .. } => {
                    format!("The row has {len} values, the first line names {expected_len} columns.")
                }
                _ => "The row cannot be read.".to_owned(),
            };
            at(place, cause, "Give every row as many values as the first.")
        })?;
        let line = record.position().map_or(0, csv::Position::line);
        let cells = head.iter().zip(&record).filter(|(_, cell)| !cell.is_empty());
        let values = cells.map(|(column, cell)| (*column, cells::text_of(cell).to_owned())).collect();
        let row = ListRow { list: Arc::clone(&shared), line, values };
        let kind = row.get("kind");
        if !KINDS.contains(&kind) {
            return Err(row.wrong(
                "kind",
                format!("'{}' is no kind of file.", Quoted(kind)),
                format!("Kinds are {}.", KINDS.join(", ")),
            ));
        }
        row.texts()?;
        rows.push(row);
    }
    if rows.is_empty() {
        return Err(at(None, "It has no rows.".to_owned(), "Give one row for each file."));
    }
    Ok(rows)
}

/// The columns that the first line names; what is wrong and what to do otherwise.
fn head(reader: &mut csv::Reader<&[u8]>) -> Result<Vec<&'static str>, (String, String)> {
    let broken =
        |_| ("It is no table of values with commas.".to_owned(), "Save it as CSV with commas.".to_owned());
    let mut head: Vec<&'static str> = Vec::new();
    for word in reader.headers().map_err(broken)? {
        let word = word.to_lowercase();
        match COLUMNS.iter().find(|column| **column == word) {
            Some(column) if head.contains(column) => {
                return Err((
                    format!("The column '{column}' stands there twice."),
                    "Leave one of them out.".to_owned(),
                ));
            }
            Some(column) => head.push(column),
            None => {
                let cause = format!("'{}' is no column of a list.", Quoted(&word));
                return Err((cause, format!("Columns are {}.", COLUMNS.join(", "))));
            }
        }
    }
    match ["file", "kind"].into_iter().find(|needed| !head.contains(needed)) {
        Some(needed) => Err((
            format!("The column '{needed}' is missing."),
            "Add the column, with a value in every row.".to_owned(),
        )),
        None => Ok(head),
    }
}
