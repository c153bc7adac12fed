//! One try for each place where bytes that nobody vouches for come in. The replay in `tests/fuzzed` and the search by
//! libFuzzer (`cargo dev fuzz`) share them.
//!
//! A try asks more than that nothing panics: a refusal is one problem in plain words, memory stays within what the try
//! allows, what was read is what it says it is.

mod plain;
mod scans;
mod seeds;
mod series;
mod strip;
mod texts;

// What the verbs read of their own files, as it stands in the program.
#[allow(dead_code, reason = "the verbs write them, too")]
#[path = "../../../src/cli/files.rs"]
mod files;
// Files made for tests by the encoders of general libraries.
#[allow(dead_code, unreachable_pub, reason = "made for other tests, too")]
#[path = "../../bad_files/make.rs"]
mod make;

use std::panic::{AssertUnwindSafe, PanicHookInfo, catch_unwind};
use std::path::PathBuf;
use std::sync::{Mutex, MutexGuard, Once, PoisonError};

/// Counts what is asked for, whatever the system would give.
#[global_allocator]
static MEMORY: peak_alloc::PeakAlloc = peak_alloc::PeakAlloc;

/// What a try found, in words; it begins with what is told apart.
pub(crate) type Finding = String;

/// One place where bytes come in.
#[derive(Debug)]
pub(crate) struct Target {
    /// Its name: that of the folder of kept inputs.
    pub(crate) name: &'static str,
    /// Tries one input.
    attempt: fn(&[u8]) -> Result<(), Finding>,
    /// Inputs to begin with.
    seeds: fn() -> Vec<Vec<u8>>,
    /// Words that inputs are made of.
    #[allow(dead_code, reason = "the search asks for them")]
    pub(crate) words: fn() -> Vec<Vec<u8>>,
    /// Most bytes of an input.
    #[allow(dead_code, reason = "the search asks for it")]
    pub(crate) longest: usize,
    /// Most bytes of memory that a try may ask for.
    memory: usize,
}

const MIB: usize = 1 << 20;

/// All of them.
pub(crate) const TARGETS: [Target; 15] = [
    scan("tiff", scans::tiff, seeds::tiff, seeds::tiff_words),
    scan("png", scans::png, seeds::png, seeds::png_words),
    scan("jpeg", scans::jpeg, seeds::jpeg, seeds::jpeg_words),
    text("readings", texts::readings, seeds::readings, seeds::table_words),
    text("tablet", texts::tablet, seeds::tablet, seeds::table_words),
    text("spectra", texts::spectra, seeds::spectra, seeds::table_words),
    text("patches", texts::patches, seeds::patches, seeds::table_words),
    text("list", texts::list, seeds::list, seeds::list_words),
    text("layout", texts::layout, seeds::layout, seeds::ron_words),
    text("verbs-layout", texts::verbs_layout, seeds::verbs_layout, seeds::ron_words),
    text("verbs-calibration", texts::verbs_calibration, seeds::verbs_calibration, seeds::ron_words),
    text("series", series::document, seeds::series, seeds::ron_words),
    text("recovery", series::recovery, seeds::recovery, seeds::ron_words),
    Target { longest: 60, ..text("numbers", series::numbers, seeds::numbers, seeds::no_words) },
    Target { longest: 8192, ..text("strip", strip::find, seeds::strip, seeds::no_words) },
];

const fn scan(
    name: &'static str,
    attempt: fn(&[u8]) -> Result<(), Finding>,
    seeds: fn() -> Vec<Vec<u8>>,
    words: fn() -> Vec<Vec<u8>>,
) -> Target {
    Target { name, attempt, seeds, words, longest: 16 << 10, memory: scans::ROOM + 16 * MIB }
}

const fn text(
    name: &'static str,
    attempt: fn(&[u8]) -> Result<(), Finding>,
    seeds: fn() -> Vec<Vec<u8>>,
    words: fn() -> Vec<Vec<u8>>,
) -> Target {
    Target { name, attempt, seeds, words, longest: 16 << 10, memory: 64 * MIB }
}

impl Target {
    /// Inputs to begin with. They are made while nothing is tried: their making takes memory, too, which would be counted.
    pub(crate) fn seeds(&self) -> Vec<Vec<u8>> {
        let _turn = lock(&ONE_AT_A_TIME);
        (self.seeds)()
    }

    /// Tries one input.
    ///
    /// # Errors
    /// What was found.
    pub(crate) fn examine(&self, bytes: &[u8]) -> Result<(), Finding> {
        let _turn = lock(&ONE_AT_A_TIME);
        watch_panics();
        lock(&FAULTS).clear();
        let before = MEMORY.current_usage();
        MEMORY.reset_peak_usage();
        let tried = catch_unwind(AssertUnwindSafe(|| (self.attempt)(bytes)));
        let asked = MEMORY.peak_usage().saturating_sub(before);
        if let Some(fault) = lock(&FAULTS).pop() {
            return Err(format!("panic: {fault}"));
        }
        tried.map_err(|_| "panic: of a library that nobody caught".to_owned())??;
        if asked > self.memory {
            return Err(format!("memory: {} MiB were asked for at one time", asked / MIB));
        }
        Ok(())
    }
}

fn lock<T>(mutex: &Mutex<T>) -> MutexGuard<'_, T> {
    mutex.lock().unwrap_or_else(PoisonError::into_inner)
}

static ONE_AT_A_TIME: Mutex<()> = Mutex::new(());

/// Panics of this project's own code since the try began, each with its place. What libraries of others do with damaged
/// files is caught around them, and no finding.
static FAULTS: Mutex<Vec<String>> = Mutex::new(Vec::new());

fn watch_panics() {
    static ONCE: Once = Once::new();
    ONCE.call_once(|| {
        let usual = std::panic::take_hook();
        std::panic::set_hook(Box::new(move |panic: &PanicHookInfo<'_>| {
            let file = panic.location().map_or("", |place| place.file());
            let others = file.contains(".cargo/registry") || file.contains("/rustc/");
            // The replay's own assertions are told in the usual way.
            if file.contains("tests/") {
                usual(panic);
            } else if !others {
                let what = panic.payload_as_str().unwrap_or_default();
                let place =
                    panic.location().map_or_else(String::new, |place| format!("{}:{}", file, place.line()));
                lock(&FAULTS).push(format!("{place}: {what}"));
            }
        }));
    });
}

static FOLDER: Mutex<Option<tempfile::TempDir>> = Mutex::new(None);

/// A folder of this process alone, in memory where the system has such a place; a few files that lists speak of stand in it.
fn folder() -> PathBuf {
    let mut folder = lock(&FOLDER);
    let made = folder.get_or_insert_with(|| {
        let memory = PathBuf::from("/dev/shm");
        let wished = std::env::var_os("TMPDIR").map(PathBuf::from);
        let above = wished.or_else(|| memory.is_dir().then_some(memory)).unwrap_or_else(std::env::temp_dir);
        let made = tempfile::Builder::new()
            .prefix("twinwedge-tries-")
            .tempdir_in(above)
            .expect("a folder for tries");
        for (name, bytes) in seeds::beside_a_list() {
            std::fs::write(made.path().join(name), bytes).expect("a file for tries");
        }
        made
    });
    made.path().to_owned()
}

/// Removes what tries left on the disk.
#[allow(dead_code, reason = "the search leaves that to who started it")]
pub(crate) fn clear_away() {
    let _turn = lock(&ONE_AT_A_TIME);
    lock(&FOLDER).take();
}

/// Writes one input where it can be read as a file.
fn as_file(name: &str, bytes: &[u8]) -> PathBuf {
    let path = folder().join(name);
    std::fs::write(&path, bytes).expect("a file for tries");
    path
}
