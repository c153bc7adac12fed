//! What holds of every JSON that any verb prints, whatever it is about. The walk knows no verb: one that comes in later is held to
//! the same rules as soon as `every::calls` has a call of it.

use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;

use serde_json::Value;
use twinwedge_core::measured::Flags;

use crate::every::calls;
use crate::files::{FILM_SCANNER, calibration};
use crate::{answer, sample};

/// Arrays of rows of numbers that are matrices, and nothing else.
const MATRICES: [&str; 2] = ["matrix", "covariance"];

/// Calls whose answers show as much of the JSON as can be had: rich ones, and ones of which much is missing.
fn rich(folder: &Path) -> Vec<Vec<String>> {
    let shown = |path: &Path| path.display().to_string();
    let scan = |name: &str| shown(&sample(&format!("scans/{name}.tif")));
    let scanner =
        shown(&calibration(folder, "scans/film-scanner-tablet.tif", "step-tablet.csv", FILM_SCANNER));
    let (readings, tablet) = (shown(&sample("readings/tern-160.csv")), shown(&sample("step-tablet.csv")));
    let flat = folder.join("flat.csv");
    std::fs::write(&flat, "density\n0.21\n0.20\n0.20\n0.20\n").expect("a file");
    let (strip, grain, edge) = (scan("tern-160-strip"), scan("tern-160-grain"), scan("tern-160-edge"));
    let (fields, print, other) =
        (scan("plover-640-fields"), scan("tern-160-print"), scan("plover-640-print"));
    let third = scan("dunlin-40-print");
    let flat = shown(&flat);
    let calls: [&[&str]; 13] = [
        &["figures", "sample"],
        &["check", "sample", "--json"],
        &["tones", "sample", "--json"],
        &["development", "sample", "--json"],
        &[
            "curve",
            &readings,
            "--tablet",
            &tablet,
            "--exposure",
            "absolute 0.5",
            "--points",
            "20",
            "--strip",
            &strip,
        ],
        &["curve", &strip, "--tablet", &tablet, "--calibration", &scanner],
        &["curve", &flat, "--tablet", "nominal 21"],
        &["strip", &strip, "--corners", "54,57 1712,84 1710,241 52,216", "--steps", "21"],
        &[
            "grain",
            &fields,
            "--area",
            "8,8 312,312",
            "--area",
            "328,8 632,312",
            "--base-fog",
            "0.3",
            "--encoding",
            "srgb",
        ],
        &[
            "spectrum",
            &grain,
            "--against",
            &scan("plover-640-grain"),
            "--repeat",
            &grain,
            "--calibration",
            &scanner,
        ],
        &["edge", &edge, "--area", "8,8 312,412", "--readings", &readings, "--tablet", &tablet],
        &["detail", &print, &other, "--third", &third, "--area", "200,400 900,1000", "--encoding", "srgb"],
        &["scan", &grain, "--known", "20,20 200,200 0.64 0.005", "--border", "28"],
    ];
    calls.iter().map(|call| call.iter().map(|&word| word.to_owned()).collect()).collect()
}

/// Every JSON: of each verb once, of what has a `--json` by that, and the rich ones.
pub(crate) fn every_json() -> Vec<(String, Value)> {
    let folder = tempfile::tempdir().expect("a folder");
    let mut all: Vec<Vec<String>> = calls(folder.path()).into_iter().map(|call| call.arguments).collect();
    for call in &mut all {
        if ["tones", "conclusions", "check", "development", "gather"].contains(&call[0].as_str()) {
            call.push("--json".to_owned());
        }
    }
    all.retain(|call| {
        !["report", "graph", "slides", "layout", "manual", "schema"].contains(&call[0].as_str())
    });
    let other = tempfile::tempdir().expect("a folder");
    all.extend(rich(other.path()));
    let ask = |call: &Vec<String>| {
        let words: Vec<&str> = call.iter().map(String::as_str).collect();
        let (code, json, said) = answer(&words);
        assert!(matches!(code, Some(0 | 1)) && json.is_object(), "{call:?}: {said}");
        (call.join(" "), json)
    };
    all.iter().map(ask).collect()
}

/// Walks all values with the keys that lead to them.
fn walk<'a>(keys: &mut Vec<&'a str>, value: &'a Value, see: &mut dyn FnMut(&[&'a str], &'a Value)) {
    see(keys, value);
    match value {
        Value::Object(members) => {
            for (key, member) in members {
                keys.push(key);
                walk(keys, member, see);
                keys.pop();
            }
        }
        Value::Array(items) => items.iter().for_each(|item| walk(keys, item, see)),
        _ => {}
    }
}

fn kind(value: &Value) -> &'static str {
    match value {
        Value::Null => "null",
        Value::Bool(_) => "bool",
        Value::Number(_) => "number",
        Value::String(_) => "text",
        Value::Array(_) => "list",
        Value::Object(_) => "object",
    }
}

/// What a measured number must have beside its value.
fn measured(at: &str, members: &serde_json::Map<String, Value>) {
    let text = |key: &str| members.get(key).and_then(Value::as_str).unwrap_or_default();
    if members["value"].is_null() {
        assert!(!text("reason").is_empty(), "{at}: null without a reason");
        return;
    }
    assert!(!text("unit").is_empty(), "{at}: a number without its unit");
    let flags = members.get("flags").and_then(Value::as_array).unwrap_or_else(|| panic!("{at}: no flags"));
    for flag in flags {
        let known = Flags::REGISTRY.iter().any(|(_, word, _)| flag == word);
        assert!(known, "{at}: {flag} is no flag");
    }
    let number = |key: &str| members.get(key).and_then(Value::as_f64);
    match members.get("bound") {
        Some(side) => {
            let end = if side == "at least" { "low" } else { "high" };
            assert_eq!(number("limit"), number(end), "{at}: the limit of a bound is its end");
            assert!(number("limit").is_some() && number("u").is_none(), "{at}");
        }
        None => {
            let (u, low, high) = (number("u"), number("low"), number("high"));
            let (Some(u), Some(low), Some(high)) = (u, low, high) else { panic!("{at}: no interval") };
            assert!(u >= 0.0 && low <= high, "{at}: {u}, {low}, {high}");
        }
    }
}

#[test]
fn every_json_of_every_verb_speaks_one_language() {
    let all = every_json();
    // What a key holds, and where that was seen first.
    let mut kinds: BTreeMap<String, (&str, String)> = BTreeMap::new();
    let mut faults = BTreeSet::new();
    for (call, json) in &all {
        let verb = call.split(' ').next().unwrap_or_default();
        let keys: Vec<&str> =
            json.as_object().expect("an object").keys().take(4).map(String::as_str).collect();
        assert_eq!(keys, ["format", "version", "program", "interval"], "{call}");
        assert_eq!(json["format"], format!("twinwedge {verb}"), "{call}");
        assert!(json["interval"].as_str().is_some_and(|said| said.contains("95 %")), "{call}");
        walk(&mut Vec::new(), json, &mut |keys, value| {
            let at = format!("{call}: {}", keys.join("/"));
            let key = keys.last().copied().unwrap_or_default();
            assert!(!value.is_null() || key == "value", "{at}: null");
            if let Value::Object(members) = value
                && members.contains_key("value")
            {
                measured(&at, members);
            }
            if let Value::Array(items) = value {
                let held: Vec<&str> = items.iter().map(kind).collect();
                let rows = MATRICES.contains(&key);
                assert!(rows || !held.contains(&"list"), "{at}: rows without named fields");
                assert!(rows || !held.contains(&"number"), "{at}: numbers without names");
                assert!(held.windows(2).all(|pair| pair[0] == pair[1]), "{at}: items of several kinds");
            }
            if let Some(number) = value.as_f64() {
                let share = key.ends_with("_share") || key == "share";
                assert!(!share || (-1e-9..=1.0 + 1e-9).contains(&number), "{at}: {number} is no share");
                let count = key.ends_with("_count") || key.ends_with("_count_left_out");
                assert!(!count || value.is_u64(), "{at}: {number} is no count");
                let angle = key.contains("angle") || key == "degrees";
                assert!(!angle || key.ends_with("_degrees"), "{at}: an angle in what?");
            }
            // Names that are data themselves: of figures under 'figures', 'differences', 'definitions'.
            let named_by_data = keys
                .iter()
                .rev()
                .nth(1)
                .is_some_and(|above| ["figures", "differences", "definitions"].contains(above));
            if !key.is_empty() && !named_by_data && !value.is_null() && !matches!(value, Value::Array(_)) {
                let whole =
                    matches!(value, Value::Object(_) | Value::Bool(_) | Value::Number(_) | Value::String(_));
                // Items of a list are seen under the list's key.
                let (known, first) =
                    kinds.entry(key.to_owned()).or_insert_with(|| (kind(value), at.clone())).clone();
                if !(whole && known == kind(value)) {
                    faults.insert(format!("{at} is {}, and {first} is {known}", kind(value)));
                }
            }
        });
    }
    assert!(faults.is_empty(), "{faults:#?}");
    assert!(all.len() > 20, "{}", all.len());
}

/// A reading too low by 0.13 of 1.3: what was read lies below the curve, whoever says it.
#[test]
fn residuals_and_departures_have_one_sign() {
    let folder = tempfile::tempdir().expect("a folder");
    let density = |step: u32| 0.22 + 1.9 / (1.0 + (-2.6 * (1.0 - 0.15 * f64::from(step))).exp());
    let mut text = String::from("step;density\n");
    for step in 0..21 {
        let read = density(step) - if step == 6 { 0.13 } else { 0.0 };
        text.push_str(&format!("{};{read:.2}\n", step + 1));
    }
    let path = folder.path().join("low.csv");
    std::fs::write(&path, text).expect("a file");
    let (_, found, said) = answer(&["curve", &path.display().to_string(), "--tablet", "nominal 21"]);
    let outlier = &found["curve"]["outliers"][0];
    let readings = found["curve"]["readings"].as_array().expect("readings");
    let reading = readings.iter().find(|reading| reading["step"] == 7).expect("the step");
    let (departure, residual) = (outlier["departure"].as_f64(), reading["residual"].as_f64());
    assert_eq!(outlier["step"], 7, "{said}");
    assert!(
        departure.is_some_and(|it| it < -0.1) && residual.is_some_and(|it| it < -0.1),
        "{outlier} {reading}"
    );
}
