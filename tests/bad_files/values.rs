//! Hostile values for every field of a series, one by one: each is refused by name, or the series opens and all work on it
//! ends within bounds.

use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};
use std::sync::mpsc;
use std::time::Duration;

use rand::{RngExt, SeedableRng};
use twinwedge_core::document::{
    Aperture, Bracket, BracketFrame, Channel, EdgeArea, Encoding, Film, FilmId, FindingChoice, FlatSource,
    Gaps, GrainNoise, GridShape, Induction, KnownPatch, PrintMatch, ReadingsSource, ScanId, Series, Spot,
    StripLevel, SubjectLight, TypedReading, ranges,
};
use twinwedge_core::geometry::{Model, Point, Quad, Rect};
use twinwedge_core::problem::{Problem, Severity, Subject};
use twinwedge_core::shown;
use twinwedge_workbench::session::{Edit, Session};
use twinwedge_workbench::{export, store};

use crate::leaves::{Kind, Leaf, entry_end, leaves};

const NAME: &str = "hostile.twinwedge";

/// Longest that all work on one series may take, and most bytes that it may ask for. Far beyond what it needs, far below what
/// a value without bounds would ask for.
const LONGEST: Duration = Duration::from_secs(120);
const MOST_BYTES: usize = 2 << 30;

fn sample() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-projects/saltmarsh/saltmarsh.twinwedge")
}

/// Reference, candidate and a further roll of the sample series.
fn small() -> Series {
    let text = std::fs::read_to_string(sample()).unwrap();
    let mut series = store::parse(&text, NAME).unwrap();
    series.films.truncate(4);
    series.films.remove(2);
    series
}

/// The same with something in every field that may be empty.
fn full() -> Series {
    let mut series = small();
    let rect = Rect::between(Point::new(10.0, 10.0), Point::new(90.0, 80.0));
    let scan = ScanId::from("Tern 160 grain");
    let typed = TypedReading { u: Some(0.01), ..TypedReading::new(0.3) };
    let circle = Aperture::Circle(0.5);
    let tablet = series.films[0].tablet_exposure.as_ref().unwrap().tablet.clone();
    for (film, noise) in series.films.iter_mut().zip([
        GrainNoise::Repeat(scan.clone()),
        GrainNoise::Blank { scan: scan.clone(), area: rect },
        GrainNoise::LeftIn,
    ]) {
        film.base_fog = Some(typed);
        if let Some(exposed) = &mut film.tablet_exposure {
            exposed.seconds = Some(1.0);
        }
        for (number, strip) in film.strips.iter_mut().enumerate() {
            strip.tablet = Some(tablet.clone());
            (strip.steps_set_aside, strip.steps_kept) = (vec![1, 2], vec![3]);
            if let ReadingsSource::Strip { shape, .. } = &mut strip.readings {
                shape.aperture = circle;
            }
            if number > 0 {
                strip.level = StripLevel::StopsLess { stops: 4.0, u: 0.05 };
            }
        }
        if let Some(grain) = film.uniform_areas.first_mut() {
            grain.noise = noise;
        }
        if let Some(print) = &mut film.print {
            let aperture = Aperture::Square(1.0);
            print.grid = Some(GridShape { aperture, ..GridShape::new(Quad::upright(rect)) });
            print.pairs = Some([(rect.min, rect.min), (rect.max, rect.max)]);
            print.model = Some(Model::Affine);
        }
        let frame = BracketFrame {
            scan: Some(scan.clone()),
            patch: Some(Quad::upright(rect)),
            ..BracketFrame::typed("1", 100.0, 0.5)
        };
        film.bracket = Some(Bracket { frames: vec![frame], u: Some(0.01) });
    }
    let blank = ScanId::from("Plover 640 grain");
    for (number, entry) in series.scans.values_mut().enumerate() {
        entry.dpi = Some(2400.0);
        entry.channel = Channel::Mix { red: 1, green: 2, blue: 1 };
        entry.flat = if number == 0 { FlatSource::Blank(blank.clone()) } else { FlatSource::Border(20.0) };
        entry.known = Some(KnownPatch { area: rect, density: 0.2, u: 0.01, applied: true });
    }
    for calibration in series.calibrations.values_mut() {
        calibration.repeat = Some(scan.clone());
    }
    let layout = series.layout.as_mut().unwrap();
    layout.gaps = Gaps { across: 0.1, down: 0.1, margin_across: 0.1, margin_down: 0.1 };
    layout.patches[0].density = Some(0.05);
    series.target.known_u = 0.02;
    series.spots = vec![Spot { name: "apple".to_owned(), at: rect.min, radius: 9.0 }];
    let paper = series.paper.as_mut().unwrap();
    (paper.seconds, paper.white, paper.steps_set_aside) = (Some(9.0), Some(typed), vec![1]);
    let tones = &mut series.tones;
    (tones.exposure_index, tones.print_stops) = (Some(160.0), Some(0.5));
    tones.third = Some(FilmId::from("Plover 640"));
    tones.print_match = PrintMatch::Zone(5.0);
    series.viewing.enlargement = 9.0;
    series.detail_area = Some(rect);
    series.sharpness.scanner_edge = Some(EdgeArea { scan, area: rect });
    series.settings.encoding = Some(Encoding::Power(2.2));
    if let Some(entry) = series.scans.values_mut().next() {
        entry.encoding = Some(Encoding::Density { first: 0.0, last: 4.0 });
    }
    series.settings.usable_toe_gradient = 0.3;
    series.settings.usable_shoulder_gradient = 0.3;
    series.development.wanted = Some(0.6);
    series.development.induction = Induction::Minutes(1.0);
    series.development.temperature_coefficient = Some(2.0);
    let film = series.films[1].id.clone();
    reported(&mut series, film);
    series
}

/// All that a tester may have said of a film.
fn reported(series: &mut Series, film: FilmId) {
    series.report.verdicts.insert(film.clone(), "good".to_owned());
    series.report.recommendations.insert(film.clone(), "at dusk".to_owned());
    let numbers = series.report.reworded_on.entry(film.clone()).or_default();
    numbers.insert("speed.relative".to_owned(), "+1.40 stops".to_owned());
    series.report.order.insert(film.clone(), vec!["speed.relative".to_owned()]);
    let choice = FindingChoice::Reworded("better".to_owned());
    series.report.findings.entry(film).or_default().insert("speed.relative".to_owned(), choice);
}

fn first_readings(film: &mut Film) -> Option<&mut ReadingsSource> {
    film.strips.first_mut().map(|strip| &mut strip.readings)
}

/// Values that a file may hold in place of another of that kind.
fn hostile(kind: Kind) -> Vec<String> {
    let texts: &[&str] = match kind {
        Kind::Number => &["0", "-1", "1e-300", "1e7", "4e9", "4294967295", "1e300", "inf", "-inf", "NaN"],
        Kind::Text | Kind::Key => &[
            "\"\"",
            "\"a\\u{0}b\"",
            "\"\\u{1b}[2J\\u{7}\"",
            "\"\\u{9b}31m\"",
            "\"two\\nlines\"",
            "\"Tern\\u{202e}061\"",
            "\"\\u{2066}x\"",
            "\"טורן 160\"",
            "\"../../../../etc/passwd\"",
            "\"<script>alert(1)</script>\"",
        ],
        Kind::Word => &["None", "Unheard", "true", "1", "\"a\"", "[]", "(((())))"],
        Kind::List => &["", "[[[[]]]]"],
    };
    texts.iter().map(|text| (*text).to_owned()).collect()
}

/// A text of ten million letters.
fn endless() -> String {
    format!("\"{}\"", "x".repeat(10_000_000))
}

/// One value of each field, and what the file would say there.
fn one_of_each(text: &str) -> BTreeMap<(String, Kind), Leaf> {
    leaves(text).into_iter().map(|leaf| ((leaf.field.clone(), leaf.kind), leaf)).collect()
}

/// Opens a text, or sees that what refuses it is one clear problem with a place.
fn opened(text: &str, what: &str) -> Result<Series, Problem> {
    store::parse(text, NAME).inspect_err(|problem| {
        assert_eq!(problem.severity, Severity::Error, "{what}");
        let Subject::File { path, place } = &problem.subject else { panic!("{what}: about {problem}") };
        assert_eq!(path, NAME);
        assert!(place.is_some() || problem.cause.contains("format"), "{what}: no place: {problem}");
        let said = problem.to_string();
        assert!(said.chars().count() < 2_000 && !said.chars().any(shown::steers), "{what}: {said}");
        assert!(
            problem.cause.to_string().ends_with('.') && problem.remedy.to_string().ends_with('.'),
            "{what}: {said}"
        );
        for library in ["Expected", "Unexpected", "`", "recursion_limit", "serde", "os error"] {
            assert!(!said.contains(library), "{what}: {said}");
        }
    })
}

#[test]
fn the_sample_opens_as_it_was_saved() {
    let text = std::fs::read_to_string(sample()).unwrap();
    let series = store::parse(&text, NAME).unwrap();
    assert_eq!(store::write(&series), text, "nothing of it was changed or lost");
    assert_eq!(full().check(), Ok(()));
}

#[test]
fn every_hostile_value_is_refused_by_name_or_harmless() {
    let mut refused: BTreeSet<&str> = BTreeSet::new();
    let mut open = 0;
    let text = store::write(&full());
    let fields = one_of_each(&text);
    assert!(fields.len() > 120, "the document has more fields than that: {}", fields.len());
    hostile_in(&text, &fields, &mut refused, &mut open);
    // Lights of other kinds stand in place of the one that was measured.
    for light in [SubjectLight::Daylight(5_500.0), SubjectLight::Incandescent(3_200.0)] {
        let mut series = full();
        series.target.light = Some(light);
        let text = store::write(&series);
        let mut fields = one_of_each(&text);
        fields.retain(|(field, _), _| field.contains("/target"));
        assert!(!fields.is_empty());
        hostile_in(&text, &fields, &mut refused, &mut open);
    }
    assert!(open > 100, "harmless values stay possible: {open}");
    let never: Vec<&str> =
        ranges::ALL.iter().map(|range| range.name).filter(|name| !refused.contains(name)).collect();
    assert!(never.is_empty(), "no field holds to these ranges: {never:?}");
}

/// Every hostile value in place of each of these fields.
fn hostile_in(
    text: &str,
    fields: &BTreeMap<(String, Kind), Leaf>,
    refused: &mut BTreeSet<&'static str>,
    open: &mut usize,
) {
    for ((field, kind), leaf) in fields {
        for value in hostile(*kind) {
            let what = format!("{field}: {value:?}");
            match opened(&leaf.replaced(text, &value), &what) {
                Ok(series) => {
                    *open += 1;
                    // Whatever opens can be written and opened again.
                    assert_eq!(store::parse(&store::write(&series), NAME).as_ref(), Ok(&series), "{what}");
                }
                Err(problem) => {
                    let named = ranges::ALL
                        .iter()
                        .filter(|range| problem.cause.contains(&format!("the {} must", range.name)));
                    refused.extend(named.map(|range| range.name));
                }
            }
        }
    }
}

#[test]
fn texts_of_ten_million_letters_are_refused_in_few_words() {
    let text = store::write(&full());
    let fields = one_of_each(&text);
    let texts = fields.values().filter(|leaf| matches!(leaf.kind, Kind::Text | Kind::Key));
    // Each takes a moment: some of each kind of place.
    for leaf in texts.step_by(5) {
        let problem = opened(&leaf.replaced(&text, &endless()), &leaf.field).expect_err(&leaf.field);
        assert!(problem.to_string().chars().count() < 1_000, "{}", leaf.field);
    }
}

#[test]
fn lists_of_absurd_length_and_things_defined_twice_are_refused() {
    let text = store::write(&full());
    for leaf in one_of_each(&text).values().filter(|leaf| leaf.kind == Kind::List) {
        let inside = &text[leaf.span.clone()];
        if inside.is_empty() {
            continue;
        }
        let many = inside.trim_end().trim_end_matches(',').to_owned() + ",";
        let times = if leaf.field == ".Series/films" { 3 } else { 1_100 };
        let problem = opened(&leaf.replaced(&text, &many.repeat(times)), &leaf.field).expect_err(&leaf.field);
        assert!(
            problem.cause.contains("can be")
                || problem.cause.contains("Two films")
                || problem.cause.contains("patches"),
            "{problem}"
        );
    }
    for leaf in one_of_each(&text).values().filter(|leaf| leaf.kind == Kind::Key) {
        let entry = &text[leaf.span.start..entry_end(&text, leaf.span.start)];
        let twice = format!("{}{entry}, {}", &text[..leaf.span.start], &text[leaf.span.start..]);
        if let Err(problem) = store::parse(&twice, NAME) {
            assert!(problem.cause.contains("twice"), "{}: {problem}", leaf.field);
        } else {
            panic!("{} stands there twice", leaf.field);
        }
    }
}

#[test]
fn what_nothing_defines_is_named() {
    let mut unknown: Vec<(&str, Series)> = Vec::new();
    let mut with = |word: &'static str, change: fn(&mut Series)| {
        let mut series = full();
        change(&mut series);
        unknown.push((word, series));
    };
    with("scan 'nowhere'", |series| series.films[0].uniform_areas[0].scan = "nowhere".into());
    with("tablet 'nowhere'", |series| {
        series.films[0].tablet_exposure.as_mut().unwrap().tablet = "nowhere".into();
    });
    with("film 'nowhere'", |series| series.films[2].roll_of = Some("nowhere".into()));
    with("film 'nowhere'", |series| series.reference = Some("nowhere".into()));
    with("calibration 'nowhere'", |series| {
        series.scans.values_mut().next().unwrap().calibration = Some("nowhere".into());
    });
    with("scan 'nowhere'", |series| series.sharpness.scanner_edge.as_mut().unwrap().scan = "nowhere".into());
    for (word, series) in unknown {
        let problem = opened(&store::write(&series), word).expect_err(word);
        assert!(problem.cause.contains(word), "{problem}");
    }
}

#[test]
fn the_languages_own_traps_are_refused_in_words() {
    let sound = store::write(&small());
    let bad = [
        (sound.replacen("Point(", &format!("Point(z: {}", "[".repeat(200_000)), 1), "deeper than"),
        (format!("Series(unheard: {}", "(".repeat(200_000)), "line 1"),
        (sound.replacen("format: 2", "format: 2, format: 2", 1), "'format' stands there twice"),
        (sound.replacen("format: 2", "format: 99999999999999999999999", 1), "larger or smaller"),
        (sound.replacen("format: 2", "colour: 1", 1), "no field 'colour'"),
        (sound.replacen("kind: Film", "kind: Pink", 1), "'Pink' is none of Film, Print"),
        (sound.replacen("      id: \"Tern 160\",\n", "", 1), "the field 'id' is missing"),
        (sound.replacen("title: \"", "title: \"\\q", 1), "backslash"),
        (sound.replacen("title: \"", "title: 5, about: \"", 1), "line 3"),
        (sound.clone() + "more", "follows after its end"),
        (sound[..sound.find("films: [").unwrap() + 40].to_owned(), "not a series of this program"),
        (format!("#![enable(unheard_of)]\n{sound}"), "line 1"),
        (format!("{sound}/* never closed"), "too early"),
        (format!("Series(title: \"{}", "x".repeat(50_000_000)), "closing quotation mark"),
    ];
    for (text, words) in bad {
        let what = words.to_owned();
        let problem = opened(&text, &what).expect_err(words);
        assert!(problem.to_string().contains(words), "{words}: {problem}");
    }
}

#[test]
fn the_window_cannot_enter_what_a_file_may_not_hold() {
    let mut session = Session::open(&sample()).unwrap();
    session.set_recovery_folder(None);
    let before = session.series().clone();
    let edits: [fn(&mut Series); 6] = [
        |series| series.settings.resamplings = u32::MAX,
        |series| series.films[0].label = "Tern\u{202e}".to_owned(),
        |series| series.layout.as_mut().unwrap().columns = u32::MAX,
        |series| series.films[0].base_fog.as_mut().unwrap().density = f64::NAN,
        |series| series.scans.values_mut().for_each(|entry| entry.dpi = Some(0.0)),
        |series| series.films[1].id = series.films[0].id.clone(),
    ];
    for edit in edits {
        session.apply(Edit::new("enter it", edit)).expect_err("refused");
        session
            .preview_with(|series| {
                edit(series);
                Ok(())
            })
            .expect_err("refused while dragging");
        session.abort();
        assert_eq!(*session.series(), before, "as it was");
    }
    assert!(session.undo_label().is_none() && !session.unsaved(), "nothing to undo");
    session
        .apply(Edit::new("empty it", |series| series.films[0].base_fog = None))
        .expect("an empty field is none");
}

/// Values of one field from which the lowest and the highest that open are taken.
const LADDER: [&str; 24] = [
    "-1000000.0",
    "-40.0",
    "-10.0",
    "-0.5",
    "0.0",
    "0.0001",
    "0.01",
    "0.05",
    "0.1",
    "0.3",
    "0.5",
    "1.0",
    "2.0",
    "3.0",
    "6.0",
    "10.0",
    "20.0",
    "100.0",
    "500.0",
    "1000.0",
    "2000.0",
    "10000.0",
    "100000.0",
    "1000000.0",
];

/// Fields on which the amount of work depends.
const WORK: [&str; 11] = [
    "aperture_um",
    "resamplings",
    "steps",
    "x",
    "y",
    "radius",
    "inner",
    "enlargement",
    "gradient_range",
    "rows",
    "columns",
];

/// The lowest and the highest value of the ladder that a field may hold, as series.
fn extremes(text: &str, leaf: &Leaf) -> Vec<(String, Series)> {
    let tried = |value: &&str| {
        let whole = value.trim_end_matches(".0");
        let series =
            [*value, whole].iter().find_map(|value| store::parse(&leaf.replaced(text, value), NAME).ok())?;
        Some((format!("{}: {value}", leaf.field), series))
    };
    LADDER.iter().find_map(&tried).into_iter().chain(LADDER.iter().rev().find_map(tried)).collect()
}

/// What the engine says of a job that panicked.
const PANIC: &str = "failed by a fault of the program";

/// All work on a series: figures, check, report.
fn work(session: &mut Session, series: Series) {
    session.apply(Edit::new("try it", move |all| *all = series)).expect("what opens can be entered");
    let figures = export::figures_json(session).expect("there are films").to_string();
    for problem in session.check() {
        assert!(!problem.cause.contains(PANIC), "{problem}");
    }
    assert!(!figures.contains(PANIC), "a figure: {figures}");
    export::report_html(session, None).expect("there are a reference and a candidate");
    export::figures_csv(session).expect("there are films");
    session.undo();
}

/// Does all work on each of the series, and sees that it ends in time and in few enough bytes.
fn all_work(variants: Vec<(String, Series)>) {
    let (done, told) = mpsc::channel();
    let names: Vec<String> = variants.iter().map(|(what, _)| what.clone()).collect();
    let worker = std::thread::spawn(move || {
        let mut session = Session::open(&sample()).unwrap();
        session.set_recovery_folder(None);
        for (what, series) in variants {
            crate::PEAK.reset_peak_usage();
            let begun = std::time::Instant::now();
            work(&mut session, series);
            let took = begun.elapsed();
            if std::env::var_os("TWINWEDGE_TELL").is_some() {
                println!("{:>7.2} s {:>5} MiB  {what}", took.as_secs_f64(), crate::PEAK.peak_usage() >> 20);
            }
            assert!(crate::PEAK.peak_usage() < MOST_BYTES, "{what} took {} bytes", crate::PEAK.peak_usage());
            if done.send(()).is_err() {
                return;
            }
        }
    });
    for what in names {
        match told.recv_timeout(LONGEST) {
            Ok(()) => {}
            Err(mpsc::RecvTimeoutError::Timeout) => panic!("{what} does not end"),
            Err(mpsc::RecvTimeoutError::Disconnected) => {
                panic!("{what}: {:?}", worker.join().err().map(|_| "it panicked"))
            }
        }
    }
    worker.join().expect("no panic");
}

/// Numbers of the small series, one of each field.
fn numbers(text: &str) -> Vec<Leaf> {
    one_of_each(text).into_values().filter(|leaf| leaf.kind == Kind::Number).collect()
}

#[test]
fn the_widest_values_that_open_are_worked_within_bounds() {
    let text = store::write(&small());
    let last = |leaf: &Leaf| leaf.field.rsplit('/').next().unwrap_or_default().to_owned();
    let (heavy, rest): (Vec<Leaf>, Vec<Leaf>) =
        numbers(&text).into_iter().partition(|leaf| WORK.contains(&last(leaf).as_str()));
    assert!(heavy.len() > 8 && rest.len() > 20, "{} and {}", heavy.len(), rest.len());
    let mut variants: Vec<(String, Series)> = heavy.iter().flat_map(|leaf| extremes(&text, leaf)).collect();
    let mut random = rand_pcg::Pcg64Mcg::seed_from_u64(1);
    for _ in 0..8 {
        variants.extend(extremes(&text, &rest[random.random_range(0..rest.len())]).pop());
    }
    all_work(variants);
}

fn resolve(series: &mut Series, dpi: f64) {
    series.scans.values_mut().for_each(|entry| entry.dpi = Some(dpi));
}

/// Everything that was marked in scans, from one end of the range of coordinates to the other.
fn mark_all(series: &mut Series) {
    let (low, high) = (ranges::PIXEL.lowest, ranges::PIXEL.highest);
    let all = Rect::between(Point::new(low, low), Point::new(high, high));
    series.detail_area = Some(all);
    for film in &mut series.films {
        film.uniform_areas.iter_mut().for_each(|grain| grain.area = all);
        film.edges.iter_mut().for_each(|edge| edge.area = all);
        if let Some(grid) = film.print.as_mut().and_then(|print| print.grid.as_mut()) {
            grid.quad = Quad::upright(all);
        }
        if let Some(ReadingsSource::Strip { shape, .. }) = first_readings(film) {
            shape.quad = Quad::upright(all);
        }
    }
}

/// A change of a series.
type Change = fn(&mut Series);

/// Changes that go to the ends of several ranges at once, or of fields that the sample leaves empty.
const WIDE: [(&str, Change); 12] = [
    ("1 dpi", |series| resolve(series, 1.0)),
    ("100000 dpi", |series| resolve(series, 100_000.0)),
    ("100000 dpi through the widest aperture", |series| {
        resolve(series, 100_000.0);
        series.settings.aperture_um = ranges::APERTURE_UM.highest;
    }),
    ("2400 dpi through the finest aperture", |series| {
        resolve(series, 2400.0);
        series.settings.aperture_um = ranges::APERTURE_UM.lowest;
    }),
    ("a print as large as a house under a loupe", |series| {
        series.viewing.enlargement = ranges::ENLARGEMENT.highest;
        series.viewing.distance_mm = ranges::DISTANCE.lowest;
        series.conditions.enlargement = Some(ranges::ENLARGEMENT.highest);
    }),
    ("a stamp across the street", |series| {
        series.viewing.enlargement = ranges::ENLARGEMENT.lowest;
        series.viewing.distance_mm = ranges::DISTANCE.highest;
        series.conditions.enlargement = Some(ranges::ENLARGEMENT.lowest);
    }),
    ("a hundred rows and columns", |series| {
        let layout = series.layout.as_mut().unwrap();
        (layout.rows, layout.columns) = (100, 100);
        layout.patches = layout.patches.iter().cycle().take(10_000).cloned().collect();
    }),
    ("a thousand spots", |series| {
        let spot = |i: u32| Spot { name: i.to_string(), at: Point::new(300.0, 200.0), radius: 150.0 };
        series.spots = (0..1_000).map(spot).collect();
    }),
    ("all that can be marked", mark_all),
    ("apertures of a hand", |series| {
        resolve(series, 100_000.0);
        for film in &mut series.films {
            if let Some(ReadingsSource::Strip { shape, .. }) = first_readings(film) {
                shape.aperture = Aperture::Circle(ranges::APERTURE_MM.highest);
            }
        }
    }),
    ("the widest subject and flare", |series| {
        series.tones.subject_stops = ranges::SUBJECT.highest;
        series.tones.flare_factor = ranges::FLARE.highest;
        series.tones.shadow_zone = ranges::ZONE.lowest;
    }),
    ("a thousand readings of one density", |series| {
        let typed = TypedReading { u: Some(0.0), ..TypedReading::new(1.0) };
        series.films[1].strips = vec![ReadingsSource::Typed(vec![typed; 1_000]).into()];
    }),
];

#[test]
fn the_ends_of_several_ranges_are_worked_within_bounds() {
    let wide = WIDE.map(|(what, change)| {
        let mut series = small();
        change(&mut series);
        (what.to_owned(), opened(&store::write(&series), what).expect(what))
    });
    all_work(wide.into());
}

/// Every number at its lowest and its highest, and every text and word that opens: some minutes.
#[test]
#[ignore = "takes minutes: cargo test --release --test bad_files -- --ignored every_value"]
fn every_value_that_opens_is_worked_within_bounds() {
    for series in [small(), full()] {
        let text = store::write(&series);
        let mut variants: Vec<(String, Series)> =
            numbers(&text).iter().flat_map(|leaf| extremes(&text, leaf)).collect();
        for ((field, kind), leaf) in one_of_each(&text) {
            for value in hostile(kind) {
                if let Ok(series) = store::parse(&leaf.replaced(&text, &value), NAME) {
                    variants.push((format!("{field}: {value:?}"), series));
                }
            }
        }
        all_work(variants);
    }
}
