//! `cargo dev bench`: speed and memory beside other libraries, on the same files in the same run, as one table.

mod inputs;
pub(crate) mod ours;
mod peers;

use std::path::Path;
use std::process::Command;

use serde_json::Value;

use crate::{Failure, say};

/// Each workload runs so often, in a process of its own; the best run counts.
const RUNS: usize = 3;

/// What one side of a comparison took.
#[derive(Debug, Clone, Copy)]
struct Cost {
    seconds: f64,
    peak_mb: f64,
}

impl Cost {
    fn read(answer: &Value) -> Result<Self, Failure> {
        let number = |key: &str| answer[key].as_f64().ok_or_else(|| format!("no {key} in {answer}"));
        Ok(Self { seconds: number("seconds")?, peak_mb: number("peak_mb")? })
    }

    /// The best of several runs.
    fn best(mut run: impl FnMut() -> Result<Self, Failure>) -> Result<Self, Failure> {
        let mut best = run()?;
        for _ in 1..RUNS {
            let next = run()?;
            best.seconds = best.seconds.min(next.seconds);
            best.peak_mb = best.peak_mb.min(next.peak_mb);
        }
        Ok(best)
    }
}

/// A row of the table.
struct Row {
    what: &'static str,
    ours: Cost,
    peer: Option<(&'static str, Cost)>,
    target: String,
    met: bool,
}

/// Runs all of it and prints the table.
///
/// # Errors
/// A workload could not run; a target that is missed is shown, not an error.
pub(crate) fn run(top: &Path) -> Result<(), Failure> {
    if cfg!(debug_assertions) {
        return in_release(top);
    }
    let folder = top.join("target/bench");
    inputs::make(top, &folder)?;
    let rows = rows(top, &folder)?;
    say(format_args!(
        "{:<46} {:>11} {:>8}   {:<26} {:>11} {:>8}   target",
        "workload", "ours", "peak MB", "beside", "takes", "peak MB"
    ));
    for row in rows {
        let (name, takes, peak) =
            row.peer.map_or(("-", String::from("-"), String::from("-")), |(name, cost)| {
                (name, time(cost.seconds), format!("{:.0}", cost.peak_mb))
            });
        say(format_args!(
            "{:<46} {:>11} {:>8.0}   {name:<26} {takes:>11} {peak:>8}   {}: {}",
            row.what,
            time(row.ours.seconds),
            row.ours.peak_mb,
            row.target,
            if row.met { "met" } else { "MISSED" }
        ));
    }
    Ok(())
}

fn in_release(top: &Path) -> Result<(), Failure> {
    let cargo = std::env::var_os("CARGO").unwrap_or_else(|| "cargo".into());
    let status = Command::new(cargo)
        .args(["run", "--quiet", "--release", "--package", "twinwedge-dev", "--", "bench"])
        .current_dir(top)
        .status()?;
    if status.success() { Ok(()) } else { Err("the benchmark in the release build failed".into()) }
}

fn rows(top: &Path, folder: &Path) -> Result<Vec<Row>, Failure> {
    let ours = |workload: &str| Cost::best(|| ours::start(workload, folder));
    let peer = |task: &str, question: &Value| Cost::best(|| peers::ask(top, task, question));
    let mut rows = Vec::new();
    for (what, workload) in [
        ("open 100 megapixels, uncompressed", "open-plain"),
        ("open 100 megapixels, Deflate", "open-deflate"),
    ] {
        let cost = ours(workload)?;
        let path = inputs::large(folder, workload);
        let cv = peer("halve", &serde_json::json!({ "path": path }))?;
        let size_mb = inputs::LARGE_BYTES as f64 / 1024.0 / 1024.0;
        rows.push(Row {
            what,
            ours: cost,
            peer: Some(("OpenCV, read and halve", cv)),
            target: format!(
                "under 1.5 times as long ({:.2}) and under {:.0} MB",
                cost.seconds / cv.seconds,
                2.5 * size_mb
            ),
            met: cost.seconds < 1.5 * cv.seconds && cost.peak_mb < 2.5 * size_mb,
        });
    }
    let cost = ours("click")?;
    rows.push(Row {
        what: "sample one spot in both prints",
        ours: cost,
        peer: None,
        target: "under 2 ms".to_owned(),
        met: cost.seconds < 0.002,
    });
    let grain = ours("grain")?;
    for (name, task, factor) in [
        ("OpenCV, filter2D and std", "aperture_filter", 1.0),
        ("scipy, overlap-add and std", "aperture_overlap_add", 5.0),
    ] {
        let theirs = peer(task, &inputs::grain_question(folder))?;
        rows.push(Row {
            what: "granularity of 4096 x 4096 pixels",
            ours: grain,
            peer: Some((name, theirs)),
            target: format!("over {factor} times as fast ({:.1})", theirs.seconds / grain.seconds),
            met: theirs.seconds > factor * grain.seconds,
        });
    }
    let curves = ours("curves")?;
    let theirs = peer("curves", &inputs::curves_question())?;
    rows.push(Row {
        what: "50 films x 21 steps x 400 resamplings",
        ours: curves,
        peer: Some(("scipy, interpolate and solve", theirs)),
        target: format!("faster ({:.1} times)", theirs.seconds / curves.seconds),
        met: curves.seconds < theirs.seconds,
    });
    Ok(rows)
}

fn time(seconds: f64) -> String {
    if seconds < 0.1 { format!("{:.3} ms", 1000.0 * seconds) } else { format!("{seconds:.2} s") }
}
