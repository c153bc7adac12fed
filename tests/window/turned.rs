//! A patch chart that was laid on the first print is found on further ones by itself, however they lie on the scanner.

use egui_kittest::Harness;
use image::DynamicImage;
use twinwedge_core::document::{FilmId, ScanId};
use twinwedge_core::geometry::{Point, Quad};
use twinwedge_desktop::app::App;
use twinwedge_workbench::engine::ask::PatchesOf;
use twinwedge_workbench::session::{Edit, Session};

use crate::bench::{folder, go, sample, says, until, window};

/// How a print is turned, and where a place of it comes to lie; width and height are those before.
type Turn = (&'static str, fn(&DynamicImage) -> DynamicImage, fn(Point, (f64, f64)) -> Point);

/// Turns by right angles, which move pixels and change none (analytic).
const TURNS: [Turn; 3] = [
    ("a quarter", DynamicImage::rotate90, |at, (_, height)| Point::new(height - at.y, at.x)),
    ("a half", DynamicImage::rotate180, |at, (width, height)| Point::new(width - at.x, height - at.y)),
    ("three quarters", DynamicImage::rotate270, |at, (width, _)| Point::new(at.y, width - at.x)),
];

fn patches(session: &Session) -> Vec<(Quad, f64)> {
    let read = session.wait(&PatchesOf { film: FilmId::from("Plover 640") }).expect("its patches");
    read.iter().map(|patch| (patch.sample.area, patch.sample.density.number())).collect()
}

/// The sample with the candidate's print scanned anew: the same pixels, turned.
fn turned(turn: &Turn, folder: &std::path::Path) -> Harness<'static, App> {
    let print = std::path::Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("sample-projects/saltmarsh/scans/plover-640-print.tif");
    let path = folder.join("scanned anew.tif");
    (turn.1)(&image::open(print).unwrap()).save(&path).unwrap();
    let mut session = sample();
    session
        .apply(Edit::new("scan it anew", move |series| {
            let entry = series.scans.get_mut(&ScanId::from("Plover 640 print")).expect("its print");
            entry.path = path.display().to_string();
            entry.digest = None;
        }))
        .expect("an edit");
    let mut harness = window(session);
    go(&mut harness, "Prints");
    until(&mut harness, "the patches of the turned print", |harness| {
        let asked = PatchesOf { film: FilmId::from("Plover 640") };
        harness.state().session().peek(&asked).value().is_some()
    });
    harness
}

#[test]
fn a_chart_laid_on_the_first_print_is_found_on_a_further_one_at_any_turn() {
    let before = patches(&sample());
    assert!(before.len() >= 20, "{} patches", before.len());
    for turn in &TURNS {
        let folder = folder();
        let harness = turned(turn, folder.path());
        let after = patches(harness.state().session());
        assert_eq!(after.len(), before.len());
        for (number, ((quad, density), (own, own_density))) in before.iter().zip(&after).enumerate() {
            for (corner, found) in quad.corners.iter().zip(own.corners) {
                // The picture's size is that of the scan in the sample.
                let wanted = (turn.2)(*corner, (1200.0, 900.0));
                let apart = (wanted.x - found.x).hypot(wanted.y - found.y);
                assert!(apart < 2.0, "{}, patch {number}: {wanted:?}, not {found:?}", turn.0);
            }
            assert!((density - own_density).abs() < 0.01, "{}: {density}, not {own_density}", turn.0);
        }
        // Nobody had to lay or to correct a grid.
        assert!(!says(&harness, "No patch grid is laid yet") && !says(&harness, "was corrected by hand"));
    }
}
