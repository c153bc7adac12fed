//! Tables for spreadsheets: a row a film, a row a patch, or a row a film and figure, with a decimal point or comma.

use twinwedge_core::compare::PatchRow;
use twinwedge_core::document::Film;
use twinwedge_core::figures;
use twinwedge_core::measured::{Bound, Measured, Value};
use twinwedge_core::problem::Problem;

use super::cells::cell_of;
use super::tables::{COLUMNS, difference_cells, figure_of, role, some_film, unwritable, value_cells};
use super::written::{DENSITY, difference_unit, unit_of};
use crate::engine::ask::{ComparisonOf, FiguresOf};
use crate::session::Session;

/// A table of the series that is written for a spreadsheet.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Table {
    /// A row a film and figure, with its difference from the reference.
    #[default]
    Figures,
    /// A row a film: each figure and its standard uncertainty.
    Films,
    /// A row a film and patch: its density, and its difference from the reference's.
    Patches,
}

/// How numbers are written.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Decimal {
    /// `0.31`, cells apart by commas (RFC 4180).
    #[default]
    Point,
    /// `0,31`, cells apart by semicolons, as spreadsheets want it where the comma is the decimal sign.
    Comma,
}

/// What spreadsheets know UTF-8 by; tables for scripts go without.
const MARK: &str = "\u{feff}";

/// A cell of a table.
enum Cell {
    Number(f64),
    Text(String),
    Nothing,
}

impl Cell {
    fn text(text: &str) -> Self {
        Self::Text(cell_of(text))
    }

    fn finite(number: f64) -> Self {
        if number.is_finite() { Self::Number(number) } else { Self::Nothing }
    }

    fn written(self, decimal: Decimal) -> String {
        match (self, decimal) {
            (Self::Number(number), Decimal::Point) => number.to_string(),
            (Self::Number(number), Decimal::Comma) => number.to_string().replace('.', ","),
            (Self::Text(text), _) => text,
            (Self::Nothing, _) => String::new(),
        }
    }
}

/// A table of the series as text, and what is missing or doubtful in the series. The table of figures with a decimal point is that
/// of [`super::figures_csv`]; the others begin with a byte order mark, by which spreadsheets know their encoding.
///
/// # Errors
/// There is no film.
pub fn table(session: &Session, table: Table, decimal: Decimal) -> Result<(String, Vec<Problem>), Problem> {
    let series = some_film(session)?;
    let mut check = session.begin_check();
    let mut sheet = Sheet::new(decimal);
    sheet.row(head(table).into_iter().map(Cell::Text))?;
    for film in &series.films {
        match table {
            Table::Figures => figures_of(session, film, &mut sheet)?,
            Table::Films => film_row(session, film, &mut sheet)?,
            Table::Patches => patch_rows(session, film, &mut sheet)?,
        }
        check.film(&film.id);
    }
    let marked = table != Table::Figures || decimal == Decimal::Comma;
    Ok((sheet.text(if marked { MARK } else { "" })?, check.finish()))
}

/// Whether a file with this head is one of these tables.
pub(super) fn is_table(head: &[u8]) -> bool {
    let head = String::from_utf8_lossy(head);
    let head = head.strip_prefix(MARK).unwrap_or(&head);
    ["film,role,", "film;role;"].iter().any(|begins| head.starts_with(begins))
}

fn head(table: Table) -> Vec<String> {
    let words = |words: &[&str]| words.iter().map(|&word| word.to_owned()).collect::<Vec<String>>();
    match table {
        Table::Figures => words(&COLUMNS),
        Table::Films => {
            let figures = figures::registry().iter().flat_map(|spec| {
                [
                    format!("{} [{}]", spec.label, unit_of(spec)),
                    format!("u of {}", spec.label),
                    format!("limit of {}", spec.label),
                ]
            });
            words(&["film", "role", "box speed"]).into_iter().chain(figures).collect()
        }
        Table::Patches => words(&[
            "film",
            "role",
            "patch",
            "unit",
            "density",
            "u",
            "low",
            "high",
            "flags",
            "difference",
            "difference u",
            "difference low",
            "difference high",
            "against grey",
            "against grey u",
            "distinguishable",
        ]),
    }
}

/// The cells of a table, row by row.
struct Sheet {
    writer: csv::Writer<Vec<u8>>,
    decimal: Decimal,
}

impl Sheet {
    fn new(decimal: Decimal) -> Self {
        let delimiter = match decimal {
            Decimal::Point => b',',
            Decimal::Comma => b';',
        };
        let mut builder = csv::WriterBuilder::new();
        let writer = builder.terminator(csv::Terminator::CRLF).delimiter(delimiter).from_writer(Vec::new());
        Self { writer, decimal }
    }

    fn row(&mut self, cells: impl IntoIterator<Item = Cell>) -> Result<(), Problem> {
        let cells = cells.into_iter().map(|cell| cell.written(self.decimal));
        self.writer.write_record(cells).map_err(|error| unwritable(&error))
    }

    fn text(self, mark: &str) -> Result<String, Problem> {
        let bytes = self.writer.into_inner().map_err(|error| unwritable(error.error()))?;
        let text = String::from_utf8(bytes).map_err(|error| unwritable(&error))?;
        Ok(format!("{mark}{text}"))
    }
}

/// The long table's cells are numbers where they read as such.
fn long(cell: String) -> Cell {
    cell.parse::<f64>().map_or(Cell::Text(cell), Cell::Number)
}

fn figures_of(session: &Session, film: &Film, sheet: &mut Sheet) -> Result<(), Problem> {
    let series = session.series();
    let figures = session.wait(&FiguresOf { film: film.id.clone() });
    let candidate = series.reference.is_some() && role(series, film) == "candidate";
    let comparison = candidate.then(|| session.wait(&ComparisonOf { film: film.id.clone() }));
    for spec in figures::registry() {
        let named =
            [film.label.as_str(), role(series, film), spec.key, spec.label, unit_of(spec)].map(Cell::text);
        let value = value_cells(&figure_of(&figures, spec));
        let difference = difference_cells(comparison.as_ref(), spec, difference_unit(spec));
        sheet.row(named.into_iter().chain(value.map(long)).chain(difference.map(long)))?;
    }
    Ok(())
}

/// Value, standard uncertainty, and of a bound its limit.
fn value_limit(value: &Value) -> [Cell; 3] {
    let Some(measured) = value.known() else { return [Cell::Nothing, Cell::Nothing, Cell::Nothing] };
    match measured.bound() {
        Some(Bound::AtLeast(limit)) => {
            [Cell::finite(measured.value), Cell::Nothing, Cell::text(&format!("at least {limit:.3}"))]
        }
        Some(Bound::AtMost(limit)) => {
            [Cell::finite(measured.value), Cell::Nothing, Cell::text(&format!("at most {limit:.3}"))]
        }
        None => [Cell::finite(measured.value), Cell::finite(measured.u), Cell::Nothing],
    }
}

fn film_row(session: &Session, film: &Film, sheet: &mut Sheet) -> Result<(), Problem> {
    let figures = session.wait(&FiguresOf { film: film.id.clone() });
    let named = [Cell::text(&film.label), Cell::text(role(session.series(), film))];
    let speed = film.box_speed.map_or(Cell::Nothing, Cell::finite);
    let values = figures::registry().iter().flat_map(|spec| value_limit(&figure_of(&figures, spec)));
    sheet.row(named.into_iter().chain([speed]).chain(values))
}

fn patch_rows(session: &Session, film: &Film, sheet: &mut Sheet) -> Result<(), Problem> {
    let Ok(figures) = session.wait(&FiguresOf { film: film.id.clone() }) else { return Ok(()) };
    let comparison = session.wait(&ComparisonOf { film: film.id.clone() }).ok();
    let candidate = role(session.series(), film) == "candidate";
    for patch in &figures.patches {
        let row = comparison.as_ref().filter(|_| candidate);
        let row = row.and_then(|comparison| comparison.patches.iter().find(|row| row.name == patch.name));
        let density = patch.sample.density.plain();
        let named = [film.label.as_str(), role(session.series(), film), &patch.name, DENSITY].map(Cell::text);
        let flags = Cell::text(&density.flags.words().join("; "));
        let cells = named.into_iter().chain(numbers(Some(&density))).chain([flags]).chain(differences(row));
        sheet.row(cells)?;
    }
    Ok(())
}

fn numbers(measured: Option<&Measured>) -> [Cell; 4] {
    measured.map_or([Cell::Nothing, Cell::Nothing, Cell::Nothing, Cell::Nothing], |measured| {
        [measured.value, measured.u, measured.low, measured.high].map(Cell::finite)
    })
}

/// Difference, its uncertainty and ends; against grey and its uncertainty; whether it is distinguishable.
fn differences(row: Option<&PatchRow>) -> impl Iterator<Item = Cell> {
    let [against, against_u, ..] = numbers(row.and_then(|row| row.against_grey.known()));
    let told = row
        .and_then(|row| row.distinguishable)
        .map_or(Cell::Nothing, |yes| Cell::text(if yes { "yes" } else { "no" }));
    numbers(row.and_then(|row| row.difference.known())).into_iter().chain([against, against_u, told])
}
