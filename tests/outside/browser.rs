//! The HTML report in a real browser: what its script does, that it is whole without it, that it fits every window, and axe's rules.

use serde_json::{Value, json};
use twinwedge_core::document::FilmId;
use twinwedge_workbench::export::{FiguresText, report_html};
use twinwedge_workbench::session::Session;

use crate::paper::session;
use crate::{close, numbers, peer};

fn asked(session: &Session, film: Option<&str>) -> Value {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("report.html");
    std::fs::write(&path, report_html(session, film.map(FilmId::from).as_ref()).unwrap()).unwrap();
    peer("browser", &json!({ "path": path.display().to_string() }))
}

/// The first number of a text, whichever minus it has.
fn number(text: &str) -> f64 {
    let text = text.replace('−', "-");
    let start = text.find(|c: char| c.is_ascii_digit() || c == '-' || c == '+').unwrap();
    let end = text[start + 1..]
        .find(|c: char| !c.is_ascii_digit() && c != '.')
        .map_or(text.len(), |at| start + 1 + at);
    text[start..end].parse().unwrap()
}

/// W3C CSP 3: a blocked script or style is told on the console. Widths are those of telephones to large screens.
fn holds_everywhere(found: &Value) {
    assert_eq!(found["errors"], json!([]), "the browser complains");
    assert_eq!(found["requests"], json!([]), "something is fetched");
    assert_eq!(found["violations"], json!([]), "rules of axe-core are broken");
    for (width, overflow) in found["widths"].as_object().unwrap() {
        assert_eq!(overflow, &json!([0, []]), "at a width of {width}");
    }
}

#[test]
fn a_film_s_report_works_in_a_browser() {
    let session = session();
    let found = asked(session, Some("Plover 640"));
    holds_everywhere(&found);
    // Densities under the pointer are numpy's, to the hundredth that is shown and the pixel that is pointed at.
    let told = found["curves"]["told"].as_array().unwrap().iter().chain([&found["curves"]["aligned"]]);
    for told in told {
        let (shown, theirs) = (numbers(&told[0]), numbers(&told[1]));
        close(shown[1], theirs[0], 0.011, "reference");
        close(shown[2], theirs[1], 0.011, "candidate");
        close(shown[3], theirs[1] - theirs[0], 0.011, "difference");
    }
    assert!(found["curves"]["keys"].as_str().unwrap().contains("difference"), "{}", found["curves"]["keys"]);
    // By definition the shift is the distance of the speed points.
    let mut json = Vec::new();
    FiguresText::of(session).unwrap().write(&mut json).unwrap();
    let json: Value = serde_json::from_slice(&json).unwrap();
    let films = json["films"].as_array().unwrap();
    let point = |film: &str| {
        let film = films.iter().find(|one| one["label"] == film).unwrap();
        film["figures"]["speed_point"]["value"].as_f64().unwrap()
    };
    close(
        found["curves"]["shift"].as_f64().unwrap(),
        point("Tern 160") - point("Plover 640"),
        0.002,
        "shift",
    );
    let prints = &found["prints"];
    assert_eq!(
        [&prints["side_by_side"], &prints["divided"], &prints["back"]],
        [&json!(2), &json!(1), &json!(2)]
    );
    assert_eq!(prints["clip"], "inset(0px 0px 0px 25%)");
    assert!(prints["registered"].as_f64().unwrap() < 0.6, "both prints lie on each other: {prints}");
    // True size: one pixel of the scan on one of the screen; both films are seen at the same place.
    let grain = &found["grain"];
    assert_eq!(grain["off"], 0);
    let (pitch, side) = (grain["pitch"].as_f64().unwrap(), grain["side"].as_f64().unwrap());
    for (views, zoom) in grain["views"].as_array().unwrap().iter().zip([1.0, 4.0]) {
        assert_eq!(views[0], views[1]);
        let view: Vec<f64> =
            views[0].as_str().unwrap().split(' ').map(|part| part.parse().unwrap()).collect();
        close(view[2], 180.0 * pitch / zoom, 1e-6, "side of what the magnifier shows");
        close(view[0] + view[2] / 2.0, 0.4 * side, 0.01 * side, "where it points");
        close(view[1] + view[3] / 2.0, 0.3 * side, 0.01 * side, "where it points");
    }
}

#[test]
fn tables_sort_and_figures_say_how_they_were_got() {
    let found = asked(session(), None);
    holds_everywhere(&found);
    let states: Vec<(&Value, Vec<String>)> = found["tables"]
        .as_array()
        .unwrap()
        .iter()
        .map(|state| {
            (
                &state[0],
                state[1].as_array().unwrap().iter().map(|text| text.as_str().unwrap().to_owned()).collect(),
            )
        })
        .collect();
    let [(none, first), (up, rising), (down, falling), (again, last)] = states.as_slice() else {
        panic!("four states")
    };
    assert_eq!(
        [*none, *up, *down, *again],
        [&Value::Null, &json!("ascending"), &json!("descending"), &Value::Null]
    );
    let values = |texts: &[String]| texts.iter().map(|text| number(text)).collect::<Vec<f64>>();
    assert!(values(rising).windows(2).all(|pair| pair[0] <= pair[1]), "{rising:?}");
    assert!(values(falling).windows(2).all(|pair| pair[0] >= pair[1]), "{falling:?}");
    assert_eq!(first, last, "the third press gives the order back");
    let how = &found["how"];
    for wanted in how["wanted"].as_array().unwrap() {
        assert!(how["shown"].as_str().unwrap().contains(wanted.as_str().unwrap()), "{how}");
    }
    assert_eq!([&how["closed"], &how["back"]], [&json!(true), &json!(true)]);
}

/// What is read without the script is all that is read with it, but for what the script itself adds.
#[test]
fn the_page_is_whole_without_its_script() {
    let found = asked(session(), Some("Plover 640"));
    let words =
        |text: &Value| text.as_str().unwrap().split_whitespace().map(str::to_owned).collect::<Vec<_>>();
    let (with, without) = (words(&found["text"]), words(&found["without"]["text"]));
    let mut rest = with.iter();
    for word in &without {
        assert!(rest.any(|other| other == word), "'{word}' is read without the script alone");
    }
    assert!(without.len() > 2_000 && with.len() > without.len(), "{} of {}", without.len(), with.len());
    assert_eq!([&found["without"]["buttons"], &found["without"]["hidden"]], [&json!(0), &json!(0)]);
}
