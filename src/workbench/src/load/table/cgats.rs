//! Densities from CGATS text (ISO 28178, earlier ANSI CGATS.17).

use std::borrow::Cow;
use std::fmt::Write;

use twinwedge_core::problem::Problem;

use super::at;
use crate::words::{Remedy, Table as Known};

/// CGATS text as a table of step, density and, where it has it, uncertainty, with its rows on the lines that they stand on; any
/// other text as it is. Of several tables in it the first is taken. Samples that are not numbered are steps in their order.
///
/// # Errors
/// It has no visual density, or a row that does not fit its format.
pub(super) fn as_table<'a>(text: &'a str, name: &str) -> Result<Cow<'a, str>, Problem> {
    if !text.lines().any(|line| line.trim() == "BEGIN_DATA_FORMAT") {
        return Ok(Cow::Borrowed(text));
    }
    let mut out = String::new();
    let mut columns: Option<Columns> = None;
    let (mut fields, mut part, mut row) = (Vec::new(), Part::Before, 0);
    for (line, number) in text.lines().zip(1..) {
        match (part, line.trim()) {
            (Part::Before, "BEGIN_DATA_FORMAT") => part = Part::Format,
            (Part::Format, "END_DATA_FORMAT") => {
                let found = Columns::of(&fields, name, number)?;
                out.push_str(if found.u.is_some() { "step;density;uncertainty" } else { "step;density" });
                columns = Some(found);
                part = Part::Between;
            }
            (Part::Format, words) => fields.extend(split(words)),
            (Part::Between, "BEGIN_DATA") => part = Part::Data,
            (Part::Data, "END_DATA") => part = Part::After,
            (Part::Data, words) if !words.is_empty() && !words.starts_with('#') => {
                let columns = columns.as_ref().ok_or_else(|| no_density(name, number))?;
                row += 1;
                out.push_str(&columns.row(&split(words), fields.len(), row, name, number)?);
            }
            // What it says beside the table, in the form in which tables say it.
            (Part::Before, words) => {
                if let Some(label) = words.strip_prefix("DESCRIPTOR ") {
                    let _ = write!(out, "# {}", label.trim_matches('"'));
                }
            }
            _ => {}
        }
        out.push('\n');
    }
    if part == Part::Data {
        return Err(at(name, None, Known::NotWhole, Remedy::WriteAgain));
    }
    Ok(Cow::Owned(out))
}

#[derive(Debug, Clone, Copy, PartialEq)]
enum Part {
    Before,
    Format,
    Between,
    Data,
    After,
}

/// Which fields are taken.
struct Columns {
    step: Option<usize>,
    density: usize,
    u: Option<usize>,
}

impl Columns {
    fn of(fields: &[String], name: &str, line: usize) -> Result<Self, Problem> {
        let field = |wanted: &str| fields.iter().position(|field| field.eq_ignore_ascii_case(wanted));
        // Black and white is read through the visual filter; where one density alone stands there, that is meant.
        let only = || {
            let mut densities =
                (0..fields.len()).filter(|at| fields[*at].to_ascii_uppercase().starts_with("D_"));
            densities.next().filter(|_| densities.next().is_none())
        };
        let density = field("D_VIS").or_else(only).ok_or_else(|| no_density(name, line))?;
        Ok(Self { step: field("SAMPLE_ID"), density, u: field("U_D_VIS") })
    }

    fn row(
        &self,
        words: &[String],
        fields: usize,
        row: u32,
        name: &str,
        line: usize,
    ) -> Result<String, Problem> {
        if words.len() != fields {
            return Err(at(
                name,
                Some(format!("line {line}")),
                Known::RowOfFields { fields: words.len(), named: fields },
                Remedy::OneRowEach,
            ));
        }
        // A tablet's steps are numbers; other samples come in the order of the tablet.
        let step = self.step.and_then(|at| words[at].parse::<u32>().ok()).unwrap_or(row);
        let mut text = format!("{step};{}", words[self.density]);
        if let Some(u) = self.u {
            text.push(';');
            text.push_str(&words[u]);
        }
        Ok(text)
    }
}

fn no_density(name: &str, line: usize) -> Problem {
    at(name, Some(format!("line {line}")), Known::NoVisualDensity, Remedy::NameVisual)
}

/// Words apart by blanks or tabs; one between quotation marks may hold blanks.
fn split(line: &str) -> Vec<String> {
    let mut words = Vec::new();
    let mut rest = line.trim_start();
    while !rest.is_empty() {
        let (word, after) = match rest.strip_prefix('"') {
            Some(inside) => inside.split_once('"').unwrap_or((inside, "")),
            None => rest.split_once(char::is_whitespace).unwrap_or((rest, "")),
        };
        words.push(word.to_owned());
        rest = after.trim_start();
    }
    words
}

#[cfg(test)]
mod tests {
    use super::super::table;

    /// As the keywords of ISO 28178 ask; invented densities.
    const TEXT: &str = "CGATS.17\nORIGINATOR \"a densitometer\"\nNUMBER_OF_FIELDS 4\nBEGIN_DATA_FORMAT\nSAMPLE_ID SAMPLE_NAME D_RED D_VIS\n\
        END_DATA_FORMAT\nNUMBER_OF_SETS 3\nBEGIN_DATA\n1 \"step one\" 1.52 1.50\n2 \"step two\" 1.22 1.20\n4 b 0.82 0.80\nEND_DATA\n";

    #[test]
    fn visual_densities_are_taken_by_their_samples() {
        let read = table(TEXT, "a.txt").expect("a table");
        let densities: Vec<(bool, f64)> =
            read.readings.iter().map(|reading| (reading.missing, reading.density)).collect();
        assert_eq!(densities.len(), 4);
        assert!(
            densities[2].0 && (densities[1].1 - 1.2).abs() < 1e-12 && (densities[3].1 - 0.8).abs() < 1e-12
        );
    }

    #[test]
    fn what_does_not_fit_is_told_with_its_line() {
        for (wrong, place) in [
            (TEXT.replace("D_VIS", "LAB_L").replace("D_RED", "LAB_A"), "line 6"),
            (TEXT.replace("2 \"step two\" 1.22 1.20", "2 \"step two\" 1.20"), "line 10"),
            (TEXT.replace("1.20\n", "black\n"), "line 10"),
            (TEXT.replace("END_DATA\n", ""), "whole"),
        ] {
            let problem = table(&wrong, "a.txt").expect_err(place);
            assert!(problem.to_string().contains(place), "{problem}");
        }
    }
}
