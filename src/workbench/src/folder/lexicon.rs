//! Words of file names and of tables in English, German, French, Spanish and Italian, in one table: whole words as they are
//! common in the trade.

use std::collections::HashMap;
use std::sync::OnceLock;

use unicode_normalization::UnicodeNormalization as _;
use unicode_normalization::char::is_combining_mark;

use super::kinds::Kind;

/// What a word says.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Means {
    /// What the file is.
    Kind(Kind),
    /// A wedge: a tablet, or a strip exposed through one, as the rest of the name has it.
    Wedge,
    /// A frame of a bracket.
    Frame,
    /// Which roll comes next, by a number or a letter.
    Roll,
    /// A roll where a number or a letter follows, else nothing.
    MayBeRoll,
    /// The exposure index comes next.
    Index,
    /// A number of scans or pictures comes next, or nothing.
    Numbered,
    /// The number before it is a time of development.
    Minutes,
    /// The number before it is a time of exposure.
    Seconds,
    /// The number before it is a temperature.
    Celsius,
    /// The number before it is a setting of the scan.
    Unit,
    /// What a film was developed in.
    Developer,
    /// The film is the reference.
    Reference,
    /// Seen by reflection.
    Printed,
    /// It speaks of film, not of paper.
    Filmed,
    /// It says nothing of the film.
    Nothing,
}

/// One line a meaning: words of each language, between blanks. Accents may be left away, and umlauts written with an e.
const TABLE: [(Means, [&str; 5]); 26] = [
    (
        Means::Kind(Kind::CalibrationFilm),
        [
            "calibration calibrations calib calibrate cal tablet tablets",
            "kalibrierung stufenkeil graukeil graustufenkeil stufengraukeil",
            "étalonnage calibration gamme mire",
            "calibración tablilla escala",
            "calibrazione taratura scala",
        ],
    ),
    (
        Means::Kind(Kind::Readings),
        [
            "readings reading densities density densitometer",
            "messwerte messwert messung messungen dichten dichte densitometer",
            "mesures mesure densités densité lectures lecture densitomètre",
            "lecturas lectura densidades densidad medidas mediciones densitómetro",
            "letture lettura densità misure misura densitometro",
        ],
    ),
    (
        Means::Kind(Kind::Bracket),
        [
            "bracket brackets bracketed bracketing",
            "belichtungsreihe belichtungsreihen reihe",
            "bracketing fourchette série",
            "horquillado horquilla serie",
            "forcella serie",
        ],
    ),
    (
        Means::Kind(Kind::Record),
        [
            "record records development developing notes",
            "protokoll protokolle entwicklung notizen",
            "fiche fiches développement notes",
            "registro registros revelado notas ficha",
            "scheda schede sviluppo note",
        ],
    ),
    (
        Means::Kind(Kind::Exposures),
        [
            "exposures exposure times",
            "belichtung belichtungen belichtungszeit belichtungszeiten",
            "poses pose temps expositions exposition",
            "exposiciones exposición tiempos tiempo",
            "esposizioni esposizione tempi tempo posa pose",
        ],
    ),
    (
        Means::Kind(Kind::Blank),
        [
            "blank unexposed clear fog base dmin",
            "leer unbelichtet schleier klarfilm",
            "vierge voile",
            "velo virgen",
            "velo vergine",
        ],
    ),
    (
        Means::Kind(Kind::Grain),
        ["grain granularity field plain even flat", "korn körnung", "grain", "grano", "grana"],
    ),
    (Means::Kind(Kind::Edge), ["edge edges", "kante kanten", "bord", "borde", "bordo"]),
    (
        Means::Kind(Kind::Strip),
        [
            "strip strips sensitometry teststrip",
            "streifen teststreifen filmstreifen keilstreifen",
            "bande bandes bandelette bandelettes",
            "tira tiras",
            "striscia strisce provino provini",
        ],
    ),
    (
        Means::Wedge,
        [
            "wedge wedges steps step stepwedge",
            "keil keile stufen stufe",
            "coin coins paliers palier plage",
            "cuña cuñas escalones paso",
            "cuneo cunei gradini gradino",
        ],
    ),
    (
        Means::Kind(Kind::Print),
        [
            "print prints target targets printed",
            "abzug abzüge vergrößerung vergrößerungen",
            "tirage tirages épreuve épreuves",
            "positivo positivos ampliación ampliaciones",
            "stampa stampe ingrandimento",
        ],
    ),
    (Means::Kind(Kind::Paper), ["paper", "papier fotopapier", "papier", "papel", "carta"]),
    (
        Means::Frame,
        ["frame frames", "aufnahme aufnahmen bild bilder", "vue vues", "toma tomas", "scatto scatti"],
    ),
    (
        Means::Roll,
        ["roll rolls r", "rolle rollen", "rouleau bobine pellicule", "rollo carrete", "rullo rullino"],
    ),
    (Means::MayBeRoll, ["film films", "filme", "pellicules", "película películas", "pellicola pellicole"]),
    (Means::Index, ["ei", "", "ie", "ie", "ie"]),
    (
        Means::Numbered,
        [
            "scan scans scanned scanner img image images dsc no nr v pic",
            "scanner foto",
            "numérisation",
            "escaneo",
            "scansione",
        ],
    ),
    (Means::Minutes, ["min mins minute minutes", "minuten", "mn", "minuto minutos", "minuti"]),
    (
        Means::Seconds,
        ["s sec secs second seconds", "sek sekunde sekunden", "secondes", "segundos", "secondi"],
    ),
    (
        Means::Celsius,
        [
            "c celsius degrees temperature",
            "grad temperatur",
            "degrés température",
            "grados temperatura",
            "gradi temperatura",
        ],
    ),
    (Means::Developer, ["developer", "entwickler", "révélateur", "revelador", "rivelatore sviluppatore"]),
    (Means::Unit, ["bit bits dpi ppi px mm um", "", "", "", ""]),
    (Means::Reference, ["reference ref", "referenz", "référence", "referencia", "riferimento"]),
    (Means::Printed, ["reflection reflective", "aufsicht", "réflexion", "reflexión", "riflessione"]),
    (
        Means::Filmed,
        [
            "negative neg negs negatives transmission",
            "negativ negative durchsicht",
            "négatif",
            "negativo",
            "negativo",
        ],
    ),
    (
        Means::Nothing,
        [
            "picture pictures photo file files copy final raw crop export tif tiff jpg png of new grey gray scale",
            "kopie neu endgültig von datei",
            "copie définitif nouveau nouvelle de des gris",
            "copia definitivo nuevo nueva de grises gris",
            "copia finale definitivo nuovo nuova di grigi grigio",
        ],
    ),
];

/// What a word of a name says; `None` where it may be a film's.
pub(super) fn means(word: &str) -> Option<Means> {
    static WORDS: OnceLock<HashMap<String, Means>> = OnceLock::new();
    let words = WORDS.get_or_init(|| {
        let mut words = HashMap::new();
        for (means, languages) in &TABLE {
            for word in languages.iter().flat_map(|words| words.split_whitespace()) {
                for form in [bare(word), spelt(word)] {
                    words.entry(form).or_insert(*means);
                }
            }
        }
        words
    });
    words.get(&bare(word)).copied()
}

/// Small letters without accents.
pub(super) fn bare(word: &str) -> String {
    let plain = word.to_lowercase().replace('ß', "ss");
    plain.nfd().filter(|c| !is_combining_mark(*c)).collect()
}

/// The same with umlauts written out.
fn spelt(word: &str) -> String {
    let out = [("ä", "ae"), ("ö", "oe"), ("ü", "ue")];
    bare(&out.iter().fold(word.to_lowercase(), |word, (umlaut, letters)| word.replace(umlaut, letters)))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_are_known_in_five_languages_with_and_without_accents() {
        for (word, wanted) in [
            ("Strip", Means::Kind(Kind::Strip)),
            ("STREIFEN", Means::Kind(Kind::Strip)),
            ("bande", Means::Kind(Kind::Strip)),
            ("tira", Means::Kind(Kind::Strip)),
            ("striscia", Means::Kind(Kind::Strip)),
            ("Vergrößerung", Means::Kind(Kind::Print)),
            ("Vergroesserung", Means::Kind(Kind::Print)),
            ("densité", Means::Kind(Kind::Readings)),
            ("densites", Means::Kind(Kind::Readings)),
            ("cuna", Means::Wedge),
            ("endgueltig", Means::Nothing),
        ] {
            assert_eq!(means(word), Some(wanted), "{word}");
        }
        assert_eq!(means("Tern"), None);
    }
}
