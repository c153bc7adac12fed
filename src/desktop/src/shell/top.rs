//! The top bar: menus, series, the two films on the bench, pages, search.

use egui::{Align, Button, ComboBox, Layout, MenuBar, RichText, Sense, Ui, WidgetInfo, vec2};
use twinwedge_workbench::core::drawing::Role;

use super::settings::Appearance;
use crate::actions::{ACTIONS, Action, Menu};
use crate::appearance::{Tokens, fonts, widgets};
use crate::outbox::{Command, Outbox};
use crate::pages::{PageId, View};

/// Menus, name of the series, search.
pub fn series_bar(ui: &mut Ui, view: &View<'_>, appearance: Appearance, outbox: &mut Outbox) {
    MenuBar::new().ui(ui, |ui| {
        for menu in Menu::ALL {
            let button = ui.menu_button(menu.word(), |ui| menu_items(ui, menu, view, appearance, outbox));
            button.response.on_hover_text(format!("The menu '{}'", menu.word()));
        }
        ui.add_space(8.0);
        ui.with_layout(Layout::right_to_left(Align::Center), |ui| {
            action_button(ui, view, Action::Keys, "?", outbox);
            action_button(ui, view, Action::Search, "Search", outbox);
            ui.with_layout(Layout::left_to_right(Align::Center), |ui| title(ui, view));
        });
    });
}

fn title(ui: &mut Ui, view: &View<'_>) {
    let saved = match (view.session.unsaved(), view.session.path()) {
        (true, _) => "not saved",
        (false, Some(_)) => "saved",
        (false, None) => "new",
    };
    let name = if view.series.title.is_empty() { "A series without a name" } else { &view.series.title };
    let hover = match view.session.path() {
        Some(path) => format!("{name}\n{}", path.display()),
        None => format!("{name}\nSaved nowhere yet"),
    };
    // The state stands first: a long name may then be cut.
    ui.label(RichText::new(saved).color(Tokens::get(ui).muted));
    ui.add(egui::Label::new(fonts::strong(name)).truncate()).on_hover_text(hover);
}

fn menu_items(ui: &mut Ui, menu: Menu, view: &View<'_>, appearance: Appearance, outbox: &mut Outbox) {
    ui.set_min_width(240.0);
    for spec in ACTIONS.iter().filter(|spec| spec.menu == menu) {
        let what = match spec.action {
            Action::Undo => view.session.undo_label(),
            Action::Redo => view.session.redo_label(),
            Action::Appearance => Some(match appearance {
                Appearance::AsSystem => "as the desktop",
                Appearance::Light => "light",
                Appearance::Dark => "dark",
            }),
            _ => None,
        };
        let label = what.map_or_else(|| spec.label.to_owned(), |what| format!("{}: {what}", spec.label));
        let button = Button::new(label).shortcut_text(view.keys.words(spec.action));
        let response = ui.add_enabled((spec.enabled)(view), button).on_hover_text(spec.hover);
        if response.clicked() {
            outbox.send(Command::Do(spec.action));
            ui.close();
        }
        if matches!(
            spec.action,
            Action::OpenSample | Action::AddFilm | Action::Redo | Action::PreviousCandidate
        ) || matches!(spec.action, Action::Report | Action::SwapInPlace)
        {
            ui.separator();
        }
    }
}

/// A button that does an action, with its hover text and key.
pub fn action_button(ui: &mut Ui, view: &View<'_>, action: Action, words: &str, outbox: &mut Outbox) {
    let spec = action.spec();
    let response = ui.add_enabled((spec.enabled)(view), Button::new(words));
    response.widget_info(|| WidgetInfo::labeled(egui::Role::Button, (spec.enabled)(view), spec.label));
    if response.on_hover_text(view.keys.hover(action)).clicked() {
        outbox.send(Command::Do(action));
    }
}

/// The two films on the bench and the pages.
pub fn bench_bar(ui: &mut Ui, page: PageId, view: &View<'_>, outbox: &mut Outbox) {
    ui.horizontal(|ui| {
        bench(ui, view, outbox);
        ui.with_layout(Layout::right_to_left(Align::Center), |ui| {
            ui.spacing_mut().item_spacing.x = 0.0;
            for id in PageId::ALL.into_iter().rev() {
                page_word(ui, id, id == page, view, outbox);
            }
        });
    });
}

fn page_word(ui: &mut Ui, id: PageId, shown: bool, view: &View<'_>, outbox: &mut Outbox) {
    let tokens = Tokens::get(ui);
    // The width of the word with emphasis, so that nothing moves when another page is shown.
    let galley = |font, color| ui.painter().layout_no_wrap(id.word().to_owned(), font, color);
    let (plain, strong) = (galley(fonts::body(), tokens.ink), galley(fonts::body_strong(), tokens.ink));
    let (rect, response) = ui.allocate_exact_size(vec2(strong.size().x + 16.0, 32.0), Sense::click());
    response.widget_info(|| WidgetInfo::selected(egui::Role::Tab, true, shown, id.word()));
    let galley = if shown { strong } else { plain };
    ui.painter().galley(rect.center() - galley.size() / 2.0, galley, tokens.ink);
    if shown || response.hovered() || response.has_focus() {
        let color = if shown { tokens.ink } else { tokens.edge };
        ui.painter().hline(rect.x_range().shrink(8.0), rect.bottom() - 1.0, egui::Stroke::new(2.0, color));
    }
    if response.on_hover_text(view.keys.hover(Action::page(id))).clicked() {
        outbox.send(Command::Page(id));
    }
}

fn bench(ui: &mut Ui, view: &View<'_>, outbox: &mut Outbox) {
    let Some(reference) = view.reference else {
        ui.label(RichText::new("No reference film yet").color(Tokens::get(ui).muted));
        return;
    };
    widgets::film_sign(ui, Role::Reference);
    ui.add(egui::Label::new(fonts::strong(&reference.label)).truncate())
        .on_hover_text(format!("{}: the reference film, that all are compared with", reference.label));
    ui.label(RichText::new("against").color(Tokens::get(ui).muted));
    step_button(ui, view, Action::PreviousCandidate, false, outbox);
    widgets::film_sign(ui, Role::Candidate);
    let shown = view.candidate.map_or("no candidate yet", |film| film.label.as_str());
    let combo =
        ComboBox::from_id_salt("candidate").width(150.0).truncate().selected_text(fonts::strong(shown));
    let response = combo.show_ui(ui, |ui| {
        for film in view.series.candidates() {
            let chosen = view.candidate.is_some_and(|candidate| candidate.id == film.id);
            if ui.selectable_label(chosen, &film.label).clicked() {
                outbox.send(Command::Candidate(film.id.clone()));
            }
        }
    });
    response
        .response
        .widget_info(|| WidgetInfo::labeled(egui::Role::ComboBox, true, format!("Candidate: {shown}")));
    response.response.on_hover_text("The candidate on the bench");
    step_button(ui, view, Action::NextCandidate, true, outbox);
}

fn step_button(ui: &mut Ui, view: &View<'_>, action: Action, forward: bool, outbox: &mut Outbox) {
    let enabled = (action.spec().enabled)(view);
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
