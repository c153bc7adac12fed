//! Readings as people and programs write them. A seeded generator writes the same numbers in many habits - encodings, line
//! ends, separators, decimal signs, head rows, text before the table, remarks, gaps, repeat readings, either direction - and
//! all must read back as the numbers that were written. The expected values are those of the generator.

use twinwedge_core::problem::Severity;
use twinwedge_workbench::load::{self, Table};

use crate::shared::chance::Chance;

/// What a table holds in one line.
#[derive(Clone, Copy, PartialEq, Debug)]
enum Form {
    Density,
    Step,
    Uncertain,
    Repeats,
}

#[derive(Clone, Copy, PartialEq, Debug)]
enum Between {
    Semicolon,
    Comma,
    QuotedComma,
    Tab,
    Blanks,
}

/// A text and the numbers that it holds.
struct Written {
    text: String,
    /// By step, 1 first: `None` where nothing was read, else the readings.
    steps: Vec<Option<Vec<f64>>>,
    u: Option<f64>,
    form: Form,
}

const BEFORE: [&str; 12] = [
    "Densitometer DX-2, serial no. 40817",
    "Date: 2026-11-30 14:05",
    "30.11.2026",
    "Operator: Ren\u{e9}e",
    "Aperture \u{f8} 3 mm; filter: visual",
    "Saltmarsh Darkroom Cooperative",
    "Density readings of Tern 160",
    "exposure: less 2",
    "base+fog = 0.21",
    "Mode: transmission, 45\u{b0}",
    "=========",
    "Readings",
];

#[expect(clippy::too_many_lines, reason = "one habit of writing after the other")]
fn written(seed: u64) -> Written {
    let mut chance = Chance(seed);
    let count = 11 + chance.below(21);
    let digits = 2 + chance.below(2);
    let scale = 10_f64.powi(digits as i32);
    let form = chance.one(&[Form::Density, Form::Step, Form::Uncertain, Form::Repeats]);
    let between = chance.one(&[
        Between::Semicolon,
        Between::Comma,
        Between::QuotedComma,
        Between::Tab,
        Between::Blanks,
        Between::Blanks,
    ]);
    let comma = match between {
        Between::Comma => false,
        Between::QuotedComma => true,
        _ => chance.may(),
    };
    let repeats = if form == Form::Repeats { 2 + chance.below(3) } else { 1 };
    let gaps = form != Form::Density && chance.below(3) == 0;
    let (top, slope) = (1.6 + 0.1 * chance.below(9) as f64, 0.4 + 0.1 * chance.below(5) as f64);
    let mut steps: Vec<Option<Vec<f64>>> = (0..count)
        .map(|step| {
            let density = top - (top - 0.2) * (step as f64 / (count - 1) as f64).powf(slope);
            let read = |off: usize| ((density * scale).round() + off as f64) / scale;
            Some((0..repeats).map(|_| read(chance.below(4))).collect())
        })
        .collect();
    // Several steps must remain to count from.
    let missing: Vec<usize> = if gaps { vec![1 + chance.below(3), 5 + chance.below(4)] } else { Vec::new() };
    missing.iter().for_each(|step| steps[*step] = None);
    let u = (form == Form::Uncertain).then(|| 0.004 + 0.001 * chance.below(8) as f64);

    let number = |value: f64, digits: usize| {
        let text = format!("{value:.digits$}");
        match (comma, between) {
            (true, Between::QuotedComma) => format!("\"{}\"", text.replace('.', ",")),
            (true, _) => text.replace('.', ","),
            (false, _) => text,
        }
    };
    let gap = chance.one(&["", "-", "n/a"]);
    let drop_rows = between == Between::Blanks || chance.may();
    let join = |cells: Vec<String>, wide: &str| match between {
        Between::Semicolon => cells.join(";"),
        Between::Comma | Between::QuotedComma => cells.join(","),
        Between::Tab => cells.join("\t"),
        Between::Blanks => cells.join(wide),
    };
    let wide = chance.one(&["  ", "    "]);
    let extra = between != Between::Blanks && chance.may();
    let with_mean = repeats > 1 && chance.may();
    let head = extra || with_mean || (form == Form::Repeats && repeats > 3) || chance.may();
    let mut rows: Vec<String> = Vec::new();
    for (at, readings) in steps.iter().enumerate() {
        let mut cells = if form == Form::Density { Vec::new() } else { vec![(at + 1).to_string()] };
        match readings {
            None if drop_rows => continue,
            None => cells.extend((0..repeats).map(|_| gap.to_owned())),
            Some(values) => cells.extend(values.iter().map(|value| number(*value, digits))),
        }
        if with_mean {
            let mean = readings.as_ref().map(|values| values.iter().sum::<f64>() / values.len() as f64);
            cells.push(mean.map_or(String::new(), |mean| number(mean, 3)));
        }
        if let Some(u) = u {
            cells.push(if readings.is_some() { number(u, 3) } else { String::new() });
        }
        if extra {
            cells.push(if at == 3 { "a scratch beside it".to_owned() } else { String::new() });
        }
        rows.push(join(cells, wide));
    }
    if form != Form::Density && chance.may() {
        rows.reverse();
    }
    if head {
        let step = chance.one(&["Step", "step no.", "No", "Nr.", "Patch"]);
        let density = chance.one(&["Density", "D", "density (visual)", "Reading", "D [log]"]);
        let mut cells = if form == Form::Density { Vec::new() } else { vec![step.to_owned()] };
        match repeats {
            1 => cells.push(density.to_owned()),
            _ => {
                let word = chance.one(&["D", "density ", "Reading ", "D_", "density no. "]);
                cells.extend((1..=repeats).map(|number| format!("{word}{number}")));
            }
        }
        if with_mean {
            cells.push(chance.one(&["Mean", "average", "mean density"]).to_owned());
        }
        if u.is_some() {
            cells.push(chance.one(&["Uncertainty", "u", "SD", "+-"]).to_owned());
        }
        if extra {
            cells.push("Remark".to_owned());
        }
        let mark = if chance.below(5) == 0 { "# " } else { "" };
        // A head that is a remark says nothing about the columns: only where these need no words.
        let mark = if extra || with_mean || repeats > 1 { "" } else { mark };
        rows.insert(0, format!("{mark}{}", join(cells, wide)));
    }
    for _ in 0..chance.below(4) {
        let at = usize::from(head) + chance.below(rows.len() - usize::from(head));
        rows.insert(at, chance.one(&["", "   ", "# read twice", "#", "#0.5;0.7 struck out"]).to_owned());
    }
    for _ in 0..chance.below(5) {
        rows.insert(0, chance.one(&BEFORE).to_owned());
    }
    if chance.may() {
        rows.push(chance.one(&["", "End of report", "checked by Renée", "# end"]).to_owned());
    }
    let end = chance.one(&["\n", "\r\n", "\r"]);
    Written { text: rows.join(end) + if chance.may() { end } else { "" }, steps, u, form }
}

/// The text as bytes, in one of the encodings.
fn encoded(text: &str, chance: &mut Chance) -> Vec<u8> {
    let marked = |mark: &[u8], bytes: Vec<u8>| [mark, &bytes].concat();
    let le = || text.encode_utf16().flat_map(u16::to_le_bytes).collect::<Vec<u8>>();
    let be = || text.encode_utf16().flat_map(u16::to_be_bytes).collect::<Vec<u8>>();
    match chance.below(7) {
        0 => text.as_bytes().to_vec(),
        1 => marked(&[0xEF, 0xBB, 0xBF], text.as_bytes().to_vec()),
        2 => marked(&[0xFF, 0xFE], le()),
        3 => marked(&[0xFE, 0xFF], be()),
        4 => le(),
        5 => be(),
        // All that is written here is in Latin-1.
        _ => text.chars().map(|c| u8::try_from(c).expect("in Latin-1")).collect(),
    }
}

fn read(bytes: &[u8]) -> Result<Table, String> {
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("readings.csv");
    std::fs::write(&path, bytes).expect("written");
    let text = load::text(&path).map_err(|problem| problem.to_string())?;
    load::table(&text, "readings.csv").map_err(|problem| problem.to_string())
}

#[test]
fn six_hundred_habits_read_the_same_numbers() {
    let mut forms = [0; 4];
    for seed in 0..600 {
        let written = written(seed);
        let bytes = encoded(&written.text, &mut Chance(seed ^ 0xABCD));
        let table = read(&bytes).unwrap_or_else(|problem| panic!("seed {seed}: {problem}\n{}", written.text));
        forms[written.form as usize] += 1;
        let says = || format!("seed {seed}: {table:?}\n{}", written.text);
        // Steps after the last that was read may not be named at all.
        assert!(table.readings.len() <= written.steps.len(), "{}", says());
        for (at, wanted) in written.steps.iter().enumerate() {
            let got = table.readings.get(at).filter(|reading| !reading.missing);
            let Some(wanted) = wanted else {
                assert!(got.is_none(), "step {} was not read; {}", at + 1, says());
                continue;
            };
            let got = got.unwrap_or_else(|| panic!("step {} is lost; {}", at + 1, says()));
            let mean = wanted.iter().sum::<f64>() / wanted.len() as f64;
            assert!(
                (got.density - mean).abs() < 1e-9,
                "step {}: {} for {mean}; {}",
                at + 1,
                got.density,
                says()
            );
            match written.form {
                Form::Uncertain => {
                    assert_eq!(got.u.map(|u| (u * 1e6).round()), written.u.map(|u| (u * 1e6).round()));
                }
                Form::Repeats => assert!(got.u.is_some_and(|u| u > 0.0 && u < 0.02), "{}", says()),
                Form::Density | Form::Step => assert_eq!(got.u, None),
            }
        }
        let missing = written.steps.iter().any(Option::is_none);
        let told = |word: &str| table.notes.iter().any(|note| note.cause.contains(word));
        assert!(!missing || told("no density"), "{}", says());
        assert_eq!(written.form == Form::Repeats, told("is the mean of"), "{}", says());
        assert!(table.notes.iter().all(|note| note.severity != Severity::Error));
        if written.text.contains("exposure: less 2") {
            assert_eq!(table.stated.exposure.as_deref(), Some("less 2"));
        }
    }
    assert!(forms.iter().all(|count| *count > 100), "{forms:?}");
}

/// What cannot be known is asked, and the message says where and what to write.
#[test]
fn doubtful_tables_are_asked_about() {
    let cases: [(&str, &[&str]); 9] = [
        ("1;0.10;1.30\n2;0.20;1.10\n3;0.35;0.70\n", &["line 1", "3 columns", "step;density"]),
        ("DX-2\r\n\r\n# at noon\r\n1;0.10;0.9;7\r\n2;0.20;0.8;7\r\n", &["line 4", "4 columns"]),
        ("step;density\n1;1.234,5\n2;0.3\n", &["line 2, column 2", "1.234,5", "nothing between thousands"]),
        ("step;density\n1;1'234\n", &["line 2, column 2", "more than one sign"]),
        ("1.97\n1.5O\n0.21\n", &["line 2", "1.5O"]),
        ("1.9O\n1.50\n0.21\n", &["line 1", "1.9O"]),
        ("1.97\n1.50\nsmudge\n0.21\n", &["line 3", "smudge"]),
        ("step;density\n\n# dusty\r\n1;0.10\r\n2;dense\r\n", &["line 5, column 2", "'dense'"]),
        ("step;density\n1;0.1\n2;0.2\n210;0.3\n", &["numbered up to 210", "only 3"]),
    ];
    for (text, words) in cases {
        let problem = load::table(text, "readings.csv").expect_err(text).to_string();
        for word in words {
            assert!(problem.contains(word), "{text:?} should say {word:?}: {problem}");
        }
        assert!(!problem.contains("delete"), "{problem}");
    }
}

/// Three columns without names are told apart where their numbers leave no doubt.
#[test]
fn columns_without_names_are_told_apart_by_their_numbers() {
    let lines = |of: &dyn Fn(usize) -> String| (0..15).map(of).collect::<Vec<_>>().join("\n");
    let film = |i: usize| 2.0 - 1.7 * (i as f64 / 14.0).powf(0.7);
    let read = |text: String| load::table(&text, "t").unwrap_or_else(|problem| panic!("{problem}\n{text}"));
    let with_u = read(lines(&|i| format!("{};{:.2};0.010", i + 1, film(i))));
    assert_eq!(with_u.readings[3].u, Some(0.010));
    let twice = read(lines(&|i| format!("{};{:.2};{:.2}", i + 1, film(i), film(i) + 0.02)));
    assert!((twice.readings[3].density - ((film(3) * 100.0).round() / 100.0 + 0.01)).abs() < 0.006);
    assert!(twice.notes.iter().any(|note| note.cause.contains("mean of 2 readings")));
    // Beside the even densities of the tablet those of the film fall.
    let beside = read(lines(&|i| format!("{};{:.2};{:.2}", i + 1, 0.05 + 0.15 * i as f64, film(i))));
    assert!((beside.readings[3].density - film(3)).abs() < 0.006);
    assert!(beside.notes.iter().any(|note| note.cause.contains("column 2")), "{:?}", beside.notes);
    let text = lines(&|i| format!("{};{:.2};{:.2}", i + 1, 0.05 + 0.15 * i as f64, film(i)));
    let tablet = load::tablet(&text, "t").expect("a tablet");
    assert!((tablet.steps[3].density - 0.5).abs() < 1e-9);
}

/// A typing error among repeats is told, and a mean that does not belong to its readings.
#[test]
fn repeats_that_disagree_are_told() {
    let text = (0..12).fold("step;D1;D2;mean\n".to_owned(), |text, i| {
        let density = 2.0 - 0.1 * f64::from(i);
        let (second, mean) =
            if i == 4 { (density + 3.0, density) } else { (density + 0.01, density + 0.005) };
        text + &format!("{};{density:.2};{second:.2};{mean:.3}\n", i + 1)
    });
    let table = load::table(&text, "t").expect("readings");
    let told = |word: &str| table.notes.iter().filter(|note| note.cause.contains(word)).count();
    assert_eq!((told("step 5 disagree"), told("own mean of step 5")), (1, 1), "{:?}", table.notes);
    assert!(table.readings[4].u.is_some_and(|u| u > 0.9));
    assert!(table.readings[5].u.is_some_and(|u| u < 0.006));
}

/// A value of 150 zero bytes is quoted by a few of them.
#[test]
fn long_values_are_quoted_short() {
    let text = format!("step;density\n1;0.10\n2;{}\n", "\u{1}".repeat(150));
    let problem = load::table(&text, "t").expect_err("no number");
    let cause = problem.cause.to_string();
    let quoted = cause.split('\'').nth(1).expect("a quotation");
    assert!(quoted.chars().count() <= 60 && quoted.contains('…'), "{quoted}");
}
