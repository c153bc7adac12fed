//! Readers that stop reading, and places that take no more: no panic, and the code that the help names.
#![cfg(target_os = "linux")]

use std::fs::OpenOptions;
use std::os::unix::process::ExitStatusExt;
use std::path::Path;
use std::process::{Command, Output, Stdio};

use crate::every::{Call, each};

fn command(home: &Path, arguments: &[String]) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_twinwedge"));
    command.args(arguments).env("XDG_DATA_HOME", home).env_remove("DISPLAY").env_remove("WAYLAND_DISPLAY");
    command
}

/// A pipe whose reader has gone.
fn unread() -> Stdio {
    let (reader, writer) = std::io::pipe().expect("a pipe");
    drop(reader);
    writer.into()
}

/// A device that is always full.
fn full() -> Stdio {
    OpenOptions::new().write(true).open("/dev/full").expect("/dev/full").into()
}

fn run(home: &Path, arguments: &[String], stdout: Stdio, stderr: Stdio) -> Output {
    command(home, arguments).stdout(stdout).stderr(stderr).output().expect("the program runs")
}

/// What was said, and the code; no panic and no signal.
fn ended(what: &str, output: &Output) -> (String, i32) {
    let said = String::from_utf8_lossy(&output.stderr).into_owned();
    assert!(!said.contains("panicked"), "{what}: {said}");
    assert_eq!(output.status.signal(), None, "{what}: {said}");
    (said, output.status.code().expect("a code"))
}

fn refused(what: &str, output: &Output) {
    let (said, code) = ended(what, output);
    assert_eq!(code, 2, "{what}: {said}");
    assert!(said.contains("cannot be printed") && said.contains("full"), "{what}: {said}");
    assert!(!said.contains("os error"), "{what}: {said}");
}

fn again(call: &Call) {
    if let Some(out) = &call.out {
        let _ = std::fs::remove_file(out);
    }
}

#[test]
fn every_verb_ends_well_whoever_listens() {
    each(|home, call| {
        let verb = call.verb();
        let whole = run(home, &call.arguments, Stdio::piped(), Stdio::piped());
        let (said, code) = ended(verb, &whole);
        assert!(code < 2, "{verb}: {said}");
        again(call);
        let unheard = run(home, &call.arguments, unread(), Stdio::piped());
        assert_eq!(ended(&format!("{verb} | true"), &unheard), (said, code), "the work goes on");
        again(call);
        let full_out = run(home, &call.arguments, full(), Stdio::piped());
        if call.prints {
            refused(&format!("{verb} > /dev/full"), &full_out);
        } else {
            assert_eq!(ended(verb, &full_out).1, code, "it prints nothing");
        }
        for (stderr, what) in [(unread(), "2| true"), (full(), "2> /dev/full")] {
            again(call);
            let silent = run(home, &call.arguments, Stdio::piped(), stderr);
            assert_eq!(ended(&format!("{verb} {what}"), &silent).1, code, "{verb} {what}");
            assert_eq!(silent.stdout, whole.stdout, "{verb} {what}");
        }
        again(call);
        let closed = Command::new("sh")
            .args(["-c", "exec \"$0\" \"$@\" >&- 2>&-", env!("CARGO_BIN_EXE_twinwedge")])
            .args(&call.arguments)
            .env("XDG_DATA_HOME", home)
            .output()
            .expect("a shell");
        assert_eq!(ended(&format!("{verb} >&- 2>&-"), &closed).1, code, "{verb} with both closed");
    });
}

#[test]
fn help_version_and_complaints_end_well_whoever_listens() {
    let home = tempfile::tempdir().expect("a folder");
    let words = |words: &[&str]| words.iter().map(|&word| word.to_owned()).collect::<Vec<String>>();
    for arguments in
        [words(&["--help"]), words(&["--version"]), words(&["grain", "--help"]), words(&["help", "gather"])]
    {
        let what = arguments.join(" ");
        for stdout in [Stdio::piped(), unread()] {
            let output = run(home.path(), &arguments, stdout, Stdio::piped());
            assert_eq!(ended(&what, &output), (String::new(), 0), "{what}");
        }
        refused(&what, &run(home.path(), &arguments, full(), Stdio::piped()));
        assert_eq!(ended(&what, &run(home.path(), &arguments, full(), full())).1, 2, "{what}");
    }
    for stderr in [Stdio::piped(), unread(), full()] {
        let wrong = run(home.path(), &words(&["grian"]), Stdio::piped(), stderr);
        assert_eq!(ended("a verb that is none", &wrong).1, 2);
    }
    // No display: the window cannot open, whoever is told.
    for stderr in [unread(), full()] {
        let window = run(home.path(), &[], Stdio::piped(), stderr);
        assert_eq!(ended("a window", &window).1, 2);
    }
}
