//! The bench line: the reference film, how the two are compared, and the candidate with the list that it is chosen from.

use egui::{Button, ComboBox, Layout, Popup, PopupCloseBehavior, RichText, Sense, Ui, WidgetInfo, vec2};
use twinwedge_workbench::core::document::{CompareAs, Film};
use twinwedge_workbench::core::drawing::Role;
use twinwedge_workbench::edits::DevelopmentEdit;
use twinwedge_workbench::engine::Slot;
use twinwedge_workbench::engine::ask::PredictedOf;

use super::films::{self, Filter};
use crate::actions::Action;
use crate::appearance::{Tokens, fonts, widgets};
use crate::outbox::{Command, Outbox};
use crate::pages::View;
use crate::place::Align;

/// Draws the bench line: the pair, and how it is compared.
pub fn line(ui: &mut Ui, view: &View<'_>, filter: &mut Filter, outbox: &mut Outbox) {
    ui.horizontal_wrapped(|ui| {
        let Some(reference) = view.reference else {
            ui.label(RichText::new("No reference film yet").color(Tokens::get(ui).muted));
            return;
        };
        // What else stands in the line, before the two names share the rest. Where it is too narrow for that it goes on below.
        let predicted =
            if view.series.development.compare_as == CompareAs::AsDeveloped { 0.0 } else { 150.0 };
        let density = if view.aligned.at == Align::Density { 56.0 } else { 0.0 };
        let side = ((ui.available_width() - 760.0 - predicted - density) / 2.0).clamp(96.0, 280.0);
        widgets::film_sign(ui, Role::Reference);
        let hover = format!("{}: the reference film, that all are compared with", reference.label);
        cut(ui, side, &reference.label, &hover);
        compared(ui, view, outbox);
        aligned(ui, view, outbox);
        step_button(ui, view, Action::PreviousCandidate, false, outbox);
        widgets::film_sign(ui, Role::Candidate);
        candidate(ui, side, view, filter, outbox);
        step_button(ui, view, Action::NextCandidate, true, outbox);
        also(ui, view, outbox);
        place(ui, view);
    });
}

/// A name in strong letters, no wider than it needs to be, cut where the room ends.
fn cut(ui: &mut Ui, most: f32, text: &str, hover: &str) {
    let font = fonts::body_strong();
    let width = ui.painter().layout_no_wrap(text.to_owned(), font, Tokens::get(ui).ink).size().x;
    let size = vec2(width.ceil().min(most), ui.spacing().interact_size.y);
    ui.allocate_ui_with_layout(size, Layout::left_to_right(egui::Align::Center), |ui| {
        ui.add(egui::Label::new(fonts::strong(text)).truncate()).on_hover_text(hover);
    });
}

/// Whether curves are compared as they were developed, or as if both had been developed to one contrast.
fn compared(ui: &mut Ui, view: &View<'_>, outbox: &mut Outbox) {
    let before = view.series.development.compare_as;
    let mut now = before;
    let predicted = view.candidate.filter(|_| before != CompareAs::AsDeveloped).map(|film| {
        match view.session.peek(&PredictedOf { film: film.id.clone() }) {
            Slot::Ready(curve) | Slot::Stale(curve, _) => {
                curve.prediction.as_ref().map(|prediction| prediction.sentence.clone()).unwrap_or_default()
            }
            Slot::Pending(_) => "Being predicted.".to_owned(),
            Slot::Failed(problem) => format!("{} {}", problem.cause, problem.remedy),
        }
    });
    let matched = format!(
        "Curves of candidates as if developed to the reference's contrast: a prediction, not a measurement.\n{}",
        predicted.unwrap_or_default()
    );
    let options = [
        (CompareAs::AsDeveloped, "as developed", "Both films as they were developed: all is measured"),
        (CompareAs::MatchedContrast, "as if matched", matched.trim_end()),
    ];
    if widgets::choice(ui, "compared", &mut now, &options) {
        outbox.change(DevelopmentEdit::CompareAs(now));
    }
    if before != CompareAs::AsDeveloped {
        ui.label(fonts::strong("Predicted, not measured")).on_hover_text(matched);
    }
}

/// The ways to lay both curves over each other.
const ALIGNED: [(Align, &str, &str); 3] = [
    (Align::AsExposed, "as exposed", "Both curves where the same light put them"),
    (Align::SpeedPoint, "speed point", "Speed points over each other: 0.10 above base+fog"),
    (Align::Density, "at a density", "Points of one density above base+fog over each other"),
];

/// Which points of both curves lie over each other.
fn aligned(ui: &mut Ui, view: &View<'_>, outbox: &mut Outbox) {
    let before = view.aligned;
    let mut now = before;
    let shown = ALIGNED.iter().find(|(at, ..)| *at == now.at).map_or("", |(_, word, _)| *word);
    widgets::muted_inline(ui, "aligned");
    let combo = ComboBox::from_id_salt("alignment").width(104.0).selected_text(shown);
    let response = combo.show_ui(ui, |ui| {
        for (at, word, hover) in ALIGNED {
            let chosen = now.at == at;
            let entry = ui.selectable_label(chosen, word).on_hover_text(hover);
            entry.widget_info(|| {
                WidgetInfo::selected(egui::Role::RadioButton, true, chosen, format!("Aligned: {word}"))
            });
            if entry.clicked() {
                now.at = at;
            }
        }
    });
    let spoken = format!("Alignment: {shown}");
    response.response.widget_info(|| WidgetInfo::labeled(egui::Role::ComboBox, true, spoken.clone()));
    response
        .response
        .on_hover_text("Which points of both curves lie over each other, wherever curves are drawn");
    if now.at == Align::Density {
        let id = ui.scope_id().with("net density");
        let hover = "Density above base+fog at which the curves cross";
        let name = "Density above base+fog";
        if let Some(Some(density)) = widgets::number_field(ui, id, name, Some(now.net_density), hover, 48.0) {
            now.net_density = density.clamp(0.01, 4.0);
        }
    }
    if now != before {
        outbox.send(Command::Align(now));
    }
}

/// The candidate's name; pressed, it opens the list of films.
fn candidate(ui: &mut Ui, most: f32, view: &View<'_>, filter: &mut Filter, outbox: &mut Outbox) {
    let shown = view.candidate.map_or("no candidate yet", |film| film.label.as_str());
    let size = vec2(most.min(200.0), ui.spacing().interact_size.y);
    // The text is cut before the sign that there is a list.
    let button = Button::new(fonts::strong(shown)).truncate().min_size(size).right_text("  ");
    let response = ui.add_sized(size, button);
    let sign = response.rect.right_center() - vec2(14.0, 0.0);
    let points = vec![sign + vec2(-4.0, -2.0), sign + vec2(0.0, 2.0), sign + vec2(4.0, -2.0)];
    ui.painter().add(egui::Shape::line(points, egui::Stroke::new(1.5, Tokens::get(ui).ink)));
    response.widget_info(|| WidgetInfo::labeled(egui::Role::ComboBox, true, format!("Candidate: {shown}")));
    let response = response.on_hover_text(format!("{shown}\nOpens the list of films"));
    if response.clicked() {
        filter.follow_again();
    }
    Popup::from_toggle_button_response(&response)
        .close_behavior(PopupCloseBehavior::CloseOnClickOutside)
        .show(|ui| {
            ui.set_width(300.0);
            ui.set_height((ui.ctx().content_rect().height() - 200.0).clamp(160.0, 480.0));
            if films::list(ui, view, filter, false, outbox) {
                ui.close();
            }
        });
}

/// Further films that are laid over the pair.
fn also(ui: &mut Ui, view: &View<'_>, outbox: &mut Outbox) {
    let on_bench = |film: &Film| view.bench().any(|other| other.id == film.id);
    let others: Vec<&Film> = view.series.films.iter().filter(|film| !on_bench(film)).collect();
    if others.is_empty() {
        return;
    }
    let shown = view.others().count();
    let words = if shown == 0 { "Also …".to_owned() } else { format!("Also {shown}") };
    let response = ui.menu_button(words, |ui| {
        ui.set_width(260.0);
        widgets::muted(ui, "Laid over the pair in Curves, Prints and Grain; at most two.");
        egui::ScrollArea::vertical().max_height(320.0).show(ui, |ui| {
            for film in others {
                let mut on = view.also.contains(&film.id);
                if widgets::switch(ui, &mut on, &film.label, "Shows this film beside the pair, thin and pale")
                {
                    outbox.send(Command::Also(film.id.clone()));
                }
            }
        });
    });
    let response = response.response;
    widgets::name_it(&response, &format!("Further films over the pair: {shown}"));
    response.on_hover_text("Up to two further films over the pair, in Curves, Prints and Grain");
}

/// Which of how many candidates it is.
fn place(ui: &mut Ui, view: &View<'_>) {
    let candidates: Vec<_> = view.series.candidates().collect();
    let at = candidates.iter().position(|film| view.candidate.is_some_and(|shown| shown.id == film.id));
    if let Some(at) = at.filter(|_| candidates.len() > 1) {
        let words = format!("{} of {}", at + 1, candidates.len());
        widgets::muted_inline(ui, &words).on_hover_text("Which of the candidates lies on the bench");
    }
}

fn step_button(ui: &mut Ui, view: &View<'_>, action: Action, forward: bool, outbox: &mut Outbox) {
    let enabled = view.allows(action.spec());
    let sense = if enabled { Sense::click() } else { Sense::hover() };
    let (rect, response) = ui.allocate_exact_size(vec2(24.0, ui.spacing().interact_size.y), sense);
    response.widget_info(|| WidgetInfo::labeled(egui::Role::Button, enabled, action.spec().label));
    let visuals = if enabled { *ui.style().interact(&response) } else { ui.visuals().widgets.noninteractive };
    ui.painter().rect(
        rect,
        visuals.corner_radius,
        visuals.weak_bg_fill,
        visuals.bg_stroke,
        egui::StrokeKind::Inside,
    );
    let (dx, c) = (if forward { 3.0 } else { -3.0 }, rect.center());
    let points = vec![c + vec2(-dx, -5.0), c + vec2(dx, 0.0), c + vec2(-dx, 5.0)];
    let color = if enabled { visuals.fg_stroke.color } else { Tokens::get(ui).edge };
    ui.painter().add(egui::Shape::line(points, egui::Stroke::new(1.5, color)));
    if response.on_hover_text(view.keys.hover(action)).clicked() {
        outbox.send(Command::Do(action));
    }
}
