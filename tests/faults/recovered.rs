//! What is found at the next start, and whose it is.

use std::fs;
use std::path::Path;
use std::time::{Duration, SystemTime};

use twinwedge_workbench::session::Session;
use twinwedge_workbench::store::recovery::{self, Saved};
use twinwedge_workbench::store::{self, NotWritten};

use crate::support::{names, opened, put, retitle, series, title};

fn home() -> (tempfile::TempDir, std::path::PathBuf, std::path::PathBuf) {
    let home = tempfile::tempdir().unwrap();
    let (path, recoveries) = (home.path().join("a.twinwedge"), home.path().join("recovery"));
    put(&path, &series("saved", 2));
    (home, path, recoveries)
}

/// A session ended with this change kept and not saved.
fn left(path: &Path, recoveries: &Path, title: &str) {
    let mut session = opened(path, recoveries);
    retitle(&mut session, title);
    session.keep_now().unwrap();
}

#[test]
fn series_that_were_never_saved_are_found_without_a_name() {
    let home = tempfile::tempdir().unwrap();
    let recoveries = home.path().join("recovery");
    for title in ["first", "second"] {
        let mut session = Session::empty();
        session.set_recovery_folder(Some(recoveries.clone()));
        retitle(&mut session, title);
        session.keep_now().unwrap();
    }
    let offers = recovery::list(&recoveries);
    let mut titles: Vec<&str> = offers.iter().map(|offer| offer.recovery.series.title.as_str()).collect();
    titles.sort_unstable();
    assert_eq!(titles, ["first", "second"], "each session its own");
    assert!(offers.iter().all(|offer| offer.saved == Saved::Never));
    assert!(offers.iter().any(|offer| offer.differences == ["The title is 'first', before ''."]));
}

#[test]
fn a_living_session_is_offered_to_nobody_and_saving_leaves_others_alone() {
    let (_home, path, recoveries) = home();
    left(&path, &recoveries, "of a crash");
    let mut living = opened(&path, &recoveries);
    retitle(&mut living, "of the living");
    living.keep_now().unwrap();
    let titles = || -> Vec<String> {
        recovery::list(&recoveries).into_iter().map(|offer| offer.recovery.series.title).collect()
    };
    assert_eq!(titles(), ["of a crash"]);
    living.save().unwrap();
    assert_eq!(titles(), ["of a crash"], "saving removes a session's own");
    // A verb keeps nothing and removes nothing.
    let mut verb = Session::open(&path).unwrap();
    verb.set_recovery_folder(None);
    retitle(&mut verb, "of a verb");
    verb.save().unwrap();
    verb.discard_recoveries();
    assert_eq!(titles(), ["of a crash"]);
    assert_eq!(recovery::list(&recoveries)[0].saved, Saved::Changed);
}

#[test]
fn taken_up_it_is_held_and_saving_compares_with_what_it_was_made_on() {
    let (_home, path, recoveries) = home();
    left(&path, &recoveries, "changed");
    let offer = recovery::list(&recoveries).pop().unwrap();
    assert_eq!(offer.saved, Saved::Unchanged);
    let again = offer.recovery.clone();
    let mut session = Session::recovered(offer.recovery);
    assert!(session.unsaved());
    assert!(recovery::list(&recoveries).is_empty(), "held by the living");
    // Somebody who had it listed before takes it up, too: the files stay with the first.
    let mut second = Session::recovered(again);
    second.discard_recoveries();
    drop(second);
    put(&path, &series("saved since", 5));
    let refused = session.save().unwrap_err();
    let NotWritten::InTheWay(way) = refused else { panic!("{refused:?}") };
    assert_eq!((way.why.clone(), title(&path)), (store::Why::Changed, "saved since".to_owned()));
    session.save_replacing(store::Replace::Seen(&way)).unwrap();
    drop(session);
    assert_eq!(title(&path), "changed");
    assert!(recovery::list(&recoveries).is_empty());
    assert_eq!(names(&recoveries), [""; 0], "nothing is left of it");
}

#[test]
fn a_crash_again_before_saving_offers_the_newest() {
    let (_home, path, recoveries) = home();
    left(&path, &recoveries, "first crash");
    let mut session = Session::recovered(recovery::list(&recoveries).pop().unwrap().recovery);
    retitle(&mut session, "second crash");
    session.keep_now().unwrap();
    drop(session);
    let offers = recovery::list(&recoveries);
    assert_eq!(offers.len(), 1);
    assert_eq!(offers[0].recovery.series.title, "second crash");
}

#[test]
fn declined_ones_go_aside_and_are_not_offered_again() {
    let (_home, path, recoveries) = home();
    left(&path, &recoveries, "unwanted");
    let offer = recovery::list(&recoveries).pop().unwrap();
    recovery::decline(&offer.recovery).unwrap();
    assert!(recovery::list(&recoveries).is_empty());
    let declined = names(&recoveries.join("declined"));
    assert_eq!(declined.len(), 1);
    let kept = recovery::read(&recoveries.join("declined").join(&declined[0])).unwrap();
    assert_eq!(kept.series.title, "unwanted");
    // Leaving without saving does the same with one's own.
    let mut session = opened(&path, &recoveries);
    retitle(&mut session, "left");
    session.keep_now().unwrap();
    session.discard_recoveries();
    assert_eq!(names(&recoveries.join("declined")).len(), 2);
    for number in 0..recovery::DECLINED {
        retitle(&mut session, &number.to_string());
        session.keep_now().unwrap();
        session.discard_recoveries();
    }
    assert_eq!(names(&recoveries.join("declined")).len(), recovery::DECLINED);
}

/// Whatever the clock says: the saved file is dated to the year 2100, the recovery file to 1990.
#[test]
fn neither_a_moved_folder_nor_a_wrong_clock_hides_it() {
    let home = tempfile::tempdir().unwrap();
    let recoveries = home.path().join("recovery");
    let (here, there) = (home.path().join("here"), home.path().join("there"));
    fs::create_dir(&here).unwrap();
    let path = here.join("a.twinwedge");
    put(&path, &series("saved", 2));
    left(&path, &recoveries, "changed");
    let date = |path: &Path, years: u64| {
        let time = SystemTime::UNIX_EPOCH + Duration::from_secs(years * 31_557_600);
        fs::File::options().append(true).open(path).unwrap().set_modified(time).unwrap();
    };
    date(&path, 130);
    for name in names(&recoveries) {
        date(&recoveries.join(name), 20);
    }
    let session = Session::open(&path).map(|mut session| {
        session.set_recovery_folder(Some(recoveries.clone()));
        session
    });
    let session = session.unwrap();
    assert_eq!(session.recoveries_of(&path)[0].saved, Saved::Unchanged);

    fs::rename(&here, &there).unwrap();
    assert_eq!(session.recoveries()[0].saved, Saved::Gone);
    let moved = there.join("a.twinwedge");
    let offer = session.recoveries_of(&moved).pop().unwrap();
    assert_eq!(offer.saved, Saved::Unchanged);
    assert_eq!(offer.differences, ["The title is 'changed', before 'saved'."]);
    let mut recovered = Session::recovered(offer.recovery);
    assert_eq!(recovered.folder().file_name(), there.file_name(), "scans are looked for from the new place");
    recovered.save().unwrap();
    assert_eq!(title(&moved), "changed");
    // A copy of the saved file elsewhere is not what it was made on while that is there.
    left(&moved, &recoveries, "again");
    let copy = home.path().join("copy.twinwedge");
    fs::copy(&moved, &copy).unwrap();
    assert!(session.recoveries_of(&copy).is_empty());
}

/// A file as the version before wrote it: named by its series and the time, and with a shorter head.
#[test]
fn recovery_files_of_older_versions_are_read_and_never_deleted() {
    let (_home, path, recoveries) = home();
    fs::create_dir(&recoveries).unwrap();
    let head = format!("// (original:{:?},folder:{:?})", path.display().to_string(), "/");
    let text = format!("{head}\n{}", store::write(&series("of old", 2)));
    let old = recoveries.join("0123456789abcdef-01764480000000000000.twinwedge");
    fs::write(&old, &text).unwrap();
    let offer = recovery::list(&recoveries).pop().unwrap();
    assert_eq!((offer.saved, offer.recovery.series.title.as_str()), (Saved::Changed, "of old"));
    let mut session = Session::recovered(offer.recovery);
    // Which file it was made on is not known: nothing is overwritten in silence.
    let NotWritten::InTheWay(way) = session.save().unwrap_err() else { panic!("in the way") };
    session.save_replacing(store::Replace::Seen(&way)).unwrap();
    assert_eq!(title(&path), "of old");
    assert!(recovery::list(&recoveries).is_empty());
    let aside = recoveries.join("declined").join(old.file_name().unwrap());
    assert_eq!(fs::read_to_string(aside).unwrap(), text);
}

#[test]
fn a_damaged_recovery_file_hides_no_older_one() {
    let (_home, path, recoveries) = home();
    let mut session = opened(&path, &recoveries);
    for title in ["first", "second"] {
        retitle(&mut session, title);
        session.keep_now().unwrap();
    }
    drop(session);
    let newest = names(&recoveries).pop().unwrap();
    fs::write(recoveries.join(newest), [0; 700]).unwrap();
    assert_eq!(recovery::list(&recoveries).pop().unwrap().recovery.series.title, "first");
}
