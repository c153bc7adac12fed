//! Readings and tablet densities from text, in whatever way a densitometer's program, a spreadsheet or a person wrote them.

mod cgats;
mod columns;
mod lines;
mod repeats;
mod stated;

use twinwedge_core::document::ranges::{DENSITY, DENSITY_U, Range, STEP};
use twinwedge_core::document::{Tablet, TabletStep, TypedReading};
use twinwedge_core::problem::{Problem, Subject};
use twinwedge_core::shown::Quoted;
use twinwedge_core::spectra::density::DensityKind;
use twinwedge_core::words::Sentence;

use columns::{Columns, by_content, named};
use lines::{Line, Lines, nearly, not_read, number, thousands};
use repeats::Means;

use crate::words::{Remedy, Table as Known};
pub use stated::Stated;

/// What a table of readings holds.
#[derive(Debug, Clone, PartialEq)]
pub struct Table {
    /// The readings, step 1 first; steps that were not read are marked as missing.
    pub readings: Vec<TypedReading>,
    /// What the text says beside them.
    pub stated: Stated,
    /// The densities were computed from spectra.
    pub from_spectra: bool,
    /// What was made of the table that a reader of the result should know.
    pub notes: Vec<Problem>,
}

/// Most lines of a table: no tablet has more steps.
const MOST_LINES: usize = 1000;

/// Reads densitometer readings from text: CSV, TSV, semicolons, blanks or CGATS; decimal point or comma; byte order mark. Lines of
/// text before the table, remarks and blank lines are passed over; what is missing is told.
///
/// The columns are those that a head row names: step, density, uncertainty, in any order, others beside them. Several columns
/// of densities are repeat readings: their mean is taken, and its uncertainty from their scatter. Without a head row they are
/// one column (density), or step and density, or step, density and uncertainty or repeat readings, where their numbers leave
/// no doubt. `name` stands in problems.
///
/// With a column of steps these say the direction. A single column is taken as it comes when its densities fall, as on a
/// negative exposed through a tablet from its thinnest step on; when they rise it was read from the other end and is
/// turned round.
///
/// # Errors
/// Names line and column: text where numbers belong, a step twice, a density outside -0.5..=6, columns that cannot be told
/// apart, no reading.
pub fn table(text: &str, name: &str) -> Result<Table, Problem> {
    table_of(text, name, None)
}

/// As [`table`], of the densities of one kind, computed from the spectra of CGATS text.
///
/// # Errors
/// As [`table`], and where the text has no spectra.
pub fn table_from_spectra(text: &str, name: &str, kind: DensityKind) -> Result<Table, Problem> {
    table_of(text, name, Some(kind))
}

fn table_of(text: &str, name: &str, kind: Option<DensityKind>) -> Result<Table, Problem> {
    let mut read = Read::of(text, name, false, kind)?;
    let last = read.rows.iter().map(|row| row.step).chain(read.empty.iter().copied()).max().unwrap_or(0);
    let mut readings = vec![TypedReading::missing(); last as usize];
    for row in &read.rows {
        if let Some(reading) = readings.get_mut(row.step as usize - 1) {
            *reading = TypedReading { u: row.u, ..TypedReading::new(row.density) };
        }
    }
    if !read.stepped && read.rises() {
        readings.reverse();
    }
    read.tell_missing(&readings)?;
    let Read { stated, from_spectra, notes, .. } = read;
    Ok(Table { readings, stated, from_spectra, notes })
}

/// The cells of a text line by line, as tables are divided into them; remarks and blank lines aside. For whoever asks what a text
/// is before it is read as that.
pub(crate) fn grid(text: &str) -> Vec<Vec<String>> {
    let lines = Lines::of(text).lines.into_iter().filter(|line| !line.remark);
    lines.map(|line| line.cells).collect()
}

/// The number that a cell holds, with decimal point or comma.
pub(crate) fn number_in(cell: &str) -> Option<f64> {
    number(cell)
}

/// The readings of [`table`] alone.
///
/// # Errors
/// As [`table`].
pub fn readings(text: &str, name: &str) -> Result<Vec<TypedReading>, Problem> {
    table(text, name).map(|table| table.readings)
}

/// Reads a tablet's known densities in the same forms. A single column whose densities fall is turned round.
///
/// # Errors
/// As [`table`], fewer than two steps, steps without a density, and densities that do not rise from step to step.
pub fn tablet(text: &str, name: &str) -> Result<Tablet, Problem> {
    let mut read = Read::of(text, name, true, None)?;
    if !read.stepped && !read.rises() {
        read.rows.reverse();
    }
    if read.rows.len() < 2 {
        return Err(at(name, None, Known::OneStep, Remedy::AllSteps));
    }
    for (row, wanted) in read.rows.iter().zip(1..).filter(|_| read.stepped) {
        if row.step != wanted {
            let cause = Known::StepWithoutDensity { step: wanted };
            let remedy = Remedy::EveryStep;
            return Err(at(name, Some(format!("line {}", row.line)), cause, remedy));
        }
    }
    if let Some(pair) = read.rows.windows(2).find(|pair| pair[1].density <= pair[0].density) {
        let (before, row) = (&pair[0], &pair[1]);
        return Err(at(
            name,
            Some(format!("line {}", row.line)),
            Known::NotRising { step: row.step, density: row.density, before: before.density },
            Remedy::InOrder,
        ));
    }
    let steps = read.rows.iter().map(|row| TabletStep { density: row.density, u: row.u }).collect();
    Ok(Tablet { label: name.to_owned(), nominal: false, shared_u: 0.0, steps })
}

/// One step's numbers.
struct StepRow {
    line: usize,
    step: u32,
    density: f64,
    u: Option<f64>,
}

/// A table that was read.
struct Read<'a> {
    name: &'a str,
    /// By step, 1 first.
    rows: Vec<StepRow>,
    /// Steps whose line holds no density.
    empty: Vec<u32>,
    /// The text said which step is which.
    stepped: bool,
    from_spectra: bool,
    stated: Stated,
    notes: Vec<Problem>,
}

impl<'a> Read<'a> {
    fn of(text: &str, name: &'a str, tablet: bool, kind: Option<DensityKind>) -> Result<Self, Problem> {
        let cgats::AsTable { text, density, told } = cgats::as_table(text, name, kind)?;
        let lines = Lines::of(&text);
        if let Some(line) = lines.endless {
            let cause = Known::Endless;
            return Err(at(name, Some(format!("line {line}")), cause, Remedy::RightFile));
        }
        let (head, body) = divided(&lines, tablet);
        let begins = body.first().map_or(usize::MAX, |line| line.number);
        let outside =
            lines.lines.iter().filter(|line| line.remark || line.number < begins || !line.has_number());
        let mut stated = Stated { density, ..Stated::of(outside) };
        let body: Vec<&Line> = body.into_iter().filter(|line| !stated.take_row(line)).collect();
        let rows = rows_of(&lines, body, head.as_ref(), name)?;
        let columns = match head {
            Some(columns) => columns,
            None => by_content(&rows, tablet).ok_or_else(|| unnamed(&rows, name))?,
        };
        let mut read = Self {
            name,
            rows: Vec::new(),
            empty: Vec::new(),
            stepped: columns.step.is_some(),
            from_spectra: told.is_some(),
            stated,
            notes: Vec::new(),
        };
        read.take(&rows, &columns)?;
        if let Some(told) = told {
            read.note(told, Remedy::CheckMeaning);
        }
        Ok(read)
    }

    /// Reads the rows, joins repeat readings, and puts steps in order.
    fn take(&mut self, rows: &[&Line], columns: &Columns) -> Result<(), Problem> {
        let mut read: Vec<Repeated> = Vec::new();
        for (line, place) in rows.iter().zip(1_u32..) {
            let row = Repeated::of(line, columns, place, self.name)?;
            if row.densities.is_empty() { self.empty.push(row.step) } else { read.push(row) }
        }
        if read.is_empty() {
            return Err(at(self.name, None, Known::NoReading, Remedy::OneLineEach));
        }
        let several = columns.densities.len() > 1;
        let densities: Vec<Vec<f64>> = read.iter().map(|row| row.densities.clone()).collect();
        let found = if several { Some(repeats::means(&densities)) } else { None };
        for (at, row) in read.iter().enumerate() {
            let (density, scatter) = found.as_ref().map_or((row.densities[0], None), |found| found.means[at]);
            self.rows.push(StepRow { line: row.line, step: row.step, density, u: row.u.or(scatter) });
        }
        if let Some(found) = found {
            self.tell_repeats(&found, &read, columns);
        }
        if !columns.left_out.is_empty() {
            let names: Vec<String> =
                columns.left_out.iter().map(|name| format!("'{}'", Quoted(name))).collect();
            self.note(Known::NotTaken { columns: names.join(", ") }, Remedy::NameRepeats);
        }
        if self.stepped {
            self.rows.sort_by_key(|row| row.step);
            if let Some(pair) = self.rows.windows(2).find(|pair| pair[0].step == pair[1].step) {
                let (place, cause) =
                    (Some(format!("line {}", pair[1].line)), Known::StepTwice { step: pair[1].step });
                let remedy = Remedy::StepsOnce;
                return Err(at(self.name, place, cause, remedy));
            }
        }
        Ok(())
    }

    fn tell_repeats(&mut self, found: &Means, read: &[Repeated], columns: &Columns) {
        let count = columns.densities.len();
        self.note(Known::Means { count, scatter: found.scatter }, Remedy::NameOthers);
        for at in &found.disagreeing {
            let (least, most) =
                read[*at].densities.iter().fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), value| {
                    (low.min(*value), high.max(*value))
                });
            let cause = Known::Disagree { step: read[*at].step, least, most };
            self.doubt(read[*at].line, cause, Remedy::ReadAgain);
        }
        let rows = read.iter().zip(&found.means);
        let off = |(row, (mean, _)): &(&Repeated, &(f64, Option<f64>))| {
            row.mean.is_some_and(|told| (told - mean).abs() > 0.0051)
        };
        if let Some((row, (mean, _))) = rows.into_iter().find(off) {
            let cause = Known::OtherMean { step: row.step, told: row.mean.unwrap_or_default(), mean: *mean };
            self.doubt(row.line, cause, Remedy::WhichIsRight);
        }
    }

    /// Tells which steps are missing.
    fn tell_missing(&mut self, readings: &[TypedReading]) -> Result<(), Problem> {
        let numbered = readings.iter().zip(1..).filter(|(reading, _)| reading.missing);
        let missing: Vec<usize> = numbered.map(|(_, step)| step).collect();
        if missing.len() > readings.len() / 2 {
            let last = readings.len();
            let cause = Known::FewSteps { last, read: last - missing.len() };
            let place = self.rows.last().map(|row| format!("line {}", row.line));
            return Err(at(self.name, place, cause, Remedy::CheckNumbers));
        }
        if !missing.is_empty() {
            let cause = Known::StepsMissing { steps: listed(&missing), several: missing.len() > 1 };
            self.note(cause, Remedy::ReadMissing);
        }
        Ok(())
    }

    /// Whether the last density is higher than the first.
    fn rises(&self) -> bool {
        self.rows.last().map(|row| row.density) > self.rows.first().map(|row| row.density)
    }

    fn note(&mut self, cause: Known, remedy: Remedy) {
        let subject = Subject::File { path: self.name.to_owned(), place: None };
        self.notes.push(Problem::note(subject, cause, remedy));
    }

    fn doubt(&mut self, line: usize, cause: Known, remedy: Remedy) {
        let subject = Subject::File { path: self.name.to_owned(), place: Some(format!("line {line}")) };
        self.notes.push(Problem::doubt(subject, cause, remedy));
    }
}

/// '3', '3 and 7', '3, 7 and 12'; a long list ends with how many more.
fn listed(steps: &[usize]) -> String {
    const MOST_NAMED: usize = 8;
    let words: Vec<String> = steps.iter().take(MOST_NAMED).map(ToString::to_string).collect();
    match words.split_last() {
        Some(_) if steps.len() > MOST_NAMED => {
            format!("{} and {} more", words.join(", "), steps.len() - MOST_NAMED)
        }
        Some((last, [])) => last.clone(),
        Some((last, before)) => format!("{} and {last}", before.join(", ")),
        None => String::new(),
    }
}

/// The columns that the head row names, and the lines after it; without a head row the lines from the first row of numbers
/// on.
fn divided(lines: &Lines, tablet: bool) -> (Option<Columns>, Vec<&Line>) {
    let all = &lines.lines;
    let after = |at: usize| -> Vec<&Line> { all[at..].iter().filter(|line| !line.remark).collect() };
    for (at, line) in all.iter().enumerate() {
        let next = all[at + 1..].iter().find(|line| !line.remark);
        // The last number of the line below needs a name, too: else it is a heading.
        let columns = next.and_then(|next| next.cells.iter().rposition(|cell| number(cell).is_some()));
        let Some(columns) = columns.map(|last| last + 1) else { continue };
        let cells = lines.head(line, columns);
        if let Some(columns) = named(&cells, tablet).filter(|_| cells.len() >= columns) {
            return (Some(columns), after(at + 1));
        }
    }
    let first = all.iter().position(Line::is_row);
    // Without one, the first line with a number is what the message is about.
    let first = first.or_else(|| all.iter().position(|line| !line.remark && line.has_number()));
    (None, first.map(after).unwrap_or_default())
}

/// The lines that stand for steps, of those from the table's first on: lines of numbers and, between them, lines that say that
/// nothing was read.
fn rows_of<'a>(
    lines: &'a Lines,
    body: Vec<&'a Line>,
    head: Option<&Columns>,
    name: &str,
) -> Result<Vec<&'a Line>, Problem> {
    let numbers = || body.iter().filter(|line| line.has_number());
    let (Some(first), Some(last)) = (numbers().next(), numbers().next_back()) else {
        return Err(at(name, None, Known::NoReading, Remedy::OneLineEach));
    };
    let (first, last) = (first.number, last.number);
    let column = head.map_or(0, |columns| columns.densities[0]);
    let numbered =
        head.map_or_else(|| numbers().all(|line| line.cells.len() > 1), |columns| columns.step.is_some());
    // A number with a slip of the pen before or after the others must not pass for a heading: all steps would move.
    let slip = |line: &&Line| !line.remark && line.cells.len() == 1 && nearly(&line.cells[0]);
    let begins = if head.is_some() { first } else { 0 };
    let around =
        lines.lines.iter().filter(|line| (line.number > begins && line.number < first) || line.number > last);
    if let Some(line) = around.filter(|_| !numbered).find(slip) {
        return Err(no_number(line, column, "density", name));
    }
    let mut rows = Vec::new();
    for line in body.into_iter().filter(|line| (first..=last).contains(&line.number)) {
        let empty = line.cells.iter().all(|cell| not_read(cell));
        if line.has_number() || (empty && !numbered) {
            rows.push(line);
        } else if !empty && (!numbered || line.text.contains(|c: char| c.is_ascii_digit())) {
            return Err(no_number(line, column.min(line.cells.len() - 1), "density", name));
        }
    }
    if rows.len() > MOST_LINES {
        let cause = Known::ManyLines { lines: rows.len(), most: MOST_LINES };
        return Err(at(name, None, cause, Remedy::RightFile));
    }
    Ok(rows)
}

/// The problem of columns that no head row names and whose numbers leave doubt, or that are no numbers.
fn unnamed(rows: &[&Line], name: &str) -> Problem {
    let text = |line: &&&Line| line.cells.iter().position(|cell| number(cell).is_none() && !not_read(cell));
    if let Some((line, column)) = rows.iter().find_map(|line| Some((line, text(&line)?))) {
        return no_number(line, column, "density", name);
    }
    let width = rows.iter().map(|line| line.cells.len()).max().unwrap_or(0);
    let first = rows[0];
    let step = first.cells.first().and_then(|cell| number(cell)).unwrap_or(0.0);
    if width == 2 && (!STEP.holds(step) || step.fract().abs() > 0.0) {
        return at(
            name,
            Some(format!("line {}, column 1", first.number)),
            Known::NoStepNorNames { value: step },
            Remedy::NameColumns,
        );
    }
    let cause = Known::Unnamed { columns: width };
    at(name, Some(format!("line {}", first.number)), cause, Remedy::NameColumns)
}

/// The problem of a cell that is no number.
fn no_number(line: &Line, column: usize, what: &str, name: &str) -> Problem {
    let cell = line.cells.get(column).map_or("", String::as_str);
    let place = Some(format!("line {}, column {}", line.number, column + 1));
    let what = what.to_owned();
    let (cause, remedy) = if thousands(cell) {
        (Known::TwoSigns { cell: Quoted(cell).to_string(), what }, Remedy::OneSign)
    } else if cell.is_empty() {
        (Known::CellMissing { what }, Remedy::WriteOrLeaveOut)
    } else {
        (Known::NoNumber { cell: Quoted(cell).to_string(), what }, Remedy::CorrectOrEmpty)
    };
    at(name, place, cause, remedy)
}

/// One line: its step and the readings in it.
struct Repeated {
    line: usize,
    step: u32,
    densities: Vec<f64>,
    u: Option<f64>,
    mean: Option<f64>,
}

impl Repeated {
    fn of(line: &Line, columns: &Columns, place: u32, name: &str) -> Result<Self, Problem> {
        let cell = |column: usize| line.cells.get(column).map_or("", String::as_str);
        let read = |column: usize, what: &str, range: &Range| -> Result<Option<f64>, Problem> {
            if not_read(cell(column)) {
                return Ok(None);
            }
            let value = number(cell(column)).ok_or_else(|| no_number(line, column, what, name))?;
            if range.holds(value) {
                return Ok(Some(value));
            }
            let spot = Some(format!("line {}, column {}", line.number, column + 1));
            let cause = Known::OutOfRange { value, what: what.to_owned(), range: range.words() };
            Err(at(name, spot, cause, Remedy::CheckColumn))
        };
        let mut densities = Vec::new();
        for column in &columns.densities {
            densities.extend(read(*column, "density", &DENSITY)?);
        }
        let step = match columns.step {
            None => place,
            Some(column) => step(line, column, name)?,
        };
        let u = columns.u.map_or(Ok(None), |column| read(column, "uncertainty of a density", &DENSITY_U))?;
        let mean = columns.mean.and_then(|column| number(cell(column)));
        // A step whose mean alone was kept.
        if let (true, Some(mean)) = (densities.is_empty(), mean.filter(|mean| DENSITY.holds(*mean))) {
            densities.push(mean);
        }
        Ok(Self { line: line.number, step, densities, u, mean })
    }
}

fn step(line: &Line, column: usize, name: &str) -> Result<u32, Problem> {
    let cell = line.cells.get(column).map_or("", String::as_str);
    let value = number(cell).ok_or_else(|| no_number(line, column, "step", name))?;
    if STEP.holds(value) && value.fract().abs() < 1e-9 {
        return Ok(value as u32);
    }
    Err(at(
        name,
        Some(format!("line {}, column {}", line.number, column + 1)),
        Known::NoStep { value },
        Remedy::NumberSteps,
    ))
}

fn at(name: &str, place: Option<String>, cause: impl Into<Sentence>, remedy: Remedy) -> Problem {
    Problem::error(Subject::File { path: name.to_owned(), place }, cause, remedy)
}
