//! The real window on a virtual display: it opens on the sample, every page shows something of its own, at both sizes, and
//! it ends when told to. Pictures of every page are left in `artefacts/`, for people to look at.
#![cfg(feature = "window")]

use std::collections::HashSet;
use std::io::{BufRead, BufReader, BufWriter};
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};

/// A virtual display of its own, ended when dropped.
struct Display {
    server: Child,
    name: String,
}

impl Display {
    fn start(size: &str) -> Self {
        let mut server = Command::new("Xvfb")
            .args([
                "-displayfd",
                "1",
                "-screen",
                "0",
                &format!("{size}x24"),
                "+extension",
                "GLX",
                "-nolisten",
                "tcp",
            ])
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .expect("Xvfb is installed (.ci/set-up installs it)");
        let mut line = String::new();
        let stdout = server.stdout.take().expect("its output");
        BufReader::new(stdout).read_line(&mut line).expect("the display says its number");
        Self { server, name: format!(":{}", line.trim()) }
    }

    fn command(&self, program: impl AsRef<std::ffi::OsStr>) -> Command {
        let mut command = Command::new(program);
        command.env("DISPLAY", &self.name).env_remove("WAYLAND_DISPLAY");
        command
    }

    fn xdotool(&self, arguments: &[&str]) -> String {
        let output = self.command("xdotool").args(arguments).output().expect("xdotool is installed");
        String::from_utf8_lossy(&output.stdout).trim().to_owned()
    }

    /// The whole screen: red, green and blue of each pixel.
    fn picture(&self) -> Vec<u8> {
        let taken = self.command("import").args(["-window", "root", "-depth", "8", "rgb:-"]).output();
        let taken = taken.expect("import (imagemagick) is installed");
        assert!(taken.status.success(), "a picture is taken");
        taken.stdout
    }
}

impl Drop for Display {
    fn drop(&mut self) {
        let _ = self.server.kill();
        let _ = self.server.wait();
    }
}

/// Waits until `done` gives something; fails with `what` after a minute.
fn until<T>(what: &str, mut done: impl FnMut() -> Option<T>) -> T {
    let begin = Instant::now();
    loop {
        if let Some(found) = done() {
            return found;
        }
        assert!(begin.elapsed() < Duration::from_secs(60), "{what} within a minute");
        std::thread::sleep(Duration::from_millis(100));
    }
}

/// Leaves a picture as a PNG file.
fn keep(picture: &[u8], (width, height): (u32, u32), path: &Path) {
    let file = std::fs::File::create(path).expect("artefacts can be written");
    let mut encoder = png::Encoder::new(BufWriter::new(file), width, height);
    encoder.set_color(png::ColorType::Rgb);
    encoder.set_compression(png::Compression::Fast);
    let mut writer = encoder.write_header().expect("a head is written");
    writer.write_image_data(picture).expect("three bytes for each pixel");
}

/// The picture when two that were taken one after the other are alike: the page has settled.
fn settled(display: &Display) -> Vec<u8> {
    let mut last = display.picture();
    until("the page comes to rest", || {
        std::thread::sleep(Duration::from_millis(300));
        let now = display.picture();
        let same = now == last;
        last = now;
        same.then(|| last.clone())
    })
}

/// The program with a home of its own, and its window's number once it shows.
fn opened(display: &Display, home: &Path, arguments: &[&Path]) -> (Child, String) {
    let mut window = display
        .command(env!("CARGO_BIN_EXE_twinwedge"))
        .args(arguments)
        .env("HOME", home)
        .env("XDG_DATA_HOME", home.join("data"))
        .env("XDG_CONFIG_HOME", home.join("config"))
        .spawn()
        .expect("the program starts");
    let id = until("a window shows", || {
        assert!(window.try_wait().expect("its state").is_none(), "the program still runs");
        let found = display.xdotool(&["search", "--onlyvisible", "--name", "Twinwedge"]);
        found.lines().last().filter(|id| !id.is_empty()).map(str::to_owned)
    });
    (window, id)
}

fn every_page(size: &str) {
    // In the order of the stations, and so of their keys.
    const PAGES: [&str; 10] =
        ["films", "tablets", "curves", "times", "tones", "frames", "prints", "greys", "grain", "report"];
    let artefacts = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("artefacts");
    std::fs::create_dir_all(&artefacts).expect("artefacts can be written");
    let home = tempfile::tempdir().expect("a folder");
    let display = Display::start(size);
    let (mut window, id) = opened(&display, home.path(), &[]);
    let (width, height) = size.split_once('x').expect("WIDTHxHEIGHT");
    let pixels = (width.parse().expect("a number"), height.parse().expect("a number"));
    display.xdotool(&["windowsize", &id, width, height]);
    display.xdotool(&["windowmove", &id, "0", "0"]);
    display.xdotool(&["windowfocus", &id]);
    std::thread::sleep(Duration::from_secs(1));

    let mut seen = Vec::new();
    for (number, page) in PAGES.iter().enumerate() {
        display.xdotool(&["key", &format!("alt+{}", (number + 1) % 10)]);
        std::thread::sleep(Duration::from_millis(400));
        let picture = settled(&display);
        keep(&picture, pixels, &artefacts.join(format!("{page}-{size}.png")));
        let tones: HashSet<u8> = picture.iter().copied().collect();
        assert!(tones.len() > 20, "the {page} page shows more than a plain surface");
        assert!(!seen.contains(&picture), "the {page} page differs from those before it");
        seen.push(picture);
    }

    display.xdotool(&["key", "ctrl+q"]);
    let status = until("the program ends on Ctrl+Q", || window.try_wait().expect("its state"));
    assert!(status.success(), "it ends well");
}

#[test]
fn every_page_on_a_small_screen() {
    every_page("1280x800");
}

#[test]
fn every_page_on_a_large_screen() {
    every_page("2560x1440");
}

/// What stands in the recovery files of a home.
fn recovered(home: &Path) -> Vec<String> {
    let files = std::fs::read_dir(home.join("data/twinwedge/recovery")).into_iter().flatten().flatten();
    files
        .filter_map(|entry| std::fs::read_to_string(entry.path()).ok())
        .filter(|text| text.contains("Film("))
        .collect()
}

#[test]
fn a_window_that_is_told_to_end_keeps_what_is_not_saved() {
    let home = tempfile::tempdir().expect("a folder");
    let series = home.path().join("own.twinwedge");
    let display = Display::start("1280x800");
    for (signal, code) in [("TERM", 143), ("INT", 130)] {
        std::fs::write(&series, "Series(format: 1)").expect("a series");
        let (mut window, id) = opened(&display, home.path(), &[&series]);
        display.xdotool(&["windowfocus", &id]);
        std::thread::sleep(Duration::from_secs(1));
        let before = recovered(home.path()).len();
        // Adds a film; by itself that would be kept two seconds later.
        display.xdotool(&["key", "ctrl+j"]);
        std::thread::sleep(Duration::from_millis(500));
        let sent = Command::new("sh").args(["-c", &format!("kill -{signal} {}", window.id())]).status();
        assert!(sent.expect("a shell").success());
        let status = until("the program ends", || window.try_wait().expect("its state"));
        assert_eq!(status.code(), Some(code), "SIG{signal}");
        assert!(recovered(home.path()).len() > before, "SIG{signal}: the film that was added is kept");
        assert_eq!(
            std::fs::read_to_string(&series).expect("the series"),
            "Series(format: 1)",
            "the series is as saved"
        );
        std::fs::remove_dir_all(home.path().join("data")).expect("recovery files");
    }
}

#[test]
fn without_a_display_it_names_the_verb() {
    let output = Command::new(env!("CARGO_BIN_EXE_twinwedge"))
        .env_remove("DISPLAY")
        .env_remove("WAYLAND_DISPLAY")
        .env("XDG_DATA_HOME", tempfile::tempdir().expect("a folder").path())
        .output()
        .expect("the program runs");
    let said = String::from_utf8_lossy(&output.stderr);
    assert_eq!(output.status.code(), Some(2), "{said}");
    assert!(said.contains("no display") && said.contains("twinwedge report sample"), "{said}");
}
