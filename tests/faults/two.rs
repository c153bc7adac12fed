//! Two processes at one series.

use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};

use rand::RngExt;
use rand::SeedableRng;
use rand_pcg::Pcg64;
use twinwedge_core::document::Series;
use twinwedge_workbench::session::{OnDisk, Session};
use twinwedge_workbench::store;

use crate::child::Other;
use crate::support::{names, opened, put, retitle, series, title};

/// The words that a saved series holds.
fn words(path: &Path) -> BTreeSet<String> {
    let series = store::parse(&std::fs::read_to_string(path).unwrap(), "").unwrap();
    series.about.split_whitespace().map(str::to_owned).collect()
}

/// All saved series of a folder.
fn files(folder: &Path) -> Vec<PathBuf> {
    let names = names(folder).into_iter().filter(|name| name.ends_with(".twinwedge"));
    names.map(|name| folder.join(name)).collect()
}

fn fresh(folder: &Path) -> PathBuf {
    for file in files(folder) {
        std::fs::remove_file(file).unwrap();
    }
    let path = folder.join("a.twinwedge");
    put(&path, &Series { about: String::new(), ..series("two", 2) });
    path
}

/// What one of the two has in its session.
#[derive(Default)]
struct Side {
    open: bool,
    /// Words in its document.
    holds: BTreeSet<String>,
}

/// Every step is told in turn, so what must be in the files is known exactly: a file holds all words that were reported
/// as saved there, whichever of the two saved last.
#[test]
fn two_hundred_interleavings_lose_nothing() {
    let folder = tempfile::tempdir().unwrap();
    let mut others = [Other::start("obeys", folder.path()), Other::start("obeys", folder.path())];
    let (mut saves, mut copies) = (0, 0);
    for seed in 0..200 {
        let mut random = Pcg64::seed_from_u64(seed);
        let path = fresh(folder.path());
        let mut sides = [Side::default(), Side::default()];
        let mut promised: BTreeMap<PathBuf, BTreeSet<String>> = BTreeMap::new();
        for step in 0..random.random_range(6..24) {
            let which = random.random_range(0..2);
            let (other, side) = (&mut others[which], &mut sides[which]);
            if !side.open {
                side.holds = other.ask("open").split_whitespace().map(str::to_owned).collect();
                side.open = true;
                assert_eq!(side.holds, words(&path), "seed {seed}, step {step}");
                continue;
            }
            match random.random_range(0..8) {
                0..4 => {
                    let word = format!("w{seed}.{step}");
                    assert_eq!(other.ask(&format!("edit {word}")), "edited");
                    side.holds.insert(word);
                }
                4..7 => {
                    let answer = other.ask("save");
                    let (how, place) = answer.split_once(' ').unwrap();
                    match how {
                        "saved" => saves += 1,
                        "copied" => copies += 1,
                        _ => panic!("seed {seed}, step {step}: {answer}"),
                    }
                    let place = PathBuf::from(place);
                    promised.entry(place.clone()).or_default().extend(side.holds.clone());
                    assert_eq!(words(&place), promised[&place], "seed {seed}, step {step}: {answer}");
                }
                _ => {
                    assert_eq!(other.ask("close"), "closed");
                    side.open = false;
                }
            }
        }
        for (file, promised) in &promised {
            assert_eq!(&words(file), promised, "seed {seed}: all that was saved there is there");
        }
        for other in &mut others {
            other.ask("close");
        }
    }
    println!("interleavings: 200; saves {saves}, of which conflicts kept as a copy {copies}");
    assert!(saves > 200 && copies > 50, "saves {saves}, copies {copies}");
}

/// Both have opened the same file, edited it, and save at the same moment: one saves, the other is told.
#[test]
fn two_hundred_races_have_one_winner_and_keep_both() {
    let folder = tempfile::tempdir().unwrap();
    let mut others = [Other::start("obeys", folder.path()), Other::start("obeys", folder.path())];
    let mut first = 0;
    for round in 0..200 {
        let path = fresh(folder.path());
        for (number, other) in others.iter_mut().enumerate() {
            other.ask("open");
            other.ask(&format!("edit r{round}.{number}"));
        }
        for other in &mut others {
            other.tell("save");
        }
        let answers: Vec<String> = others.iter_mut().map(|other| other.hear().unwrap()).collect();
        let saved: Vec<bool> = answers.iter().map(|answer| answer.starts_with("saved ")).collect();
        let copied = answers.iter().filter(|answer| answer.starts_with("copied ")).count();
        assert_eq!(
            (saved.iter().filter(|saved| **saved).count(), copied),
            (1, 1),
            "round {round}: {answers:?}"
        );
        first += usize::from(saved[0]);
        for (number, answer) in answers.iter().enumerate() {
            let place = PathBuf::from(answer.split_once(' ').unwrap().1);
            assert_eq!(words(&place), BTreeSet::from([format!("r{round}.{number}")]), "round {round}");
        }
        assert_eq!(files(folder.path()).len(), 2, "round {round}");
        assert!(path.exists());
        for other in &mut others {
            other.ask("close");
        }
    }
    println!("races: 200; the first of the two won {first}, the other {}", 200 - first);
}

/// Many at once make one new series: one wins, the others hear that it is there.
#[test]
fn of_many_that_make_one_file_one_wins() {
    let folder = tempfile::tempdir().unwrap();
    for round in 0..20 {
        let path = folder.path().join(format!("{round}.twinwedge"));
        let start = std::sync::Barrier::new(6);
        let won: Vec<usize> = std::thread::scope(|scope| {
            let tries: Vec<_> = (0..6)
                .map(|number| {
                    let (path, start) = (&path, &start);
                    scope.spawn(move || {
                        let mut session = Session::of(series(&number.to_string(), 1), PathBuf::new());
                        session.set_recovery_folder(None);
                        start.wait();
                        session.save_as(path).is_ok().then_some(number)
                    })
                })
                .collect();
            tries.into_iter().filter_map(|tried| tried.join().unwrap()).collect()
        });
        assert_eq!(won.len(), 1, "round {round}: {won:?}");
        assert_eq!(title(&path), won[0].to_string(), "the file is that of the one that was told so");
    }
}

#[test]
fn a_window_notices_that_the_file_changed_and_can_compare_reload_or_replace() {
    let folder = tempfile::tempdir().unwrap();
    let (path, recoveries) = (folder.path().join("a.twinwedge"), folder.path().join("recovery"));
    put(&path, &series("first", 2));
    let mut session = opened(&path, &recoveries);
    retitle(&mut session, "mine");
    assert_eq!(session.changed_on_disk(), OnDisk::Same);
    let start = std::time::Instant::now();
    let mut now = start;
    let mut wait_for = |session: &mut Session, state: OnDisk| {
        while session.changed_on_disk() != state {
            assert!(start.elapsed() < std::time::Duration::from_secs(60), "{state:?} is noticed");
            now += std::time::Duration::from_secs(4);
            session.tick(now);
            std::thread::sleep(std::time::Duration::from_millis(2));
        }
    };
    put(&path, &series("theirs", 3));
    wait_for(&mut session, OnDisk::Changed);
    let way = session.in_the_way().unwrap();
    assert_eq!(way.why, store::Why::Changed);
    assert_eq!(way.held, "a series of 3 films ('theirs')");
    assert_eq!(way.differences, ["The title is 'theirs', before 'mine'.", "Films added: Tern 2."]);
    // It changes once more after it was looked at: what was agreed to is not what is there.
    put(&path, &series("later", 3));
    let refused = session.save_replacing(store::Replace::Seen(&way)).unwrap_err();
    assert!(matches!(refused, store::NotWritten::InTheWay(_)), "{refused:?}");
    assert_eq!(title(&path), "later");

    session.reload().unwrap();
    assert_eq!((session.series().title.as_str(), session.unsaved()), ("later", false));
    session.undo();
    assert_eq!((session.series().title.as_str(), session.unsaved()), ("mine", true));
    wait_for(&mut session, OnDisk::Same);
    session.save().unwrap();
    assert_eq!(title(&path), "mine");

    put(&path, &series("theirs", 3));
    let way = session.in_the_way().unwrap();
    session.save_replacing(store::Replace::Seen(&way)).unwrap();
    assert_eq!(title(&path), "mine");
    put(&path, &series("theirs", 3));
    let copy = session.save_copy().unwrap();
    assert_eq!((title(&path), title(&copy)), ("theirs".to_owned(), "mine".to_owned()));
    assert_eq!(session.path(), Some(&*copy));
    std::fs::remove_file(&copy).unwrap();
    wait_for(&mut session, OnDisk::Gone);
    session.save().unwrap();
    assert_eq!(title(&copy), "mine", "a file that is gone is made again");
}
