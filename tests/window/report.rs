//! The Report page: findings kept, reworded, dropped; verdict; who signs.

use egui_kittest::kittest::Queryable;
use twinwedge_core::document::{FilmId, FindingChoice};

use crate::typed::{self, document, enter, page, press, said, shows, wait_for};

/// The key of the first finding shown.
fn first_finding(harness: &egui_kittest::Harness<'_, twinwedge_desktop::app::App>) -> String {
    said(harness, "Drop: Finding ").replace("Drop: Finding ", "")
}

#[test]
fn findings_are_dropped_reworded_and_kept_again() {
    let mut harness = page(typed::series(), egui::Key::Num0);
    wait_for(&mut harness, "findings", |harness| shows(harness, "Drop: Finding "));
    let film = FilmId::from("Plover 640");
    let key = first_finding(&harness);
    let choice = |harness: &egui_kittest::Harness<'_, _>| {
        document(harness).report.findings.get(&film).and_then(|choices| choices.get(&key)).cloned()
    };
    press(&mut harness, &format!("Drop: Finding {key}"));
    assert_eq!(choice(&harness), Some(FindingChoice::Dropped));
    assert!(shows(&harness, "Findings dropped: 1"));
    press(&mut harness, &format!("Reword: Finding {key}"));
    enter(&mut harness, &format!("Words for finding {key}"), "Faster by a stop and a half.");
    assert_eq!(choice(&harness), Some(FindingChoice::Reworded("Faster by a stop and a half.".to_owned())));
    press(&mut harness, &format!("Keep: Finding {key}"));
    assert_eq!(choice(&harness), None);
    assert!(document(&harness).report.findings.is_empty());
}

#[test]
fn findings_change_places_and_undo_puts_them_back() {
    let mut harness = page(typed::series(), egui::Key::Num0);
    wait_for(&mut harness, "findings", |harness| shows(harness, "Later: Finding "));
    let first = said(&harness, "Later: Finding ").replace("Later: Finding ", "");
    press(&mut harness, &format!("Later: Finding {first}"));
    let order = document(&harness).report.order[&FilmId::from("Plover 640")].clone();
    assert_eq!(order[1], first);
    assert_eq!(first_finding(&harness), order[0], "what was second is first on the page");
    press(&mut harness, &format!("Earlier: Finding {first}"));
    assert_eq!(first_finding(&harness), first);
    harness.key_press_modifiers(egui::Modifiers::COMMAND, egui::Key::Z);
    harness.run_steps(3);
    assert_eq!(first_finding(&harness), order[0]);
    harness.key_press_modifiers(egui::Modifiers::COMMAND, egui::Key::Z);
    harness.run_steps(3);
    assert_eq!(first_finding(&harness), first);
    assert!(document(&harness).report.order.is_empty());
}

#[test]
fn verdict_and_signature_are_kept_in_the_series() {
    let mut harness = page(typed::series(), egui::Key::Num0);
    harness.run_steps(2);
    enter(&mut harness, "Verdict", "Worth its price in the evening.");
    enter(&mut harness, "Tester", "Saltmarsh Darkroom Cooperative");
    let report = &document(&harness).report;
    assert_eq!(
        report.verdicts.get(&FilmId::from("Plover 640")).map(String::as_str),
        Some("Worth its price in the evening.")
    );
    assert_eq!(report.tester, "Saltmarsh Darkroom Cooperative");
    wait_for(&mut harness, "the summary", |harness| shows(harness, "Verdict: yes"));
    assert!(harness.query_by_label("This candidate …").is_some());
}

#[test]
fn a_reworded_finding_whose_number_changed_is_flagged_until_its_words_hold_again() {
    let film = FilmId::from("Plover 640");
    let mut series = typed::series();
    // Written on another number than the data have.
    let words = FindingChoice::Reworded("Three stops faster.".to_owned());
    series
        .report
        .findings
        .entry(film.clone())
        .or_default()
        .insert("speed.relative".to_owned(), words.clone());
    let numbers = series.report.reworded_on.entry(film.clone()).or_default();
    numbers.insert("speed.relative".to_owned(), "+3.00 ± 0.10 stops".to_owned());
    let mut harness = page(series, egui::Key::Num0);
    wait_for(&mut harness, "the doubt", |harness| shows(harness, "Its number was +3.00 ± 0.10 stops"));
    assert!(shows(&harness, "Of these, with changed numbers: 1"));
    press(&mut harness, "Words still hold for finding speed.relative");
    harness.run_steps(2);
    assert!(!shows(&harness, "Its number was +3.00"));
    let report = &document(&harness).report;
    assert_eq!(report.findings[&film]["speed.relative"], words, "the words stay");
    assert_ne!(report.reworded_on[&film]["speed.relative"], "+3.00 ± 0.10 stops");
}

#[test]
fn the_recommendation_stands_beside_the_verdict() {
    let mut harness = page(typed::series(), egui::Key::Num0);
    harness.run_steps(2);
    enter(&mut harness, "Recommendation", "For dusk, at EI 500.");
    let report = &document(&harness).report;
    let kept = report.recommendations.get(&FilmId::from("Plover 640")).map(String::as_str);
    assert_eq!(kept, Some("For dusk, at EI 500."));
    wait_for(&mut harness, "the summary", |harness| shows(harness, "Recommendation: yes"));
    for choice in
        ["Depth of the report: One sheet", "Paper of the PDF: Letter", "Size of slides: 1080 × 1920"]
    {
        press(&mut harness, choice);
    }
    assert!(harness.query_by_label("Slides …").is_some());
}

#[test]
fn the_sheet_is_drawn_as_it_will_be_and_follows_what_is_said() {
    let mut harness = page(typed::series(), egui::Key::Num0);
    let sheet = "Sheet of Plover 640, as it stands on paper";
    let drawn = |harness: &egui_kittest::Harness<'_, _>| {
        let image = harness.query_by_role_and_label(egui::Role::Image, sheet);
        image.map(|image| image.rect().size())
    };
    wait_for(&mut harness, "findings", |harness| shows(harness, "Drop: Finding "));
    press(&mut harness, "Show: Sheet");
    wait_for(&mut harness, "the sheet", |harness| drawn(harness).is_some());
    // A4 of ISO 216.
    let size = drawn(&harness).unwrap();
    assert!((size.y / size.x - 297.0 / 210.0).abs() < 0.01, "{size}");
    press(&mut harness, "Paper of the PDF: Letter");
    // 8.5 by 11 inches.
    wait_for(&mut harness, "the other paper", |harness| {
        drawn(harness).is_some_and(|size| (size.y / size.x - 11.0 / 8.5).abs() < 0.01)
    });
    press(&mut harness, "Show: Findings");
    assert!(drawn(&harness).is_none());
}
