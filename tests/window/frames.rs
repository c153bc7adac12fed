//! The Frames page: brackets typed and pasted, and what follows from them.

use egui_kittest::kittest::Queryable;
use twinwedge_core::document::{
    Bracket, BracketFrame, FilmId, ScanEntry, ScanId, ScanKind, ShadowDensity, TypedReading,
};

use crate::typed::{self, document, enter, page, press, shows, wait_for};

#[test]
fn pasted_frames_give_the_matched_index() {
    let mut series = typed::series();
    let frame = |name: &str, index: f64, density: f64| BracketFrame::typed(name, index, density);
    series.films[0].bracket =
        Some(Bracket { frames: vec![frame("1", 125.0, 0.44), frame("2", 160.0, 0.40)], u: Some(0.005) });
    let mut harness = page(series, egui::Key::Num6);
    harness.run_steps(2);
    press(&mut harness, "Shadow density: gross density");
    assert_eq!(document(&harness).settings.shadow_match, ShadowDensity::Gross);
    press(&mut harness, "Paste frames of Plover 640");
    enter(&mut harness, "Frames of Plover 640 as text", "a; 320; 0,50\nb; 1280; 0,30");
    press(&mut harness, "Take these frames");
    let frames =
        &document(&harness).film(&FilmId::from("Plover 640")).unwrap().bracket.as_ref().unwrap().frames;
    assert_eq!(frames.len(), 2);
    assert_eq!(harness.state().session().undo_label(), Some("enter 2 frames of Plover 640"));
    // Analytic: 0.40 lies half way between 0.50 and 0.30, so half way between 320 and 1280 in stops: 640.
    wait_for(&mut harness, "the matched index", |harness| {
        shows(harness, "Exposure index, gross density: reference 160") && shows(harness, "candidate 640")
    });
}

// ISO 5-1: transmittance is 10^-D; a base+fog denser by 0.30 takes 10^0.30 = 1.995 times the light.
#[test]
fn print_exposure_follows_from_base_fog() {
    let mut series = typed::series();
    for (film, density) in series.films.iter_mut().zip([0.20, 0.50]) {
        film.base_fog = Some(TypedReading { u: Some(0.001), ..TypedReading::new(density) });
    }
    let mut harness = page(series, egui::Key::Num6);
    wait_for(&mut harness, "the print exposure", |harness| shows(harness, "Candidate's exposure: × 2.00"));
}

#[test]
fn frames_are_added_changed_and_removed() {
    let mut harness = page(typed::series(), egui::Key::Num6);
    harness.run_steps(2);
    press(&mut harness, "Add frame of Tern 160");
    let bracket = |harness: &egui_kittest::Harness<'_, twinwedge_desktop::app::App>| {
        document(harness).films[0].bracket.clone().unwrap_or_default().frames
    };
    assert_eq!(bracket(&harness).len(), 1);
    let entered = |frame: &BracketFrame| (frame.exposure_index, frame.shadow_density);
    assert_eq!(entered(&bracket(&harness)[0]), (None, None), "nothing is entered that nobody typed");
    wait_for(&mut harness, "what it lacks", |harness| shows(harness, "Frame 1 has no shadow density yet."));
    enter(&mut harness, "Shadow density of frame 1 of Tern 160", "0,36");
    enter(&mut harness, "Exposure index of frame 1 of Tern 160", "-4");
    assert_eq!(entered(&bracket(&harness)[0]), (None, Some(0.36)), "refused");
    enter(&mut harness, "Exposure index of frame 1 of Tern 160", "160");
    assert_eq!(entered(&bracket(&harness)[0]), (Some(160.0), Some(0.36)));
    press(&mut harness, "Remove of frame 1 of Tern 160");
    assert!(bracket(&harness).is_empty());
}

/// A scene of random tones with a plain square in it, 40 pixels wide, on film: codes of the curve of sRGB.
fn scan_of_a_frame(folder: &std::path::Path, name: &str, (dx, dy): (u32, u32), code: u8) -> ScanEntry {
    let tone = |x: u32, y: u32| {
        let (x, y) = (x + dx, y + dy);
        if (100..140).contains(&x) && (80..120).contains(&y) {
            return code;
        }
        let mixed = (x / 5).wrapping_mul(2_654_435_761) ^ (y / 5).wrapping_mul(2_246_822_519);
        60 + (mixed.wrapping_mul(3_266_489_917) >> 25) as u8
    };
    let picture = image::GrayImage::from_fn(260, 200, |x, y| image::Luma([tone(x, y)]));
    picture.save(folder.join(name)).unwrap();
    twinwedge_workbench::store::scan_entry(&folder.join(name), ScanKind::Film, folder).unwrap()
}

#[test]
fn a_shadow_patch_is_laid_on_one_scanned_frame_and_found_on_the_next() {
    let folder = tempfile::tempdir().unwrap();
    let mut series = typed::series();
    let mut frames = Vec::new();
    for (name, shift, code) in [("one.png", (0, 0), 120), ("two.png", (6, 4), 90)] {
        let entry = scan_of_a_frame(folder.path(), name, shift, code);
        series.scans.insert(ScanId::from(name), entry);
        let index = if code == 120 { 200.0 } else { 160.0 };
        frames.push(BracketFrame {
            scan: Some(ScanId::from(name)),
            ..BracketFrame::typed(name.trim_end_matches(".png"), index, 0.0)
        });
    }
    series.films[0].bracket = Some(Bracket { frames, u: None });
    let mut harness = typed::window_in(series, folder.path().to_path_buf(), egui::vec2(1280.0, 800.0));
    harness.run_steps(2);
    harness.key_press_modifiers(egui::Modifiers::ALT, egui::Key::Num6);
    harness.run_steps(3);
    press(&mut harness, "Show the scan of frame 1 of Tern 160");
    wait_for(&mut harness, "the scan", |harness| shows(harness, "Scan of frame one of Tern 160"));
    wait_for(&mut harness, "its place", |harness| harness.query_by_label("Lay the patch").is_some());
    press(&mut harness, "Lay the patch");
    let patch = |harness: &egui_kittest::Harness<'_, twinwedge_desktop::app::App>, frame: usize| {
        document(harness).films[0].bracket.as_ref().unwrap().frames[frame].patch
    };
    // Laid in the middle, a tenth of the shorter side to each side of it.
    let laid = patch(&harness, 0).unwrap().bounds();
    assert!((laid.min.x - 120.0).abs() < 1e-9 && (laid.max.y - 110.0).abs() < 1e-9, "{laid:?}");
    // Dragged by keys: the middle handle, one pixel a press.
    harness.get_by_label("Shadow patch of frame one of Tern 160: the whole patch").focus();
    harness.run_steps(2);
    for _ in 0..10 {
        harness.key_press(egui::Key::ArrowLeft);
        harness.run_steps(2);
    }
    let moved = patch(&harness, 0).unwrap().bounds();
    assert!((moved.min.x - 110.0).abs() < 1e-9, "{moved:?}");
    let undo = harness.state().session().undo_label().map(str::to_owned);
    assert_eq!(undo.as_deref(), Some("move the shadow patch of frame one of Tern 160"));
    press(&mut harness, "Show the scan of frame 2 of Tern 160");
    wait_for(&mut harness, "the found patch", |harness| harness.query_by_label("Correct it").is_some());
    press(&mut harness, "Correct it");
    // The second frame shows the scene six pixels to the left and four up.
    let found = patch(&harness, 1).unwrap().bounds();
    assert!(
        (found.min.x - (moved.min.x - 6.0)).abs() < 0.3 && (found.min.y - (moved.min.y - 4.0)).abs() < 0.3,
        "{found:?}"
    );
}

#[test]
fn indices_stand_on_the_axis_and_a_whole_series_of_them_is_filled_in_at_once() {
    let mut harness = page(typed::series(), egui::Key::Num6);
    harness.run_steps(2);
    press(&mut harness, "Index series of Tern 160");
    enter(&mut harness, "First exposure index of Tern 160", "80");
    enter(&mut harness, "Number of frames of Tern 160", "5");
    press(&mut harness, "Fill in the indices of Tern 160");
    assert_eq!(
        harness.state().session().undo_label(),
        Some("enter exposure indices of 5 frames of Tern 160"),
        "one step"
    );
    for (frame, density) in [(1, "0.48"), (2, "0.44"), (3, "0.40"), (4, "0.36"), (5, "0.33")] {
        enter(&mut harness, &format!("Shadow density of frame {frame} of Tern 160"), density);
    }
    let frames = document(&harness).films[0].bracket.clone().unwrap().frames;
    let indices: Vec<_> = frames.iter().filter_map(|frame| frame.exposure_index).collect();
    // Settings of a meter in thirds of a stop (ISO 2720:1974, 3.3).
    assert_eq!(indices, [80.0, 100.0, 125.0, 160.0, 200.0]);
    harness.run_steps(4);
    let painted = painted(&harness);
    for index in ["80", "100", "125", "160", "200"] {
        let times = painted.iter().filter(|text| *text == index).count();
        assert!(times >= 2, "{index} stands in its field and on the axis: {painted:?}");
    }
}

/// All texts as they are painted.
fn painted(harness: &egui_kittest::Harness<'_, twinwedge_desktop::app::App>) -> Vec<String> {
    fn collect(shape: &egui::Shape, all: &mut Vec<String>) {
        match shape {
            egui::Shape::Vec(shapes) => shapes.iter().for_each(|shape| collect(shape, all)),
            egui::Shape::Text(text) => all.push(text.galley.text().to_owned()),
            _ => {}
        }
    }
    let mut all = Vec::new();
    harness.output().shapes.iter().for_each(|clipped| collect(&clipped.shape, &mut all));
    all
}

#[test]
fn scanned_frames_are_seen_small_and_the_matched_pair_side_by_side() {
    let folder = tempfile::tempdir().unwrap();
    let mut series = typed::series();
    let patch = twinwedge_core::geometry::Quad::upright(twinwedge_core::geometry::Rect {
        min: twinwedge_core::geometry::Point::new(104.0, 84.0),
        max: twinwedge_core::geometry::Point::new(136.0, 116.0),
    });
    for (film, first) in [(0, 160.0), (1, 640.0)] {
        let mut frames = Vec::new();
        for (number, code) in [(0_u32, 120_u8), (1, 90)] {
            let name = format!("film {film} frame {number}.png");
            let entry = scan_of_a_frame(folder.path(), &name, (0, 0), code);
            series.scans.insert(ScanId::from(name.as_str()), entry);
            // A stop more light from the first frame to the second.
            let index = first / f64::from(1 + number);
            frames.push(BracketFrame {
                scan: Some(ScanId::from(name.as_str())),
                patch: Some(patch),
                ..BracketFrame::typed(format!("{}", number + 1), index, 0.0)
            });
        }
        series.films[film].bracket = Some(Bracket { frames, u: Some(0.01) });
    }
    series.settings.shadow_match = ShadowDensity::Gross;
    let mut harness = typed::window_in(series, folder.path().to_path_buf(), egui::vec2(1280.0, 800.0));
    harness.run_steps(2);
    harness.key_press_modifiers(egui::Modifiers::ALT, egui::Key::Num6);
    harness.run_steps(3);
    for picture in ["frame 1 of Tern 160, EI 160", "frame 2 of Plover 640, EI 320"] {
        wait_for(&mut harness, picture, |harness| shows(harness, &format!("Picture of {picture}")));
    }
    // Frames of both films are the same pictures: the match is at the box speeds.
    wait_for(&mut harness, "the pair", |harness| {
        shows(harness, "Matched pair: Tern 160, frame 1, EI 160")
            && shows(harness, "Matched pair: Plover 640, frame 1, EI 640")
    });
    press(&mut harness, "Picture of frame 2 of Plover 640, EI 320");
    wait_for(&mut harness, "the scan", |harness| shows(harness, "Scan of frame 2 of Plover 640"));
    press(&mut harness, "Take the scan of frame 2 of Plover 640 away");
    let frames = &document(&harness).films[1].bracket.as_ref().unwrap().frames;
    assert!(frames[1].scan.is_none() && frames[0].scan.is_some());
}
