//! The report and graph sheets as PDF, read by pypdf, pikepdf, pdfua and pdfplumber.

use std::sync::LazyLock;

use serde_json::{Value, json};
use tempfile::TempDir;
use twinwedge_core::document::{Film, FilmId, Series};
use twinwedge_workbench::edits::RecordEdit;
use twinwedge_workbench::export::{
    FiguresText, GraphSheet, Paper, report_html, report_pdf, sheet_picture, sheets_pdf,
};
use twinwedge_workbench::session::Session;

use crate::{close, peer, sample};

/// The sample: what is measured in it is measured once for all tests.
pub(crate) fn session() -> &'static Session {
    static SAMPLE: LazyLock<Session> = LazyLock::new(opened);
    &SAMPLE
}

/// The sample, of which nothing is known yet.
fn opened() -> Session {
    Session::open(&sample().join("saltmarsh.twinwedge")).unwrap()
}

fn written(folder: &TempDir, name: &str, bytes: &[u8]) -> String {
    let path = folder.path().join(name);
    std::fs::write(&path, bytes).unwrap();
    path.display().to_string()
}

fn texts(value: &Value) -> Vec<String> {
    value.as_array().unwrap().iter().map(|text| text.as_str().unwrap().to_owned()).collect()
}

/// Letters and digits alone: where words are parted is a reader's guess.
fn letters(text: &str) -> String {
    text.chars().filter(|c| c.is_alphanumeric()).collect()
}

/// The text of an HTML page between its tags, without its drawings, in pieces.
fn pieces(html: &str) -> Vec<String> {
    let main = html.split_once("<main>").unwrap().1;
    let mut out = Vec::new();
    let mut drawing = 0_i32;
    for part in main.split('<') {
        let Some((tag, text)) = part.split_once('>') else { continue };
        if tag.starts_with("svg") {
            drawing += 1;
        } else if tag.starts_with("/svg") {
            drawing -= 1;
        }
        let named =
            [("&amp;", "&"), ("&lt;", "<"), ("&gt;", ">"), ("&quot;", "\""), ("&#39;", "'"), ("&nbsp;", " ")];
        // The typeface has no two thirds: they are drawn of two small figures, and a copy of the text has the letter.
        let text = text.replace('⅔', "²⁄₃");
        let text = named.iter().fold(text, |text, (entity, letter)| text.replace(entity, letter));
        if drawing == 0 && !letters(&text).is_empty() {
            out.push(text);
        }
    }
    out
}

/// PDF 1.7 (ISO 32000-1) and PDF/UA-1 (ISO 14289-1) say what must be there; pikepdf reads whether it is.
#[test]
fn the_report_is_tagged_and_its_fonts_are_embedded() {
    let folder = TempDir::new().unwrap();
    let session = session();
    for (paper, size) in [(Paper::A4, [595.28, 841.89]), (Paper::Letter, [612.0, 792.0])] {
        let pdf = report_pdf(session, None, paper).unwrap();
        let seen = peer("structure", &json!({ "path": written(&folder, "report.pdf", &pdf) }));
        for page in seen["sizes"].as_array().unwrap() {
            close(page[0].as_f64().unwrap(), size[0], 0.01, "width of a page");
            close(page[1].as_f64().unwrap(), size[1], 0.01, "height of a page");
        }
        assert_eq!(seen["title"], "5 films against Tern 160");
        assert!(seen["producer"].as_str().unwrap().starts_with("Twinwedge "), "{}", seen["producer"]);
        assert_eq!((&seen["language"], &seen["ua_part"]), (&json!("en"), &json!("1")));
        assert_eq!((&seen["marked"], &seen["shows_title"]), (&json!(true), &json!(true)));
        let fonts = seen["fonts"].as_object().unwrap();
        assert!(fonts.len() >= 2, "both weights: {fonts:?}");
        for (name, how) in fonts {
            assert_eq!(how, &json!([true, true]), "{name} is embedded and can be copied");
            assert!(name.contains('+'), "{name} is a subset");
        }
        for role in [
            "H1", "H2", "H3", "P", "L", "LI", "LBody", "Table", "TR", "TH", "TD", "Figure", "Caption", "Link",
        ] {
            assert!(seen["roles"][role].as_u64().unwrap_or(0) > 0, "no {role}: {}", seen["roles"]);
        }
        assert_eq!(seen["scopes"]["none"], Value::Null, "every head of a table says what it is the head of");
        assert!(texts(&seen["figures"]).iter().all(|alt| alt.len() > 8), "{}", seen["figures"]);
        for what in ["links_without_words", "links_outside_structure", "links_without_target"] {
            assert_eq!(seen[what], 0, "{what}");
        }
        assert!(seen["links"].as_u64().unwrap() > 100, "{}", seen["links"]);
        assert!(texts(&seen["tab_order"]).iter().all(|order| order == "/S"), "{}", seen["tab_order"]);
        // No heading is more than one level below the one before it.
        let levels = seen["headings"].as_array().unwrap().iter().map(|heading| {
            assert_ne!(heading[1], "", "a heading without a title");
            heading[0].as_str().unwrap()[1..].parse::<i32>().unwrap()
        });
        let levels: Vec<i32> = levels.collect();
        assert!(levels.windows(2).all(|two| two[1] <= two[0] + 1), "{levels:?}");
        let outline = seen["outline"].as_array().unwrap();
        for title in
            ["Plover 640 against Tern 160", "Evidence: Plover 640 against Tern 160", "Findings", "Cautions"]
        {
            assert!(outline.iter().any(|entry| entry[1] == title), "no bookmark {title}");
        }
        // Every row of a table has as many cells as its head, but for names of groups, which span all.
        for table in seen["tables"].as_array().unwrap() {
            let cells = |row: &Value| {
                row.as_object().unwrap().values().map(|count| count.as_u64().unwrap()).sum::<u64>()
            };
            let counts: Vec<u64> = table.as_array().unwrap().iter().map(cells).collect();
            assert!(counts.iter().all(|count| *count == counts[0] || *count == 1), "{table}");
        }
    }
}

/// The checker pdfua examines 16 of the rules of PDF/UA-1, above all that everything drawn is tagged or decoration.
#[test]
fn a_checker_of_pdf_ua_finds_nothing() {
    let folder = TempDir::new().unwrap();
    let session = session();
    let film = FilmId::from("Plover 640");
    let one = report_pdf(session, Some(&film), Paper::A4).unwrap();
    let all = report_pdf(session, None, Paper::A4).unwrap();
    let graph = GraphSheet { of: Some((session, &film)), paper: Paper::A4, mm_per_unit: 40.0 }.pdf().unwrap();
    let blank = GraphSheet { of: None, paper: Paper::Letter, mm_per_unit: 40.0 }.pdf().unwrap();
    for (name, pdf) in [("one.pdf", one), ("all.pdf", all), ("graph.pdf", graph), ("blank.pdf", blank)] {
        let seen = peer("accessible", &json!({ "path": written(&folder, name, &pdf) }));
        assert_eq!(seen["findings"], json!([]), "{name}");
    }
}

/// What stands in the HTML stands in the PDF, in its order, word for word and number for number; both are read from outside.
#[test]
fn paper_says_what_the_screen_says() {
    let folder = TempDir::new().unwrap();
    let session = session();
    for film in [None, Some(FilmId::from("Plover 640"))] {
        let html = report_html(session, film.as_ref()).unwrap();
        let pdf = report_pdf(session, film.as_ref(), Paper::A4).unwrap();
        let seen = peer("structure", &json!({ "path": written(&folder, "report.pdf", &pdf) }));
        let text = letters(&texts(&seen["texts"]).join(" "));
        let wanted = pieces(&html);
        assert!(wanted.len() > 1000, "{} pieces of text", wanted.len());
        let missing: Vec<&String> = wanted.iter().filter(|piece| !text.contains(&letters(piece))).collect();
        assert!(
            missing.is_empty(),
            "{} of {} are missing: {:?}",
            missing.len(),
            wanted.len(),
            missing.first()
        );
    }
}

/// What the JSON knows of a film stands in the row of its label, rounded as the report prints it.
#[test]
fn numbers_on_paper_are_those_of_the_figures() {
    let folder = TempDir::new().unwrap();
    let session = session();
    let mut json = Vec::new();
    FiguresText::of(session).unwrap().write(&mut json).unwrap();
    let json: Value = serde_json::from_slice(&json).unwrap();
    let pdf = report_pdf(session, Some(&FilmId::from("Plover 640")), Paper::A4).unwrap();
    let seen = peer("structure", &json!({ "path": written(&folder, "report.pdf", &pdf) }));
    let text: String = texts(&seen["texts"]).join(" ").chars().filter(|c| !c.is_whitespace()).collect();
    let film = json["films"].as_array().unwrap().iter().find(|film| film["label"] == "Plover 640").unwrap();
    let mut checked = 0;
    // Rows of the table of figures: label, reference, candidate, difference.
    for (name, label) in [
        ("base_fog", "base+fog"),
        ("gamma", "gamma"),
        ("average_gradient", "averagegradient"),
        ("contrast_index", "contrastindex"),
        ("maximum_gradient", "maximumgradient"),
        ("d_max", "D-max"),
    ] {
        let figure = &film["figures"][name];
        let Some(value) = figure["value"].as_f64() else { continue };
        // The report rounds to the digits of the interval: the value to two or three decimals stands in the row of its label.
        let row = |number: &str| {
            text.match_indices(label).any(|(at, _)| {
                let rest: String = text[at + label.len()..].chars().take(40).collect();
                rest.contains(number)
            })
        };
        let printed = [2, 3].map(|decimals| format!("{value:.decimals$}").replace('-', "−"));
        assert!(printed.iter().any(|number| row(number)), "{name}: {value} is not in its row on paper");
        checked += 1;
    }
    assert!(checked >= 4, "{checked} figures were looked for");
}

#[test]
fn every_page_of_the_sample_says_that_it_is_invented() {
    let folder = TempDir::new().unwrap();
    let pdf = report_pdf(session(), None, Paper::A4).unwrap();
    let seen = peer("structure", &json!({ "path": written(&folder, "report.pdf", &pdf) }));
    let pages = texts(&seen["texts"]);
    let of = pages.len();
    for (number, page) in pages.iter().enumerate() {
        assert!(page.contains("invented"), "page {} of the sample", number + 1);
        assert!(
            letters(page).contains(&letters(&format!("{} / {of}", number + 1))),
            "page {} has no number",
            number + 1
        );
        assert!(page.lines().count() > 5, "page {} holds almost nothing: {page}", number + 1);
    }
}

/// A date is the tester's, never the machine's.
#[test]
fn the_same_report_is_the_same_bytes() {
    let folder = TempDir::new().unwrap();
    let film = FilmId::from("Dunlin 40");
    let bytes = |date: &str| {
        let mut session = opened();
        session.carry_out(RecordEdit::Date(date.to_owned())).unwrap();
        report_pdf(&session, Some(&film), Paper::A4).unwrap()
    };
    let first = bytes("2026-02-28");
    assert!(first == bytes("2026-02-28"), "two runs give different bytes");
    let seen = peer("structure", &json!({ "path": written(&folder, "report.pdf", &first) }));
    assert!(
        seen["created"].as_str().is_some_and(|date| date.starts_with("D:20260228")),
        "{}",
        seen["created"]
    );
    assert!(texts(&seen["texts"])[0].contains("2026-02-28"));
    let undated =
        peer("structure", &json!({ "path": written(&folder, "undated.pdf", &bytes("last winter")) }));
    assert_eq!(undated["created"], Value::Null);
}

/// Upright and level lines of a graph sheet measured in the PDF: the grid of a scale stands at that scale.
#[test]
fn graph_sheets_are_true_to_scale() {
    let folder = TempDir::new().unwrap();
    let session = session();
    let film = FilmId::from("Tern 160");
    for (scale, of) in [(50.0, None), (40.0, Some((session, &film))), (60.0, None)] {
        let pdf = GraphSheet { of, paper: Paper::A4, mm_per_unit: scale }.pdf().unwrap();
        let seen = peer("measured", &json!({ "path": written(&folder, "graph.pdf", &pdf) }));
        close(check_line(&seen), 100.0, 0.01, "the line by which a print is checked");
        for upright in [true, false] {
            let places = places(&seen, upright);
            assert!(places.len() > 20, "{} lines", places.len());
            let across = places[places.len() - 1] - places[0];
            // Fine lines are 0.02 apart, from edge to edge; the film's base+fog is a line of its own between them.
            let fine = 0.02 * scale;
            for step in 0..=(across / fine).round() as usize {
                let wanted = places[0] + step as f64 * fine;
                let nearest = places.iter().map(|place| (place - wanted).abs()).fold(f64::INFINITY, f64::min);
                close(nearest, 0.0, 0.01, "millimetres from a fine line to where the scale puts it");
            }
            let units = across / scale;
            close(units * 10.0, (units * 10.0).round(), 0.01, "the graph is whole tenths wide and high");
        }
    }
}

/// Where lines across the whole graph stand, each once.
fn places(seen: &Value, upright: bool) -> Vec<f64> {
    let mut out: Vec<f64> = Vec::new();
    for line in seen["lines"].as_array().unwrap() {
        let [x0, y0, x1, y1] = [0, 1, 2, 3].map(|at| line[at].as_f64().unwrap());
        let (here, length, along) = if upright { (x0, y1 - y0, x1 - x0) } else { (y0, x1 - x0, y1 - y0) };
        if along.abs() < 1e-3 && length.abs() > 90.0 && !(99.0..101.0).contains(&length.abs()) {
            out.push(here);
        }
    }
    out.sort_by(f64::total_cmp);
    out.dedup_by(|a, b| (*a - *b).abs() < 0.01);
    out
}

fn check_line(seen: &Value) -> f64 {
    let lengths = seen["lines"].as_array().unwrap().iter().map(|line| {
        let [x0, y0, x1, y1] = [0, 1, 2, 3].map(|at| line[at].as_f64().unwrap());
        (x1 - x0).hypot(y1 - y0)
    });
    lengths.min_by(|a, b| (a - 100.0).abs().total_cmp(&(b - 100.0).abs())).unwrap()
}

/// Names that would steer markup, a terminal or a page are text on paper, too. They are put into the document itself: what a
/// person may not enter can still stand in a file.
#[test]
fn names_of_films_do_no_harm_on_paper() {
    let folder = TempDir::new().unwrap();
    let long = "Turnstone".repeat(30);
    let names = ["<b>Tern</b> & \"x\"", "טורן 160", "Tern\u{202e}061", long.as_str()];
    let mut series = Series::clone(session().series());
    let films: Vec<FilmId> = series.candidates().map(|film| film.id.clone()).take(names.len()).collect();
    for (film, name) in films.iter().zip(names) {
        let of_film = series.films.iter_mut().filter(|other| other.id == *film);
        of_film.for_each(|other| name.clone_into(&mut other.label));
        // Ten thousand letters without a place to break a line, as verdict.
        series.report.verdicts.insert(film.clone(), "W".repeat(10_000));
    }
    let session = Session::of(series, sample());
    for (film, name) in films.iter().zip(names) {
        let pdf = report_pdf(&session, Some(film), Paper::A4).unwrap();
        let path = written(&folder, "name.pdf", &pdf);
        assert_eq!(peer("accessible", &json!({ "path": path }))["findings"], json!([]), "{name}");
        let seen = peer("structure", &json!({ "path": path }));
        let text = texts(&seen["texts"]).join("");
        assert!(!text.contains('\u{202e}'), "{name}");
        let letters = text.chars().filter(|letter| *letter == 'W').count();
        assert!((10_000..10_100).contains(&letters), "{letters} letters of the verdict are on paper");
    }
}

/// pypdf counts pages and reads their text; ISO 216 and ANSI/ASME Y14.1 say how large they are.
#[test]
fn one_sheet_a_film_stands_on_one_page() {
    let folder = TempDir::new().unwrap();
    let session = session();
    for (paper, size) in [(Paper::A4, [595.28, 841.89]), (Paper::Letter, [612.0, 792.0])] {
        let path = written(&folder, "sheets.pdf", &sheets_pdf(session, None, paper).unwrap());
        let seen = peer("structure", &json!({ "path": path }));
        let sizes = seen["sizes"].as_array().unwrap();
        assert_eq!(sizes.len(), 5, "five candidates");
        for page in sizes {
            close(page[0].as_f64().unwrap(), size[0], 0.01, "width of a page");
            close(page[1].as_f64().unwrap(), size[1], 0.01, "height of a page");
        }
        // Rolls that were developed otherwise have neither print nor grain.
        let candidates = session.series().candidates().map(|film| (film.label.clone(), film.print.is_some()));
        for (text, (label, printed)) in texts(&seen["texts"]).iter().zip(candidates) {
            let text = letters(text);
            for part in [format!("{label} against Tern 160"), "What differs".to_owned()] {
                assert!(text.contains(&letters(&part)), "no {part} in {text}");
            }
            assert_eq!(text.contains(&letters("Prints and grain")), printed, "{text}");
        }
        assert_eq!(peer("accessible", &json!({ "path": path }))["findings"], json!([]));
    }
}

/// The library `pdfium` draws the same page from the PDF; letters and lines differ from it by how their edges are smoothed.
#[test]
fn the_sheet_is_shown_as_it_stands_on_paper() {
    let folder = TempDir::new().unwrap();
    let session = session();
    for (film, paper) in [("Plover 640", Paper::A4), ("Dunlin 40", Paper::Letter)] {
        let film = FilmId::from(film);
        let path = written(&folder, "sheet.pdf", &sheets_pdf(session, Some(&film), paper).unwrap());
        let picture = sheet_picture(session, &film, paper, 1240).unwrap();
        let rgb = written(&folder, "sheet.rgb", &picture.rgb);
        let seen = peer("drawn", &json!({ "path": path, "rgb": rgb, "size": picture.size }));
        let number = |name: &str| seen[name].as_f64().unwrap();
        assert!(number("correlation") > 0.98, "{film:?}: {seen}");
        assert!(number("difference") < 2.0, "{film:?}, of 255: {seen}");
        let ink = [0, 1].map(|at| seen["ink"][at].as_f64().unwrap());
        assert!(ink[0] > 0.02 && (ink[1] / ink[0] - 1.0).abs() < 0.1, "{film:?}: {seen}");
    }
}

/// A series with one candidate that has nothing but readings: nothing is left out in silence, and nothing is empty.
#[test]
fn films_without_prints_have_their_paper() {
    let folder = TempDir::new().unwrap();
    let film = FilmId::from("Tern 160, 6 min");
    let pdf = report_pdf(session(), Some(&film), Paper::Letter).unwrap();
    let path = written(&folder, "rolls.pdf", &pdf);
    assert_eq!(peer("accessible", &json!({ "path": path }))["findings"], json!([]));
    let seen = peer("structure", &json!({ "path": path }));
    assert!(texts(&seen["texts"]).iter().all(|page| page.lines().count() > 5));
}

/// Many films in one document: each has its bookmark, and a link leads to each from the first pages.
#[test]
fn many_films_are_one_document() {
    let folder = TempDir::new().unwrap();
    let mut series = Series::clone(session().series());
    let model = series.films.iter().find(|film| film.label == "Tern 160, 6 min").unwrap().clone();
    for number in 0..20 {
        let label = format!("Wader {number}");
        let mut film = Film { id: FilmId(label.clone()), label, ..model.clone() };
        film.roll_of = None;
        series.films.push(film);
    }
    let session = Session::of(series, sample());
    let pdf = report_pdf(&session, None, Paper::A4).unwrap();
    let seen = peer("structure", &json!({ "path": written(&folder, "report.pdf", &pdf) }));
    let outline = seen["outline"].as_array().unwrap();
    for number in 0..20 {
        let title = format!("Wader {number} against Tern 160");
        assert!(outline.iter().any(|entry| entry[1] == title.as_str()), "no bookmark {title}");
    }
    assert_eq!(seen["links_without_target"], 0);
    assert!(seen["links"].as_u64().unwrap() > 25 * 10, "{} links", seen["links"]);
}
