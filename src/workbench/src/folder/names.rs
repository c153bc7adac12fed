//! What a file's name and its folders say: words for what it is, and what is left for the film.

use twinwedge_core::figures::speed::iso_rounded;
use unicode_normalization::UnicodeNormalization as _;

use super::kinds::Kind;
use super::lexicon::{Means, means};

/// A word or number of a name.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Word {
    /// For comparing: small letters, accents composed one way.
    pub(super) text: String,
    /// As it was written.
    pub(super) shown: String,
    /// The last sign before it; none where it goes on from the word before, or begins.
    sign: Option<char>,
}

impl Word {
    pub(super) fn number(&self) -> Option<u32> {
        self.text.parse().ok()
    }

    /// A number that was filled up with zeros counts files; a film's name is written without.
    fn counts(&self) -> bool {
        self.text.len() > 1 && self.text.starts_with('0') && self.text.chars().all(|c| c.is_ascii_digit())
    }

    /// A letter from a to h alone, as rolls and tablets are told apart by.
    fn letter(&self) -> Option<char> {
        let mut letters = self.text.chars();
        letters.next().filter(|c| ('a'..='h').contains(c) && letters.next().is_none())
    }

    /// A roll by its number or its letter.
    fn roll(&self) -> Option<u32> {
        self.number().or_else(|| self.letter().map(|letter| letter as u32 - 'a' as u32 + 1))
    }
}

/// What one name says.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub(super) struct Name {
    /// Words of the film.
    pub(super) film: Vec<Word>,
    /// What the file is, by the words of its name; the weightiest first.
    pub(super) kinds: Vec<Kind>,
    /// It speaks of a wedge: a tablet, or a strip that was exposed through one.
    wedge: bool,
    /// The number of the roll that it speaks of, from 1.
    pub(super) roll: Option<u32>,
    /// Minutes of development.
    pub(super) minutes: Option<u32>,
    /// Degrees Celsius of development.
    pub(super) celsius: Option<u32>,
    /// The exposure in seconds, as a fraction.
    pub(super) seconds: Option<(u32, u32)>,
    /// Which of several tablets.
    pub(super) tablet: Option<char>,
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
        self.wedge |= other.wedge;
        self.printed |= other.printed;
        self.filmed |= other.filmed;
        self.frame |= other.frame;
        self.exposure_index = self.exposure_index.or(other.exposure_index);
    }

    /// What holds of the film whatever the file is.
    fn add_of_film(&mut self, other: &Self) {
        self.roll = self.roll.or(other.roll);
        self.minutes = self.minutes.or(other.minutes);
        self.celsius = self.celsius.or(other.celsius);
        self.tablet = self.tablet.or(other.tablet);
        self.reference |= other.reference;
    }

    /// A wedge beside the words of a film is the strip that was exposed through it; alone it is the tablet. Among strips, what
    /// names a film and a tablet is a strip, too.
    fn tell_wedges(&mut self, among: &[Kind]) {
        let of_film = self.has_letters();
        let through = self.wedge || self.kinds.contains(&Kind::Strip) || among.contains(&Kind::Strip);
        if of_film && (through || self.kinds.contains(&Kind::Readings)) {
            self.kinds.retain(|kind| *kind != Kind::CalibrationFilm);
        }
        if self.kinds.is_empty() && self.wedge {
            self.kinds.push(if of_film { Kind::Strip } else { Kind::CalibrationFilm });
        } else if self.kinds.is_empty() && of_film && among.contains(&Kind::Strip) {
            self.kinds.push(Kind::Strip);
        }
    }
}

/// Kinds that words of names say, the weightiest first: 'step tablet' and 'print scanner tablet' are tablets.
const WEIGHTIEST: [Kind; 11] = [
    Kind::CalibrationFilm,
    Kind::Readings,
    Kind::Blank,
    Kind::Grain,
    Kind::Edge,
    Kind::Strip,
    Kind::Print,
    Kind::Paper,
    Kind::Bracket,
    Kind::Record,
    Kind::Exposures,
];

/// Reads a path relative to the folder, '/' between its parts, with the ending left away.
pub(super) fn read(stem: &str, folders: &[&str]) -> Name {
    let mut name = read_part(stem);
    let mut folder_film = Vec::new();
    let mut among = Vec::new();
    for folder in folders.iter().rev() {
        let outer = read_part(folder);
        // The name of a file says what it is; its folder only where the name does not.
        if name.kinds.is_empty() {
            name.add(&outer);
        }
        name.add_of_film(&outer);
        if folder_film.is_empty() && outer.has_letters() {
            folder_film = outer.film;
        }
        among.extend(outer.kinds);
        among.extend(outer.wedge.then_some(Kind::Strip));
    }
    if !name.has_letters() && !folder_film.is_empty() {
        name.counter = name.counter.or_else(|| name.film.last().and_then(Word::number));
        name.film = folder_film;
    }
    name.tell_wedges(&among);
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

/// What the label of a film says: its words, its roll.
pub(super) fn read_film(label: &str) -> Name {
    read_part(label)
}

/// The words of the innermost folder that names anything.
pub(super) fn folder_words(folders: &[&str]) -> Vec<Word> {
    let named = folders.iter().rev().map(|folder| read_part(folder)).find(Name::has_letters);
    named.map(|name| name.film).unwrap_or_default()
}

/// What is read of one part of a path, word by word.
#[derive(Default)]
struct Reading {
    name: Name,
    kinds: Vec<(usize, Kind)>,
    left: Vec<(usize, Word)>,
}

fn read_part(part: &str) -> Name {
    let words = words(part);
    let mut reading = Reading::default();
    let mut at = 0;
    while at < words.len() {
        at += reading.take(&words[at..], at).max(1);
    }
    reading.name()
}

impl Reading {
    /// Takes what begins with the first of `words`, which is word `at`; how many words that is.
    fn take(&mut self, words: &[Word], at: usize) -> usize {
        let word = &words[0];
        let next = words.get(1);
        let number = next.and_then(Word::number);
        if let Some(taken) = self.take_number(words) {
            return taken;
        }
        match means(&word.text) {
            Some(Means::Roll)
                if next.and_then(Word::roll).is_some() && (number.is_some() || word.text != "r") =>
            {
                self.name.roll = next.and_then(Word::roll);
                return 2;
            }
            Some(Means::MayBeRoll) => {
                self.name.filmed = true;
                let roll = next.and_then(Word::roll).filter(|roll| *roll < 10);
                self.name.roll = self.name.roll.or(roll);
                return 1 + usize::from(roll.is_some());
            }
            Some(Means::Index) if number.is_some() => {
                self.name.exposure_index = number;
                return 2;
            }
            Some(Means::Kind(Kind::Exposures)) if next.is_some_and(|word| word.text == "index") => {
                self.name.exposure_index = words.get(2).and_then(Word::number);
                return 2 + usize::from(self.name.exposure_index.is_some());
            }
            Some(Means::Numbered) => {
                self.name.counter = self.name.counter.or(number);
                return 1 + usize::from(number.is_some());
            }
            Some(Means::Frame) => {
                self.name.frame = true;
                self.name.counter = self.name.counter.or(number);
                return 1 + usize::from(number.is_some());
            }
            Some(Means::Wedge | Means::Kind(Kind::CalibrationFilm)) => {
                match means(&word.text) {
                    Some(Means::Kind(kind)) => self.kinds.push((at, kind)),
                    _ => self.name.wedge = true,
                }
                // 'Stufenkeil B', 'escala de grises B'.
                let silent = |word: &&Word| means(&word.text) == Some(Means::Nothing);
                let between = words[1..].iter().take_while(silent).count();
                let letter = words.get(1 + between).and_then(Word::letter);
                self.name.tablet = self.name.tablet.or(letter);
                return if letter.is_some() { 2 + between } else { 1 };
            }
            Some(Means::Kind(kind)) => {
                self.name.frame |= kind == Kind::Bracket;
                self.kinds.push((at, kind));
            }
            Some(Means::Reference) => self.name.reference = true,
            Some(Means::Printed) => self.name.printed = true,
            Some(Means::Filmed) => self.name.filmed = true,
            Some(Means::Roll) if word.text != "r" => {}
            Some(Means::Nothing | Means::Minutes | Means::Unit | Means::Developer) => {}
            _ => self.left.push((at, word.clone())),
        }
        1
    }

    /// Takes a number that is no film's: a date, a time, a temperature, a count in brackets; how many words that is.
    fn take_number(&mut self, words: &[Word]) -> Option<usize> {
        let number = words[0].number()?;
        let says = |place: usize| words.get(place).and_then(|word| means(&word.text));
        let dated = date(words);
        if dated > 0 {
            return Some(dated);
        }
        if let (Some(over), Some(Means::Seconds)) = (words.get(1).and_then(Word::number), says(2)) {
            self.name.seconds = Some((number, over)).filter(|_| over > 0);
            return Some(3);
        }
        match says(1) {
            Some(Means::Minutes) => self.name.minutes = Some(number),
            Some(Means::Celsius) if (15..=40).contains(&number) => self.name.celsius = Some(number),
            Some(Means::Seconds) => self.name.seconds = Some((number, 1)),
            Some(Means::Unit) => {}
            _ if words[0].sign == Some('(') => {
                self.name.counter = self.name.counter.or(Some(number));
                return Some(1);
            }
            _ => return None,
        }
        Some(2)
    }

    fn name(self) -> Name {
        let Self { mut name, kinds, mut left } = self;
        name.printed |= kinds.iter().any(|(_, kind)| matches!(kind, Kind::Print | Kind::Paper));
        name.kinds =
            WEIGHTIEST.into_iter().filter(|kind| kinds.iter().any(|found| found.1 == *kind)).collect();
        let last_kind = kinds.iter().map(|(at, _)| *at).max();
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
}

/// How many words of a date stand here: '20260412', '2026 04 12', '12.04.2026', '120426'.
fn date(words: &[Word]) -> usize {
    let number = |ahead: usize| words.get(ahead).and_then(Word::number);
    match (words[0].text.len(), number(0), number(1), number(2)) {
        (8, Some(day), ..) if (19_000_101..=21_001_231).contains(&day) => 1,
        (4, Some(1900..=2100), Some(1..=12), Some(1..=31))
        | (1 | 2, Some(1..=31), Some(1..=12), Some(1900..=2100)) => 3,
        (6, Some(day), ..) if short_date(day) => 1,
        _ => 0,
    }
}

/// Whether six digits are day, month and year, or year, month and day.
fn short_date(day: u32) -> bool {
    let (a, b, c) = (day / 10_000, day / 100 % 100, day % 100);
    (1..=12).contains(&b) && ((1..=31).contains(&a) || (1..=31).contains(&c))
}

/// Words and numbers of a text: parted by signs, blanks, a change from small to capital letters, and between letters and
/// digits.
pub(super) fn words(text: &str) -> Vec<Word> {
    let mut words: Vec<(String, Option<char>)> = Vec::new();
    let (mut before, mut sign): (Option<char>, Option<char>) = (None, None);
    for c in text.nfc() {
        if !c.is_alphanumeric() {
            (before, sign) = (None, Some(c));
            continue;
        }
        let parts = before.is_none_or(|before| {
            before.is_numeric() != c.is_numeric() || (before.is_lowercase() && c.is_uppercase())
        });
        match words.last_mut() {
            Some((word, _)) if !parts => word.push(c),
            _ => words.push((c.to_string(), sign)),
        }
        (before, sign) = (Some(c), None);
    }
    let word = |(shown, sign): (String, _)| Word { text: shown.to_lowercase().nfc().collect(), shown, sign };
    words.into_iter().map(word).collect()
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
