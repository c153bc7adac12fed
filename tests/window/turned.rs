//! A patch chart that was laid on the first print is found on further ones by itself, however askew they lie on the scanner.

use egui_kittest::Harness;
use image::{DynamicImage, ImageBuffer, Luma};
use twinwedge_core::document::{FilmId, ScanId};
use twinwedge_core::geometry::{Point, Quad};
use twinwedge_desktop::app::App;
use twinwedge_workbench::engine::ask::PatchesOf;
use twinwedge_workbench::session::{Edit, Session};

use crate::bench::{folder, go, sample, says, until, window};

type Grey = ImageBuffer<Luma<u16>, Vec<u16>>;

/// Where a place of a picture of one size comes to lie in a picture of another, turned about its middle (analytic).
fn turned_place(at: Point, degrees: f64, from: (u32, u32), to: (u32, u32)) -> Point {
    let (sin, cos) = degrees.to_radians().sin_cos();
    let middle = |(width, height): (u32, u32)| Point::new(f64::from(width) / 2.0, f64::from(height) / 2.0);
    let (a, b) = (middle(from), middle(to));
    let (x, y) = (at.x - a.x, at.y - a.y);
    Point::new(b.x + cos * x - sin * y, b.y + sin * x + cos * y)
}

/// The picture turned on a larger sheet of one tone, each pixel between four of the original.
fn turned(picture: &Grey, degrees: f64) -> Grey {
    let from = picture.dimensions();
    let to = (from.0 + 300, from.1 + 400);
    ImageBuffer::from_fn(to.0, to.1, |x, y| {
        let at = Point::new(f64::from(x) + 0.5, f64::from(y) + 0.5);
        let at = turned_place(at, -degrees, to, from);
        let (x, y) = (at.x - 0.5, at.y - 0.5);
        let (left, top) = (x.floor(), y.floor());
        if left < 0.0 || top < 0.0 || left + 1.0 >= f64::from(from.0) || top + 1.0 >= f64::from(from.1) {
            return Luma([52_000]);
        }
        let code = |dx: u32, dy: u32| f64::from(picture.get_pixel(left as u32 + dx, top as u32 + dy)[0]);
        let (u, v) = (x - left, y - top);
        let above = code(0, 0) * (1.0 - u) + code(1, 0) * u;
        let below = code(0, 1) * (1.0 - u) + code(1, 1) * u;
        Luma([(above * (1.0 - v) + below * v).round() as u16])
    })
}

fn plover() -> PatchesOf {
    PatchesOf { film: FilmId::from("Plover 640") }
}

fn patches(session: &Session) -> Vec<(Quad, f64)> {
    let read = session.wait(&plover()).expect("its patches");
    read.iter().map(|patch| (patch.sample.area, patch.sample.density.number())).collect()
}

fn print() -> DynamicImage {
    let path = "sample-projects/saltmarsh/scans/plover-640-print.tif";
    image::open(std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join(path)).unwrap()
}

/// The sample on the Prints page, with the candidate's print scanned anew.
fn scanned_anew(picture: &DynamicImage, folder: &std::path::Path) -> Harness<'static, App> {
    let path = folder.join("scanned anew.tif");
    picture.save(&path).unwrap();
    let mut session = sample();
    session
        .apply(Edit::new("scan it anew", move |series| {
            let entry = series.scans.get_mut(&ScanId::from("Plover 640 print")).expect("its print");
            entry.path = path.display().to_string();
            entry.digest = None;
        }))
        .expect("an edit");
    let mut harness = window(session);
    harness.run_steps(2);
    go(&mut harness, "Prints");
    harness
}

#[test]
fn a_chart_laid_on_the_first_print_is_found_on_a_further_one_that_lies_askew() {
    let before = patches(&sample());
    assert!(before.len() >= 20, "{} patches", before.len());
    let picture = print().into_luma16();
    for degrees in [-17.0, 12.0] {
        let folder = folder();
        let sheet = turned(&picture, degrees);
        let to = sheet.dimensions();
        let mut harness = scanned_anew(&DynamicImage::ImageLuma16(sheet), folder.path());
        until(&mut harness, "the patches of the turned print", |harness| {
            harness.state().session().peek(&plover()).value().is_some()
        });
        let after = patches(harness.state().session());
        assert_eq!(after.len(), before.len());
        for (number, ((quad, density), (own, own_density))) in before.iter().zip(&after).enumerate() {
            for (corner, found) in quad.corners.iter().zip(own.corners) {
                let wanted = turned_place(*corner, degrees, picture.dimensions(), to);
                let apart = (wanted.x - found.x).hypot(wanted.y - found.y);
                assert!(apart < 3.0, "{degrees}°, patch {number}: {wanted:?}, not {found:?}");
            }
            assert!(
                (density - own_density).abs() < 0.02,
                "{degrees}°, patch {number}: {density}, not {own_density}"
            );
        }
        // Nobody had to lay or to correct a grid.
        assert!(!says(&harness, "No patch grid is laid yet") && !says(&harness, "was corrected by hand"));
    }
}
