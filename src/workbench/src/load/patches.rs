//! A table of patches from text: what each is called, what is known of it, and what was read of it.

use crate::words::{Remedy, Table};
use twinwedge_core::document::ranges::{DENSITY, DENSITY_U, PATCH_DENSITY, Range, STOPS};
use twinwedge_core::problem::{Problem, Subject};
use twinwedge_core::shown::{Quoted, Shown};
use twinwedge_core::words::Sentence;

/// A line of the table: a patch and what was read on it.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct PatchRead {
    /// What it is called.
    pub name: String,
    /// Its known density on the target itself, of neutral patches.
    pub known: Option<f64>,
    /// Its density in the print of the reference, and in that of the candidate.
    pub densities: [Option<f64>; 2],
    /// Its stops from the grey card, where these were found before.
    pub stops: Option<f64>,
    /// Standard uncertainty of what was read of it.
    pub u: Option<f64>,
}

/// What a column holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Holds {
    Name,
    Known,
    Reference,
    Candidate,
    Stops,
    Uncertainty,
    /// Something that is not asked for.
    Other,
}

fn holds(head: &str) -> Holds {
    match head.to_lowercase().as_str() {
        "patch" | "name" => Holds::Name,
        "known" => Holds::Known,
        "reference" | "density" => Holds::Reference,
        "candidate" => Holds::Candidate,
        "stops" => Holds::Stops,
        "u" | "uncertainty" => Holds::Uncertainty,
        _ => Holds::Other,
    }
}

/// Reads a table of patches: CSV, TSV or semicolons, whose first line names the columns (see the remedy of its problems). An empty
/// cell or a dash is no number. `name` stands in problems.
///
/// # Errors
/// Columns are missing, a number is none or out of range, or a patch has no name or that of another.
pub fn patches(text: &str, name: &str) -> Result<Vec<PatchRead>, Problem> {
    let text = text.strip_prefix('\u{feff}').unwrap_or(text);
    let at = |line: Option<usize>, cause: Sentence, remedy: Remedy| {
        let place = line.map(|line| format!("line {line}"));
        Problem::error(Subject::File { path: name.to_owned(), place }, cause, remedy)
    };
    let mut lines = text
        .lines()
        .enumerate()
        .map(|(i, line)| (i + 1, line.trim()))
        .filter(|(_, line)| !line.is_empty() && !line.starts_with('#'));
    let head = lines.next().map(|(_, line)| super::spectra::cells(line).0).unwrap_or_default();
    let columns: Vec<Holds> = head.iter().map(|cell| holds(cell)).collect();
    let has = |wanted: Holds| columns.contains(&wanted);
    if !has(Holds::Name) || !(has(Holds::Reference) || has(Holds::Stops)) {
        return Err(at(None, Table::NotOfPatches.into(), Remedy::NamePatchColumns));
    }
    let mut read: Vec<PatchRead> = Vec::new();
    for (line, text) in lines {
        let (cells, comma_parts) = super::spectra::cells(text);
        if cells.len() != columns.len() {
            let cause = Table::Cells { cells: cells.len(), named: columns.len() }.into();
            return Err(at(Some(line), cause, Remedy::CorrectThere));
        }
        let mut patch = PatchRead::default();
        for (cell, column) in cells.iter().zip(&columns) {
            let number = |range: &Range| -> Result<Option<f64>, Problem> {
                if matches!(*cell, "" | "-" | "–") {
                    return Ok(None);
                }
                let value = super::spectra::cell_number(cell, comma_parts).ok_or_else(|| {
                    at(
                        Some(line),
                        Table::CellNoNumber { cell: Quoted(cell).to_string() }.into(),
                        Remedy::CorrectThere,
                    )
                })?;
                let checked = range.check(value);
                checked.map(Some).map_err(|cause| at(Some(line), cause, Remedy::CorrectThere))
            };
            match column {
                Holds::Name => (*cell).clone_into(&mut patch.name),
                Holds::Known => patch.known = number(&PATCH_DENSITY)?,
                Holds::Reference => patch.densities[0] = number(&DENSITY)?,
                Holds::Candidate => patch.densities[1] = number(&DENSITY)?,
                Holds::Stops => patch.stops = number(&STOPS)?,
                Holds::Uncertainty => patch.u = number(&DENSITY_U)?,
                Holds::Other => {}
            }
        }
        if patch.name.is_empty() {
            return Err(at(Some(line), Table::PatchWithoutName.into(), Remedy::NameIt));
        }
        if read.iter().any(|other| other.name == patch.name) {
            let cause = Table::PatchTwice { name: Shown(&patch.name).to_string() }.into();
            return Err(at(Some(line), cause, Remedy::OtherNameForOne));
        }
        read.push(patch);
    }
    if read.is_empty() {
        return Err(at(None, Table::NoPatch.into(), Remedy::NamePatchColumns));
    }
    Ok(read)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// By definition: the numbers that stand there.
    #[test]
    fn a_table_of_patches_is_read_whatever_parts_its_cells() {
        let text =
            "patch,known,reference,candidate,u\ngrey card,0.74,0.75,0.77,0.01\n\"skin, pale\",,0.50,-,0.01\n";
        let read = patches(text, "target.csv").unwrap();
        assert_eq!(read[0].known, Some(0.74));
        assert_eq!((read[1].name.as_str(), read[1].densities), ("skin, pale", [Some(0.50), None]));
        let german = "Patch;known;density\ngrey card;0,74;0,75\n";
        assert_eq!(patches(german, "target.csv").unwrap()[0].densities[0], Some(0.75));
    }

    #[test]
    fn what_is_wrong_is_told_with_its_line() {
        for (text, told) in [
            ("", "no table of patches"),
            ("patch,known\ncard,0.74\n", "no table of patches"),
            ("patch,density\n", "holds no patch"),
            ("patch,density\ncard,abc\n", "'abc' is not a number"),
            ("patch,density\ncard,75\n", "out of range"),
            ("patch,density\ncard,0.75\ncard,0.5\n", "stands there twice"),
            ("patch,density\n,0.75\n", "no name"),
            ("patch,density\ncard,0.75,0.5\n", "3 cells"),
        ] {
            let problem = patches(text, "target.csv").unwrap_err();
            assert!(problem.cause.contains(told), "{text:?}: {}", problem.cause);
        }
    }
}
