//! Tables for spreadsheets of both decimal conventions, and densities as CGATS text, out and in.

use std::path::Path;

use serde_json::Value;

use crate::{answer, every, json, number, sample, twinwedge};

/// A table that `report` wrote: its head row, and its rows, with the byte order mark taken off.
fn table(series: &str, folder: &Path, options: &[&str], delimiter: u8) -> (Vec<String>, Vec<Vec<String>>) {
    let out = folder.join(format!("{}.csv", options.concat()));
    let shown = out.display().to_string();
    let output = twinwedge(&[&["report", series, "--out", &shown], options].concat());
    let said = String::from_utf8_lossy(&output.stderr);
    assert!(matches!(output.status.code(), Some(0 | 1)), "{options:?}: {said}");
    let text = std::fs::read_to_string(&out).expect("a table");
    // By the mark spreadsheets know UTF-8; RFC 4180 for the rest. The table for scripts, all figures with a point, goes without.
    let marked = ["films", "patches", "comma"].iter().any(|word| options.contains(word));
    assert_eq!(text.starts_with('\u{feff}'), marked, "{options:?}");
    let text = text.trim_start_matches('\u{feff}');
    let mut reader = csv::ReaderBuilder::new().delimiter(delimiter).from_reader(text.as_bytes());
    let head = reader.headers().expect("a head").iter().map(str::to_owned).collect();
    let row = |row: csv::StringRecord| row.iter().map(str::to_owned).collect::<Vec<String>>();
    (head, reader.records().map(|read| row(read.expect("a row"))).collect())
}

/// The same number, to the last digits that reading JSON may lose, or none.
fn same(a: Option<f64>, b: Option<f64>) -> bool {
    match (a, b) {
        (Some(a), Some(b)) => (a - b).abs() <= 1e-12 * b.abs(),
        (None, None) => true,
        _ => false,
    }
}

/// The numbers are those of the JSON, with a point or a comma.
#[test]
fn tables_open_right_with_either_decimal_sign() {
    let folder = tempfile::tempdir().expect("a folder");
    let series = every::series(folder.path()).display().to_string();
    let (_, figures, _) = answer(&["figures", &series]);
    let films = figures["films"].as_array().expect("films");
    let plain = |cell: &str| cell.replace(',', ".").parse::<f64>().ok();
    for (decimal, delimiter) in [("point", b','), ("comma", b';')] {
        let (head, rows) =
            table(&series, folder.path(), &["--table", "films", "--decimal", decimal], delimiter);
        assert_eq!(rows.len(), films.len(), "a row a film");
        for (row, film) in rows.iter().zip(films) {
            assert_eq!(row[0], film["label"].as_str().expect("a label"));
            let mut known = 0;
            for (key, figure) in film["figures"].as_object().expect("figures") {
                let label = figures["definitions"][key]["label"].as_str().expect("a label");
                let unit = figures["definitions"][key]["unit"].as_str().expect("a unit");
                let column = head.iter().position(|title| *title == format!("{label} [{unit}]"));
                let cell = &row[column.unwrap_or_else(|| panic!("{label} [{unit}] in {head:?}"))];
                assert!(same(plain(cell), figure["value"].as_f64()), "{key}: {cell} for {figure}");
                let wrong = if decimal == "comma" { '.' } else { ',' };
                assert!(!cell.contains(wrong), "{key}: {cell}");
                known += usize::from(figure["value"].is_f64());
            }
            assert!(known > 5, "{known}");
        }
        let (_, rows) =
            table(&series, folder.path(), &["--table", "figures", "--decimal", decimal], delimiter);
        assert_eq!(rows.len(), films.len() * films[0]["figures"].as_object().expect("figures").len());
    }
    let out = folder.path().join("x.json").display().to_string();
    let (code, _, said) = answer(&["report", &series, "--out", &out, "--table", "films"]);
    assert!(code == Some(2) && said.contains("--table"), "{said}");
}

/// Of the sample: each patch of each film that has a print, with its difference where the film is a candidate.
#[test]
fn patches_have_a_table_of_their_own() {
    let folder = tempfile::tempdir().expect("a folder");
    let (head, rows) = table("sample", folder.path(), &["--table", "patches"], b',');
    let column = |name: &str| head.iter().position(|title| title == name).expect("a column");
    let (_, figures, _) = answer(&["figures", "sample"]);
    let films = figures["films"].as_array().expect("films");
    let patches: Vec<(&Value, &Value)> = films
        .iter()
        .flat_map(|film| film["patches"].as_array().expect("patches").iter().map(move |p| (film, p)))
        .collect();
    assert!(rows.len() == patches.len() && rows.len() >= 72, "{}", rows.len());
    for (row, (film, patch)) in rows.iter().zip(patches) {
        assert_eq!(row[column("film")], *film["label"].as_str().expect("a label"));
        assert_eq!(row[column("patch")], *patch["name"].as_str().expect("a name"));
        assert!(same(row[column("density")].parse().ok(), patch["density"]["value"].as_f64()), "{row:?}");
        let differs = row[column("difference")].parse::<f64>().is_ok();
        assert_eq!(differs, film["role"] == "candidate", "{row:?}");
    }
}

/// Densities leave as CGATS text and come back: the keywords are those of ISO 28178, one value for each field in each row.
#[test]
fn densities_leave_and_come_back_as_cgats() {
    let folder = tempfile::tempdir().expect("a folder");
    let shown = |name: &str| folder.path().join(name).display().to_string();
    let (out, tablet) = (shown("tern.txt"), sample("step-tablet.csv").display().to_string());
    let scan = sample("scans/tern-160-strip.tif").display().to_string();
    let strip = json(&["strip", &scan, "--steps", "21", "--encoding", "srgb", "--cgats", &out]);
    let text = std::fs::read_to_string(&out).expect("a file");
    assert!(text.starts_with("CGATS.17\n"), "{text}");
    let between = |begin: &str, end: &str| -> Vec<&str> {
        let (_, rest) = text.split_once(&format!("\n{begin}\n")).expect(begin);
        rest.split_once(&format!("{end}\n")).expect(end).0.lines().collect()
    };
    let fields: Vec<&str> = between("BEGIN_DATA_FORMAT", "END_DATA_FORMAT")[0].split('\t').collect();
    assert_eq!(fields, ["SAMPLE_ID", "SAMPLE_NAME", "D_VIS", "U_D_VIS"]);
    assert!(text.contains(&format!("NUMBER_OF_FIELDS {}\n", fields.len())));
    assert!(text.contains("KEYWORD \"U_D_VIS\"\n"), "keywords of its own are declared");
    let rows = between("BEGIN_DATA", "END_DATA");
    let steps = strip["steps"].as_array().expect("steps");
    assert!(rows.len() == steps.len() && text.contains(&format!("NUMBER_OF_SETS {}\n", rows.len())));
    for (row, step) in rows.iter().zip(steps) {
        let cells: Vec<&str> = row.split('\t').collect();
        assert_eq!((cells.len(), cells[0].parse().ok()), (4, step["step"].as_u64()));
        assert_eq!(cells[2], format!("{:.4}", number(&step["density"]["value"])));
    }
    let (_, curve, said) = answer(&["curve", &out, "--tablet", &tablet]);
    for (reading, step) in curve["curve"]["readings"].as_array().expect(&said).iter().zip(steps.iter().rev())
    {
        assert_eq!(
            reading["step"], step["step"],
            "readings go up in exposure, steps of the tablet in density"
        );
        assert!((number(&reading["density"]["value"]) - number(&step["density"]["value"])).abs() <= 0.5e-4);
    }
    // An older one is replaced; a file of another kind is kept.
    json(&["strip", &scan, "--steps", "21", "--encoding", "srgb", "--cgats", &out]);
    let own = shown("own.txt");
    std::fs::write(&own, "mine").expect("a file");
    let (code, _, said) = answer(&["strip", &scan, "--steps", "21", "--encoding", "srgb", "--cgats", &own]);
    assert!(code == Some(2) && said.contains("--force"), "{said}");
    assert_eq!(std::fs::read_to_string(&own).expect("kept"), "mine");
}

/// A scan gives the same curve as the densities that were read of it, and more than one strip may be a scan.
#[test]
fn a_curve_takes_readings_and_scans_alike() {
    let tablet = sample("step-tablet.csv").display().to_string();
    let scan = sample("scans/tern-160-strip.tif").display().to_string();
    let (_, found, said) =
        answer(&["curve", &scan, "--tablet", &tablet, "--encoding", "srgb", "--exposure", "absolute 0.5"]);
    let strip = json(&["strip", &scan, "--steps", "21", "--encoding", "srgb"]);
    let readings = found["curve"]["readings"].as_array().expect(&said);
    assert_eq!(readings.len(), 21);
    for reading in readings {
        let step = reading["step"].as_u64().expect("a step") as usize - 1;
        assert_eq!(reading["density"]["value"], strip["steps"][step]["density"]["value"]);
    }
    assert_eq!(found["strips"][0]["found"]["sure"], true, "{}", found["strips"]);
    let nominal = answer(&["curve", &scan, "--tablet", "nominal 21", "--encoding", "srgb"]);
    assert!(nominal.1["figures"]["gamma"]["value"].is_number(), "{}", nominal.2);
    let (code, _, said) = answer(&["curve", &scan, "--tablet", "nominal 11", "--encoding", "srgb"]);
    assert_ne!(code, Some(0), "eleven steps are not what the strip has: {said}");
}
