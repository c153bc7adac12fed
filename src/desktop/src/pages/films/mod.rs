//! Films: the series as a table, and the records of each film and of the series.

mod curves;
mod film;
mod filter;
mod map;
mod order;
mod record;
mod rows;
mod series;
mod several;

use std::collections::BTreeSet;

use egui::containers::menu::{MenuButton, MenuConfig};
use egui::{PopupCloseBehavior, Ui};

use twinwedge_workbench::core::document::{Film, FilmId};
use twinwedge_workbench::core::figures::{registry, spec};
use twinwedge_workbench::core::ranking::Topic;

use super::{Page, View};
use crate::actions::Action;
use crate::appearance::table::{Sort, Table};
use crate::appearance::{STEP, widgets};
use crate::outbox::{Command, Outbox};

/// What the page keeps.
#[derive(Debug, Default)]
pub struct Films {
    filter: String,
    sort: Option<Sort>,
    group: rows::Group,
    shown: Shown,
    topic: Topic,
    map: map::Map,
    /// Films whose record is changed together.
    marked: BTreeSet<FilmId>,
    /// The film whose record is open; the candidate on the bench where none was pressed.
    selected: Option<FilmId>,
    record: Record,
    /// The candidate of the last frame: a step to another one opens its record.
    candidate: Option<FilmId>,
    /// The row of the open record shall come into sight.
    reveal: bool,
}

/// How the films are laid out.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
enum Shown {
    /// With their figures and records.
    #[default]
    Table,
    /// By their curves, as small pictures on one scale.
    Curves,
    /// In order by one topic.
    Order,
    /// By two figures.
    Map,
}

const SHOWN: [(Shown, &str, &str); 4] = [
    (Shown::Table, "table", "All films with their figures; a press on a head sorts by it"),
    (
        Shown::Curves,
        "curves",
        "The curve of each film as a small picture on one scale, over the reference's, in the order of the table",
    ),
    (
        Shown::Order,
        "order",
        "Which film is the fastest, the finest, the sharpest ..., and the place that each may have",
    ),
    (Shown::Map, "map", "Any figure of all films against any other, speed against granularity first"),
];

/// Which record is open.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
enum Record {
    #[default]
    Film,
    Series,
}

impl Films {
    fn follow_bench(&mut self, view: &View<'_>) {
        let now = view.candidate.map(|film| film.id.clone());
        if self.candidate != now {
            self.candidate.clone_from(&now);
            self.selected = now;
            self.reveal = true;
        }
        self.marked.retain(|id| view.series.film(id).is_some());
        if self.selected.as_ref().is_some_and(|id| view.series.film(id).is_none()) {
            self.selected = None;
        }
    }

    fn shown<'a>(&self, view: &View<'a>) -> Option<&'a Film> {
        let chosen = self.selected.as_ref().and_then(|id| view.series.film(id));
        chosen.or(view.candidate).or(view.reference)
    }

    fn bar(&mut self, ui: &mut Ui, view: &View<'_>, passing: &[FilmId], outbox: &mut Outbox) {
        ui.horizontal_wrapped(|ui| {
            let hover = "Shows the films whose label, batch, format, process or notes hold these letters, or that meet a condition: \
                         granularity < 12 and speed > 1. Names of numbers are the heads of the table and all figures; speed is that \
                         against the reference, in stops. Numbers count by their values, whatever their uncertainty; a film whose number is not known does not pass";
            let field = egui::TextEdit::singleline(&mut self.filter)
                .hint_text("Filter")
                .desired_width((ui.available_width() - 690.0).clamp(160.0, 320.0))
                .min_size(egui::vec2(0.0, crate::appearance::CONTROL))
                .align(egui::Align2::LEFT_CENTER);
            let response = ui.add(field).on_hover_text(hover);
            widgets::name_it(&response, "Filter the films");
            if !self.filter.is_empty() && widgets::button(ui, "All films", "Takes the filter away").clicked()
            {
                self.filter.clear();
            }
            if widgets::button(ui, "Add film", &view.keys.hover(Action::AddFilm)).clicked() {
                outbox.send(Command::Do(Action::AddFilm));
            }
            if widgets::button(ui, "Take in a folder", &view.keys.hover(Action::TakeFolder)).clicked() {
                outbox.send(Command::Do(Action::TakeFolder));
            }
            let groups = [
                (rows::Group::Families, "families", "Rolls stand under their film"),
                (rows::Group::Format, "format", "Films of one format together"),
                (rows::Group::Developer, "developer", "Films of one developer together"),
                (rows::Group::Plain, "none", "One list"),
            ];
            // Elsewhere films have an order of their own.
            if self.shown == Shown::Table {
                widgets::choice(ui, "Group", &mut self.group, &groups);
                self.figures(ui, view, outbox);
            }
            let all = view.series.films.len();
            if all > 1 {
                let hover =
                    "Marks every film that the filter lets through: their records are then changed together";
                if widgets::button(ui, "Mark all", hover).clicked() {
                    self.marked = passing.iter().cloned().collect();
                }
            }
            let found = passing.len();
            let count = if found == all { format!("{all} films") } else { format!("{found} of {all} films") };
            widgets::muted(ui, &count);
        });
    }

    /// Which figures have a column.
    fn figures(&mut self, ui: &mut Ui, view: &View<'_>, outbox: &mut Outbox) {
        let config = MenuConfig::new().close_behavior(PopupCloseBehavior::CloseOnClickOutside);
        let (menu, _) = MenuButton::new("Columns").config(config).ui(ui, |ui| {
            let shown = rows::figures_shown(view);
            egui::ScrollArea::vertical().max_height(420.0).show(ui, |ui| {
                for figure in registry() {
                    let mut on = shown.contains(&figure.id);
                    if widgets::switch(ui, &mut on, &widgets::capital(figure.label), figure.definition) {
                        let key = figure.key.to_owned();
                        let others =
                            shown.iter().filter(|id| **id != figure.id).map(|id| spec(*id).key.to_owned());
                        outbox.send(Command::FilmFigures(others.chain(on.then_some(key)).collect()));
                        // Columns have other places now.
                        self.sort = None;
                    }
                }
            });
        });
        menu.on_hover_text("Which figures have a column in the table; kept for the next time");
    }

    /// The films that pass the filter, below what is typed to see fewer of them.
    fn passing<'a>(&mut self, ui: &mut Ui, view: &View<'a>, outbox: &mut Outbox) -> Vec<rows::Entry<'a>> {
        let filter = filter::Filter::read(&self.filter);
        let group = if self.shown == Shown::Table { self.group } else { rows::Group::Families };
        let lines = rows::entries(view, &filter, group, self.sort);
        let passing: Vec<FilmId> =
            lines.iter().filter_map(rows::Entry::film).map(|film| film.id.clone()).collect();
        self.bar(ui, view, &passing, outbox);
        if let Some(problem) = &filter.problem {
            widgets::muted(ui, problem);
        }
        ui.add_space(STEP);
        if lines.is_empty() {
            widgets::muted(ui, "No film passes the filter.");
        }
        lines
    }

    /// Films with their figures.
    fn table(&mut self, ui: &mut Ui, view: &View<'_>, lines: &[rows::Entry<'_>], outbox: &mut Outbox) {
        let columns = rows::columns(&rows::figures_shown(view));
        let shown = self.shown(view).map(|film| &film.id);
        let selected =
            lines.iter().position(|line| line.film().map(|film| &film.id) == shown && shown.is_some());
        let reveal = selected.filter(|_| std::mem::take(&mut self.reveal));
        let whole = Table::new("films", &columns, lines.len());
        let table = Table { selected, sort: self.sort, press: true, reveal, ..whole };
        let marked = &mut self.marked;
        let pressed = table.show(
            ui,
            |row| lines[row].words(),
            |ui, row, column| {
                if let Some(film) = lines[row].film().filter(|_| column == 0) {
                    mark(ui, film, marked);
                }
                lines[row].cell(ui, column);
            },
        );
        if let Some(column) = pressed.head {
            let falling = self.sort.is_some_and(|sort| sort.column == column && !sort.falling);
            self.sort = Some(Sort { column, falling });
        }
        if let Some(film) = pressed.row.and_then(|row| lines.get(row)).and_then(rows::Entry::film) {
            self.press(&film.id.clone(), view, outbox);
        }
    }

    fn press(&mut self, id: &FilmId, view: &View<'_>, outbox: &mut Outbox) {
        self.record = Record::Film;
        self.selected = Some(id.clone());
        if view.reference.is_none_or(|film| film.id != *id) {
            self.candidate = Some(id.clone());
            outbox.send(Command::Candidate(id.clone()));
        }
    }
}

/// The tick that marks a film, before its name.
fn mark(ui: &mut Ui, film: &Film, marked: &mut BTreeSet<FilmId>) {
    let mut on = marked.contains(&film.id);
    ui.spacing_mut().interact_size.y = 20.0;
    ui.spacing_mut().icon_width = 14.0;
    let response =
        ui.checkbox(&mut on, "").on_hover_text("Marks the film: records of marked films change together");
    let name = format!("Mark {}", film.label);
    response.widget_info(|| egui::WidgetInfo::selected(egui::Role::CheckBox, true, on, &name));
    if response.changed() {
        if on {
            marked.insert(film.id.clone());
        } else {
            marked.remove(&film.id);
        }
    }
}

impl Page for Films {
    fn ui(&mut self, ui: &mut Ui, view: &View<'_>, outbox: &mut Outbox) {
        self.follow_bench(view);
        if view.series.films.is_empty() {
            let why = "The series starts with the film that all others are compared with.";
            if widgets::empty(ui, "No film yet", why, "Add film") {
                outbox.send(Command::Do(Action::AddFilm));
            }
            ui.add_space(2.0 * STEP);
            let why = "Scans and tables of one film or of fifty: which file is what is told by what it shows and by its name, and \
                       asked about where that is doubtful. A folder can be dropped anywhere on the window, too.";
            if widgets::empty(ui, "A folder of scans", why, "Take in a folder") {
                outbox.send(Command::Do(Action::TakeFolder));
            }
            return;
        }
        if view.series.films.len() > 1 {
            ui.horizontal_wrapped(|ui| widgets::choice(ui, "Show as", &mut self.shown, &SHOWN));
        }
        let lines = self.passing(ui, view, outbox);
        if lines.is_empty() {
            return;
        }
        let films: Vec<&Film> = lines.iter().filter_map(rows::Entry::film).collect();
        let passing: BTreeSet<&FilmId> = films.iter().map(|film| &film.id).collect();
        let pressed = match self.shown {
            Shown::Table => return self.table(ui, view, &lines, outbox),
            Shown::Curves => curves::show(ui, view, &films).map(|film| film.id.clone()),
            Shown::Order => order::show(ui, view, &mut self.topic, &passing),
            Shown::Map => self.map.show(ui, view, &passing),
        };
        if let Some(film) = pressed {
            self.press(&film, view, outbox);
        }
    }

    fn readout(&mut self, ui: &mut Ui, view: &View<'_>, outbox: &mut Outbox) {
        self.follow_bench(view);
        widgets::choice(
            ui,
            "Record of",
            &mut self.record,
            &[
                (Record::Film, "the film", "Box, process, exposure and notes of the selected film"),
                (Record::Series, "the series", "Conditions that all films share, and how figures are taken"),
            ],
        );
        if self.record == Record::Film && self.marked.len() > 1 {
            let films: Vec<&Film> = self.marked.iter().filter_map(|id| view.series.film(id)).collect();
            if several::record(ui, &films, outbox) {
                self.marked.clear();
            }
            return;
        }
        match (self.record, self.shown(view)) {
            (Record::Film, Some(film)) => film::record(ui, film, view, outbox),
            (Record::Film, None) => {
                widgets::muted(ui, "No film is selected.");
            }
            (Record::Series, _) => series::record(ui, view.series, outbox),
        }
    }
}
