//! The window with the sample on the bench, driven by what a screen reader would find.

use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

use egui_kittest::Harness;
use egui_kittest::kittest::Queryable;
use twinwedge_desktop::app::App;
use twinwedge_desktop::settings::Settings;
use twinwedge_workbench::session::Session;

/// Settings that touch nothing of the person who runs the tests.
pub(crate) fn settings() -> Settings {
    Settings { own_file_dialog: true, ..Settings::default() }
}

/// The sample as it stands in the repository; it is read and never written.
pub(crate) fn sample() -> Session {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-projects/saltmarsh/saltmarsh.twinwedge");
    let mut session = Session::open(&path).expect("the sample opens");
    session.set_recovery_folder(None);
    session
}

/// A window of the smallest size that everything must fit in.
pub(crate) fn window(session: Session) -> Harness<'static, App> {
    Harness::builder()
        .with_size(egui::vec2(1280.0, 800.0))
        .with_max_steps(32)
        .build_eframe(|cc| App::new(&cc.egui_ctx, session, settings()))
}

/// Draws frames until `there` says that it is, for as long as the work behind it may take.
pub(crate) fn until(
    harness: &mut Harness<'_, App>,
    what: &str,
    mut there: impl FnMut(&Harness<'_, App>) -> bool,
) {
    let begun = Instant::now();
    loop {
        harness.step();
        if there(harness) {
            return;
        }
        assert!(begun.elapsed() < Duration::from_secs(180), "{what} did not come within three minutes");
        std::thread::sleep(Duration::from_millis(20));
    }
}

/// Draws frames until all work is done and stays done: a page asks for its work while it is drawn, and what comes of it may
/// ask for more.
pub(crate) fn settled(harness: &mut Harness<'_, App>) {
    const FRAMES_AT_REST: u32 = 4;
    let mut frames = 0;
    until(harness, "the end of all work", |harness| {
        frames = if harness.state().session().is_at_rest() { frames + 1 } else { 0 };
        frames >= FRAMES_AT_REST
    });
}

/// Whether anything on screen has a label that holds `words`.
pub(crate) fn says(harness: &Harness<'_, App>, words: &str) -> bool {
    harness.query_all_by_label_contains(words).next().is_some()
}

/// Goes to a page by the word of its station.
pub(crate) fn go(harness: &mut Harness<'_, App>, page: &str) {
    harness.get_by_role_and_label(egui::Role::Tab, page).click();
    harness.run_steps(2);
}

/// A folder that is gone after the test.
pub(crate) fn folder() -> tempfile::TempDir {
    tempfile::tempdir().expect("a temporary folder")
}

/// Types a path into the window's own file dialog and takes it.
pub(crate) fn take_path(harness: &mut Harness<'_, App>, path: &Path, verb: &str) {
    let path: PathBuf = path.to_path_buf();
    harness
        .get_by_role_and_label(egui::Role::TextInput, "Path")
        .set_text_value_accesskit(&path.display().to_string());
    harness.run_steps(2);
    harness.get_by_role_and_label(egui::Role::Button, verb).click();
    harness.run_steps(2);
}
