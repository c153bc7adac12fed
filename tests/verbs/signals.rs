//! Told to end while it works: the code of the signal, a word about it, and nothing half done left behind.
#![cfg(target_os = "linux")]

use std::os::unix::process::ExitStatusExt;
use std::path::Path;
use std::process::{Child, Command, Output, Stdio};
use std::time::{Duration, Instant};

use tiff::encoder::{Compression, TiffEncoder, colortype::Gray16};

use crate::every::{Call, each};

const SIGINT: u64 = 2;
const SIGTERM: u64 = 15;

fn start(home: &Path, arguments: &[String]) -> Child {
    Command::new(env!("CARGO_BIN_EXE_twinwedge"))
        .args(arguments)
        .env("XDG_DATA_HOME", home)
        .env_remove("DISPLAY")
        .env_remove("WAYLAND_DISPLAY")
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .expect("the program runs")
}

/// Whether the process has said what it does at these signals (proc(5): the signals that are caught, in hexadecimal); `None`
/// once it has ended.
fn heeds(child: &Child) -> Option<bool> {
    let status = std::fs::read_to_string(format!("/proc/{}/status", child.id())).ok()?;
    let field = |name: &str| status.lines().find_map(|line| line.strip_prefix(name)).map(str::trim);
    if field("State:")?.starts_with('Z') {
        return None;
    }
    let caught = u64::from_str_radix(field("SigCgt:")?, 16).ok()?;
    Some([SIGINT, SIGTERM].iter().all(|signal| caught >> (signal - 1) & 1 == 1))
}

fn send(child: &Child, signal: u64) {
    let status = Command::new("sh").args(["-c", &format!("kill -{signal} {}", child.id())]).status();
    assert!(status.expect("a shell").success());
}

/// Starts, waits until signals are heeded and a little longer, sends one. `None`: it had ended before.
fn interrupted(
    home: &Path,
    arguments: &[String],
    later: Duration,
    signal: u64,
) -> Option<(Output, Duration)> {
    #[expect(
        clippy::zombie_processes,
        reason = "one that has ended by itself is left to the end of the test"
    )]
    let child = start(home, arguments);
    let begun = Instant::now();
    while !heeds(&child)? {
        assert!(begun.elapsed() < Duration::from_secs(60), "{arguments:?} heeds signals within a minute");
        std::thread::sleep(Duration::from_millis(1));
    }
    std::thread::sleep(later);
    heeds(&child)?;
    send(&child, signal);
    let sent = Instant::now();
    let output = child.wait_with_output().expect("it ends");
    Some((output, sent.elapsed()))
}

/// What the folder holds, without what the program keeps of its own.
fn names(folder: &Path) -> Vec<String> {
    let mut names: Vec<String> = std::fs::read_dir(folder)
        .expect("the folder")
        .map(|entry| entry.expect("an entry").file_name().to_string_lossy().into_owned())
        .filter(|name| name != "twinwedge")
        .collect();
    names.sort();
    names
}

#[test]
fn every_verb_ends_with_the_code_of_the_signal_and_leaves_no_half_file() {
    each(|home, call: &Call| {
        let before = names(home);
        for (signal, code, later) in
            [(SIGINT, 130, 0), (SIGTERM, 143, 0), (SIGINT, 130, 25), (SIGTERM, 143, 100)]
        {
            let Some((output, _)) = interrupted(home, &call.arguments, Duration::from_millis(later), signal)
            else {
                if let Some(out) = &call.out {
                    let _ = std::fs::remove_file(out);
                }
                continue;
            };
            let said = String::from_utf8_lossy(&output.stderr).into_owned();
            assert_eq!(output.status.signal(), None, "{}: {said}", call.verb());
            let ended = output.status.code().expect("a code");
            // It may just have ended by itself.
            assert!(ended == code || ended < 2, "{}: {ended}, {said}", call.verb());
            assert!(ended < 2 || said.contains("stopped"), "{}: {said}", call.verb());
            if let Some(out) = call.out.as_ref().filter(|out| out.exists()) {
                // Whole where it is there at all: it got its name when it was.
                assert!(std::fs::metadata(out).expect("the file").len() > 40, "{}", call.verb());
                std::fs::remove_file(out).expect("removed");
            }
            assert_eq!(names(home), before, "{}", call.verb());
        }
    });
}

/// A scan of some ten megapixels without order, which takes a while to examine.
fn long_work(folder: &Path) -> Vec<String> {
    const SIDE: u32 = 3600;
    let path = folder.join("large.tif");
    let mut state = 1_u64;
    let samples: Vec<u16> = (0..SIDE * SIDE)
        .map(|_| {
            state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
            20_000 + (state >> 52) as u16
        })
        .collect();
    let file = std::io::BufWriter::new(std::fs::File::create(&path).expect("a file"));
    let encoder = TiffEncoder::new(file).expect("a file");
    let mut encoder = encoder.with_compression(Compression::Lzw);
    encoder.write_image::<Gray16>(SIDE, SIDE, &samples).expect("a scan");
    ["grain", &path.display().to_string(), "--dpi", "4000"].map(str::to_owned).into()
}

#[test]
fn long_work_ends_soon_after_the_signal() {
    let folder = tempfile::tempdir().expect("a folder");
    let arguments = long_work(folder.path());
    for (signal, code) in [(SIGINT, 130), (SIGTERM, 143)] {
        let (output, took) = interrupted(folder.path(), &arguments, Duration::from_millis(200), signal)
            .expect("it is at work");
        let said = String::from_utf8_lossy(&output.stderr).into_owned();
        assert_eq!(output.status.code(), Some(code), "{said}");
        assert!(said.contains("stopped") && output.stdout.is_empty(), "{said}");
        assert!(took < Duration::from_secs(5), "{took:?}");
        assert_eq!(names(folder.path()), ["large.tif"]);
    }
}
