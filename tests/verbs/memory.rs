//! Every verb in less memory than it needs: the right result, or a message and code 2; never ended by a signal.
#![cfg(target_os = "linux")]

use std::os::unix::process::ExitStatusExt;
use std::path::Path;
use std::process::{Command, Output};

use crate::every::{Call, each};

/// Runs the program with at most so many KiB of addresses (the shell's `ulimit -v`), and for two minutes at the longest.
fn within(home: &Path, kib: u64, arguments: &[String]) -> Output {
    Command::new("sh")
        .args([
            "-c",
            "ulimit -v \"$0\" && exec timeout 120 \"$@\"",
            &kib.to_string(),
            env!("CARGO_BIN_EXE_twinwedge"),
        ])
        .args(arguments)
        .env("XDG_DATA_HOME", home)
        // A trace of a panic takes memory that is not there.
        .env_remove("RUST_BACKTRACE")
        .env_remove("DISPLAY")
        .env_remove("WAYLAND_DISPLAY")
        .output()
        .expect("a shell")
}

/// KiB with which the program just starts: it says its version.
fn least(home: &Path) -> u64 {
    let version = ["--version".to_owned()];
    let (mut too_few, mut enough) = (1 << 10, 4 << 20);
    assert!(within(home, enough, &version).status.success(), "4 GiB are enough to say the version");
    while enough - too_few > 256 {
        let middle = u64::midpoint(too_few, enough);
        if within(home, middle, &version).status.success() { enough = middle } else { too_few = middle }
    }
    enough
}

/// Multiples of what it just starts with, up to a gigabyte; a few of them, or as many as `TWINWEDGE_LADDER` asks for.
fn ladder(home: &Path) -> Vec<u64> {
    let steps = std::env::var("TWINWEDGE_LADDER").ok().and_then(|steps| steps.parse().ok()).unwrap_or(5_u32);
    let (least, most) = (least(home) as f64, f64::from(1 << 20));
    (0..steps)
        .map(|step| (least * (most / least).powf(f64::from(step) / f64::from(steps.max(2) - 1))) as u64)
        .collect()
}

/// The dynamic loader or the shell could not even start it.
fn not_started(output: &Output) -> bool {
    let said = String::from_utf8_lossy(&output.stderr);
    let code = output.status.code();
    code == Some(127) && said.contains("shared librar")
        || code == Some(126) && said.to_lowercase().contains("memory")
}

#[test]
fn every_verb_does_its_work_or_says_that_memory_is_short() {
    let home = tempfile::tempdir().expect("a folder");
    let ladder = ladder(home.path());
    each(|home, call: &Call| {
        let again = || call.out.as_ref().map(std::fs::remove_file);
        let whole = within(home, 64 << 20, &call.arguments);
        let mut done = 0;
        for kib in &ladder {
            again();
            let output = within(home, *kib, &call.arguments);
            if not_started(&output) {
                continue;
            }
            let said = String::from_utf8_lossy(&output.stderr).into_owned();
            let what = format!("{} in {} MiB: {said}", call.verb(), kib >> 10);
            assert_eq!(output.status.signal(), None, "{what}");
            match output.status.code() {
                Some(2) => assert!(said.trim().len() > 10 && !said.contains("panicked"), "{what}"),
                code => {
                    assert_eq!(code, whole.status.code(), "{what}");
                    assert_eq!(output.stdout, whole.stdout, "{what}");
                    assert!(call.out.as_ref().is_none_or(|out| out.exists()), "{what}");
                    done += 1;
                }
            }
        }
        assert!(done > 0, "{}: a gigabyte is enough", call.verb());
    });
}
