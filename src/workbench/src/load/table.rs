//! Readings and tablet densities from text, in whatever way a densitometer's program or a spreadsheet wrote them.

use csv::{ReaderBuilder, Trim};
use twinwedge_core::document::ranges::{DENSITY, DENSITY_U, Range, STEP};
use twinwedge_core::document::{Tablet, TabletStep, TypedReading};
use twinwedge_core::problem::{Problem, Subject};

/// Reads densitometer readings from text: CSV, TSV, semicolons or blanks; decimal point or comma; header or none; byte
/// order mark; one column (density), or step and density, or step, density and uncertainty; in either direction of steps.
/// `name` stands in problems. Lines that begin with '#' are remarks.
///
/// With a column of steps these say the direction. A single column is taken as it comes when its densities fall, as on a
/// negative exposed through a tablet from its thinnest step on; when they rise it was read from the other end and is
/// turned round.
///
/// # Errors
/// Names line and column: text where numbers belong, a step twice or missing, a density outside -0.5..=6, no reading.
pub fn readings(text: &str, name: &str) -> Result<Vec<TypedReading>, Problem> {
    let mut table = Table::read(text, name)?;
    if !table.stepped && table.rises() {
        table.rows.reverse();
    }
    Ok(table
        .rows
        .iter()
        .map(|row| TypedReading { density: row.density, u: row.u, set_aside: false })
        .collect())
}

/// Reads a tablet's known densities in the same forms. A single column whose densities fall is turned round.
///
/// # Errors
/// As [`readings`], fewer than two steps, and densities that do not rise from step to step.
pub fn tablet(text: &str, name: &str) -> Result<Tablet, Problem> {
    let mut table = Table::read(text, name)?;
    if !table.stepped && !table.rises() {
        table.rows.reverse();
    }
    if table.rows.len() < 2 {
        return Err(at(name, None, "The tablet has one step only.", "Give the densities of all its steps."));
    }
    if let Some(pair) = table.rows.windows(2).find(|pair| pair[1].density <= pair[0].density) {
        let (before, row) = (&pair[0], &pair[1]);
        return Err(at(
            name,
            Some(format!("line {}", row.line)),
            format!(
                "Densities of a tablet must rise from step to step, but step {} has {} after {}.",
                row.step, row.density, before.density
            ),
            "Put the steps in order, or correct the density.",
        ));
    }
    let steps = table.rows.iter().map(|row| TabletStep { density: row.density, u: row.u }).collect();
    Ok(Tablet { label: name.to_owned(), nominal: false, shared_u: 0.0, steps })
}

/// One line of numbers.
struct Row {
    line: u64,
    step: u32,
    density: f64,
    u: Option<f64>,
}

struct Table {
    /// By step, 1 first.
    rows: Vec<Row>,
    /// The text said which step is which.
    stepped: bool,
}

/// Which column holds what.
#[derive(Clone, Copy)]
struct Columns {
    step: Option<usize>,
    density: usize,
    u: Option<usize>,
}

impl Table {
    fn read(text: &str, name: &str) -> Result<Self, Problem> {
        let lines = lines(text, name)?;
        let header = lines.first().filter(|line| line.cells.iter().all(|cell| number(cell).is_none()));
        let body = &lines[usize::from(header.is_some())..];
        let Some(first) = body.first() else {
            return Err(at(name, None, "There is no reading in it.", "Give one line for every step."));
        };
        let columns = match header.and_then(|line| named(&line.cells)) {
            Some(columns) => columns,
            None => by_place(first, name)?,
        };
        let mut rows = Vec::with_capacity(body.len());
        for (line, place) in body.iter().zip(1_u32..) {
            rows.push(row(line, columns, place, name)?);
        }
        if columns.step.is_some() {
            rows.sort_by_key(|row| row.step);
            in_order(&rows, name)?;
        }
        Ok(Self { rows, stepped: columns.step.is_some() })
    }

    /// Whether the last density is higher than the first.
    fn rises(&self) -> bool {
        self.rows.last().map(|row| row.density) > self.rows.first().map(|row| row.density)
    }
}

struct Line {
    number: u64,
    cells: Vec<String>,
}

/// The cells of all lines that hold any.
fn lines(text: &str, name: &str) -> Result<Vec<Line>, Problem> {
    let text = text.strip_prefix('\u{feff}').unwrap_or(text);
    let delimiter = delimiter(text);
    let mut found = Vec::new();
    let mut push = |number: u64, mut cells: Vec<String>| {
        while cells.last().is_some_and(String::is_empty) {
            cells.pop();
        }
        if !cells.is_empty() {
            found.push(Line { number, cells });
        }
    };
    let Some(delimiter) = delimiter else {
        for (number, line) in (1..).zip(text.lines()).filter(|(_, line)| !line.trim_start().starts_with('#'))
        {
            push(number, line.split_whitespace().map(str::to_owned).collect());
        }
        return Ok(found);
    };
    let mut reader = ReaderBuilder::new()
        .delimiter(delimiter)
        .has_headers(false)
        .flexible(true)
        .trim(Trim::All)
        .comment(Some(b'#'))
        .from_reader(text.as_bytes());
    for record in reader.records() {
        let record = record.map_err(|error| {
            let place = error.position().map(|position| format!("line {}", position.line()));
            at(name, place, "The table cannot be divided into cells.", "Save it as plain CSV in UTF-8.")
        })?;
        let number = record.position().map_or(0, csv::Position::line);
        push(number, record.iter().map(str::to_owned).collect());
    }
    Ok(found)
}

/// What stands between columns; `None` for blanks. A comma is one only where it cannot be a decimal comma: beside decimal
/// points, twice in a line, or after whole numbers that count the lines.
fn delimiter(text: &str) -> Option<u8> {
    if text.contains(';') {
        return Some(b';');
    }
    if text.contains('\t') {
        return Some(b'\t');
    }
    let lines = || text.lines().map(str::trim).filter(|line| !line.is_empty() && !line.starts_with('#'));
    let numbers =
        || lines().filter(|line| line.starts_with(|c: char| c.is_ascii_digit() || "+-.,".contains(c)));
    let commas = |line: &str| line.matches(',').count();
    if !numbers().any(|line| line.contains(',')) {
        return lines().any(|line| line.contains(',')).then_some(b',');
    }
    let blanks = numbers().any(|line| line.split_whitespace().count() > 1 && !line.contains(", "));
    let decimal = !numbers().any(|line| line.contains('.') || line.contains('"'))
        && numbers().all(|line| line.split_whitespace().all(|cell| commas(cell) <= 1))
        && (blanks || !counts(numbers()));
    if decimal { None } else { Some(b',') }
}

/// Whether what stands before the commas counts 1, 2, 3 ... or back, over at least two lines.
fn counts<'a>(lines: impl Iterator<Item = &'a str>) -> bool {
    let before: Vec<Option<i64>> =
        lines.map(|line| line.split(',').next().and_then(|cell| cell.trim().parse().ok())).collect();
    let by =
        |step: i64| before.windows(2).all(|pair| pair[0].zip(pair[1]).is_some_and(|(a, b)| b - a == step));
    before.len() > 1 && (by(1) || by(-1))
}

/// A number with decimal point or comma; nothing else, and no infinity.
fn number(cell: &str) -> Option<f64> {
    let plain = |c: char| c.is_ascii_digit() || "+-.,eE".contains(c);
    let cell = cell.replace('\u{2212}', "-");
    if cell.is_empty() || !cell.chars().all(plain) || (cell.contains(',') && cell.contains('.')) {
        return None;
    }
    cell.replace(',', ".").parse().ok().filter(|v: &f64| v.is_finite())
}

/// The columns by the words of a header, if one of them says density.
fn named(cells: &[String]) -> Option<Columns> {
    let find = |words: &[&str]| {
        cells.iter().position(|cell| {
            let cell = cell.to_lowercase();
            words.iter().any(|word| cell == *word || (word.len() > 2 && cell.starts_with(word)))
        })
    };
    let density = find(&["density", "d", "reading"])?;
    let step = find(&["step", "no", "no.", "nr", "#", "number", "patch"]);
    let u = find(&["uncertainty", "u", "sd", "sigma", "error", "+-", "±"]);
    Some(Columns { step, density, u })
}

/// The columns by their number: density; step and density; step, density and uncertainty.
fn by_place(line: &Line, name: &str) -> Result<Columns, Problem> {
    match line.cells.len() {
        1 => Ok(Columns { step: None, density: 0, u: None }),
        2 => Ok(Columns { step: Some(0), density: 1, u: None }),
        3 => Ok(Columns { step: Some(0), density: 1, u: Some(2) }),
        more => Err(at(
            name,
            Some(format!("line {}", line.number)),
            format!(
                "There are {more} columns; expected are density, or step and density, or step, density and uncertainty."
            ),
            "Leave the others out, or name the columns in a first line: step, density, uncertainty.",
        )),
    }
}

fn row(line: &Line, columns: Columns, place: u32, name: &str) -> Result<Row, Problem> {
    let spot = |column: usize| Some(format!("line {}, column {}", line.number, column + 1));
    let read = |column: usize, what: &str| {
        let cell = line.cells.get(column).map_or("", String::as_str);
        number(cell).ok_or_else(|| {
            let cause = if cell.is_empty() {
                format!("The {what} is missing.")
            } else {
                format!("'{cell}' stands where the {what} belongs, which must be a number.")
            };
            at(name, spot(column), cause, "Correct it or delete the line.")
        })
    };
    let step = match columns.step {
        None => place,
        Some(column) => {
            let value = read(column, "step")?;
            if !STEP.holds(value) || value.fract().abs() > 0.0 {
                return Err(at(
                    name,
                    spot(column),
                    format!("{value} is not the number of a step, which is a whole number from 1."),
                    "Put steps in the first column and densities in the second, or densities alone.",
                ));
            }
            value as u32
        }
    };
    let density = read(columns.density, "density")?;
    if !DENSITY.holds(density) {
        return Err(at(
            name,
            spot(columns.density),
            outside(density, "density", &DENSITY),
            "Check the column and the decimal sign.",
        ));
    }
    let u = match columns.u.filter(|column| line.cells.get(*column).is_some_and(|cell| !cell.is_empty())) {
        None => None,
        Some(column) => Some(read(column, "uncertainty")?),
    };
    if let (Some(value), Some(column)) = (u, columns.u)
        && !DENSITY_U.holds(value)
    {
        return Err(at(
            name,
            spot(column),
            outside(value, "uncertainty of a density", &DENSITY_U),
            "Check the column and the decimal sign.",
        ));
    }
    Ok(Row { line: line.number, step, density, u })
}

fn outside(value: f64, what: &str, range: &Range) -> String {
    format!("{value} is no {what}: it must be from {}.", range.words())
}

/// Steps must count from 1 without gaps.
fn in_order(rows: &[Row], name: &str) -> Result<(), Problem> {
    for (row, wanted) in rows.iter().zip(1..) {
        let cause = match row.step {
            step if step == wanted => continue,
            step if step < wanted => format!("Step {step} stands there twice."),
            _ => format!("Step {wanted} is missing."),
        };
        let place = Some(format!("line {}", row.line));
        return Err(at(name, place, cause, "Give every step from 1 to the last once."));
    }
    Ok(())
}

fn at(name: &str, place: Option<String>, cause: impl Into<String>, remedy: &str) -> Problem {
    Problem::error(Subject::File { path: name.to_owned(), place }, cause, remedy)
}
