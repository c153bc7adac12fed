//! Processes that are killed at any moment.

use std::path::Path;
use std::thread::sleep;
use std::time::Duration;

use rand::RngExt;
use rand::SeedableRng;
use rand_pcg::Pcg64;
use twinwedge_workbench::session::Session;
use twinwedge_workbench::store::recovery;

use crate::child::Other;
use crate::support::{names, put, series, title};

/// How often a saving and a working process is killed.
fn times() -> (usize, usize) {
    let set = std::env::var("TWINWEDGE_KILLS").ok();
    let numbers = set.as_deref().and_then(|set| set.split_once(','));
    numbers.map_or((60, 20), |(saving, working)| (saving.parse().unwrap(), working.parse().unwrap()))
}

#[test]
fn a_kill_while_saving_leaves_a_whole_file_and_the_next_save_tidies() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("a.twinwedge");
    put(&path, &series("forty", 40));
    let mut random = Pcg64::seed_from_u64(1);
    let (mut forty, mut ninety, mut litter) = (0, 0, 0);
    for round in 0..times().0 {
        let mut other = Other::start("saves", folder.path());
        assert_eq!(other.hear().as_deref(), Some("begins"));
        sleep(Duration::from_micros(random.random_range(0..20_000)));
        other.kill();
        let films = Session::open(&path).unwrap().series().films.len();
        match films {
            40 => forty += 1,
            90 => ninety += 1,
            other => panic!("round {round}: {other} films"),
        }
        let left = names(folder.path()).len() - 1;
        litter += usize::from(left > 0);
        // One part and its lock at most: each process tidied what the one before it left.
        assert!(left <= 2, "round {round}: {:?}", names(folder.path()));
    }
    println!("killed while saving: {} times", forty + ninety);
    println!("  the file held one series {forty} times, the other {ninety} times, never anything else");
    println!("  something was left beside it {litter} times");
    assert!(litter > 0, "some kills fell into a save");
    put(&path, &series("last", 1));
    assert_eq!(names(folder.path()), ["a.twinwedge"], "the next save leaves nothing of that");
}

/// What is there after a kill: the number in the file, and the highest that is offered.
fn found(folder: &Path) -> (u64, Option<u64>) {
    let saved = title(&folder.join("a.twinwedge")).parse().unwrap();
    let offers = recovery::list(&folder.join("recovery"));
    assert!(offers.len() <= 1, "one session, one offer: {}", offers.len());
    (saved, offers.first().map(|offer| offer.recovery.series.title.parse().unwrap()))
}

#[test]
fn a_kill_while_a_session_works_loses_nothing_that_was_kept() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("a.twinwedge");
    put(&path, &series("0", 6));
    let mut random = Pcg64::seed_from_u64(2);
    let (mut recovered, mut from_file) = (0, 0);
    for round in 0..times().1 {
        let mut other = Other::start("works", folder.path());
        assert_eq!(other.hear().as_deref(), Some("begins"));
        sleep(Duration::from_micros(random.random_range(0..60_000)));
        let said = other.kill();
        let number =
            |words: &str| said.iter().rev().find_map(|line| line.strip_prefix(words)?.parse::<u64>().ok());
        let (kept, last_saved) = (number("kept "), number("saved "));
        let (saved, offered) = found(folder.path());
        let newest = offered.unwrap_or(0).max(saved);
        assert!(Some(saved) >= last_saved, "round {round}: {saved} in the file, {last_saved:?} was saved");
        assert!(Some(newest) >= kept, "round {round}: {newest} found, {kept:?} was kept");
        let mut session = match recovery::list(&folder.path().join("recovery")).pop() {
            Some(offer) => {
                recovered += 1;
                assert!(offered > Some(saved), "round {round}: what is older than the file is not offered");
                Session::recovered(offer.recovery)
            }
            None => {
                from_file += 1;
                Session::open(&path).unwrap()
            }
        };
        session.save().unwrap();
        drop(session);
        assert_eq!(title(&path), newest.to_string());
        assert_eq!(found(folder.path()), (newest, None), "round {round}: saved, so nothing is offered");
        // A kill may come before anything was kept.
        let left: Vec<String> = names(folder.path()).into_iter().filter(|name| name != "recovery").collect();
        assert_eq!(left, ["a.twinwedge"], "round {round}");
    }
    println!("killed while working: {} times", recovered + from_file);
    println!("  recovered {recovered} times; {from_file} times the file held the newest");
    assert_eq!(names(&folder.path().join("recovery")), [""; 0], "nothing is left of so many sessions");
}
