//! Tables as densitometers, spreadsheets and people write them, in five languages.

use crate::shared::chance::Chance;

use super::naming::plain;

/// Heads of columns: step, density, exposure index, film, developer, minutes, temperature, time; the lines above a table: film, date.
const HEADS: [[&str; 11]; 5] = [
    [
        "step",
        "density",
        "EI",
        "film",
        "developer",
        "minutes",
        "temperature",
        "exposure time",
        "Film",
        "Date",
        "Operator",
    ],
    [
        "Stufe",
        "Dichte",
        "EI",
        "Film",
        "Entwickler",
        "Minuten",
        "Temperatur",
        "Belichtungszeit",
        "Film",
        "Datum",
        "Gemessen von",
    ],
    [
        "palier",
        "densité",
        "IE",
        "film",
        "révélateur",
        "minutes",
        "température",
        "temps de pose",
        "Film",
        "Date",
        "Opérateur",
    ],
    [
        "paso",
        "densidad",
        "IE",
        "película",
        "revelador",
        "minutos",
        "temperatura",
        "tiempo de exposición",
        "Película",
        "Fecha",
        "Operador",
    ],
    [
        "gradino",
        "densità",
        "IE",
        "pellicola",
        "rivelatore",
        "minuti",
        "temperatura",
        "tempo di posa",
        "Pellicola",
        "Data",
        "Operatore",
    ],
];

/// How one person writes tables.
#[derive(Debug)]
pub(super) struct Writing {
    language: usize,
    comma: bool,
    delimiter: &'static str,
    plain: bool,
    shape: usize,
    preamble: bool,
}

impl Writing {
    pub(super) fn of(language: usize, chance: &mut Chance) -> Self {
        let comma = language > 0 && chance.below(4) > 0;
        Self {
            language,
            comma,
            delimiter: if comma { chance.one(&[";", "\t"]) } else { chance.one(&[",", ";", "\t"]) },
            plain: chance.below(3) == 0,
            shape: chance.below(5),
            preamble: chance.may(),
        }
    }

    pub(super) fn ending(&self) -> &'static str {
        if self.delimiter == "\t" { "txt" } else { "csv" }
    }

    fn head(&self, column: usize) -> String {
        let head = HEADS[self.language][column];
        if self.plain { plain(head) } else { head.to_owned() }
    }

    fn number(&self, value: f64, digits: usize) -> String {
        let text = format!("{value:.digits$}");
        if self.comma { text.replace('.', ",") } else { text }
    }

    fn line(&self, cells: &[String]) -> String {
        format!("{}\n", cells.join(self.delimiter))
    }

    /// Lines above the table.
    fn above(&self, film: Option<&str>) -> String {
        let film = film.map_or(String::new(), |film| format!("{}: {film}\n", self.head(8)));
        format!("{film}{}: 12.04.2026\n", self.head(9))
    }

    /// Steps and densities, `film` named above them where that is this person's way.
    pub(super) fn densities(&self, densities: &[f64], film: Option<&str>, chance: &mut Chance) -> String {
        let mut text = if self.preamble { self.above(film) } else { String::new() };
        let repeats = self.shape == 4 && film.is_some();
        match (self.shape, repeats) {
            (0 | 1, _) => text += &self.line(&[self.head(0), self.head(1)]),
            (2, _) => text += &self.line(&[self.head(0), self.head(1), "u".to_owned()]),
            (_, true) => {
                let density = |number: u32| format!("{} {number}", self.head(1));
                text += &self.line(&[self.head(0), density(1), density(2)]);
            }
            _ => {}
        }
        for (step, density) in (1..).zip(densities) {
            let mut cells = vec![format!("{step}"), self.number(*density, 2)];
            if self.shape == 2 {
                cells.push(self.number(0.01, 2));
            }
            if repeats {
                cells.push(self.number(density + 0.006 * chance.normal(), 2));
            }
            text += &self.line(&cells);
        }
        text
    }

    /// The same with a sign between thousands in one number.
    pub(super) fn thousands(&self, densities: &[f64], film: Option<&str>, chance: &mut Chance) -> String {
        let text = self.densities(densities, film, chance);
        let (right, wrong) = if self.comma { (",", ".") } else { (".", ",") };
        let number = self.number(densities[4], 2);
        let spoilt = format!("1{wrong}{}{right}{}", "234", number.split(right).nth(1).unwrap_or("00"));
        // In a table with commas between cells such a number stands in quotation marks.
        let spoilt = if self.delimiter == wrong { format!("\"{spoilt}\"") } else { spoilt };
        let begins = format!("5{}{number}", self.delimiter);
        text.replacen(&begins, &format!("5{}{spoilt}", self.delimiter), 1)
    }

    /// Exposure indices and the density of the shadow patch at each.
    pub(super) fn bracket(&self, rows: &[(u32, f64)], film: &str) -> String {
        let mut text = if self.preamble { self.above(Some(film)) } else { String::new() };
        text += &self.line(&[self.head(2), self.head(1)]);
        for (index, density) in rows {
            text += &self.line(&[index.to_string(), self.number(*density, 2)]);
        }
        text
    }

    /// How films were developed: film, developer, minutes, temperature.
    pub(super) fn records(&self, rows: &[(&str, f64)]) -> String {
        if let [(film, minutes)] = rows {
            let pair = |column: usize, value: String| format!("{}: {value}\n", self.head(column));
            return pair(3, (*film).to_owned())
                + &pair(4, "House bath 7".to_owned())
                + &pair(5, self.number(*minutes, 1))
                + &pair(6, "20 C".to_owned());
        }
        let mut text = self.line(&[3, 4, 5, 6].map(|column| self.head(column)));
        for (film, minutes) in rows {
            let bath = "House bath 7".to_owned();
            text += &self.line(&[(*film).to_owned(), bath, self.number(*minutes, 1), self.number(20.0, 1)]);
        }
        text
    }

    /// The time for which the tablet was exposed onto each film.
    pub(super) fn exposures(&self, rows: &[(&str, u32)]) -> String {
        let mut text = self.line(&[self.head(3), self.head(7)]);
        for (film, over) in rows {
            text += &self.line(&[(*film).to_owned(), format!("1/{over} s")]);
        }
        text
    }
}
