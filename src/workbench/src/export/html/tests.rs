//! The page from values made here, pictures included, so that its writers are tested apart from scans and sessions.

use std::sync::Arc;

use twinwedge_core::compare::{FilmFigures, compare};
use twinwedge_core::curve::{FitSettings, Reading, Readings, Sources, fit};
use twinwedge_core::document::{
    Film, FilmId, FindingChoice, GridShape, PatchLayout, Series, Settings, ShadowDensity, Spot,
};
use twinwedge_core::figures::{FigureId, OfCurve, departures, of_curve, registry, straight_line};
use twinwedge_core::geometry::{Point, Quad, Rect};
use twinwedge_core::grain::Granularity;
use twinwedge_core::measured::{Flags, Measured, Value};
use twinwedge_core::patch::{PatchSample, default_layout, patch_areas};
use twinwedge_core::problem::{Problem, Subject};
use twinwedge_core::register::Registration;
use twinwedge_core::scan::SharedError;
use twinwedge_core::tablet::StepSample;
use twinwedge_core::units::{Density, Micrometres};

use super::page;
use crate::engine::ask::FilmCurve;
use crate::export::gather::{CandidatePart, FilmPart, Gathered, GrainPart};
use crate::export::picture::{GrainCrop, PrintPictures};

/// A picture that is certainly a picture: one grey pixel as PNG.
const PIXEL: &str = "data:image/png;base64,iVBORw0KGgoAAAANSUhEUgAAAAEAAAABCAAAAAA6fptVAAAACklEQVQIHWM4BQAA1wDWJ4W0xAAAAABJRU5ErkJggg==";

/// A film whose curve has a toe, a line of slope `gamma` and a speed point near `speed`.
fn film(label: &str, gamma: f64, speed: f64, grain: f64, layout: &PatchLayout) -> (FilmPart, FilmFigures) {
    let point = |i: u32| {
        let log_h = -3.0 + 0.15 * f64::from(i);
        // Toe and line (softplus in log H); the ripple stands in for errors of reading.
        let toe = (1.0 + 10_f64.powf(2.0 * (log_h - speed))).log10() / 2.0;
        let ripple = 0.004 * (f64::from(i) * 2.4).sin();
        Reading {
            strip: 0,
            step: i + 1,
            log_h,
            log_h_u: 0.003,
            density: 0.21 + gamma * toe + ripple,
            density_u: 0.008,
            set_aside: i == 13,
            flags: Flags::empty(),
        }
    };
    let readings = Readings {
        points: (0..21).map(point).collect(),
        absolute: false,
        log_h_shared_u: 0.0,
        sources: Sources::default(),
        base_fog: Some((0.21, 0.005)),
        flags: Flags::RELATIVE_EXPOSURE,
    };
    let curve = fit(readings, FitSettings { resamplings: 100, seed: 1 }).unwrap();
    let OfCurve { mut figures, draws, reach } = of_curve(&curve, &Settings::default());
    let rms = Measured::with_interval(grain, grain * 0.03, grain * 0.95, grain * 1.06);
    let mean = Measured::normal(0.98, 0.01);
    figures.insert(FigureId::Granularity, Value::Known(rms));
    figures.insert(FigureId::GranularityDensity, Value::Known(mean));
    let patches = layout.patches.iter().enumerate().map(|(i, patch)| PatchSample {
        name: patch.name.clone(),
        borders: 0,
        doubt: None,
        sample: sample(0.2 + 0.05 * i as f64 + if i % 3 == 0 { gamma - 0.6 } else { 0.0 }),
    });
    let of_film = FilmFigures {
        label: label.to_owned(),
        box_speed: Some((160.0 * 10_f64.powf(-2.0 - speed)).round()),
        draws: draws.clone(),
        gradients: std::collections::BTreeMap::new(),
        reach: Some(reach.clone()),
        departures: straight_line(&curve).ok().and_then(|line| departures(&curve, &line)),
        shadow_match: ShadowDensity::Net,
        layout: Some(layout.clone()),
        patches: patches.collect(),
        spots: vec![PatchSample {
            name: "apple, shadow side".to_owned(),
            borders: 0,
            doubt: None,
            sample: sample(1.2 + gamma / 10.0),
        }],
        figures: figures.clone(),
    };
    let part = FilmPart {
        film: Film { box_speed: of_film.box_speed, ..Film::named(FilmId::from(label), label) },
        curve: Ok(Arc::new(FilmCurve {
            straight: straight_line(&curve),
            curve,
            figures,
            draws,
            reach,
            departures: None,
            prediction: None,
        })),
        development: Err(Problem::note(Subject::Series, "No development was asked for.", "Ask for it.")),
        grain: Some(Ok(Arc::new(granularity(rms)))),
        crop: Some(Ok(GrainCrop { uri: PIXEL.to_owned(), side_um: 1500.0 })),
        granularity: GrainPart::default(),
        spectrum: None,
        sharpness: None,
    };
    (part, of_film)
}

fn granularity(rms: Measured) -> Granularity {
    Granularity {
        rms,
        gradient: SharedError::default(),
        mean_density: Measured::normal(Density(0.98), 0.01),
        aperture: Micrometres(48.0),
        pitch: Micrometres(6.35),
        independent_apertures: 900.0,
        shading: 0.01,
        left_out: 0.002,
        area: Rect::between(Point::new(0.0, 0.0), Point::new(400.0, 400.0)),
        noise: None,
        texture: None,
        loss: None,
        notes: Vec::new(),
    }
}

fn sample(density: f64) -> StepSample {
    StepSample {
        step: 1,
        area: Quad::upright(Rect::between(Point::new(0.0, 0.0), Point::new(1.0, 1.0))),
        density: Measured::normal(Density(density), 0.012),
        own: Measured::normal(Density(density), 0.012),
        shared: SharedError::default(),
        relief: None,
        code: Measured::normal(1000.0, 1.0),
        relative_spread: 0.01,
        used: 400,
        left_out: 0,
        rejected: Vec::new(),
        round: false,
    }
}

/// A series with so many candidates, each another speed and contrast.
fn gathered(count: usize) -> Gathered {
    let layout = default_layout();
    let (reference, of_reference) = film("Tern 160", 0.62, -2.0, 10.4, &layout);
    let mut series = Series {
        title: "Saltmarsh Darkroom Cooperative, autumn series".to_owned(),
        about: "Invented data, made to show a report.".to_owned(),
        spots: vec![Spot {
            name: "apple, shadow side".to_owned(),
            at: Point::new(1200.0, 500.0),
            radius: 20.0,
        }],
        layout: Some(layout.clone()),
        ..Series::default()
    };
    let candidates = (0..count).map(|i| {
        let label = if i == 0 { "Plover 640".to_owned() } else { format!("Film {i}") };
        let (part, figures) = film(&label, 0.70 - 0.004 * i as f64, -2.55 + 0.02 * i as f64, 15.1, &layout);
        CandidatePart {
            grain: None,
            tones: Err(Problem::note(Subject::Series, "The zones are not part of this page.", "")),
            viewed: Err(Problem::note(Subject::Series, "No eye looks at this page.", "")),
            comparison: Ok(Arc::new(compare(&of_reference, &figures))),
            print: Some(Ok(PIXEL.to_owned())),
            detail: None,
            greys: None,
            registration: Some(Ok(Arc::new(Registration::exact()))),
            part,
        }
    });
    let candidates: Vec<CandidatePart> = candidates.collect();
    let first = candidates[0].part.film.id.clone();
    series.report.verdicts.insert(first, "Two thirds of a stop <short> of its box, & worth it.".to_owned());
    let grid =
        GridShape::new(Quad::upright(Rect::between(Point::new(100.0, 700.0), Point::new(1500.0, 1050.0))));
    let prints = PrintPictures {
        reference: Ok(PIXEL.to_owned()),
        width: 1600.0,
        height: 1100.0,
        patches: layout
            .patches
            .iter()
            .map(|patch| patch.name.clone())
            .zip(patch_areas(&layout, &grid))
            .collect(),
    };
    let problems = vec![Problem::doubt(
        Subject::Film(FilmId::from("Plover 640")),
        "Step 14 of its strip was set aside.",
        "Read it again if the film can still be had.",
    )];
    Gathered {
        series: Arc::new(series),
        reference,
        candidates,
        prints: Some(prints),
        third: None,
        conclusions: Arc::default(),
        paper: None,
        scans: Vec::new(),
        problems,
    }
}

fn with_choice(key: &str, choice: FindingChoice) -> Gathered {
    let mut gathered = gathered(1);
    let film = gathered.candidates[0].part.film.id.clone();
    let mut series = (*gathered.series).clone();
    series.report.findings.entry(film).or_default().insert(key.to_owned(), choice);
    gathered.series = Arc::new(series);
    gathered
}

#[test]
fn nothing_is_fetched_from_elsewhere() {
    let html = page(&gathered(2));
    for fetch in
        ["http:", "https:", "src=", "url(", "@import", "<script ", "<link", "<iframe", "fetch(", "import("]
    {
        assert!(!html.contains(fetch), "{fetch} in the page");
    }
    assert_eq!(html.matches("<script>").count(), 1, "one script, the page's own");
    assert!(super::SCRIPT.len() < 40_000, "{} bytes", super::SCRIPT.len());
    // What is referred to is a picture inside the file or a place in it, and that place exists.
    for reference in html.split("href=\"").skip(1).map(|rest| rest.split('"').next().unwrap()) {
        let inside = match reference.strip_prefix('#') {
            Some(id) => html.contains(&format!("id=\"{id}\"")),
            None => reference.starts_with("data:image/"),
        };
        assert!(inside, "{reference}");
    }
}

#[test]
fn what_a_person_typed_cannot_become_markup() {
    let mut gathered = gathered(1);
    let mut series = (*gathered.series).clone();
    let nasty = "<b>\"Plover\" & 'co'</b>";
    series.title = nasty.to_owned();
    series.about = nasty.to_owned();
    series.report.tester = nasty.to_owned();
    series.conditions.paper = nasty.to_owned();
    series.spots[0].name = nasty.to_owned();
    gathered.series = Arc::new(series);
    gathered.candidates[0].part.film.label = nasty.to_owned();
    gathered.candidates[0].part.film.notes = nasty.to_owned();
    let html = page(&gathered);
    assert!(!html.contains("<b>\"") && !html.contains("'co'"), "typed text is markup");
    // Title, kicker, heading, about, tester, paper, spot, notes, table heads ...
    assert!(html.matches("&lt;b&gt;&quot;Plover&quot; &amp; &#39;co&#39;&lt;/b&gt;").count() >= 9);
}

#[test]
fn every_tag_is_closed() {
    // HTML5 leaves these open by definition; all else that this program writes is closed.
    let empty = ["!DOCTYPE", "meta"];
    let html = page(&gathered(2));
    let mut open: Vec<&str> = Vec::new();
    // The style sheet and the script hold '<' or '>' but no tags.
    let (before, rest) = html.split_once("<style>").unwrap();
    let (_, after) = rest.split_once("</script>").unwrap();
    for text in [before, after] {
        for tag in text.split('<').skip(1) {
            let tag = tag.split('>').next().unwrap();
            if let Some(name) = tag.strip_prefix('/') {
                assert_eq!(open.pop(), Some(name), "closed in another order than opened");
            } else {
                let name = tag.split([' ', '/']).next().unwrap();
                if !tag.ends_with('/') && !empty.contains(&name) {
                    open.push(name);
                }
            }
        }
    }
    assert!(open.is_empty(), "left open: {open:?}");
}

#[test]
fn undefined_figures_stand_with_their_reasons() {
    let gathered = gathered(1);
    let comparison = gathered.candidates[0].comparison.as_ref().unwrap();
    let html = page(&gathered);
    let mut undefined = 0;
    for row in &comparison.rows {
        assert!(html.contains(&format!("<td>{}", twinwedge_core::figures::spec(row.figure).label)));
        for value in [&row.reference, &row.candidate] {
            if let Value::Undefined(reason) = value {
                undefined += 1;
                assert!(html.contains(&super::escape(&reason.to_string())), "{:?}: {reason}", row.figure);
            }
        }
    }
    assert!(undefined >= 4, "the fixture has no ISO speeds and no brackets: {undefined}");
    assert_eq!(comparison.rows.len(), registry().len());
}

#[test]
fn findings_follow_the_testers_choices() {
    let plain = gathered(1);
    let kept = page(&plain);
    let computed = &plain.candidates[0].comparison.as_ref().unwrap().findings;
    let speed = computed.iter().find(|finding| finding.key == "speed.relative").unwrap();
    let sentence = super::prose(&speed.sentence);
    assert!(kept.contains(&sentence));
    let dropped = page(&with_choice("speed.relative", FindingChoice::Dropped));
    assert!(!dropped.contains(&sentence));
    let reworded =
        page(&with_choice("speed.relative", FindingChoice::Reworded("Two stops & a bit".to_owned())));
    // The tester's words lead, the computed sentence stays beside them.
    let words = reworded.find("Two&nbsp;stops &amp; a bit").unwrap();
    assert!(reworded.find(&sentence).unwrap() > words);
    assert!(kept.contains("Two thirds of a stop &lt;short&gt; of its box, &amp; worth it."));
}

#[test]
fn a_candidate_that_cannot_be_compared_says_why() {
    let mut gathered = gathered(1);
    let problem = Problem::error(Subject::Series, "Its readings are missing.", "Type them in.");
    gathered.candidates[0].comparison = Err(problem.clone());
    gathered.candidates[0].part.curve = Err(problem.clone());
    gathered.candidates[0].print = Some(Err(problem));
    let html = page(&gathered);
    assert_eq!(html.matches("Its readings are missing. Type them in.").count(), 3);
}

#[test]
fn fifty_films_have_an_index_and_share_pictures() {
    let html = page(&gathered(50));
    for number in 0..50 {
        assert!(
            html.contains(&format!("id=\"film-{number}\""))
                && html.contains(&format!("href=\"#film-{number}\""))
        );
    }
    assert_eq!(html.matches("id=\"reference-print\"").count(), 1);
    assert_eq!(html.matches("href=\"#reference-print\"").count(), 50);
}

#[test]
fn development_advice_stands_beside_its_cautions() {
    let html = page(&gathered(1));
    let advice = html.find("part of what differs between their prints is development").unwrap();
    assert!(html[advice..].contains("Wear gloves and eye protection"));
}

#[test]
fn what_speaks_against_a_registration_stands_in_the_report() {
    let mut gathered = gathered(1);
    let mut found =
        Registration { residual_px: 0.214, u_px: 0.043, u_worst_px: 0.31, ..Registration::exact() };
    found.doubts.push("At its worst place a point is mapped to ±0.31 px only.".into());
    gathered.candidates[0].registration = Some(Ok(Arc::new(found)));
    let html = page(&gathered);
    for words in
        ["± 0.043 px amid the windows, ± 0.310 px at its worst place", "0.214 px", "mapped to ±0.31 px only"]
    {
        assert!(html.contains(words), "{words}");
    }
    let problem = Problem::error(Subject::Series, "The two prints do not match.", "Check the scans.");
    gathered.candidates[0].registration = Some(Err(problem));
    assert!(page(&gathered).contains("is not laid on the reference's"));
}
