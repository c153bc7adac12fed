//! Plots: their menu, the wheel, zoom in per cent, the legend of the difference.

use egui::{Key, Modifiers, OutputCommand, Role};
use egui_kittest::Harness;
use egui_kittest::kittest::{NodeT as _, Queryable};
use twinwedge_desktop::app::App;
use twinwedge_desktop::settings::{Habits, Settings};

use crate::bench::{folder, go, sample, says, settings, take_path, until, window};

fn curves(settings: Settings) -> Harness<'static, App> {
    let mut harness = Harness::builder()
        .with_size(egui::vec2(1280.0, 800.0))
        .with_max_steps(32)
        .build_eframe(move |cc| App::new(&cc.egui_ctx, sample(), settings));
    go(&mut harness, "Curves");
    until(&mut harness, "the curves", |harness| says(harness, "Gamma: reference"));
    harness.run_steps(4);
    harness
}

fn middle(harness: &Harness<'_, App>) -> egui::Pos2 {
    let plot = harness.query_all_by_role(Role::Figure).next().expect("a plot");
    plot.rect().center()
}

#[test]
fn a_plot_is_copied_and_saved_from_its_menu() {
    let habits = Habits { decimal_comma: true, ..Habits::default() };
    let mut harness = curves(Settings { habits, ..settings() });
    let open = |harness: &mut Harness<'_, App>| {
        let plot = harness.query_all_by_role(Role::Figure).next().expect("a plot");
        plot.click_secondary();
        harness.run_steps(4);
    };
    open(&mut harness);
    harness.get_by_label("Copy its numbers").click();
    let copied = (0..8).find_map(|_| {
        harness.step();
        harness.output().platform_output.commands.iter().find_map(|command| match command {
            OutputCommand::CopyText(text) => Some(text.clone()),
            _ => None,
        })
    });
    let copied = copied.expect("a table");
    assert!(copied.starts_with("film\t") && copied.contains("Tern 160 (line)\t"));
    assert!(copied.lines().nth(1).is_some_and(|line| line.matches(',').count() == 2), "decimal commas");
    harness.run_steps(3);
    open(&mut harness);
    harness.get_by_label("Save as a drawing …").click();
    harness.run_steps(3);
    let folder = folder();
    take_path(&mut harness, &folder.path().join("curves.svg"), "Save");
    until(&mut harness, "the drawing", |harness| says(harness, "Written: "));
    let svg = std::fs::read_to_string(folder.path().join("curves.svg")).unwrap();
    assert!(svg.starts_with("<svg ") && svg.contains("180"));
}

fn turn(harness: &mut Harness<'_, App>, modifiers: Modifiers) {
    let at = middle(harness);
    harness.hover_at(at);
    harness.run_steps(2);
    for _ in 0..4 {
        harness.event(egui::Event::MouseWheel {
            unit: egui::MouseWheelUnit::Point,
            delta: egui::vec2(0.0, 60.0),
            phase: egui::TouchPhase::Move,
            source: egui::MouseWheelSource::Unknown,
            modifiers,
        });
        harness.run_steps(8);
    }
}

/// The zoom of the curves: the label that is a number of per cent and nothing else.
fn percent(harness: &Harness<'_, App>) -> f64 {
    let labels = harness.query_all_by_label_contains(" %");
    let mut numbers = labels.filter_map(|node| {
        let node = node.accesskit_node();
        let label = node.label().or_else(|| node.value())?;
        label.strip_suffix(" %")?.parse().ok()
    });
    numbers.next_back().expect("the zoom")
}

#[test]
fn the_wheel_alone_zooms_a_plot_only_where_that_is_wished() {
    for wheel_zooms in [false, true] {
        let habits = Habits { wheel_zooms, ..Habits::default() };
        let mut harness = curves(Settings { habits, ..settings() });
        let before = percent(&harness);
        turn(&mut harness, Modifiers::NONE);
        let after = percent(&harness);
        assert_eq!(after > 1.05 * before, wheel_zooms, "{before} % became {after} %");
    }
}

#[test]
fn a_print_tells_its_zoom_and_the_difference_has_a_legend() {
    let mut harness = window(sample());
    go(&mut harness, "Prints");
    until(&mut harness, "the zoom", |harness| says(harness, "Zoom "));
    harness.query_all_by_label_contains("Zoom ").next().expect("the zoom").click();
    harness.run_steps(4);
    assert!(says(&harness, "Zoom 100 %"));
    harness.get_by_role_and_label(Role::RadioButton, "Prints: Difference").click();
    harness.run_steps(3);
    // What the engine draws: half a unit of density from grey to either end (`tiles::difference_tone`).
    until(&mut harness, "the legend", |harness| {
        says(harness, "Legend: white is 0.5 lighter in Plover 640, grey is equal, black is 0.5 denser")
    });
    harness.key_press(Key::Escape);
}
