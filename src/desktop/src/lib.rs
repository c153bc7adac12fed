//! The window of Twinwedge: the only crate that names egui.

pub mod actions;
pub mod app;
pub mod appearance;
pub mod canvas;
pub mod origin;
pub mod outbox;
pub mod pages;
pub mod place;
pub mod plot;
pub mod settings;
pub mod shell;
mod still;
mod work;

use twinwedge_workbench::session::Session;

const ICON: &[u8] = include_bytes!("../../../icons/twinwedge-256.png");

/// Opens the window on a session and returns when it is closed.
///
/// # Errors
/// Why no window could be opened, in plain words: no display, or no OpenGL.
pub fn run(session: Session) -> Result<(), String> {
    let mut viewport = egui::ViewportBuilder::default()
        .with_title("Twinwedge")
        .with_app_id("twinwedge")
        .with_inner_size([1280.0, 800.0])
        .with_min_inner_size([960.0, 600.0]);
    if let Ok(icon) = eframe::icon_data::from_png_bytes(ICON) {
        viewport = viewport.with_icon(icon);
    }
    let options = eframe::NativeOptions {
        viewport,
        renderer: eframe::Renderer::Glow,
        persist_window: false,
        ..Default::default()
    };
    eframe::run_native(
        "Twinwedge",
        options,
        Box::new(|cc| Ok(Box::new(app::App::new(&cc.egui_ctx, session, settings::Settings::load())))),
    )
    .map_err(|error| no_window(&error))
}

/// Closes the window, if there is one or will be one, from any thread: without a question, and with unsaved changes kept for
/// the next start.
pub fn close() {
    app::closing::wish();
}

/// The series that was open when the window was last closed.
#[must_use]
pub fn last_series() -> Option<std::path::PathBuf> {
    settings::Settings::load().recent.into_iter().next()
}

fn no_window(error: &eframe::Error) -> String {
    let text = error.to_string();
    let missing = ["WAYLAND_DISPLAY", "DISPLAY", "XOpenDisplayFailed", "display"];
    if missing.iter().any(|word| text.contains(word)) {
        "There is no display to open a window on (neither Wayland nor X11 answers).".to_owned()
    } else {
        format!("The window could not be opened: {text}.")
    }
}
