//! What a file's name and its folders say: words for what it is, and what is left for the film.

use twinwedge_core::figures::speed::iso_rounded;
use unicode_normalization::UnicodeNormalization as _;

use super::kinds::Kind;

/// A word or number of a name.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Word {
    /// For comparing: small letters, accents composed one way.
    pub(super) text: String,
    /// As it was written.
    pub(super) shown: String,
}

impl Word {
    pub(super) fn number(&self) -> Option<u32> {
        self.text.parse().ok()
    }

    /// A number that was filled up with zeros counts files; a film's name is written without.
    fn counts(&self) -> bool {
        self.text.len() > 1 && self.text.starts_with('0') && self.text.chars().all(|c| c.is_ascii_digit())
    }
}

/// What one name says.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub(super) struct Name {
    /// Words of the film.
    pub(super) film: Vec<Word>,
    /// What the file is, by the words of its name; the weightiest first.
    pub(super) kinds: Vec<Kind>,
    /// It is of this roll.
    pub(super) roll: Option<u32>,
    /// Numbers behind the words for what it is: frames, sheets.
    pub(super) counter: Option<u32>,
    /// The name says that the film is the reference.
    pub(super) reference: bool,
    /// The name says that it is, or belongs to, something printed.
    pub(super) printed: bool,
    /// The name speaks of film, not of paper.
    pub(super) filmed: bool,
    /// It is a frame of a bracket.
    pub(super) frame: bool,
    /// The exposure index that it was metered at.
    pub(super) exposure_index: Option<u32>,
}

impl Name {
    /// Whether letters are left for the film.
    pub(super) fn has_letters(&self) -> bool {
        self.film.iter().any(|word| word.number().is_none())
    }

    fn add(&mut self, other: &Self) {
        self.kinds.extend(other.kinds.iter().copied());
        self.roll = self.roll.or(other.roll);
        self.reference |= other.reference;
        self.printed |= other.printed;
        self.filmed |= other.filmed;
        self.frame |= other.frame;
        self.exposure_index = self.exposure_index.or(other.exposure_index);
    }
}

/// Words for what a file is, whole words as they are common in the trade.
const KINDS: [(Kind, &[&str]); 8] = [
    (
        Kind::CalibrationFilm,
        &["calibration", "calibrations", "calib", "calibrate", "cal", "tablet", "tablets"],
    ),
    (Kind::Readings, &["readings", "reading", "densities", "density", "densitometer"]),
    (Kind::Blank, &["blank", "unexposed", "clear", "fog", "base", "dmin"]),
    (Kind::Grain, &["grain", "granularity", "field", "plain", "even", "flat"]),
    (Kind::Edge, &["edge", "edges"]),
    (Kind::Strip, &["strip", "strips", "wedge", "wedges", "steps", "step", "stepwedge", "sensitometry"]),
    (Kind::Print, &["print", "prints", "target", "targets", "printed"]),
    (Kind::Paper, &["paper"]),
];

/// Words that say nothing of the film.
const NOISE: [&str; 30] = [
    "scan",
    "scans",
    "scanned",
    "scanner",
    "img",
    "image",
    "images",
    "dsc",
    "pic",
    "picture",
    "pictures",
    "photo",
    "file",
    "files",
    "copy",
    "final",
    "raw",
    "neg",
    "negs",
    "negative",
    "negatives",
    "film",
    "films",
    "crop",
    "export",
    "tif",
    "tiff",
    "jpg",
    "png",
    "of",
];

/// Units whose number is a setting of the scan.
const UNITS: [&str; 7] = ["bit", "bits", "dpi", "ppi", "px", "mm", "um"];

/// Reads a path relative to the folder, '/' between its parts, with the ending left away.
pub(super) fn read(stem: &str, folders: &[&str]) -> Name {
    let mut name = read_part(stem);
    let mut folder_film = Vec::new();
    for folder in folders.iter().rev() {
        let outer = read_part(folder);
        // The name of a file says what it is; its folder only where the name does not.
        if name.kinds.is_empty() {
            name.add(&outer);
        } else {
            name.roll = name.roll.or(outer.roll);
            name.reference |= outer.reference;
        }
        if folder_film.is_empty() && outer.has_letters() {
            folder_film = outer.film;
        }
    }
    if !name.has_letters() && !folder_film.is_empty() {
        name.counter = name.counter.or_else(|| name.film.last().and_then(Word::number));
        name.film = folder_film;
    }
    name
}

/// The film that the name of one file speaks of, as a label, and the speed on its box where its last number is one.
pub(crate) fn film_of(stem: &str) -> (String, Option<f64>) {
    let film = read_part(stem).film;
    let standard = |number: u32| {
        let number = f64::from(number);
        iso_rounded(number).is_some_and(|(speed, _)| (speed - number).abs() < 0.5).then_some(number)
    };
    let speed = film.last().filter(|_| film.len() > 1).and_then(Word::number).and_then(standard);
    (label(&film), speed)
}

/// The words of the innermost folder that names anything.
pub(super) fn folder_words(folders: &[&str]) -> Vec<Word> {
    let named = folders.iter().rev().map(|folder| read_part(folder)).find(Name::has_letters);
    named.map(|name| name.film).unwrap_or_default()
}

fn read_part(part: &str) -> Name {
    let words = words(part);
    let mut name = Name::default();
    let mut found: Vec<(usize, Kind)> = Vec::new();
    let mut left: Vec<(usize, Word)> = Vec::new();
    let mut at = 0;
    while at < words.len() {
        let word = &words[at];
        let next = words.get(at + 1).and_then(Word::number);
        let text = word.text.as_str();
        match text {
            "roll" | "rolls" | "r" if next.is_some() => {
                name.roll = next;
                at += 1;
            }
            "ei" if next.is_some() => {
                name.exposure_index = next;
                at += 1;
            }
            "exposure" if words.get(at + 1).is_some_and(|word| word.text == "index") => {
                name.exposure_index = words.get(at + 2).and_then(Word::number);
                at += 1 + usize::from(name.exposure_index.is_some());
            }
            "bracket" | "brackets" | "bracketed" => name.frame = true,
            "frame" | "frames" => {
                name.frame = true;
                name.counter = name.counter.or(next);
                at += usize::from(next.is_some());
            }
            "no" | "nr" | "v" if next.is_some() => {
                name.counter = next;
                at += 1;
            }
            "reference" | "ref" => name.reference = true,
            "reflection" | "reflective" => name.printed = true,
            _ if is_unit_behind(&words, at) => at += 1,
            _ if date(&words, at) > 0 => at += date(&words, at) - 1,
            _ => {
                name.filmed |= matches!(text, "film" | "films" | "negative" | "neg" | "transmission");
                match KINDS.iter().find(|(_, words)| words.contains(&text)) {
                    Some((kind, _)) => found.push((at, *kind)),
                    None if NOISE.contains(&text) => {}
                    None => left.push((at, word.clone())),
                }
            }
        }
        at += 1;
    }
    name.printed |= found.iter().any(|(_, kind)| matches!(kind, Kind::Print | Kind::Paper));
    // 'step tablet' and 'print scanner tablet' are tablets: kinds in the order of the table.
    name.kinds =
        KINDS.iter().map(|(kind, _)| *kind).filter(|kind| found.iter().any(|f| f.1 == *kind)).collect();
    let last_kind = found.iter().map(|(at, _)| *at).max();
    // Behind the word for what it is, numbers count.
    while let Some((at, word)) = left.last() {
        let behind =
            last_kind.is_some_and(|kind| *at > kind) && left.iter().any(|(at, _)| Some(*at) < last_kind);
        if word.number().is_none() || !(behind || (word.counts() && left.len() > 1)) {
            break;
        }
        name.counter = name.counter.or(word.number());
        left.pop();
    }
    name.film = left.into_iter().map(|(_, word)| word).collect();
    name
}

/// Whether a number and a unit stand here, as in '4000 dpi'.
fn is_unit_behind(words: &[Word], at: usize) -> bool {
    words[at].number().is_some() && words.get(at + 1).is_some_and(|word| UNITS.contains(&word.text.as_str()))
}

/// How many words of a date stand here: '20260412', '2026 04 12'.
fn date(words: &[Word], at: usize) -> usize {
    let number = |ahead: usize| words.get(at + ahead).and_then(Word::number);
    match (words[at].text.len(), number(0), number(1), number(2)) {
        (8, Some(day), ..) if (19_000_101..=21_001_231).contains(&day) => 1,
        (4, Some(1900..=2100), Some(1..=12), Some(1..=31)) => 3,
        _ => 0,
    }
}

/// Words and numbers of a text: parted by signs, blanks, a change from small to capital letters, and between letters and
/// digits.
pub(super) fn words(text: &str) -> Vec<Word> {
    let mut words: Vec<String> = Vec::new();
    let mut before: Option<char> = None;
    for c in text.nfc() {
        if !c.is_alphanumeric() {
            before = None;
            continue;
        }
        let parts = before.is_none_or(|before| {
            before.is_numeric() != c.is_numeric() || (before.is_lowercase() && c.is_uppercase())
        });
        match words.last_mut() {
            Some(word) if !parts => word.push(c),
            _ => words.push(c.to_string()),
        }
        before = Some(c);
    }
    words.into_iter().map(|shown| Word { text: shown.to_lowercase().nfc().collect(), shown }).collect()
}

/// How words are written as a label: 'tern', '160' as 'Tern 160'.
pub(super) fn label(words: &[Word]) -> String {
    let mut label = String::new();
    for (place, word) in words.iter().enumerate() {
        if place > 0 {
            label.push(' ');
        }
        let shouted = word.shown.chars().count() > 3 && word.shown.chars().all(char::is_uppercase);
        let shown = if shouted { &word.text } else { &word.shown };
        let mut letters = shown.chars();
        match letters.next() {
            Some(first) if place == 0 || shouted => label.extend(first.to_uppercase().chain(letters)),
            Some(first) => label.extend(std::iter::once(first).chain(letters)),
            None => {}
        }
    }
    label
}

#[cfg(test)]
mod tests {
    use super::*;

    fn of(path: &str) -> (String, Vec<Kind>, Option<u32>, Option<u32>) {
        let mut parts: Vec<&str> = path.split('/').collect();
        let stem = parts.pop().unwrap_or_default();
        let name = read(stem, &parts);
        (label(&name.film), name.kinds, name.roll, name.counter)
    }

    #[test]
    fn names_part_into_film_kind_and_counter() {
        for (path, film, kind, roll, counter) in [
            ("tern-160-strip", "Tern 160", Some(Kind::Strip), None, None),
            ("TERN 160 PRINT", "Tern 160", Some(Kind::Print), None, None),
            ("Tern160Grain", "Tern 160", Some(Kind::Grain), None, None),
            ("scan_tern_160_print_0012", "Tern 160", Some(Kind::Print), None, Some(12)),
            ("tern 160 0007", "Tern 160", None, None, Some(7)),
            ("strip_tern_160", "Tern 160", Some(Kind::Strip), None, None),
            ("Tern 160 roll 2 strip 4000dpi", "Tern 160", Some(Kind::Strip), Some(2), None),
            ("2026-04-12 tern 160 strip", "Tern 160", Some(Kind::Strip), None, None),
            ("20260412_tern_160_16bit", "Tern 160", None, None, None),
            ("Tern 160/IMG_0032", "Tern 160", None, None, Some(32)),
            ("prints/tern 160", "Tern 160", Some(Kind::Print), None, None),
            ("Tern 160/roll2/strip", "Tern 160", Some(Kind::Strip), Some(2), None),
            ("film-scanner-tablet", "", Some(Kind::CalibrationFilm), None, None),
            ("0001", "0001", None, None, None),
        ] {
            let said = of(path);
            let said = (said.0.as_str(), said.1.first().copied(), said.2, said.3);
            assert_eq!(said, (film, kind, roll, counter), "{path}");
        }
    }

    #[test]
    fn frames_of_a_bracket_say_their_exposure_index() {
        for (path, film, index, counter) in [
            ("tern-160-frame-3-ei-125", "Tern 160", Some(125), Some(3)),
            ("Tern 160 bracket/EI200", "Tern 160", Some(200), None),
            ("godwit_1000_exposure_index_640", "Godwit 1000", Some(640), None),
            ("tern 160 frame 2", "Tern 160", None, Some(2)),
        ] {
            let mut parts: Vec<&str> = path.split('/').collect();
            let stem = parts.pop().unwrap_or_default();
            let name = read(stem, &parts);
            assert_eq!(label(&name.film), film, "{path}");
            assert_eq!((name.exposure_index, name.counter), (index, counter), "{path}");
            assert!(name.frame || index.is_some(), "{path}");
        }
    }

    #[test]
    fn accents_are_one_letter_however_they_are_written() {
        // U+00FC, and u with U+0308: the same text by Unicode Standard Annex 15.
        assert_eq!(of("k\u{fc}stenl\u{e4}ufer_strip").0, of("ku\u{308}stenla\u{308}ufer_strip").0);
        assert_eq!(words("Чайка-50")[0].text, "чайка");
    }

    #[test]
    fn a_printed_tablet_says_so() {
        assert!(read("print-scanner-tablet", &[]).printed && read("reflection tablet", &[]).printed);
        assert!(read("film-scanner-tablet", &[]).filmed && !read("film-scanner-tablet", &[]).printed);
    }
}
