//! A still of the page as a picture of a stated size, whatever the size of the window.

use egui::Role;
use egui_kittest::Harness;
use egui_kittest::kittest::Queryable;
use twinwedge_desktop::app::App;

use crate::bench::{folder, go, sample, says, settled, take_path, until, window};

fn still(harness: &mut Harness<'_, App>, entry: &str, path: &std::path::Path) {
    harness.get_by_role_and_label(Role::Button, "Series").click();
    harness.run_steps(3);
    harness.get_by_label_contains(entry).click();
    harness.run_steps(3);
    take_path(harness, path, "Save");
    until(harness, "the still", |_| path.is_file());
}

/// Share of the pixels that are not the commonest tone.
fn drawn(picture: &image::RgbImage) -> f64 {
    let mut tones = std::collections::HashMap::new();
    picture.pixels().for_each(|pixel| *tones.entry(pixel.0).or_insert(0_u32) += 1);
    let most = tones.values().max().copied().unwrap_or_default();
    1.0 - f64::from(most) / f64::from(picture.width() * picture.height())
}

#[test]
fn a_page_becomes_a_picture_of_the_size_of_a_film_frame() {
    let own = folder();
    // To look at them: TWINWEDGE_STILLS=FOLDER leaves them there.
    let kept = std::env::var_os("TWINWEDGE_STILLS").map(std::path::PathBuf::from);
    let folder = kept.unwrap_or_else(|| own.path().to_path_buf());
    let mut harness = window(sample());
    for page in ["Curves", "Prints"] {
        go(&mut harness, page);
        settled(&mut harness);
        let path = folder.join(format!("{page}.png"));
        still(&mut harness, "Still of the page", &path);
        let picture = image::open(&path).unwrap().into_rgb8();
        assert_eq!(picture.dimensions(), (1920, 1080));
        let share = drawn(&picture);
        assert!((0.05..0.98).contains(&share), "{page}: {share}");
    }
    // The window itself goes on as it was.
    harness.run_steps(2);
    assert!(says(&harness, "Print: Tern 160"));
}
