//! Reads `check-values.json`.

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
