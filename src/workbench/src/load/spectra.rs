//! Spectra from text: wavelengths in the first column and a value of each spectrum beside them, or a CGATS table with one
//! spectrum in a row.

use crate::words::{self, Remedy};
use twinwedge_core::greys::spectrum::{Carries, Fault, Spectrum};
use twinwedge_core::problem::{Problem, Subject};
use twinwedge_core::shown::{Quoted, Shown};
use twinwedge_core::words::Sentence;

/// Spectra of a file.
#[derive(Debug, Clone, PartialEq)]
pub struct Spectra {
    /// Each with its name; empty where the file names none.
    pub named: Vec<(String, Spectrum)>,
    /// What was made of the file that a reader of the result should know.
    pub notes: Vec<Problem>,
}

/// Most spectra that a file may hold.
const MOST_SPECTRA: usize = 10_000;
/// What is wrong is mended at most so many times: each fault of writing once.
const MENDINGS: usize = 4;

/// Reads spectra from text: CSV, TSV, semicolons or blanks; a decimal comma where cells are parted otherwise. The first column
/// holds wavelengths in nanometres and each further one a spectrum, named in the first line; in a CGATS file each row is a
/// spectrum, and its wavelengths stand in the names of the columns. Wavelengths in another order or unit, shares in per cent
/// and columns the wrong way round are put right and told. `name` stands in problems.
///
/// # Errors
/// No numbers, rows of unlike length, and what makes a spectrum that cannot be used: one sentence each.
pub fn spectra(text: &str, name: &str, carries: Carries) -> Result<Spectra, Problem> {
    let text = text.strip_prefix('\u{feff}').unwrap_or(text);
    let columns = if text.lines().any(|line| line.trim() == "BEGIN_DATA_FORMAT") {
        cgats(text, name)?
    } else {
        table(text, name)?
    };
    if columns.len() > MOST_SPECTRA {
        let cause = words::Spectra::Many { spectra: columns.len(), most: MOST_SPECTRA };
        return Err(problem(name, cause, Remedy::RightFile));
    }
    let mut spectra = Spectra { named: Vec::new(), notes: Vec::new() };
    for Columns { called, nm, values } in columns {
        let (spectrum, mended) = read(carries, nm, values)
            .map_err(|fault| problem(name, sentence(fault, &called), remedy(fault)))?;
        for fault in mended {
            let cause = Sentence::from(put_right(fault));
            if spectra.notes.iter().all(|note| note.cause != cause) {
                spectra.notes.push(Problem::note(file(name), cause, Remedy::CheckMeaning));
            }
        }
        spectra.named.push((called, spectrum));
    }
    Ok(spectra)
}

/// One spectrum, from a file that holds one.
///
/// # Errors
/// As [`spectra`], and where the file holds several.
pub fn spectrum(text: &str, name: &str, carries: Carries) -> Result<(Spectrum, Vec<Problem>), Problem> {
    let Spectra { mut named, notes } = spectra(text, name, carries)?;
    match (named.pop(), named.len()) {
        (Some((_, one)), 0) => Ok((one, notes)),
        (_, more) => {
            let cause = words::Spectra::Several { spectra: more + 1 };
            Err(problem(name, cause, Remedy::LeaveOne))
        }
    }
}

/// Two columns that claim to be a spectrum.
struct Columns {
    called: String,
    nm: Vec<f64>,
    values: Vec<f64>,
}

/// The spectrum of two columns, and what was put right on the way.
fn read(carries: Carries, mut nm: Vec<f64>, mut values: Vec<f64>) -> Result<(Spectrum, Vec<Fault>), Fault> {
    let mut mended = Vec::new();
    loop {
        match Spectrum::new(carries, nm.clone(), values.clone()) {
            Ok(spectrum) => return Ok((spectrum, mended)),
            Err(fault) => match fault.mended(&nm, &values).filter(|_| mended.len() < MENDINGS) {
                Some((right_nm, right_values)) => {
                    (nm, values) = (right_nm, right_values);
                    mended.push(fault);
                }
                None => return Err(fault),
            },
        }
    }
}

fn file(name: &str) -> Subject {
    Subject::File { path: name.to_owned(), place: None }
}

fn problem(name: &str, cause: words::Spectra, remedy: Remedy) -> Problem {
    Problem::error(file(name), cause, remedy)
}

/// What was put right, for those that can be.
fn put_right(fault: Fault) -> words::Spectra {
    use words::Spectra::*;
    match fault {
        Fault::SwappedColumns => TurnedColumns,
        Fault::Descending => TurnedRows,
        Fault::Micrometres => TakenAsMicrometres,
        Fault::Angstroms => TakenAsAngstroms,
        Fault::Wavenumbers => TakenAsWavenumbers,
        Fault::PerCent => TakenAsPerCent,
        _ => PutRight,
    }
}

/// A fault as a sentence.
pub(super) fn sentence(fault: Fault, called: &str) -> words::Spectra {
    use words::Spectra::*;
    let of = if called.is_empty() {
        "The spectrum".to_owned()
    } else {
        format!("The spectrum '{}'", Shown(called))
    };
    match fault {
        Fault::Lengths => Lengths { of },
        Fault::TooFew => FewRows { of },
        Fault::NotFinite(row) => RowWithoutNumber { of, row: row + 1 },
        Fault::SwappedColumns => ColumnsTurned { of },
        Fault::Descending => Falling { of },
        Fault::Micrometres => InMicrometres { of },
        Fault::Angstroms => InAngstroms { of },
        Fault::Wavenumbers => InWavenumbers { of },
        Fault::UnknownUnit => UnknownUnit { of },
        Fault::Repeated(nm) => Twice { of, nm },
        Fault::Unordered(nm) => OutOfOrder { of, nm },
        Fault::Gap(from, to) => Gap { of, from, to },
        Fault::Negative(nm) => BelowZero { of, nm },
        Fault::PerCent => InPerCent { of },
        Fault::AboveOne(nm) => AboveOne { of, nm },
        Fault::Nothing => Zeros { of },
    }
}

fn remedy(fault: Fault) -> Remedy {
    match fault {
        Fault::Gap(..) | Fault::TooFew => Remedy::EveryTwenty,
        Fault::UnknownUnit => Remedy::InNanometres,
        Fault::Nothing => Remedy::RightFile,
        _ => Remedy::CorrectNothingTaken,
    }
}

/// The number in a cell: with a decimal comma where cells are not parted by commas.
pub(super) fn cell_number(cell: &str, comma_parts: bool) -> Option<f64> {
    let cell = cell.trim();
    let cell = cell.strip_suffix("nm").unwrap_or(cell).trim_end();
    let plain = cell.parse::<f64>().ok();
    plain.or_else(|| (!comma_parts).then(|| cell.replacen(',', ".", 1).parse().ok()).flatten())
}

fn unquoted(cell: &str) -> &str {
    cell.trim().trim_matches('"').trim()
}

/// The cells of a line: parted by semicolons or tabs where it has any, else by commas, else by blanks.
pub(super) fn cells(line: &str) -> (Vec<&str>, bool) {
    let parted = |by: char| -> Vec<&str> { line.split(by).map(unquoted).collect() };
    if line.contains(';') {
        (parted(';'), false)
    } else if line.contains('\t') {
        (parted('\t'), false)
    } else if line.contains(',') {
        (quoted_cells(line), true)
    } else {
        (line.split_whitespace().map(unquoted).collect(), false)
    }
}

/// The cells of a line that is parted by commas, of which those within quotation marks part nothing.
fn quoted_cells(line: &str) -> Vec<&str> {
    let (mut cells, mut from, mut within) = (Vec::new(), 0, false);
    for (at, c) in line.char_indices() {
        match c {
            '"' => within = !within,
            ',' if !within => {
                cells.push(unquoted(&line[from..at]));
                from = at + 1;
            }
            _ => {}
        }
    }
    cells.push(unquoted(&line[from..]));
    cells
}

/// Spectra in columns.
fn table(text: &str, name: &str) -> Result<Vec<Columns>, Problem> {
    let mut head: Vec<String> = Vec::new();
    let mut rows: Vec<(usize, Vec<f64>)> = Vec::new();
    for (i, line) in text.lines().enumerate() {
        let line = line.trim();
        if line.is_empty() || line.starts_with('#') {
            continue;
        }
        let (cells, comma_parts) = cells(line);
        let numbers: Vec<Option<f64>> = cells.iter().map(|cell| cell_number(cell, comma_parts)).collect();
        if rows.is_empty() && numbers.iter().any(Option::is_none) {
            head = cells.into_iter().map(str::to_owned).collect();
            continue;
        }
        if let Some(place) = numbers.iter().position(Option::is_none) {
            let cause =
                words::Spectra::NoNumberInLine { line: i + 1, cell: Quoted(cells[place]).to_string() };
            return Err(problem(name, cause, Remedy::CorrectNothingTaken));
        }
        rows.push((i + 1, numbers.into_iter().flatten().collect()));
    }
    let columns = rows.first().map_or(0, |(_, row)| row.len());
    if columns < 2 {
        let remedy = Remedy::InColumns;
        return Err(problem(name, words::Spectra::NoColumns, remedy));
    }
    if let Some((line, row)) = rows.iter().find(|(_, row)| row.len() != columns) {
        let cause = words::Spectra::NumbersOfLine { line: *line, numbers: row.len(), first: columns };
        return Err(problem(name, cause, Remedy::CorrectNothingTaken));
    }
    let named = head.len() == columns;
    let column = |number: usize| rows.iter().map(|(_, row)| row[number]).collect::<Vec<f64>>();
    let one = |number: usize| Columns {
        // The word over the only column says what it carries and is no name.
        called: if named && columns > 2 { head[number].clone() } else { String::new() },
        nm: column(0),
        values: column(number),
    };
    Ok((1..columns).map(one).collect())
}

/// What the values of a spectrum of a sample are written as.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Scale {
    /// From 0 to 1.
    Share,
    /// From 0 to 100.
    PerCent,
}

/// Beginnings of fields that say the scale of their values.
pub(super) const SCALES: [(&str, Scale); 2] =
    [("spectral_dec", Scale::Share), ("spectral_pct", Scale::PerCent)];

impl Scale {
    /// What 1 of it is as a share.
    pub(super) fn unit(self) -> f64 {
        match self {
            Self::Share => 1.0,
            Self::PerCent => 0.01,
        }
    }

    pub(super) fn words(self) -> &'static str {
        match self {
            Self::Share => "shares of light from 0 to 1",
            Self::PerCent => "per cent",
        }
    }
}

/// The wavelength in nanometres that a field of a CGATS table is named after.
pub(super) fn wavelength_field(field: &str) -> Option<f64> {
    let field = field.to_ascii_lowercase();
    let starts = ["spectral_nm", "spectral_dec", "spectral_pct", "spectral_", "nm"];
    let number = starts.iter().find_map(|start| field.strip_prefix(start))?;
    number.trim_start_matches('_').parse().ok().filter(|nm: &f64| nm.is_finite())
}

/// Spectra in the rows of a CGATS table (ISO 28178): fields `SPECTRAL_NM_400`, `SPECTRAL_NM400` or `nm400`.
fn cgats(text: &str, name: &str) -> Result<Vec<Columns>, Problem> {
    let between = |from: &str, to: &str| -> Vec<&str> {
        let inner = text.lines().map(str::trim).skip_while(|line| *line != from).skip(1);
        inner.take_while(|line| *line != to).filter(|line| !line.is_empty()).collect()
    };
    let fields: Vec<&str> =
        between("BEGIN_DATA_FORMAT", "END_DATA_FORMAT").into_iter().flat_map(str::split_whitespace).collect();
    let places: Vec<(usize, f64)> = fields
        .iter()
        .enumerate()
        .filter_map(|(place, field)| Some((place, wavelength_field(field)?)))
        .collect();
    if places.is_empty() {
        let cause = words::Spectra::NoSpectralField;
        return Err(problem(name, cause, Remedy::SaveSpectral));
    }
    let title = ["SAMPLE_NAME", "SAMPLE_ID"]
        .iter()
        .find_map(|wanted| fields.iter().position(|field| field.eq_ignore_ascii_case(wanted)));
    let mut columns = Vec::new();
    for (row, line) in between("BEGIN_DATA", "END_DATA").into_iter().enumerate() {
        let cells = words(line);
        if cells.len() != fields.len() {
            let cause = words::Spectra::CellsOfRow { row: row + 1, cells: cells.len(), fields: fields.len() };
            return Err(problem(name, cause, Remedy::CorrectNothingTaken));
        }
        let value = |place: usize| {
            cell_number(cells[place], false).ok_or_else(|| {
                let cause =
                    words::Spectra::NoNumberInRow { row: row + 1, cell: Quoted(cells[place]).to_string() };
                problem(name, cause, Remedy::CorrectNothingTaken)
            })
        };
        columns.push(Columns {
            called: title.map(|place| cells[place].to_owned()).unwrap_or_default(),
            nm: places.iter().map(|(_, nm)| *nm).collect(),
            values: places.iter().map(|(place, _)| value(*place)).collect::<Result<_, _>>()?,
        });
    }
    if columns.is_empty() {
        return Err(problem(name, words::Spectra::NoData, Remedy::RightFile));
    }
    Ok(columns)
}

/// Words parted by blanks, of which those within quotation marks are one.
fn words(line: &str) -> Vec<&str> {
    let (mut words, mut from, mut within) = (Vec::new(), None, false);
    for (at, c) in line.char_indices() {
        match (c, from) {
            ('"', None) => (from, within) = (Some(at + 1), true),
            ('"', Some(start)) if within => {
                words.push(&line[start..at]);
                (from, within) = (None, false);
            }
            (c, None) if !c.is_whitespace() => from = Some(at),
            (c, Some(start)) if c.is_whitespace() && !within => {
                words.push(&line[start..at]);
                from = None;
            }
            _ => {}
        }
    }
    words.extend(from.map(|start| &line[start..]));
    words
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read_all(text: &str) -> Result<Spectra, String> {
        spectra(text, "target.csv", Carries::Reflectance).map_err(|problem| problem.cause.to_string())
    }

    const GOOD: &str = "nm,brick,\"skin, pale\"\n400,0.1,0.2\n410,0.2,0.3\n420,0.4,0.3\n";

    /// By definition: the numbers that stand there.
    #[test]
    fn columns_and_rows_give_the_same_spectra() {
        let in_columns = read_all(GOOD).unwrap();
        let names: Vec<&str> = in_columns.named.iter().map(|(name, _)| name.as_str()).collect();
        assert_eq!((names, in_columns.notes.len()), (vec!["brick", "skin, pale"], 0));
        assert!((in_columns.named[0].1.at(415.0).unwrap() - 0.3).abs() < 1e-12);
        let rows = "CGATS.17\nBEGIN_DATA_FORMAT\nSAMPLE_NAME SPECTRAL_NM_400 SPECTRAL_NM_410 SPECTRAL_NM_420\n\
                    END_DATA_FORMAT\nBEGIN_DATA\nbrick 0.1 0.2 0.4\n\"skin, pale\" 0.2 0.3 0.3\nEND_DATA\n";
        assert_eq!(read_all(rows).unwrap(), in_columns);
        let german = GOOD.replace(',', ";").replace('.', ",").replace("skin; pale", "skin, pale");
        assert_eq!(read_all(&german).unwrap(), in_columns);
    }

    #[test]
    fn what_is_only_written_otherwise_is_taken_and_told() {
        let good = read_all("400,0.1\n410,0.2\n420,0.4\n").unwrap().named;
        for (text, told) in [
            ("420,0.4\n410,0.2\n400,0.1\n", "turned round"),
            ("0.40,0.1\n0.41,0.2\n0.42,0.4\n", "micrometres"),
            ("4000,0.1\n4100,0.2\n4200,0.4\n", "ångströms"),
            ("400,10\n410,20\n420,40\n", "per cent"),
            ("0.1,400\n0.2,410\n0.4,420\n", "other way round"),
        ] {
            let read = read_all(text).unwrap();
            assert_eq!(read.notes.len(), 1, "{text}");
            assert!(read.notes[0].cause.contains(told), "{}", read.notes[0].cause);
            for ((_, one), (_, other)) in read.named.iter().zip(&good) {
                for (a, b) in one.rows().zip(other.rows()) {
                    assert!((a.0 - b.0).abs() < 1e-9 && (a.1 - b.1).abs() < 1e-9, "{text}");
                }
            }
        }
    }

    #[test]
    fn each_bad_spectrum_has_one_sentence() {
        for (text, told) in [
            ("", "no spectrum"),
            ("400\n410\n", "no spectrum"),
            ("400,0.1\n410,0.2\n420,0.2\n460,0.2\n", "no row between 420 and 460 nm"),
            ("400,0.1\n410,0.2\n410,0.2\n", "410 nm twice"),
            ("400,0.1\n410,-0.2\n420,0.1\n", "below zero at 410 nm"),
            ("400,0.1\n410,1.3\n420,0.1\n", "more light than fell on it at 410 nm"),
            ("400,0.1\n410,none\n", "'none' where a number belongs"),
            ("400,0.1\n410,0.2,0.3\n", "Line 2 has 3 numbers"),
            ("400,0.1\n410,NaN\n420,0.2\n", "no number in its row 2"),
            ("1,0.1\n2,0.2\n3,0.2\n", "no unit of wavelengths fits"),
            ("BEGIN_DATA_FORMAT\nSAMPLE_ID LAB_L\nEND_DATA_FORMAT\n", "without spectra"),
        ] {
            let cause = read_all(text).unwrap_err();
            assert!(cause.contains(told), "{text:?}: {cause}");
            assert_eq!(cause.matches(". ").count(), 0, "one sentence: {cause}");
        }
        let two = spectrum(GOOD, "light.csv", Carries::Light).unwrap_err();
        assert!(two.cause.contains("2 spectra where one is wanted"));
    }
}
