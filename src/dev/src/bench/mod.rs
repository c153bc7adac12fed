//! `cargo dev bench`: speed and memory beside other libraries, on the same files in the same run, as one table.

#[cfg(feature = "window")]
mod frames;
mod growth;
mod inputs;
pub(crate) mod ours;
mod peers;
mod registration;

use std::path::Path;

use serde_json::{Value, json};

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
struct Costs {
    ours: Cost,
    peer: Option<(&'static str, Cost)>,
    target: String,
    met: bool,
}

/// One workload, or one beside one peer.
type Workload<'a> = (&'static str, Box<dyn Fn() -> Result<Costs, Failure> + 'a>);

/// Runs all of it and prints the table.
///
/// # Errors
/// Workloads that could not run, after all others did; a target that is missed is shown, not an error.
pub(crate) fn run(top: &Path) -> Result<(), Failure> {
    let folder = top.join("target/bench");
    inputs::make(top, &folder)?;
    say(format_args!(
        "{:<40} {:>10} {:>8}   {:<29} {:>10} {:>8}   target",
        "workload", "ours", "peak MB", "beside", "takes", "peak MB"
    ));
    let mut failed = Vec::new();
    for (what, workload) in workloads(top, &folder) {
        match workload() {
            Ok(row) => tell(what, &row),
            Err(failure) => failed.push(format!("{what}: {failure}")),
        }
    }
    if let Err(failure) = registration::run(top, &folder) {
        failed.push(format!("registration: {failure}"));
    }
    if let Err(failure) = growth::run(&folder) {
        failed.push(format!("growth: {failure}"));
    }
    #[cfg(feature = "window")]
    if let Err(failure) = frames::run(top) {
        failed.push(format!("frames: {failure}"));
    }
    if failed.is_empty() { Ok(()) } else { Err(failed.join("\n").into()) }
}

fn tell(what: &str, row: &Costs) {
    let (name, takes, peak) = row.peer.map_or(("-", String::from("-"), String::from("-")), |(name, cost)| {
        (name, time(cost.seconds), format!("{:.0}", cost.peak_mb))
    });
    say(format_args!(
        "{what:<40} {:>10} {:>8.0}   {name:<29} {takes:>10} {peak:>8}   {}: {}",
        time(row.ours.seconds),
        row.ours.peak_mb,
        row.target,
        if row.met { "met" } else { "MISSED" }
    ));
}

fn workloads<'a>(top: &'a Path, folder: &'a Path) -> Vec<Workload<'a>> {
    let megabytes = |bytes: u64| bytes as f64 / 1024.0 / 1024.0;
    let large = 2.5 * megabytes(inputs::LARGE_BYTES);
    // The scan itself, its smaller copies, and what the program takes without any scan.
    let huge = megabytes(inputs::HUGE_BYTES) * 4.0 / 3.0 + 64.0;
    vec![
        ("open 100 megapixels, uncompressed", Box::new(move || open(top, folder, "open-plain", large))),
        ("open 100 megapixels, Deflate", Box::new(move || open(top, folder, "open-deflate", large))),
        ("open 100 megapixels, LZW", Box::new(move || open(top, folder, "open-lzw", large))),
        ("open 400 megapixels in colour, 2.4 GB", Box::new(move || open(top, folder, "open-huge", huge))),
        ("sample one spot in both prints", Box::new(|| click(folder))),
        (
            "granularity of 4096 x 4096 pixels",
            Box::new(|| grain(top, folder, "OpenCV, filter2D and std", "aperture_filter", 2.0)),
        ),
        (
            "granularity of 4096 x 4096 pixels",
            Box::new(|| grain(top, folder, "scipy, overlap-add and std", "aperture_overlap_add", 5.0)),
        ),
        ("noise power spectrum, 4096 x 4096 pixels", Box::new(|| spectrum(top, folder))),
        ("noise power spectrum, first answer", Box::new(|| first_spectrum(folder))),
        ("detail of two prints of 3000 x 2400", Box::new(|| detail(top, folder))),
        ("detail in a box that is dragged", Box::new(|| detail_quick(folder))),
        ("50 films x 21 steps x 400, all figures", Box::new(|| curves(top, folder))),
        ("a point of a curve dragged, one frame", Box::new(|| drag(folder))),
        ("report of 50 films, HTML", Box::new(|| report(folder, "report-html"))),
        ("report of 50 films, PDF", Box::new(|| report(folder, "report-pdf"))),
        ("one sheet a film of 50, PDF", Box::new(|| report(folder, "sheets-pdf"))),
    ]
}

fn ours(workload: &str, folder: &Path) -> Result<Cost, Failure> {
    Cost::best(|| ours::start(workload, folder))
}

fn peer(top: &Path, task: &str, question: &Value) -> Result<Cost, Failure> {
    Cost::best(|| peers::ask(top, task, question))
}

/// A scan opened and its smaller copies made, within so many megabytes.
fn open(top: &Path, folder: &Path, workload: &str, most_mb: f64) -> Result<Costs, Failure> {
    let ours = ours(workload, folder)?;
    let theirs = peer(top, "halve", &json!({ "path": inputs::large(folder, workload) }))?;
    let ratio = ours.seconds / theirs.seconds;
    Ok(Costs {
        ours,
        peer: Some(("OpenCV, read and halve", theirs)),
        target: format!("under 1.5 times as long ({ratio:.2}), under {most_mb:.0} MB"),
        met: ratio < 1.5 && ours.peak_mb < most_mb,
    })
}

fn click(folder: &Path) -> Result<Costs, Failure> {
    let ours = ours("click", folder)?;
    Ok(Costs { ours, peer: None, target: "under 2 ms".to_owned(), met: ours.seconds < 0.002 })
}

fn grain(top: &Path, folder: &Path, name: &'static str, task: &str, factor: f64) -> Result<Costs, Failure> {
    let ours = ours("grain", folder)?;
    let theirs = peer(top, task, &inputs::grain_question(folder))?;
    let ratio = theirs.seconds / ours.seconds;
    Ok(Costs {
        ours,
        peer: Some((name, theirs)),
        target: format!("under 60 ms, over {factor} times as fast ({ratio:.1})"),
        met: ratio > factor && ours.seconds < 0.060,
    })
}

/// Blocks of 256 pixels, half overlapped, on both sides.
fn spectrum(top: &Path, folder: &Path) -> Result<Costs, Failure> {
    let ours = ours("spectrum", folder)?;
    let theirs = peer(top, "noise_power_blocks", &inputs::spectrum_question(folder))?;
    let ratio = theirs.seconds / ours.seconds;
    Ok(Costs {
        ours,
        peer: Some(("numpy, rfft2 block by block", theirs)),
        target: format!("over 4 times as fast ({ratio:.1})"),
        met: ratio > 4.0,
    })
}

/// What a drag of the area waits for.
fn first_spectrum(folder: &Path) -> Result<Costs, Failure> {
    let ours = ours("spectrum-quick", folder)?;
    Ok(Costs { ours, peer: None, target: "under 100 ms".to_owned(), met: ours.seconds < 0.1 })
}

/// Sampling the second print on the first, coherence by frequency, its intervals and the map; the peer does the first two.
fn detail(top: &Path, folder: &Path) -> Result<Costs, Failure> {
    let ours = ours("detail", folder)?;
    let theirs = peer(top, "resampled_coherence", &inputs::detail_question(folder))?;
    let ratio = theirs.seconds / ours.seconds;
    Ok(Costs {
        ours,
        peer: Some(("scipy, affine_transform and fft2", theirs)),
        target: format!("under 300 ms ({ratio:.1} times as fast)"),
        met: ours.seconds < 0.3,
    })
}

fn detail_quick(folder: &Path) -> Result<Costs, Failure> {
    let ours = ours("detail-quick", folder)?;
    Ok(Costs { ours, peer: None, target: "under 100 ms".to_owned(), met: ours.seconds < 0.1 })
}

fn curves(top: &Path, folder: &Path) -> Result<Costs, Failure> {
    let ours = ours("curves", folder)?;
    // One run: it takes long enough to be steady.
    let mut theirs = peers::ask(top, "curves", &inputs::curves_question())?;
    theirs.seconds *= f64::from(inputs::ONE_IN);
    let ratio = theirs.seconds / ours.seconds;
    Ok(Costs {
        ours,
        peer: Some(("scipy, PCHIP and brentq, 1 in 10", theirs)),
        target: format!("under 1 s, over 20 times as fast ({ratio:.0})"),
        met: ratio > 20.0 && ours.seconds < 1.0,
    })
}

fn drag(folder: &Path) -> Result<Costs, Failure> {
    let ours = ours("drag", folder)?;
    Ok(Costs { ours, peer: None, target: "under 16 ms".to_owned(), met: ours.seconds < 0.016 })
}

/// From opening the scans to the last file, on two processors.
fn report(folder: &Path, workload: &str) -> Result<Costs, Failure> {
    growth::series_file(folder, growth::Source::Readings, ours::REPORTED)?;
    let ours = ours::start(workload, folder)?;
    Ok(Costs { ours, peer: None, target: "under 20 s".to_owned(), met: ours.seconds < 20.0 })
}

fn time(seconds: f64) -> String {
    if seconds < 0.1 { format!("{:.3} ms", 1000.0 * seconds) } else { format!("{seconds:.2} s") }
}
