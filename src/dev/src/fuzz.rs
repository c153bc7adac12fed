//! `cargo dev fuzz MINUTES [TARGET]`: searches for inputs that do harm, one target after the other.
//!
//! The targets and what they ask for stand in `tests/fuzzed/tries`. The search is libFuzzer's, compiled by the stable
//! toolchain; it needs a C++ compiler. What it learned and what it found stays in `target/fuzz/TARGET`: a found input goes on
//! to `tests/fuzzed/kept/TARGET` with the change that mends what it showed.

use std::collections::BTreeSet;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

use crate::{Failure, say};

/// Counts which branches are taken and what is compared, for all code but that of build scripts.
const FLAGS: &str = "-Cpasses=sancov-module -Cllvm-args=-sanitizer-coverage-level=4 \
                     -Cllvm-args=-sanitizer-coverage-inline-8bit-counters -Cllvm-args=-sanitizer-coverage-pc-table \
                     -Cllvm-args=-sanitizer-coverage-trace-compares --cfg fuzzing";

/// Seconds within which an input has to be done with.
const PATIENCE: u32 = 20;
/// Megabytes that the search may hold in all.
const MEMORY: u32 = 2048;
/// Deaths of one search (an allocation that aborts, a stack that ends, patience) after which it is not begun again.
const DEATHS: usize = 20;

/// What the search of one target came to.
#[derive(Debug, Default)]
struct Searched {
    name: String,
    runs: u64,
    seconds: f64,
    coverage: u64,
    corpus: String,
    findings: usize,
}

/// Searches for `minutes` in all.
///
/// # Errors
/// The search could not be built, or it found something.
pub(crate) fn run(top: &Path, minutes: f64, only: Option<&str>) -> Result<(), Failure> {
    let targets = targets(top)?;
    let wanted: Vec<&String> = targets.iter().filter(|name| only.is_none_or(|only| only == *name)).collect();
    if wanted.is_empty() {
        return Err(format!("no such target; targets are {}", targets.join(", ")).into());
    }
    if !(minutes.is_finite() && minutes > 0.0) {
        return Err("give a number of minutes above 0".into());
    }
    let program = build(top)?;
    let each = Duration::from_secs_f64(60.0 * minutes / wanted.len() as f64);
    let mut all = Vec::new();
    for name in wanted {
        all.push(search(top, &program, name, each)?);
    }
    say(format_args!("{}", table(&all)));
    let findings: usize = all.iter().map(|searched| searched.findings).sum();
    if findings == 0 { Ok(()) } else { Err(format!("{findings} findings in target/fuzz/*/found").into()) }
}

/// The names of the targets, as the source of the tries lists them.
fn targets(top: &Path) -> Result<Vec<String>, Failure> {
    let text = std::fs::read_to_string(top.join("tests/fuzzed/tries/mod.rs"))?;
    let (_, list) =
        text.split_once("pub(crate) const TARGETS").ok_or("tests/fuzzed/tries has no list of targets")?;
    let (list, _) = list.split_once("];").ok_or("the list of targets has no end")?;
    let names = list.split('"').skip(1).step_by(2).map(str::to_owned).collect();
    Ok(names)
}

/// Builds the search with the versions of the workspace; gives the program.
fn build(top: &Path) -> Result<PathBuf, Failure> {
    let package = top.join("tests/fuzzed/libfuzzer");
    // Its own lock is that of the workspace and what the search needs beside it.
    std::fs::copy(top.join("Cargo.lock"), package.join("Cargo.lock"))?;
    let folder = top.join("target/fuzz/build");
    let version = Command::new("rustc").arg("-vV").output()?.stdout;
    let version = String::from_utf8_lossy(&version).into_owned();
    let host = version.lines().find_map(|line| line.strip_prefix("host: ")).ok_or("rustc names no host")?;
    // With a target named, build scripts and macros are compiled without the counting.
    let status = Command::new("cargo")
        .args(["build", "--release", "--target", host])
        .current_dir(&package)
        .env("CARGO_TARGET_DIR", &folder)
        .env("RUSTFLAGS", FLAGS)
        .status()?;
    if !status.success() {
        return Err("the search could not be built; it needs a C++ compiler (Debian: g++)".into());
    }
    Ok(folder.join(host).join("release/twinwedge-fuzz"))
}

/// Searches one target until its time is over.
fn search(top: &Path, program: &Path, name: &str, time: Duration) -> Result<Searched, Failure> {
    let folder = top.join("target/fuzz").join(name);
    let _ = std::fs::remove_dir_all(folder.join("found"));
    for part in ["corpus", "seeds", "found"] {
        std::fs::create_dir_all(folder.join(part))?;
    }
    // Not hidden: messages that name a hidden file there are findings.
    let files = tempfile::Builder::new().prefix("twinwedge-search-").tempdir_in(memory())?;
    let begun = Instant::now();
    let mut searched = Searched { name: name.to_owned(), ..Searched::default() };
    let mut deaths = 0;
    while begun.elapsed() < time && deaths < DEATHS {
        let left = time.saturating_sub(begun.elapsed()).as_secs().max(1);
        let output = Command::new(program)
            .arg(folder.join("corpus"))
            .arg(folder.join("seeds"))
            .args(Some(top.join("tests/fuzzed/kept").join(name)).filter(|kept| kept.is_dir()))
            .arg(format!("-dict={}", folder.join("words").display()))
            .arg(format!("-artifact_prefix={}/", folder.join("found").display()))
            .arg(format!("-max_total_time={left}"))
            .arg(format!("-timeout={PATIENCE}"))
            .arg(format!("-rss_limit_mb={MEMORY}"))
            .args(["-max_len=16384", "-print_final_stats=1", "-use_value_profile=1"])
            .env("TWINWEDGE_FUZZ", name)
            .env("TWINWEDGE_FUZZ_FOLDER", &folder)
            .env("TMPDIR", files.path())
            .stdout(Stdio::null())
            .output()?;
        let said = String::from_utf8_lossy(&output.stderr).into_owned();
        std::fs::write(folder.join("log.txt"), said.as_bytes())?;
        searched.read(&said);
        if !output.status.success() {
            deaths += 1;
            let why =
                said.lines().rev().find(|line| line.contains("ERROR") || line.contains("memory allocation"));
            say(format_args!("{name}: {}", why.unwrap_or("the search ended without a word")));
        }
    }
    searched.seconds = begun.elapsed().as_secs_f64();
    searched.findings = findings(&folder.join("found"))?;
    say(format_args!("{}", searched.row()));
    Ok(searched)
}

fn memory() -> PathBuf {
    let memory = PathBuf::from("/dev/shm");
    if memory.is_dir() { memory } else { std::env::temp_dir() }
}

/// How many inputs were found; what was said of each is told.
fn findings(folder: &Path) -> Result<usize, Failure> {
    let mut inputs = BTreeSet::new();
    for entry in std::fs::read_dir(folder)?.flatten() {
        let path = entry.path();
        if path.extension().is_some_and(|ending| ending == "txt") {
            let said = std::fs::read_to_string(&path)?;
            say(format_args!(
                "  {}: {}",
                path.with_extension("").display(),
                said.chars().take(300).collect::<String>()
            ));
        } else {
            inputs.insert(path);
        }
    }
    Ok(inputs.len())
}

impl Searched {
    /// Takes the figures from what libFuzzer said.
    fn read(&mut self, said: &str) {
        let last = |mark: &str| -> Option<&str> {
            said.lines().rev().find_map(|line| line.split_once(mark)?.1.split_whitespace().next())
        };
        // A search that dies tells its runs in the last line that has a number sign.
        let died = || said.lines().rev().find_map(|line| line.strip_prefix('#')?.split_whitespace().next());
        let runs = last("stat::number_of_executed_units:").or_else(died);
        self.runs += runs.and_then(|runs| runs.parse::<u64>().ok()).unwrap_or(0);
        self.coverage = last(" cov: ").and_then(|cov| cov.parse().ok()).unwrap_or(self.coverage);
        if let Some(corpus) = last(" corp: ") {
            corpus.clone_into(&mut self.corpus);
        }
    }

    fn row(&self) -> String {
        let rate = self.runs as f64 / self.seconds.max(0.001);
        let Self { name, runs, coverage, corpus, findings, .. } = self;
        format!("{name:<18} {runs:>11} {rate:>9.0} {coverage:>9} {corpus:>15} {findings:>9}")
    }
}

fn table(all: &[Searched]) -> String {
    let head = format!(
        "{:<18} {:>11} {:>9} {:>9} {:>15} {:>9}",
        "target", "runs", "a second", "coverage", "corpus", "findings"
    );
    let total: u64 = all.iter().map(|searched| searched.runs).sum();
    let rows: Vec<String> = all.iter().map(Searched::row).collect();
    format!("{head}\n{}\n{:<18} {total:>11}", rows.join("\n"), "all")
}
