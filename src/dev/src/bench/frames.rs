//! What one frame of each page costs the processor, with the sample loaded.

use std::path::Path;

use twinwedge_desktop::app::frame_costs;
use twinwedge_workbench::session::Session;

use crate::{Failure, say};

/// Frames measured on each page.
const FRAMES: usize = 200;
/// What a frame may cost, in milliseconds.
const MOST_MS: f64 = 4.0;

/// Measures every page and prints a line for each.
///
/// # Errors
/// The sample cannot be opened.
pub(super) fn run(top: &Path) -> Result<(), Failure> {
    let session = Session::open(&top.join("sample-projects/saltmarsh/saltmarsh.twinwedge"))?;
    say(format_args!("\none frame of each page, 1280 x 800, median of {FRAMES}"));
    for cost in frame_costs(session, FRAMES) {
        let ms = cost.median.as_secs_f64() * 1000.0;
        say(format_args!(
            "{:<40} {ms:>7.3} ms   under {MOST_MS} ms: {}   {}",
            cost.page,
            if ms < MOST_MS { "met" } else { "MISSED" },
            if cost.rests { "asks for no frame when nothing changes" } else { "NEVER RESTS" }
        ));
    }
    Ok(())
}
