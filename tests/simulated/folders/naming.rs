//! How people name what they keep: words in five languages, signs between them, dates, numbers, and what gathers at the end.

use crate::shared::chance::Chance;

/// What a file is to the person who keeps it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Part {
    Strip,
    Tablet,
    Readings,
    Print,
    Frame,
    Grain,
    Bracket,
    Record,
    Exposures,
}

/// Words of a language, as photographers use them; each line several for one thing.
struct Language {
    strip: &'static [&'static str],
    tablet: &'static [&'static str],
    readings: &'static [&'static str],
    print: &'static [&'static str],
    grain: &'static [&'static str],
    frame: &'static [&'static str],
    bracket: &'static [&'static str],
    record: &'static [&'static str],
    exposures: &'static [&'static str],
    roll: &'static [&'static str],
    copy: &'static str,
    last: &'static [&'static str],
}

/// English, German, French, Spanish, Italian.
const LANGUAGES: [Language; 5] = [
    Language {
        strip: &["strip", "wedge", "step strip"],
        tablet: &["step tablet", "tablet", "step wedge"],
        readings: &["readings", "densities"],
        print: &["print"],
        grain: &["grain"],
        frame: &["frame"],
        bracket: &["bracket", "bracketing"],
        record: &["record", "development", "notes"],
        exposures: &["exposures", "exposure times"],
        roll: &["roll"],
        copy: "copy",
        last: &["final", "new", "v2"],
    },
    Language {
        strip: &["Streifen", "Keil", "Teststreifen"],
        tablet: &["Stufenkeil", "Graukeil"],
        readings: &["Messwerte", "Dichten", "Messung"],
        print: &["Abzug", "Vergrößerung"],
        grain: &["Korn"],
        frame: &["Bild", "Aufnahme"],
        bracket: &["Belichtungsreihe", "Reihe"],
        record: &["Protokoll", "Entwicklung", "Notizen"],
        exposures: &["Belichtung", "Belichtungszeiten"],
        roll: &["Rolle", "Film"],
        copy: "Kopie",
        last: &["neu", "final", "endgültig"],
    },
    Language {
        strip: &["bande", "bandelette"],
        tablet: &["coin", "gamme de gris"],
        readings: &["mesures", "densités", "lectures"],
        print: &["tirage", "épreuve"],
        grain: &["grain"],
        frame: &["vue"],
        bracket: &["bracketing", "série"],
        record: &["fiche", "développement"],
        exposures: &["poses", "temps de pose"],
        roll: &["rouleau", "bobine", "pellicule"],
        copy: "copie",
        last: &["final", "définitif", "nouveau"],
    },
    Language {
        strip: &["tira"],
        tablet: &["cuña", "escala de grises"],
        readings: &["lecturas", "densidades", "medidas"],
        print: &["positivo", "ampliación"],
        grain: &["grano"],
        frame: &["toma"],
        bracket: &["horquillado", "serie"],
        record: &["registro", "revelado", "notas"],
        exposures: &["exposiciones", "tiempos de exposición"],
        roll: &["rollo", "carrete"],
        copy: "copia",
        last: &["final", "nuevo"],
    },
    Language {
        strip: &["striscia", "provino"],
        tablet: &["cuneo", "scala di grigi"],
        readings: &["letture", "densità", "misure"],
        print: &["stampa"],
        grain: &["grana"],
        frame: &["scatto"],
        bracket: &["forcella", "serie"],
        record: &["scheda", "sviluppo", "note"],
        exposures: &["esposizioni", "tempi di posa"],
        roll: &["rullo", "rullino"],
        copy: "copia",
        last: &["finale", "definitivo", "nuovo"],
    },
];

/// Where files lie.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Lie {
    Flat,
    ByFilm,
    ByPart,
}

/// How one person names files.
#[derive(Debug)]
pub(super) struct Habit {
    pub(super) language: usize,
    separator: &'static str,
    case: usize,
    /// 'Tern160' in place of 'Tern 160'.
    joined: bool,
    part_first: bool,
    dated: Option<usize>,
    numbered: Option<usize>,
    /// Strips, of which there are most, are named by their film alone.
    pub(super) strips_bare: bool,
    lie: Lie,
    /// Letters without accents.
    plain: bool,
    pub(super) letters: bool,
    words: [usize; 10],
    count: u32,
}

/// What of a film a file is of.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Of<'a> {
    pub(super) film: Option<&'a str>,
    pub(super) roll: Option<u32>,
    pub(super) minutes: Option<f64>,
    pub(super) celsius: Option<f64>,
    /// One over the seconds of the exposure.
    pub(super) over: Option<u32>,
    pub(super) index: Option<u32>,
    /// Which of several tablets.
    pub(super) tablet: Option<char>,
}

impl Habit {
    pub(super) fn of(chance: &mut Chance) -> Self {
        let mut words = [0; 10];
        words.iter_mut().for_each(|word| *word = chance.below(6));
        Self {
            language: chance.below(5),
            separator: chance.one(&[" ", "_", "-", " ", "_", "."]),
            case: chance.below(4),
            joined: chance.below(4) == 0,
            part_first: chance.below(4) == 0,
            dated: (chance.below(3) == 0).then(|| chance.below(4)),
            numbered: (chance.below(3) == 0).then(|| chance.below(3)),
            strips_bare: chance.below(3) == 0,
            lie: chance.one(&[Lie::Flat, Lie::Flat, Lie::ByFilm, Lie::ByPart]),
            plain: chance.may(),
            letters: chance.may(),
            words,
            count: 0,
        }
    }

    fn word(&self, part: Part) -> &'static str {
        let language = &LANGUAGES[self.language];
        let (at, words) = match part {
            Part::Strip => (0, language.strip),
            Part::Tablet => (1, language.tablet),
            Part::Readings => (2, language.readings),
            Part::Print => (3, language.print),
            Part::Frame => (4, language.frame),
            Part::Grain => (5, language.grain),
            Part::Bracket => (6, language.bracket),
            Part::Record => (7, language.record),
            Part::Exposures => (8, language.exposures),
        };
        words[self.words[at] % words.len()]
    }

    /// The name of a file relative to its folder, '/' between, without its ending.
    pub(super) fn name(&mut self, part: Part, of: Of<'_>, chance: &mut Chance) -> String {
        let language = &LANGUAGES[self.language];
        self.count += 1;
        let mut words: Vec<String> = Vec::new();
        let film = of.film.map(|film| if self.joined { film.replace(' ', "") } else { film.to_owned() });
        let bare = self.strips_bare && part == Part::Strip && of.tablet.is_none();
        let by_part = self.lie == Lie::ByPart && part != Part::Tablet;
        let unsaid = bare || (by_part && part != Part::Frame);
        let kind = (!unsaid).then(|| self.word(part).to_owned());
        // What lies in its film's folder is not named by it again, at times.
        let named = self.lie != Lie::ByFilm || chance.below(3) > 0 || bare || of.film.is_none();
        let film_word = film.clone().filter(|_| named);
        if self.part_first {
            words.extend(kind.into_iter().chain(film_word));
        } else {
            words.extend(film_word.into_iter().chain(kind));
        }
        if words.is_empty() {
            words.push(self.word(part).to_owned());
        }
        if let Some(roll) = of.roll {
            let mark =
                if self.letters { ["a", "b", "c"][roll as usize - 1].to_owned() } else { roll.to_string() };
            words.push(format!("{} {mark}", language.roll[self.words[9] % language.roll.len()]));
        }
        if let Some(tablet) = of.tablet {
            if part == Part::Tablet {
                words.push(tablet.to_string());
            } else {
                words.push(format!("{} {tablet}", self.word(Part::Tablet)));
            }
        }
        words.extend(of.index.map(|index| format!("EI{}{index}", if self.joined { "" } else { " " })));
        words.extend(of.over.map(|over| format!("1-{over} s")));
        words.extend(of.minutes.map(|minutes| format!("{minutes}{}min", if self.joined { "" } else { " " })));
        words.extend(of.celsius.map(|celsius| format!("{celsius}C")));
        if chance.below(9) == 0 {
            words.push(language.last[chance.below(language.last.len())].to_owned());
        }
        if chance.below(12) == 0 {
            words.push(language.copy.to_owned());
        }
        let mut stem = words.join(" ");
        if let Some(way) = self.dated {
            let (month, day) = (1 + self.count / 20 % 12, 1 + self.count % 27);
            stem = match way {
                0 => format!("2026-{month:02}-{day:02} {stem}"),
                1 => format!("2026{month:02}{day:02} {stem}"),
                2 => format!("{day:02}.{month:02}.2026 {stem}"),
                _ => format!("{stem} {day:02}{month:02}26"),
            };
        }
        match self.numbered {
            Some(0) => stem = format!("{stem} {:03}", self.count),
            Some(1) => stem = format!("scan{:04} {stem}", self.count),
            Some(_) if chance.below(3) == 0 => stem = format!("{stem} (2)"),
            _ => {}
        }
        let stem = self.dressed(&stem);
        let inside = match (self.lie, of.film) {
            (Lie::ByFilm, Some(film)) => format!("{film}/"),
            (Lie::ByPart, _) if part != Part::Tablet => format!("{}/", self.word(part)),
            _ => String::new(),
        };
        format!("{}{stem}", if self.plain { plain(&inside) } else { inside })
    }

    fn dressed(&self, stem: &str) -> String {
        let stem = if self.plain { plain(stem) } else { stem.to_owned() };
        let stem = stem.replace(' ', self.separator);
        match self.case {
            0 => stem.to_lowercase(),
            1 => stem.to_uppercase(),
            _ => stem,
        }
    }
}

/// Without accents.
pub(super) fn plain(text: &str) -> String {
    let letter = |c: char| match c {
        'ä' => "ae".to_owned(),
        'ö' => "oe".to_owned(),
        'ü' => "ue".to_owned(),
        'ß' => "ss".to_owned(),
        'é' | 'è' | 'ê' => "e".to_owned(),
        'à' | 'á' => "a".to_owned(),
        'ñ' => "n".to_owned(),
        'ó' => "o".to_owned(),
        'í' => "i".to_owned(),
        other => other.to_string(),
    };
    text.chars().map(letter).collect()
}
