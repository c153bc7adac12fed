//! What a text says beside its numbers: lines as 'exposure: less 2', with the words that lists use for their columns.

use twinwedge_core::spectra::density::DensityKind;

use super::lines::{Line, number};

/// What a table says beside its readings, as it stands there.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Stated {
    /// The film that the readings are of.
    pub film: Option<String>,
    /// Its tablet: a file of densities, or 'nominal 21'.
    pub tablet: Option<String>,
    /// What is known of the light: 'absolute LGH', 'absolute LGH U' or 'less STOPS'.
    pub exposure: Option<String>,
    /// Density of an unexposed area, and its uncertainty where that is known.
    pub base_fog: Option<String>,
    /// Which density the readings are.
    pub density: Option<DensityKind>,
}

impl Stated {
    /// From the lines outside the table.
    pub(super) fn of<'a>(lines: impl Iterator<Item = &'a Line>) -> Self {
        let mut stated = Self::default();
        for line in lines {
            let pair = line.text.split_once([':', '=']).map(|(key, value)| (key.trim(), value.trim()));
            let cells = || match line.cells.as_slice() {
                [key, value] => Some((key.as_str(), value.as_str())),
                _ => None,
            };
            if let Some((key, value)) = pair.or_else(cells) {
                stated.put(key, value);
            }
        }
        stated
    }

    /// Takes a line of the table that is no step: base+fog among the steps.
    pub(super) fn take_row(&mut self, line: &Line) -> bool {
        match line.cells.as_slice() {
            [key, value, ..] if number(key).is_none() && number(value).is_some() => self.put(key, value),
            _ => false,
        }
    }

    /// The first line that says a thing counts.
    fn put(&mut self, key: &str, value: &str) -> bool {
        let key = key.to_lowercase();
        let value = value.trim_matches(|c: char| c == '"' || ";,\t ".contains(c));
        let slot = match key.trim_matches(|c: char| " \"'".contains(c)) {
            "film" | "pellicule" | "película" | "pelicula" | "pellicola" => &mut self.film,
            "tablet" => &mut self.tablet,
            "exposure" => &mut self.exposure,
            "base_fog" | "base+fog" | "base + fog" | "base fog" | "b+f" | "fog" => &mut self.base_fog,
            _ => return false,
        };
        if slot.is_none() && !value.is_empty() {
            *slot = Some(value.to_owned());
        }
        true
    }
}
