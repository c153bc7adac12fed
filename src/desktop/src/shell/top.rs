//! The top bar: menus, name of the series, what is in doubt, search.

use egui::{Align, Button, Layout, MenuBar, RichText, Ui, WidgetInfo};
use twinwedge_workbench::intake::Purpose;

use crate::actions::{ACTIONS, Action, Menu};
use crate::appearance::{Tokens, fonts};
use crate::outbox::{Command, Outbox};
use crate::pages::View;
use crate::settings::{Appearance, Settings};

/// Menus, name of the series, search.
pub fn series_bar(ui: &mut Ui, view: &View<'_>, settings: &Settings, outbox: &mut Outbox) {
    MenuBar::new().ui(ui, |ui| {
        for menu in Menu::ALL {
            let button = ui.menu_button(menu.word(), |ui| menu_items(ui, menu, view, settings, outbox));
            button.response.on_hover_text(format!("The menu '{}'", menu.word()));
        }
        ui.add_space(8.0);
        ui.with_layout(Layout::right_to_left(Align::Center), |ui| {
            action_button(ui, view, Action::Keys, "?", outbox);
            action_button(ui, view, Action::Search, "Search", outbox);
            super::status::problems(ui, view, outbox);
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

fn menu_items(ui: &mut Ui, menu: Menu, view: &View<'_>, settings: &Settings, outbox: &mut Outbox) {
    ui.set_min_width(240.0);
    for spec in ACTIONS.iter().filter(|spec| spec.menu == menu) {
        let what = match spec.action {
            Action::Undo => view.session.undo_label(),
            Action::Redo => view.session.redo_label(),
            Action::Appearance => Some(match settings.appearance {
                Appearance::AsSystem => "as the desktop",
                Appearance::Light => "light",
                Appearance::Dark => "dark",
            }),
            _ => None,
        };
        let label = what.map_or_else(|| spec.label.to_owned(), |what| format!("{}: {what}", spec.label));
        let key = view.keys.words(spec.action);
        let button = if key.is_empty() { Button::new(label) } else { Button::new(label).shortcut_text(key) };
        let response = ui.add_enabled(view.allows(spec), button).on_hover_text(spec.hover);
        if response.clicked() {
            outbox.send(Command::Do(spec.action));
            ui.close();
        }
        if spec.action == Action::Open {
            recent(ui, view, settings, outbox);
        }
        if matches!(
            spec.action,
            Action::OpenFifty | Action::AddFilm | Action::Redo | Action::PreviousCandidate
        ) || matches!(spec.action, Action::Report | Action::SwapInPlace | Action::FilmList)
        {
            ui.separator();
        }
    }
}

/// The series that were open before this one, by name, with their folders.
fn recent(ui: &mut Ui, view: &View<'_>, settings: &Settings, outbox: &mut Outbox) {
    let others: Vec<_> =
        settings.recent.iter().filter(|path| Some(path.as_path()) != view.session.path()).collect();
    ui.add_enabled_ui(!others.is_empty(), |ui| {
        ui.menu_button("Open recent", |ui| {
            for path in others {
                let name = path.file_stem().unwrap_or(path.as_os_str()).display().to_string();
                if ui.button(name).on_hover_text(path.display().to_string()).clicked() {
                    outbox.send(Command::Take(Purpose::Series.into(), path.clone()));
                    ui.close();
                }
            }
        })
        .response
        .on_hover_text("Series that were open before");
    });
}

/// A button that does an action, with its hover text and key.
pub fn action_button(ui: &mut Ui, view: &View<'_>, action: Action, words: &str, outbox: &mut Outbox) {
    let spec = action.spec();
    let response = ui.add_enabled(view.allows(spec), Button::new(words));
    response.widget_info(|| WidgetInfo::labeled(egui::Role::Button, view.allows(spec), spec.label));
    if response.on_hover_text(view.keys.hover(action)).clicked() {
        outbox.send(Command::Do(action));
    }
}
