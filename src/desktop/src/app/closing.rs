//! Closing because the system says so, and not the tester.

use std::sync::OnceLock;
use std::sync::atomic::{AtomicBool, Ordering};

use egui::{Context, ViewportCommand};

static WISHED: AtomicBool = AtomicBool::new(false);
static WINDOW: OnceLock<Context> = OnceLock::new();

/// Wishes the window closed, from any thread.
pub(crate) fn wish() {
    WISHED.store(true, Ordering::Release);
    if let Some(window) = WINDOW.get() {
        window.request_repaint();
    }
}

/// To be called before the first frame.
pub(super) fn begin(ctx: &Context) {
    // Only one window listens: a second one in the same process would be a test's.
    let _ = WINDOW.set(ctx.clone());
}

/// Closes the window where that was wished; says whether it was.
pub(super) fn heed(ctx: &Context) -> bool {
    let wished = WISHED.load(Ordering::Acquire);
    if wished {
        ctx.send_viewport_cmd(ViewportCommand::Close);
    }
    wished
}
