//! Series that older programs saved: they open, and nothing in them is lost or made up.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use twinwedge_core::document::{GrainNoise, ReadingsSource, Series, StripLevel};
use twinwedge_workbench::store;

/// What a program of format 1 saved: the sample, and a series with something in every field that may be empty.
const FORMAT_1: [&str; 2] = ["format-1-sample.twinwedge", "format-1-every-field.twinwedge"];

fn saved(name: &str) -> String {
    let folder: PathBuf = [env!("CARGO_MANIFEST_DIR"), "tests", "series", "saved"].iter().collect();
    std::fs::read_to_string(folder.join(name)).unwrap()
}

fn opened(name: &str) -> Series {
    store::parse(&saved(name), name).unwrap()
}

/// How often each number, each text in quotation marks and each word for a choice stands in a file, whatever the fields
/// are called.
fn values(text: &str) -> BTreeMap<String, i32> {
    let mut found = BTreeMap::new();
    let mut rest = text;
    while let Some(first) = rest.chars().next() {
        let length = if first == '"' {
            let mut escaped = false;
            let end = rest[1..].find(|c: char| {
                let ends = c == '"' && !escaped;
                escaped = c == '\\' && !escaped;
                ends
            });
            end.unwrap() + 2
        } else if first.is_alphanumeric() || first == '-' {
            rest.find(|c: char| !(c.is_alphanumeric() || "-._".contains(c))).unwrap_or(rest.len())
        } else {
            rest = &rest[first.len_utf8()..];
            continue;
        };
        let (value, after) = rest.split_at(length);
        // Names of fields and forms say nothing of what is held, and what is not held may be left out or written.
        let named = (after.starts_with(": ") && first != '"') || after.starts_with('(');
        if !named && !["None", "false", "\"\""].contains(&value) {
            *found.entry(value.to_owned()).or_insert(0) += 1;
        }
        rest = after;
    }
    found
}

#[test]
fn a_series_of_format_1_keeps_every_value_and_is_given_none() {
    for name in FORMAT_1 {
        let expected = values(&saved(name).replacen("format: 1,", "format: 2,", 1));
        let held = values(&store::write(&opened(name)));
        let mut differing: BTreeMap<&str, i32> = BTreeMap::new();
        expected.iter().for_each(|(value, count)| *differing.entry(value).or_default() -= count);
        held.iter().for_each(|(value, count)| *differing.entry(value).or_default() += count);
        differing.retain(|_, more| *more != 0);
        assert!(differing.is_empty(), "{name}: how many more of each value than before: {differing:?}");
        assert!(expected.len() > 100, "{name} holds values");
    }
}

// The sample of today is written by its own generator, not from that of format 1.
#[test]
fn the_sample_of_format_1_is_the_sample_of_today() {
    let today = Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-projects/saltmarsh/saltmarsh.twinwedge");
    let today = store::parse(&std::fs::read_to_string(today).unwrap(), "today").unwrap();
    // What is known of the target came later.
    let before = Series { target: today.target.clone(), layout: today.layout.clone(), ..opened(FORMAT_1[0]) };
    assert_eq!(before, today);
}

#[test]
fn strips_and_areas_of_format_1_stand_in_their_order() {
    let series = opened(FORMAT_1[1]);
    let [tern, plover, dunlin] = series.films.as_slice() else { panic!("three films") };
    let strips: Vec<(&str, Option<&str>, StripLevel, usize)> = tern
        .strips
        .iter()
        .map(|strip| {
            let tablet = strip.tablet.as_ref().map(|tablet| tablet.0.as_str());
            (strip.name.as_str(), tablet, strip.level, strip.steps())
        })
        .collect();
    let level = StripLevel::StopsLess { stops: -2.5, u: 0.1 };
    assert_eq!(
        strips,
        [
            ("", None, StripLevel::default(), 21),
            ("scanned", Some("step tablet 7"), StripLevel::FromOverlap, 21),
            ("", None, level, 3)
        ]
    );
    assert_eq!(tern.strips[0].steps_set_aside, [2, 3]);
    assert_eq!(tern.strips[0].steps_kept, [5]);
    assert_eq!(tern.strips[1].steps_kept, [8, 9]);
    assert_eq!(tern.strips[1].steps_set_aside, [7]);
    // Only a strip beside the first was on record: the first stays empty, and its level is told against that.
    assert_eq!(plover.strips[0].readings, ReadingsSource::Typed(Vec::new()));
    assert_eq!(plover.strips[1].level, StripLevel::StopsLess { stops: 4.0, u: 0.05 });
    let noise: Vec<&GrainNoise> = tern.uniform_areas.iter().map(|area| &area.noise).collect();
    assert!(
        matches!(
            noise.as_slice(),
            [GrainNoise::Repeat(_), GrainNoise::Blank { .. }, GrainNoise::Calibration, GrainNoise::LeftIn]
        ),
        "{noise:?}"
    );
    assert_eq!(dunlin.uniform_areas.len(), 3, "further areas without a first");
}

#[test]
fn a_file_is_held_to_the_form_of_its_format() {
    let refused = |text: &str| store::parse(text, "a.twinwedge").unwrap_err().cause.to_string();
    let film = |fields: &str| format!("films: [Film(id: \"a\", label: \"a\", {fields})]");
    let old = film("readings: Typed([]), further_strips: []");
    let new = film("strips: [Strip(readings: Typed([]))]");
    assert!(store::parse(&format!("Series(format: 1, {old})"), "a").is_ok());
    assert!(store::parse(&format!("Series(format: 2, {new})"), "a").is_ok());
    assert!(refused(&format!("Series(format: 1, {new})")).contains("no field 'strips'"));
    assert!(refused(&format!("Series(format: 2, {old})")).contains("no field 'readings'"));
    let tablet = "\"t\": Tablet(label: \"t\", nominal: true, steps: [])";
    let twice = refused(&format!("Series(format: 1, tablets: {{{tablet}, {tablet}}})"));
    assert!(twice.contains("'t' stands there twice"), "{twice}");
    let level = film("strips: [Strip(level: FromOverlap, readings: Typed([]))]");
    assert!(refused(&format!("Series(format: 2, {level})")).contains("told against its first strip"));
}
