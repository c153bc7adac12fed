//! Edits, gestures, undo and redo.

use std::path::Path;

use proptest::prelude::*;
use twinwedge_core::problem::{Problem, Subject};
use twinwedge_workbench::session::{Edit, Session};

use crate::support::{preview, session, typed_series};

fn retitle(title: &str) -> Edit {
    let title = title.to_owned();
    Edit::new(format!("call it {title}"), move |series| series.title = title)
}

fn title(session: &Session) -> &str {
    &session.series().title
}

#[test]
fn an_edit_is_one_named_step_there_and_back() {
    let mut session = session(typed_series(1), Path::new(""));
    session.apply(retitle("one")).unwrap();
    session.apply(retitle("two")).unwrap();
    assert_eq!(session.undo_label(), Some("call it two"));
    session.undo();
    assert_eq!(
        (title(&session), session.undo_label(), session.redo_label()),
        ("one", Some("call it one"), Some("call it two"))
    );
    session.redo();
    assert_eq!((title(&session), session.redo_label()), ("two", None));
    session.undo();
    session.apply(retitle("three")).unwrap();
    assert_eq!(session.redo_label(), None, "a new step ends what was taken back");
}

#[test]
fn a_change_of_nothing_leaves_no_step_and_a_failed_one_no_trace() {
    let mut session = session(typed_series(1), Path::new(""));
    let before = session.series().clone();
    session.apply(Edit::new("nothing", |_| {})).unwrap();
    let failing = Edit::fallible("fail", |series| {
        series.title = "half done".to_owned();
        Err(Problem::error(Subject::Series, "No.", "Do otherwise."))
    });
    assert!(session.apply(failing).is_err());
    assert_eq!(session.undo_label(), None);
    assert_eq!(*session.series(), before);
}

#[test]
fn a_gesture_is_one_step_or_none() {
    let mut session = session(typed_series(1), Path::new(""));
    let start = session.series().clone();
    session.begin("drag");
    for position in ["a", "ab", "abc"] {
        session
            .preview_with(|series| {
                series.title.push_str(position);
                Ok(())
            })
            .unwrap();
        assert_eq!(
            *title(&session),
            format!("{}{position}", start.title),
            "each preview starts from the beginning"
        );
    }
    session.commit();
    assert_eq!(session.undo_label(), Some("drag"));
    session.undo();
    assert_eq!(*session.series(), start);
    assert_eq!(session.undo_label(), None);

    session.begin("drag");
    preview(&mut session, |series| series.title = "elsewhere".to_owned());
    session.abort();
    assert_eq!(*session.series(), start);
    session.begin("touch");
    session.commit();
    assert_eq!((session.undo_label(), session.redo_label()), (None, Some("drag")));
}

#[test]
fn unsaved_follows_the_document_and_not_the_number_of_steps() {
    let folder = tempfile::tempdir().unwrap();
    let mut session = session(typed_series(1), folder.path());
    assert!(session.unsaved());
    session.save_as(&folder.path().join("series.twinwedge")).unwrap();
    assert!(!session.unsaved());
    session.apply(retitle("changed")).unwrap();
    assert!(session.unsaved());
    session.undo();
    assert!(!session.unsaved());
    session.redo();
    session.save().unwrap();
    session.undo();
    assert!(session.unsaved());
}

/// What a tester may do next.
#[derive(Debug, Clone)]
enum Act {
    Title(u8),
    Seed(u8),
    Drag(Vec<u8>),
    Abort(u8),
    Undo,
    Redo,
}

fn acts() -> impl Strategy<Value = Vec<Act>> {
    let act = prop_oneof![
        (0..4_u8).prop_map(Act::Title),
        (0..4_u8).prop_map(Act::Seed),
        prop::collection::vec(0..4_u8, 0..4).prop_map(Act::Drag),
        (0..4_u8).prop_map(Act::Abort),
        Just(Act::Undo),
        Just(Act::Redo),
    ];
    prop::collection::vec(act, 0..30)
}

fn perform(session: &mut Session, act: &Act) {
    match act {
        Act::Title(number) => session.apply(retitle(&number.to_string())).unwrap(),
        Act::Seed(number) => {
            let seed = u64::from(*number);
            session.apply(Edit::new("seed", move |series| series.settings.seed = seed)).unwrap();
        }
        Act::Drag(numbers) => {
            session.begin("drag");
            for number in numbers {
                preview(session, |series| series.title = number.to_string());
            }
            session.commit();
        }
        Act::Abort(number) => {
            session.begin("drag");
            preview(session, |series| series.title = number.to_string());
            session.abort();
        }
        Act::Undo => session.undo(),
        Act::Redo => session.redo(),
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(200))]

    // The model is a plain list of all documents and a place in it.
    #[test]
    fn undo_and_redo_walk_a_list_of_documents(acts in acts()) {
        let mut session = session(typed_series(1), Path::new(""));
        let mut documents = vec![session.series().clone()];
        let mut place = 0;
        for act in &acts {
            perform(&mut session, act);
            match act {
                Act::Undo => place = usize::saturating_sub(place, 1),
                Act::Redo => place = (place + 1).min(documents.len() - 1),
                _ if *session.series() != documents[place] => {
                    documents.truncate(place + 1);
                    documents.push(session.series().clone());
                    place += 1;
                }
                _ => {}
            }
            prop_assert_eq!(session.series(), &documents[place]);
            prop_assert_eq!(session.undo_label().is_some(), place > 0);
            prop_assert_eq!(session.redo_label().is_some(), place + 1 < documents.len());
        }
    }
}
