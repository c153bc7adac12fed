//! Lists that cannot become a series, and long ones that can.

use std::fmt::Write as _;
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

use twinwedge_core::problem::Problem;
use twinwedge_workbench::import;
use twinwedge_workbench::session::Session;
use twinwedge_workbench::store::{self, SERIES_LIMIT};

use crate::clear;

const READINGS: &str = "0.1\n0.3\n0.6\n0.9\n1.2\n1.4\n1.5\n1.6\n1.65\n1.7\n1.72\n";

/// A list in a folder of its own, beside readings.
fn list(folder: &Path, text: &str) -> PathBuf {
    std::fs::write(folder.join("r.csv"), READINGS).unwrap();
    let path = folder.join("list.csv");
    std::fs::write(&path, text).unwrap();
    path
}

fn refused(text: &str) -> (tempfile::TempDir, PathBuf, Problem) {
    let folder = tempfile::tempdir().unwrap();
    let path = list(folder.path(), text);
    let problem = import::series_from_list(&path).expect_err(text);
    (folder, path, problem)
}

#[test]
fn each_bad_list_gives_one_clear_problem_with_its_place() {
    let with = |columns: &str, values: &str| {
        format!("file,kind,film,tablet,{columns}\nr.csv,readings,Tern,nominal 11,{values}\n")
    };
    let long = "x".repeat(10_000_000);
    let bad: Vec<(String, &[&str])> = vec![
        (with("resolution,box_speed", ",1e300"), &["line 2, column 'box_speed'", "0.001 to 1000000"]),
        (with("box_speed", "0"), &["column 'box_speed'", "out of range"]),
        (with("box_speed", "NaN"), &["column 'box_speed'", "out of range"]),
        (with("box_speed", "fast"), &["'fast' is not a number"]),
        (with("temperature", "68"), &["column 'temperature'", "5 to 50 °C"]),
        (with("minutes", "-3"), &["column 'minutes'", "0.1 to 240 min"]),
        (with("seconds", "inf"), &["column 'seconds'"]),
        (with("exposure", "less 1e9"), &["column 'exposure'", "-40 to 40 stops"]),
        (with("exposure", "absolute 0.1 99"), &["column 'exposure'", "0 to 3"]),
        (with("exposure", "more"), &["'more' is no exposure"]),
        (with("base_fog", "18"), &["column 'base_fog'", "-0.5 to 6"]),
        (with("developer", "\"two\nlines\""), &["column 'developer'", "line break"]),
        (with("developer", "a\u{1b}[2Jb"), &["column 'developer'", "[U+001B]"]),
        (with("developer", &long), &["column 'developer'", "10000000 characters", "2000"]),
        ("file,kind,film\nr.csv,readings,Te\u{202e}rn\n".to_owned(), &["column 'film'", "[U+202E]"]),
        (
            "file,kind,film,kind\nr.csv,readings,Tern,print\n".to_owned(),
            &["line 1", "'kind' stands there twice"],
        ),
        ("file,kind,colour\nr.csv,readings,red\n".to_owned(), &["line 1", "'colour' is no column"]),
        ("file,film\nr.csv,Tern\n".to_owned(), &["line 1", "'kind' is missing"]),
        ("file,kind\nr.csv,readings,Tern\n".to_owned(), &["line 2", "3 values", "2 columns"]),
        ("file,kind\nr.csv,photograph\n".to_owned(), &["line 2", "'photograph' is no kind"]),
    ];
    for (text, words) in bad {
        let (_folder, path, problem) = refused(&text);
        clear(&problem, &path, words);
        assert!(problem.to_string().chars().count() < 1_500, "{words:?}");
    }
}

#[test]
fn texts_that_begin_like_formulas_come_back_from_cells() {
    let folder = tempfile::tempdir().unwrap();
    let text = "file,kind,film,tablet\nr.csv,readings,'=1+1,nominal 11\nr.csv,readings,Tern's,nominal 11\n";
    let (series, _) = import::series_from_list(&list(folder.path(), text)).unwrap();
    let labels: Vec<&str> = series.films.iter().map(|film| film.label.as_str()).collect();
    assert_eq!(labels, ["=1+1", "Tern's"]);
}

/// So many films, each with its readings; some rolls of others.
fn films(count: usize) -> String {
    let mut text = "file,kind,film,tablet,roll_of,role\n".to_owned();
    for number in 0..count {
        let roll_of = if number % 3 == 1 { format!("Tern {}", number - 1) } else { String::new() };
        let role = if number == 0 { "reference" } else { "" };
        let _ = writeln!(text, "r.csv,readings,Tern {number},nominal 11,{roll_of},{role}");
    }
    text
}

/// So many areas of one scan of one film: names of its scans are told apart by numbers.
fn strips(count: usize) -> String {
    let mut text = "file,kind,film,tablet,place,steps\n".to_owned();
    for number in 0..count {
        let _ = writeln!(text, "s.tif,strip,Tern {number},nominal 11,\"0,0 10,0 10,5 0,5\",11");
    }
    text
}

/// The least of several times: other work on the machine only adds.
fn least_time(text: &str) -> Duration {
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("s.tif"), crate::make::grey8()).unwrap();
    let path = list(folder.path(), text);
    let time = || {
        let begun = worked();
        import::series_from_list(&path).unwrap();
        worked().saturating_sub(begun)
    };
    (0..4).map(|_| time()).min().unwrap()
}

/// How long this thread has worked, without what the system did to give it memory; on systems that do not tell, how long the
/// test has run.
fn worked() -> Duration {
    static BEGUN: std::sync::LazyLock<Instant> = std::sync::LazyLock::new(Instant::now);
    let stat = std::fs::read_to_string("/proc/thread-self/stat").ok();
    // proc(5): behind the name in brackets the 12th field is the time in user mode, in hundredths of a second.
    let ticks =
        stat.and_then(|stat| stat.rsplit(')').next()?.split_whitespace().nth(11)?.parse::<u64>().ok());
    ticks.map_or_else(|| BEGUN.elapsed(), |ticks| Duration::from_millis(10 * ticks))
}

#[test]
fn the_time_for_a_row_does_not_grow_with_their_number() {
    for make in [films, strips] {
        // Four times the rows, both too many for the processor's caches: four times the time where it is level, 16 times where
        // each row walks all others.
        let (few, many) = (least_time(&make(10_000)), least_time(&make(40_000)));
        let ratio = many.as_secs_f64() / few.as_secs_f64();
        assert!(ratio < 8.0, "four times the rows took {ratio:.1} times as long: {few:?} and {many:?}");
    }
}

#[test]
fn ten_thousand_films_are_saved_and_opened_again() {
    let folder = tempfile::tempdir().unwrap();
    let (mut series, _) = import::series_from_list(&list(folder.path(), &films(10_000))).unwrap();
    for film in &mut series.films {
        film.notes = "n".repeat(1_000);
    }
    let path = folder.path().join("large.twinwedge");
    let mut session = Session::of(series, folder.path().to_owned());
    session.set_recovery_folder(None);
    session.save_as(&path).unwrap();
    let bytes = std::fs::metadata(&path).unwrap().len();
    assert!(bytes > 16 << 20, "more than a table of readings may have: {bytes}");
    assert_eq!(Session::open(&path).unwrap().series(), session.series());
}

#[test]
fn a_series_beyond_the_limit_is_told_its_size_before_it_is_read() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("endless.twinwedge");
    // A file with a hole: its length is all that is looked at.
    std::fs::File::create(&path).unwrap().set_len(SERIES_LIMIT + 1).unwrap();
    clear(&store::text(&path).expect_err("too large"), &path, &["257 MiB", "256 MiB"]);
}
