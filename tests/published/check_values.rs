//! Reads `check-values.json`.

use std::collections::BTreeMap;
use std::path::Path;

use serde_json::Value;

/// One check: inputs, expected numbers, tolerance.
#[derive(Debug, Clone)]
pub(crate) struct Check {
    pub(crate) inputs: Value,
    pub(crate) expected: Value,
    pub(crate) tolerance: f64,
    pub(crate) relative: bool,
    pub(crate) source: String,
}

/// The check of that id; panics with its name where the file has none.
pub(crate) fn check(id: &str) -> Check {
    let all: Value =
        serde_json::from_str(include_str!("check-values.json")).expect("check-values.json is JSON");
    let found = all["checks"].as_array().expect("a list").iter().find(|check| check["id"] == id).cloned();
    let found = found.unwrap_or_else(|| panic!("no check named {id}"));
    Check {
        inputs: found["inputs"].clone(),
        expected: found["expected"].clone(),
        tolerance: found["tolerance"].as_f64().unwrap_or(1e-4),
        relative: found["tolerance_kind"] == "rel",
        source: found["source"].as_str().unwrap_or_default().to_owned(),
    }
}

impl Check {
    /// A list of numbers among the inputs.
    pub(crate) fn inputs(&self, key: &str) -> Vec<f64> {
        numbers(&self.inputs[key])
    }

    /// Holds `got` against the expected numbers, in order.
    pub(crate) fn holds(&self, got: &[f64]) {
        let expected = numbers(&self.expected);
        assert_eq!(expected.len(), got.len(), "{}: as many numbers as expected", self.source);
        for (want, got) in expected.iter().zip(got) {
            let allowed = if self.relative { self.tolerance * want.abs() } else { self.tolerance };
            assert!((want - got).abs() <= allowed, "{}: {got} for {want} ± {allowed}", self.source);
        }
    }
}

fn numbers(value: &Value) -> Vec<f64> {
    match value {
        Value::Number(number) => number.as_f64().into_iter().collect(),
        Value::Array(list) => list.iter().flat_map(numbers).collect(),
        Value::Object(map) => map.values().flat_map(numbers).collect(),
        _ => Vec::new(),
    }
}

/// The texts in quotation marks that stand in the tests, but for those of this file.
fn quoted_in_tests() -> Vec<String> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests");
    let rooms = ["published", "verbs"].map(|room| std::fs::read_dir(folder.join(room)).expect("tests"));
    let files = rooms.into_iter().flatten().filter_map(|file| Some(file.ok()?.path()));
    let others = files.filter(|path| !path.ends_with("check_values.rs"));
    let texts = others.filter_map(|path| std::fs::read_to_string(path).ok());
    texts.flat_map(|text| text.split('"').map(str::to_owned).collect::<Vec<_>>()).collect()
}

/// Whether a text names `id`, itself or with words to be filled in: `patch.logH_{film}_{light}`.
fn names(text: &str, id: &str) -> bool {
    let mut rest = id;
    let mut parts = text.split('{');
    let Some(after) = parts.next().and_then(|first| rest.strip_prefix(first)) else { return false };
    rest = after;
    for part in parts {
        let Some((_, fixed)) = part.split_once('}') else { return false };
        let found = if fixed.is_empty() { Some(rest.len()) } else { rest.find(fixed) };
        let Some(at) = found else { return false };
        rest = &rest[at + fixed.len()..];
    }
    rest.is_empty()
}

#[test]
fn every_check_is_held_by_a_test_and_says_where_its_value_is_from() {
    let all: Value = serde_json::from_str(include_str!("check-values.json")).expect("JSON");
    let quoted = quoted_in_tests();
    let quoted: Vec<&String> =
        quoted.iter().filter(|text| text.contains('.') && !text.contains(' ')).collect();
    let mut kinds: BTreeMap<&str, u64> = BTreeMap::new();
    for check in all["checks"].as_array().expect("a list") {
        let id = check["id"].as_str().expect("a name");
        assert!(quoted.iter().any(|text| names(text, id)), "no test holds {id}");
        assert!(check["source"].as_str().is_some_and(|source| !source.is_empty()), "{id} has no source");
        *kinds.entry(check["kind"].as_str().expect("a kind")).or_default() += 1;
    }
    // As many of each kind as the file says: no kind changes unseen.
    let said = all["kinds"].as_object().expect("kinds and how many there are of each");
    let said: BTreeMap<&str, u64> =
        said.iter().map(|(kind, many)| (kind.as_str(), many.as_u64().expect("a number"))).collect();
    assert_eq!(kinds, said);
    let outside = kinds["published"] + kinds["derived"] + kinds["trade"];
    assert!(outside > 9 * kinds["memory"], "values that are only recalled are the exception: {kinds:?}");
}

#[test]
fn a_name_with_words_to_be_filled_in_names_what_fits() {
    assert!(names("patch.logH_{film}_{light}", "patch.logH_pan_daylight") && names("stat.mad", "stat.mad"));
    assert!(!names("patch.logH_{film}_{light}", "patch.Y_A") && !names("stat.m", "stat.mad"));
}
