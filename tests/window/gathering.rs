//! A folder of simulated scans for three films: dropped, settled, taken in, measured. The scans are the sample's, whose
//! simulator knows their truth (`expected.json`).

use std::path::{Path, PathBuf};
use std::sync::Arc;

use egui::Role;
use egui_kittest::Harness;
use egui_kittest::kittest::Queryable;
use twinwedge_core::figures::FigureId;
use twinwedge_desktop::app::App;
use twinwedge_workbench::engine::ask::FiguresOf;
use twinwedge_workbench::sample::{Sample, lay_out_in};
use twinwedge_workbench::session::Session;

use crate::bench::{folder, says, until, window};
use crate::typed::enter;

#[derive(Debug)]
struct Dropped(PathBuf);

impl egui::DroppedFile for Dropped {
    fn path(&self) -> &Path {
        &self.0
    }

    fn bytes(&self) -> Result<Vec<u8>, String> {
        std::fs::read(&self.0).map_err(|error| error.to_string())
    }
}

fn sample(file: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-projects/saltmarsh").join(file)
}

/// Scans of three films as somebody would have named them, and the tablet's densities.
fn scans() -> tempfile::TempDir {
    let folder = folder();
    for (name, of) in [
        ("step tablet.csv", "step-tablet.csv"),
        ("cal/step tablet film scanner.tif", "scans/film-scanner-tablet.tif"),
        ("Tern 160/Tern 160 strip.tif", "scans/tern-160-strip.tif"),
        ("Tern 160/Tern 160 print.tif", "scans/tern-160-print.tif"),
        ("Tern 160/Tern 160 grain.tif", "scans/tern-160-grain.tif"),
        ("Plover 640/plover640_strip_01.tif", "scans/plover-640-strip.tif"),
        ("Plover 640/plover640_print_01.tif", "scans/plover-640-print.tif"),
        ("Plover 640/plover640_0003.tif", "scans/plover-640-grain.tif"),
        ("Dunlin 40/strip.tif", "scans/dunlin-40-strip.tif"),
        ("Dunlin 40/print.tif", "scans/dunlin-40-print.tif"),
        ("Dunlin 40/grain.tif", "scans/dunlin-40-grain.tif"),
    ] {
        let path = folder.path().join(name);
        std::fs::create_dir_all(path.parent().unwrap()).unwrap();
        std::fs::copy(sample(of), path).unwrap();
    }
    folder
}

fn empty() -> Session {
    let mut session = Session::empty();
    session.set_recovery_folder(None);
    session
}

fn drop_folder(harness: &mut Harness<'_, App>, path: &Path) {
    harness.input_mut().dropped_files.push(Arc::new(Dropped(path.to_path_buf())));
    harness.run_steps(2);
}

/// Presses a button and counts the click.
fn click(harness: &mut Harness<'_, App>, label: &str, clicks: &mut u32) {
    harness.get_by_role_and_label(Role::Button, label).click();
    harness.run_steps(3);
    *clicks += 1;
}

#[test]
fn from_a_folder_of_scans_to_measured_films() {
    let scans = scans();
    let mut harness = window(empty());
    let mut clicks = 0;
    drop_folder(&mut harness, scans.path());
    until(&mut harness, "the review", |harness| says(harness, "What would be taken in"));
    // One file says neither what it is nor agrees with the list of words: it is asked about, all else is sure.
    assert!(says(&harness, "1 file is doubtful"));
    assert!(says(&harness, "Picture of Plover 640/plover640_0003.tif"));
    assert!(says(&harness, "Sure: 10 files"));
    assert!(says(&harness, "Film of Plover 640/plover640_0003.tif: Plover 640"));
    click(&mut harness, "It is right", &mut clicks);
    assert!(says(&harness, "Nothing is doubtful"));
    harness.get_by_label_contains("Reference film:").click();
    harness.run_steps(2);
    clicks += 1;
    harness.get_all_by_label("Tern 160").last().unwrap().click();
    harness.run_steps(2);
    clicks += 1;
    click(&mut harness, "Take in 11 files", &mut clicks);
    until(&mut harness, "the films", |harness| harness.state().session().series().films.len() == 3);
    let session = harness.state().session();
    assert!(session.undo_label().is_some_and(|label| label.starts_with("take in 11 files")));
    let series = session.series();
    assert_eq!(series.reference_film().map(|film| film.label.as_str()), Some("Tern 160"));
    // The strips' steps were found by themselves: gradients as the simulator has them, within a twentieth.
    let truth: serde_json::Value =
        serde_json::from_str(&std::fs::read_to_string(sample("expected.json")).unwrap()).unwrap();
    for film in &series.films {
        assert!(
            !film.strips.is_empty() && film.print.is_some() && !film.uniform_areas.is_empty(),
            "{}",
            film.label
        );
        let figures = session.wait(&FiguresOf { film: film.id.clone() }).unwrap();
        let gradient = &figures.figures[&FigureId::MaximumGradient];
        let known =
            gradient.known().unwrap_or_else(|| panic!("{} is measured: {gradient:?}", film.label)).value;
        let expected = truth["films"][&film.label]["maximum_gradient"].as_f64().unwrap();
        println!("{}: steepest gradient {known:.3}, simulated {expected:.3}", film.label);
        assert!((known / expected - 1.0).abs() < 0.05, "{}: {known} for {expected}", film.label);
    }
    println!("{clicks} clicks for 3 films after the drop");
    assert!(clicks <= 10, "most of them confirm several files at once: no more than one film may take");
}

#[test]
fn a_folder_is_stopped_left_and_told_when_it_is_none() {
    let scans = scans();
    let mut harness = window(empty());
    drop_folder(&mut harness, scans.path());
    until(&mut harness, "the review", |harness| says(harness, "What would be taken in"));
    harness.get_by_role_and_label(Role::Tab, "Curves").click();
    harness.run_steps(3);
    assert!(!says(&harness, "What would be taken in"), "a page can be looked at meanwhile");
    harness.get_by_label_contains("waits: 1 doubt").click();
    harness.run_steps(3);
    let mut clicks = 0;
    click(&mut harness, "Show: Sure: 10 files", &mut clicks);
    assert!(says(&harness, "Dunlin 40/grain.tif"));
    click(&mut harness, "Leave the folder", &mut clicks);
    assert!(!says(&harness, "What would be taken in"));
    assert!(harness.state().session().series().films.is_empty(), "nothing is taken in");
    let nothing = folder();
    std::fs::write(nothing.path().join("letter.doc"), "no scan").unwrap();
    drop_folder(&mut harness, nothing.path());
    until(&mut harness, "why not", |harness| says(harness, "The folder holds no TIFF"));
}

#[test]
fn films_of_the_series_at_hand_are_known() {
    let scans = scans();
    let home = folder();
    let path = lay_out_in(Sample::Three, home.path()).unwrap();
    let mut session = Session::open(&path).unwrap();
    session.set_recovery_folder(None);
    let mut harness = window(session);
    drop_folder(&mut harness, scans.path());
    until(&mut harness, "the review", |harness| says(harness, "What would be taken in"));
    // Laid out elsewhere than the program does it, this is a series like any other, whose films are known.
    assert!(says(&harness, "Reference film: Tern 160"));
}

#[test]
fn the_exposure_index_of_a_frame_is_typed_and_corrected() {
    let scans = folder();
    for name in ["Tern 160 frame 1 EI 125.tif", "Tern 160 frame 2.tif", "Tern 160 print.tif"] {
        std::fs::copy(sample("scans/tern-160-print.tif"), scans.path().join(name)).unwrap();
    }
    let mut harness = window(empty());
    drop_folder(&mut harness, scans.path());
    until(&mut harness, "the review", |harness| says(harness, "What would be taken in"));
    assert!(says(&harness, "Which exposure index? 1 file: frame of a bracket"));
    assert!(says(&harness, "Take in 2 files"), "without its index it is left out");
    assert!(!says(&harness, "It is right"), "there is nothing yet to be right");
    enter(&mut harness, "Exposure index of Tern 160 frame 2.tif", "160");
    assert!(says(&harness, "Nothing is doubtful"));
    // What was told surely can be wrong all the same.
    let mut clicks = 0;
    click(&mut harness, "Show: Sure: 3 files", &mut clicks);
    assert!(says(&harness, "frame of a bracket, EI 125"));
    click(&mut harness, "Change: Tern 160 frame 1 EI 125.tif", &mut clicks);
    enter(&mut harness, "Exposure index of Tern 160 frame 1 EI 125.tif", "100");
    click(&mut harness, "Close: Tern 160 frame 1 EI 125.tif", &mut clicks);
    assert!(says(&harness, "frame of a bracket, EI 100"));
    click(&mut harness, "Take in 3 files", &mut clicks);
    until(&mut harness, "the film", |harness| harness.state().session().series().films.len() == 1);
    let series = harness.state().session().series();
    let frames = &series.films[0].bracket.as_ref().unwrap().frames;
    let mut indices: Vec<f64> = frames.iter().filter_map(|frame| frame.exposure_index).collect();
    indices.sort_by(f64::total_cmp);
    assert_eq!(indices, [100.0, 160.0]);
}
