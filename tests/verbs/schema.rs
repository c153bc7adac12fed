//! What the verbs print, held against the published schema by a general-purpose library of another language.

use std::io::Write;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

use serde_json::{Value, json};

use crate::rules::every_json;
use crate::{json as answer_of, sample, twinwedge};

fn schema() -> Value {
    let output = twinwedge(&["schema"]);
    let printed = String::from_utf8(output.stdout).expect("text");
    let published =
        std::fs::read_to_string(concat!(env!("CARGO_MANIFEST_DIR"), "/src/workbench/src/export/schema.json"));
    assert_eq!(printed, published.expect("the schema"), "what is printed is what is published");
    serde_json::from_str(&printed).expect("JSON")
}

/// The errors of each answer, by the pinned Python of `tests/outside`.
fn errors(answers: &[Value]) -> Vec<Vec<String>> {
    let top = Path::new(env!("CARGO_MANIFEST_DIR"));
    let python = std::env::var_os("TWINWEDGE_PYTHON")
        .map_or_else(|| top.join("target/outside/bin/python"), PathBuf::from);
    assert!(python.exists(), "{} is missing; tests/outside.rs says how to install it", python.display());
    let mut child = Command::new(python)
        .arg(top.join("tests/outside/schema.py"))
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .spawn()
        .expect("Python starts");
    let question = json!({ "schema": schema(), "answers": answers }).to_string();
    child.stdin.take().expect("a pipe").write_all(question.as_bytes()).expect("the question is taken");
    let output = child.wait_with_output().expect("Python ends");
    assert!(output.status.success(), "its message stands above");
    serde_json::from_slice(&output.stdout).expect("a list of lists")
}

#[test]
fn every_json_of_every_verb_is_as_the_schema_says() {
    let (calls, answers): (Vec<String>, Vec<Value>) = every_json().into_iter().unzip();
    for (call, errors) in calls.iter().zip(errors(&answers)) {
        assert!(errors.is_empty(), "{call}: {errors:#?}");
    }
}

/// The schema is one that can fail.
#[test]
fn what_breaks_the_schema_is_told() {
    let strip = sample("scans/tern-160-strip.tif").display().to_string();
    let sound = answer_of(&["strip", &strip, "--steps", "21", "--encoding", "srgb"]);
    let breaks: [&dyn Fn(&mut Value); 7] = [
        &|_| (),
        &|answer| answer["version"] = Value::from(1),
        &|answer| answer["steps"][0]["density"]["unit"] = Value::from(""),
        &|answer| answer["steps"][0]["density"]["value"] = Value::Null,
        &|answer| answer["rows"] = json!([[1, 2], [3, 4]]),
        &|answer| answer["steps"][0]["corners"][0] = json!([1, 2]),
        &|answer| drop(answer.as_object_mut().expect("an object").remove("program")),
    ];
    let answers: Vec<Value> = breaks
        .iter()
        .map(|breaks| {
            let mut broken = sound.clone();
            breaks(&mut broken);
            broken
        })
        .collect();
    let told: Vec<bool> = errors(&answers).iter().map(|errors| !errors.is_empty()).collect();
    assert_eq!(told, [false, true, true, true, true, true, true]);
}
