//! What a person typed, in everything that leaves the program: it stays text.

use std::sync::LazyLock;

use twinwedge_core::document::{
    Exposure, Film, FilmId, FindingChoice, PaperTest, Process, ReadingsSource, Series, Spot, Tablet,
    TabletExposure, TabletId, TypedReading,
};
use twinwedge_core::geometry::Point;
use twinwedge_core::shown;
use twinwedge_workbench::session::Session;
use twinwedge_workbench::{export, store};

/// Texts that do harm where they are taken for something else. All but the last two are such as a series may hold.
const NASTY: [&str; 9] = [
    "<script>alert(1)</script>",
    "\"><img src=x onerror=alert(1)>",
    "' onmouseover='alert(1)",
    "&amp;&lt;b&gt;",
    "]]><!--",
    "=HYPERLINK(\"http://127.0.0.1\",\"x\")",
    "@SUM(1+1)*cmd|' /C calc'!A0",
    "\u{1b}]0;owned\u{7}\u{9b}2J",
    "Tern\u{202e}061 \u{2066}x",
];

/// A series with that text in every field that takes one.
fn series(nasty: &str) -> Series {
    let text = || nasty.to_owned();
    let tablet = TabletId(format!("{nasty} tablet"));
    let reading = |i: u32| TypedReading {
        density: 0.2 + 0.08 * f64::from(20 - i) * f64::from(20 - i) / 20.0,
        u: None,
        set_aside: i == 3,
        missing: false,
    };
    let film = |word: &str| Film {
        batch: text(),
        format: text(),
        price: text(),
        notes: text(),
        box_speed: Some(160.0),
        process: Process {
            developer: text(),
            dilution: text(),
            agitation: text(),
            temperature_c: Some(20.0),
            minutes: Some(9.0),
        },
        tablet_exposure: Some(TabletExposure {
            light_source: text(),
            ..TabletExposure::new(tablet.clone(), Exposure::Absolute { log_h: 0.2, u: 0.01 })
        }),
        strips: vec![ReadingsSource::Typed((0..21).map(reading).collect()).into()],
        ..Film::named(FilmId(format!("{nasty}{word}")), format!("{nasty}{word}"))
    };
    let mut series = Series {
        title: text(),
        about: text(),
        films: vec![film(""), film(" 2")],
        reference: Some(FilmId(text())),
        spots: vec![Spot { name: text(), at: Point::new(9.0, 9.0), radius: 5.0 }],
        ..Series::default()
    };
    let conditions = &mut series.conditions;
    for field in [
        &mut conditions.light_source,
        &mut conditions.camera,
        &mut conditions.target,
        &mut conditions.paper,
        &mut conditions.paper_process,
        &mut conditions.enlarger,
        &mut conditions.scanner,
        &mut conditions.densitometer,
        &mut series.report.tester,
        &mut series.report.date,
    ] {
        *field = text();
    }
    series.tablets.insert(tablet.clone(), Tablet { label: text(), ..Tablet::nominal(21).unwrap() });
    series.paper = Some(PaperTest { label: text(), ..PaperTest::through(tablet) });
    let candidate = series.films[1].id.clone();
    series.report.verdicts.insert(candidate.clone(), text());
    series.report.recommendations.insert(candidate.clone(), text());
    let numbers = series.report.reworded_on.entry(candidate.clone()).or_default();
    numbers.insert("speed.relative".to_owned(), text());
    series.report.order.insert(candidate.clone(), vec![text()]);
    let findings = series.report.findings.entry(candidate).or_default();
    for key in ["speed.relative", "contrast.average", "contrast.gamma", "toe.length"] {
        findings.insert(key.to_owned(), FindingChoice::Reworded(text()));
    }
    series
}

static SESSIONS: LazyLock<Vec<(&str, Session)>> = LazyLock::new(|| {
    NASTY
        .iter()
        .map(|nasty| {
            let mut series = series(nasty);
            series.settings.resamplings = 60;
            (*nasty, Session::of(series, std::env::temp_dir()))
        })
        .collect()
});

/// The tags of a page, each its name and its attributes, quoted as HTML quotes them.
fn tags(html: &str) -> Vec<(String, Vec<(String, String)>)> {
    let mut found = Vec::new();
    let mut rest = html;
    while let Some(start) = rest.find('<') {
        let mut at = start + 1;
        let bytes = rest.as_bytes();
        let mut quoted = false;
        while quoted || bytes[at] != b'>' {
            quoted ^= bytes[at] == b'"';
            at += 1;
        }
        let inside = rest[start + 1..at].trim_end_matches('/').trim();
        let (name, mut more) = inside.split_once(char::is_whitespace).unwrap_or((inside, ""));
        let mut attributes = Vec::new();
        while let Some((key, value)) = more.trim_start().split_once("=\"") {
            let (value, after) = value.split_once('"').expect("a closing quotation mark");
            attributes.push((key.to_owned(), value.to_owned()));
            more = after;
        }
        assert!(
            more.trim().is_empty() || name.starts_with("!DOCTYPE"),
            "an attribute without quotes in <{inside}>"
        );
        found.push((name.to_owned(), attributes));
        rest = &rest[at + 1..];
        if name == "style" || name == "script" {
            rest = &rest[rest.find(&format!("</{name}>")).unwrap()..];
        }
    }
    found
}

/// Tags and attributes that the report is made of; all that could run, load or send anything is none of them.
const TAGS: [&str; 53] = [
    "!DOCTYPE",
    "html",
    "head",
    "meta",
    "title",
    "style",
    "body",
    "section",
    "article",
    "header",
    "h1",
    "h2",
    "h3",
    "h4",
    "p",
    "a",
    "span",
    "div",
    "em",
    "strong",
    "b",
    "br",
    "sup",
    "sub",
    "ol",
    "ul",
    "li",
    "dl",
    "dt",
    "dd",
    "table",
    "thead",
    "tbody",
    "tr",
    "th",
    "td",
    "caption",
    "figure",
    "figcaption",
    "bdi",
    "details",
    "summary",
    "svg",
    "g",
    "defs",
    "use",
    "image",
    "rect",
    "circle",
    "line",
    "path",
    "polygon",
    "polyline",
];

#[test]
fn a_report_holds_no_tag_and_no_attribute_that_a_person_typed() {
    for (nasty, session) in SESSIONS.iter() {
        let html = export::report_html(session, None).expect("a reference and a candidate");
        for (name, attributes) in tags(&html) {
            let name = name.trim_start_matches('/');
            let known = TAGS.contains(&name)
                || ["text", "tspan", "clipPath", "nav", "main", "footer", "time", "small", "script"]
                    .contains(&name);
            assert!(known, "<{name}> with {nasty:?}");
            for (key, value) in attributes {
                assert!(
                    !key.starts_with("on") && key != "style" && key != "src",
                    "{key}={value} with {nasty:?}"
                );
                assert!(
                    key != "href" || value.starts_with(['#']) || value.starts_with("data:image/"),
                    "{key}={value}"
                );
            }
        }
        assert!(!html.chars().any(|c| shown::steers(c) && c != '\n'), "nothing hidden with {nasty:?}");
        // It is there, as text: title, heading, conditions, process, notes ...
        let ends = |c: char| shown::steers(c) || "<&\"'>".contains(c);
        let first = nasty.split(ends).max_by_key(|part| part.len()).unwrap_or_default();
        assert!(html.matches(first).count() > 10, "{first:?} of {nasty:?}");
    }
}

#[test]
fn a_report_may_do_nothing_but_be_shown_and_run_its_own_script() {
    let (_, session) = &SESSIONS[0];
    let html = export::report_html(session, None).unwrap();
    let all = tags(&html);
    let policy = all
        .iter()
        .position(|(_, attributes)| attributes.iter().any(|(_, value)| value == "Content-Security-Policy"));
    let style = all.iter().position(|(name, _)| name == "style").unwrap();
    let policy = policy.expect("a policy");
    assert!(policy < style, "the policy comes before what it rules");
    let (_, content) = all[policy].1.iter().find(|(key, _)| key == "content").unwrap();
    let directives: Vec<&str> = content.split(';').map(str::trim).collect();
    for directive in ["default-src 'none'", "img-src data:", "base-uri 'none'", "form-action 'none'"] {
        assert!(directives.contains(&directive), "{directive} in {content}");
    }
    let of_style: Vec<&&str> =
        directives.iter().filter(|directive| directive.starts_with("style-src")).collect();
    assert!(
        matches!(of_style.as_slice(), [one] if one.starts_with("style-src 'sha256-") && !one.contains("unsafe"))
    );
    let of_script: Vec<&&str> =
        directives.iter().filter(|directive| directive.starts_with("script-src")).collect();
    assert!(
        matches!(of_script.as_slice(), [one] if one.starts_with("script-src 'sha256-") && one.split(' ').count() == 2)
    );
    assert_eq!(directives.len(), 6, "and nothing else: {content}");
    let scripts: Vec<_> = all.iter().filter(|(name, _)| name == "script").collect();
    assert!(
        matches!(scripts.as_slice(), [(_, attributes)] if attributes.is_empty()),
        "one script, of the page itself"
    );
    assert_eq!(all.iter().filter(|(name, _)| name == "style").count(), 1, "one style sheet");
}

#[test]
fn a_table_gives_texts_back_and_no_spreadsheet_a_formula() {
    for (nasty, session) in SESSIONS.iter() {
        let table = export::figures_csv(session).expect("there are films");
        let mut rows = csv::Reader::from_reader(table.as_bytes());
        let heads = rows.headers().unwrap().clone();
        let mut labels = 0;
        for row in rows.records() {
            let row = row.unwrap();
            for (head, cell) in heads.iter().zip(&row) {
                let number = cell.is_empty() || cell.parse::<f64>().is_ok();
                assert!(number || !cell.starts_with(['=', '+', '-', '@', '\t', '\r']), "{head}: {cell:?}");
            }
            labels += usize::from(export::cells::text_of(&row[0]) == *nasty);
        }
        assert!(labels > 10, "{nasty:?} comes back: {labels}");
        assert!(table.contains(",-") || table.contains("-0."), "numbers below zero stay numbers");
    }
}

#[test]
fn figures_give_texts_back_and_hide_nothing() {
    for (nasty, session) in SESSIONS.iter() {
        let text = export::json_text(&export::figures_json(session).expect("there are films"));
        assert!(!text.chars().any(|c| shown::steers(c) && c != '\n'), "{nasty:?}");
        let json: serde_json::Value = serde_json::from_str(&text).expect("JSON");
        assert_eq!(json["films"][0]["label"], *nasty);
        assert_eq!(json["series"], *nasty);
    }
}

#[test]
fn problems_show_what_is_hidden_and_are_short() {
    for (nasty, session) in SESSIONS.iter() {
        for problem in session.check() {
            assert!(!problem.to_string().chars().any(shown::steers), "{nasty:?}: {problem}");
        }
    }
    let mut series = series("Tern");
    series.films[1].label = "x".repeat(10_000_000);
    let problem = series.check().expect_err("too long");
    assert!(twinwedge_core::problem::Problem::of_fault(*problem).to_string().chars().count() < 500);
    assert!(store::write(&series).len() > 10_000_000, "a document is never cut in silence");
}
