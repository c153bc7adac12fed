//! No text is cut off or lies over another one, whatever the size of the window and of the text.

use egui::{Key, Modifiers, Rect, Role, Shape, Vec2, vec2};
use egui_kittest::Harness;
use egui_kittest::kittest::{NodeT as _, Queryable};
use twinwedge_desktop::app::{App, LEAST_ROOM};
use twinwedge_desktop::settings::Settings;

use crate::bench::{folder, go, sample, says, settings, settled, window};

/// Windows that people have, in points at the usual size of text.
const WINDOWS: [Vec2; 5] = [
    vec2(960.0, 600.0),
    vec2(1280.0, 800.0),
    vec2(1600.0, 1000.0),
    vec2(1920.0, 1080.0),
    vec2(2560.0, 1440.0),
];
/// Sizes of text, in per cent of the usual one.
const TEXTS: [u16; 4] = [80, 100, 150, 200];
const PAGES: [&str; 10] =
    ["Films", "Tablets", "Curves", "Times", "Tones", "Frames", "Prints", "Greys", "Grain", "Report"];

/// Half a letter's stroke: hinting and slanted ends of letters.
const SLACK: f32 = 1.5;

/// A text as it was painted.
#[derive(Debug, Clone)]
struct Painted {
    words: String,
    /// Around its letters.
    place: Rect,
    /// What of the window it may be painted on.
    clip: Rect,
}

impl Painted {
    fn visible(&self) -> Rect {
        self.place.intersect(self.clip)
    }

    fn is_seen(&self) -> bool {
        let seen = self.visible();
        seen.width() > 1.0 && seen.height() > 1.0
    }
}

fn texts(harness: &Harness<'_, App>) -> Vec<Painted> {
    fn collect(shape: &Shape, clip: Rect, all: &mut Vec<Painted>) {
        match shape {
            Shape::Vec(shapes) => shapes.iter().for_each(|shape| collect(shape, clip, all)),
            Shape::Text(text) if !text.galley.text().trim().is_empty() && text.opacity_factor > 0.0 => {
                let words = text.galley.text().to_owned();
                all.push(Painted { words, place: text.visual_bounding_rect(), clip });
            }
            _ => {}
        }
    }
    let mut all = Vec::new();
    for clipped in &harness.output().shapes {
        collect(&clipped.shape, clipped.clip_rect, &mut all);
    }
    all.retain(Painted::is_seen);
    all
}

/// What is wrong with the texts of one picture of the window.
fn faults(texts: &[Painted], window: Rect) -> Vec<String> {
    let mut faults = Vec::new();
    for text in texts {
        let inside = text.clip.intersect(window).expand2(vec2(SLACK, 0.0));
        if text.place.left() < inside.left() || text.place.right() > inside.right() {
            faults.push(format!("cut: {:?} at {:?} in {:?}", text.words, text.place, text.clip));
        }
    }
    for (number, first) in texts.iter().enumerate() {
        for second in &texts[number + 1..] {
            // A rim around letters on a picture is the same text, painted again a point away.
            let rim =
                first.words == second.words && first.place.center().distance(second.place.center()) < 3.0;
            let common = first.visible().shrink(SLACK).intersect(second.visible().shrink(SLACK));
            if !rim && common.width() > 0.0 && common.height() > 0.0 {
                faults
                    .push(format!("over each other: {:?} and {:?} at {common:?}", first.words, second.words));
            }
        }
    }
    faults
}

/// Places of tables that scroll sideways at this size: what their edges cut is scrolled to.
fn sideways(harness: &Harness<'_, App>) -> Vec<Rect> {
    harness
        .query_all_by_role(Role::Table)
        .filter(|table| table.accesskit_node().data().scroll_x_max().is_some_and(|most| most > 0.5))
        .map(|table| table.rect())
        .collect()
}

#[test]
fn no_text_is_cut_or_covered_at_any_size() {
    let mut harness = window(sample());
    let mut found = Vec::new();
    for page in PAGES {
        harness.set_size(WINDOWS[1]);
        go(&mut harness, page);
        settled(&mut harness);
        for (size, percent) in WINDOWS.into_iter().flat_map(|size| TEXTS.map(|text| (size, text))) {
            // Larger text leaves a window fewer points. With less than the least room the whole window scrolls.
            let points = (size * 100.0 / f32::from(percent)).max(LEAST_ROOM);
            harness.set_size(points);
            harness.run_steps(2);
            settled(&mut harness);
            let tables = sideways(&harness);
            let mut texts = texts(&harness);
            texts.retain(|text| !tables.iter().any(|table| table.expand(SLACK).contains_rect(text.clip)));
            for fault in faults(&texts, Rect::from_min_size(egui::Pos2::ZERO, points)) {
                found.push(format!("{page} at {} x {}, text {percent} %: {fault}", size.x, size.y));
            }
        }
    }
    assert!(found.is_empty(), "{} faults:\n{}", found.len(), found.join("\n"));
}

#[test]
fn text_grows_shrinks_and_returns_by_key_and_is_remembered() {
    let folder = folder();
    let settings = Settings { file: Some(folder.path().join("settings.ron")), ..settings() };
    let mut harness = Harness::builder()
        .with_size(WINDOWS[1])
        .build_eframe(move |cc| App::new(&cc.egui_ctx, sample(), settings));
    let factor = |harness: &Harness<'_, App>| harness.ctx.zoom_factor();
    let press = |harness: &mut Harness<'_, App>, key| {
        harness.key_press_modifiers(Modifiers::COMMAND, key);
        harness.run_steps(2);
    };
    let kept = || Settings::from_file(folder.path().join("settings.ron")).text.percent();
    press(&mut harness, Key::Plus);
    press(&mut harness, Key::Plus);
    assert!((factor(&harness) - 1.25).abs() < 1e-6);
    assert_eq!(kept(), 125);
    assert!(says(&harness, "Text size: 125 %"));
    press(&mut harness, Key::Num0);
    assert!((factor(&harness) - 1.0).abs() < 1e-6);
    for _ in 0..5 {
        press(&mut harness, Key::Minus);
    }
    assert_eq!(kept(), 80, "no smaller than can be read");
    for _ in 0..20 {
        press(&mut harness, Key::Plus);
    }
    assert_eq!(kept(), 200);
}
