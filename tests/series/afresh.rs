//! A session that lived through any edits answers as one that has just opened the same document.

mod document;
mod edits;

use std::fmt::Debug;
use std::hash::{DefaultHasher, Hash, Hasher};
use std::sync::{Arc, LazyLock, Mutex, PoisonError};

use proptest::prelude::*;
use twinwedge_core::document::{CalibrationId, Channel, FilmId, ScanId, Series};
use twinwedge_core::tablet::find::{Order, Wanted};
use twinwedge_workbench::engine::ask::{
    ApertureLawOf, BandsOf, BracketOf, CalibrationIn, CalibrationOf, ComparisonOf, CurveOf, DetailOf,
    DevelopmentOf, DriftOf, EdgeOf, EndsOf, ExaminedOf, FiguresOf, FiltersOf, FitQualityOf, FlatOf,
    FoundStripOf, GrainOf, GrainPairOf, GranularityCurveOf, GreysOf, LightingOf, PaperOf, PaperStripOf,
    PatchesOf, PredictedOf, ReadingsOf, RegistrationOf, RenderingOf, ScanSizeOf, ScannerEdgeOf, ScreenOf,
    ScreenTones, SensitivityOf, ShadowOf, SharpnessOf, SimilarityOf, SpectrumOf, SpotsOf, StripOf, TileOf,
    TilePicture, TonesOf, ViewedOf,
};
use twinwedge_workbench::engine::{Kind, Query};
use twinwedge_workbench::session::{Edit, Session};

use crate::support::session;
use document::FOLDER;
use edits::EDITS;

/// What a session answers, question by question.
type Answers = Vec<(String, String)>;

fn hash(text: &str) -> String {
    let mut hasher = DefaultHasher::new();
    text.hash(&mut hasher);
    format!("{:016x} of {} bytes", hasher.finish(), text.len())
}

/// An answer's text, down to the bits of its numbers, or a digest of it where it is long; a problem in its words.
fn note<Q: Query>(answers: &mut Answers, session: &Session, query: &Q)
where
    Q::Output: Debug,
{
    let answer = match session.wait(query) {
        Ok(answer) => format!("{answer:?}"),
        Err(problem) => format!("{problem:?}"),
    };
    // What stands for a label begins with this noncharacter, which `Debug` writes as its code.
    assert!(!answer.contains("fdd0"), "{query:?} speaks of a film by what stands for its label");
    let answer = if answer.len() < 2_000 { answer } else { hash(&answer) };
    answers.push((format!("{query:?}"), answer));
}

fn of_film(answers: &mut Answers, session: &Session, id: &FilmId) {
    let film = || id.clone();
    for strip in 0..2 {
        note(answers, session, &StripOf { film: film(), strip });
    }
    for area in 0..2 {
        note(answers, session, &GrainOf { film: film(), area });
    }
    note(answers, session, &ReadingsOf { film: film() });
    note(answers, session, &CurveOf { film: film() });
    note(answers, session, &FitQualityOf { film: film() });
    note(answers, session, &RegistrationOf { film: film() });
    note(answers, session, &PatchesOf { film: film() });
    note(answers, session, &EndsOf { film: film() });
    note(answers, session, &GreysOf { film: film() });
    note(answers, session, &RenderingOf { film: film() });
    note(answers, session, &SensitivityOf { film: film() });
    note(answers, session, &BandsOf { film: film() });
    note(answers, session, &FiltersOf { film: film() });
    note(answers, session, &LightingOf { film: film() });
    note(answers, session, &SpotsOf { film: film() });
    note(answers, session, &ShadowOf { film: film(), frame: 0 });
    note(answers, session, &ShadowOf { film: film(), frame: 1 });
    note(answers, session, &ShadowOf { film: film(), frame: 2 });
    note(answers, session, &BracketOf { film: film() });
    note(answers, session, &ApertureLawOf { film: film(), area: 0 });
    note(answers, session, &GranularityCurveOf { film: film() });
    note(answers, session, &GrainPairOf { film: film() });
    note(answers, session, &SpectrumOf { film: film(), area: 0, quick: true });
    note(answers, session, &ViewedOf { film: film() });
    note(answers, session, &DetailOf { film: film(), quick: false });
    note(answers, session, &EdgeOf { film: film(), edge: 0, quick: false });
    note(answers, session, &SharpnessOf { film: film() });
    note(answers, session, &FiguresOf { film: film() });
    note(answers, session, &TonesOf { film: film() });
    note(answers, session, &ComparisonOf { film: film() });
    note(answers, session, &DevelopmentOf { film: film() });
    note(answers, session, &PredictedOf { film: film() });
    note(answers, session, &SimilarityOf { film: film() });
}

fn of_scan(answers: &mut Answers, session: &Session, id: &ScanId) {
    let scan = || id.clone();
    note(answers, session, &ScanSizeOf { scan: scan() });
    note(answers, session, &FlatOf { scan: scan() });
    note(answers, session, &DriftOf { scan: scan() });
    note(answers, session, &ExaminedOf { scan: scan() });
    let look = ScreenTones { contrast: 20, ..ScreenTones::default() };
    note(answers, session, &ScreenOf { scan: scan(), look });
}

/// Everything that can be asked of a small series; and what of it is a problem.
fn answers(session: &Session) -> Answers {
    let series: &Series = session.series();
    let mut answers = Vec::new();
    for film in &series.films {
        of_film(&mut answers, session, &film.id);
    }
    let picture = TilePicture::Difference(document::id(1));
    note(
        &mut answers,
        session,
        &TileOf { picture, level: 1, column: 0, row: 0, look: ScreenTones::default() },
    );
    for scan in series.scans.keys() {
        of_scan(&mut answers, session, scan);
    }
    note(
        &mut answers,
        session,
        &FoundStripOf {
            scan: ScanId::from("strip"),
            wanted: Wanted { steps: Some(11), order: Order::Falling },
        },
    );
    let calibration = || CalibrationId::from("scanner");
    note(&mut answers, session, &CalibrationOf { calibration: calibration() });
    note(&mut answers, session, &CalibrationIn { calibration: calibration(), channel: Channel::Red });
    note(&mut answers, session, &PaperStripOf);
    note(&mut answers, session, &PaperOf);
    note(&mut answers, session, &ScannerEdgeOf { quick: false });
    answers.push(("problems".to_owned(), format!("{:?}", session.problems())));
    answers
}

/// What a tester may do next.
#[derive(Debug, Clone)]
enum Act {
    /// One of the edits, to one of the films, with a number that says how.
    Edit {
        edit: usize,
        film: usize,
        how: u8,
    },
    Undo,
    Redo,
    /// Everything is shown.
    Look,
}

fn acts() -> impl Strategy<Value = Vec<Act>> {
    let edit = |edits: std::ops::Range<usize>| {
        (edits, 0..document::FILMS, any::<u8>()).prop_map(|(edit, film, how)| Act::Edit { edit, film, how })
    };
    let act = prop_oneof![
        4 => edit(0..EDITS.len()),
        // The labels of films.
        1 => edit(0..1),
        2 => Just(Act::Undo),
        1 => Just(Act::Redo),
        2 => Just(Act::Look),
    ];
    prop::collection::vec(act, 1..8)
}

fn perform(session: &mut Session, act: &Act) {
    match *act {
        Act::Edit { edit, film, how } => {
            let (name, change) = EDITS[edit];
            // A value that its field may not hold leaves the document as it was.
            let _ = session.apply(Edit::new(name, move |series| change(series, film, how)));
        }
        Act::Undo => session.undo(),
        Act::Redo => session.redo(),
        Act::Look => drop(answers(session)),
    }
}

/// Answers that differ.
fn differing(lived: &Answers, fresh: &Answers) -> Vec<String> {
    assert_eq!(lived.len(), fresh.len());
    let pairs = lived.iter().zip(fresh).filter(|(lived, fresh)| lived != fresh);
    pairs.map(|((query, lived), (_, fresh))| format!("{query}:\n  lived {lived}\n  fresh {fresh}")).collect()
}

/// One session for all cases: it has lived through more with each.
static LIVED: LazyLock<Mutex<Session>> =
    LazyLock::new(|| Mutex::new(session(document::series(), FOLDER.path())));

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    #[test]
    fn a_session_answers_after_any_edits_as_a_fresh_one_does(acts in acts()) {
        let mut lived = LIVED.lock().unwrap_or_else(PoisonError::into_inner);
        lived.apply(Edit::new("begin again", |series| *series = document::series())).unwrap();
        drop(answers(&lived));
        for act in &acts {
            perform(&mut lived, act);
        }
        let fresh = session(Series::clone(lived.series()), FOLDER.path());
        let differing = differing(&answers(&lived), &answers(&fresh));
        prop_assert!(differing.is_empty(), "{}", differing.join("\n"));
    }
}

/// All edits, a few at a time, and taken back: what no random sequence may come by.
#[test]
fn each_edit_changes_all_that_depends_on_it() {
    // One that changes nothing would test nothing.
    let change = |number: usize| Act::Edit { edit: number, film: number % document::FILMS, how: 5 };
    let mut lived = session(document::series(), FOLDER.path());
    let kept = |number: &usize| {
        let mut alone = session(document::series(), FOLDER.path());
        perform(&mut alone, &change(*number));
        **alone.series() == document::series()
    };
    let idle: Vec<&str> = (0..EDITS.len()).filter(kept).map(|number| EDITS[number].0).collect();
    assert!(idle.is_empty(), "these change nothing: {}", idle.join(", "));

    let mut steps = vec![answers(&lived)];
    let numbers: Vec<usize> = (0..EDITS.len()).collect();
    for some in numbers.chunks(4) {
        for number in some {
            let before = Arc::clone(lived.series());
            perform(&mut lived, &change(*number));
            if *before != **lived.series() {
                steps.push(answers(&lived));
            }
        }
        let names: Vec<&str> = some.iter().map(|number| EDITS[*number].0).collect();
        let fresh = session(Series::clone(lived.series()), FOLDER.path());
        let found = differing(&answers(&lived), &answers(&fresh));
        assert!(found.is_empty(), "{}:\n{}", names.join(", "), found.join("\n"));
        while lived.undo_label().is_some() {
            lived.undo();
            steps.pop();
            let found = differing(&answers(&lived), &steps[steps.len() - 1]);
            assert!(found.is_empty(), "{}, taken back:\n{}", names.join(", "), found.join("\n"));
        }
    }
}

#[test]
fn a_new_label_is_told_at_once_and_nothing_is_computed_anew() {
    let mut lived = session(document::series(), FOLDER.path());
    drop(answers(&lived));
    let counts = |session: &Session| -> Vec<(Kind, u64)> {
        Kind::ALL.iter().map(|kind| (*kind, session.computations(*kind))).collect()
    };
    let before = counts(&lived);
    for film in 0..document::FILMS {
        perform(&mut lived, &Act::Edit { edit: 0, film, how: film as u8 });
    }
    let told = answers(&lived);
    assert_eq!(counts(&lived), before);
    let fresh = session(Series::clone(lived.series()), FOLDER.path());
    let found = differing(&told, &answers(&fresh));
    assert!(found.is_empty(), "{}", found.join("\n"));
}
