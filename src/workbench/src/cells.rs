//! Text in the cells of a table that a spreadsheet may open.

/// What begins a formula in some spreadsheet; the wide ones are taken for the narrow ones in some locales.
const BEGIN_FORMULAS: [char; 11] = ['=', '+', '-', '@', '\t', '\r', '\n', '＝', '＋', '－', '＠'];

/// A text as a cell that no spreadsheet takes for a formula: one that begins like a formula gets an apostrophe before it, by
/// OWASP, *CSV Injection* (and ASVS 5.0, requirement 1.2.10); quotation marks around the cell are the writer's of the table.
/// For text alone: a number is to stay a number, its minus sign too. [`text_of`] takes it back.
///
/// ```
/// # use twinwedge_workbench::cells::{cell_of, text_of};
/// assert_eq!(cell_of("=1+1"), "'=1+1");
/// assert_eq!(text_of("'=1+1"), "=1+1");
/// assert_eq!(cell_of("Tern's"), "Tern's");
/// ```
#[must_use]
pub fn cell_of(text: &str) -> String {
    if guards(text) { format!("'{text}") } else { text.to_owned() }
}

/// The text that stands in a cell, whether it begins like a formula or not.
#[must_use]
pub fn text_of(cell: &str) -> &str {
    cell.strip_prefix('\'').filter(|text| guards(text)).unwrap_or(cell)
}

/// Whether a text gets an apostrophe: one with apostrophes before a formula does, too, so that it comes back with as many.
fn guards(text: &str) -> bool {
    text.trim_start_matches('\'').starts_with(BEGIN_FORMULAS)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_text_comes_back_and_none_begins_a_formula() {
        let begins = ["", "'", "''", "=", "+", "-", "@", "\t", "\r", "＝", "a", " ", "\""];
        for text in begins.iter().flat_map(|a| begins.map(|b| format!("{a}{b}cmd|' /C calc'!A0"))) {
            let cell = cell_of(&text);
            assert!(!cell.starts_with(BEGIN_FORMULAS), "{cell:?}");
            assert_eq!(text_of(&cell), text);
        }
    }
}
