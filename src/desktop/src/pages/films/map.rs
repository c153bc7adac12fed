//! All films by two of their figures, speed over granularity first.

use std::collections::{BTreeMap, BTreeSet};

use egui::{ComboBox, Ui, WidgetInfo};

use twinwedge_workbench::core::document::{Film, FilmId};
use twinwedge_workbench::core::drawing::{MapAxis, Mapped, Role, map_plot};
use twinwedge_workbench::core::figures::{FigureId, registry, spec};
use twinwedge_workbench::core::measured::{Measured, Value};
use twinwedge_workbench::core::ranking::{Conclusion, Topic};
use twinwedge_workbench::core::shown::capital;
use twinwedge_workbench::engine::ask::{ConclusionsOf, FiguresOf};

use crate::appearance::{STEP, widgets};
use crate::pages::View;
use crate::plot::{self, PlotLook};

/// What an axis shows.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Shown {
    Topic(Topic),
    Figure(FigureId),
}

/// What the view keeps.
#[derive(Debug)]
pub(super) struct Map {
    axes: [Shown; 2],
}

impl Default for Map {
    fn default() -> Self {
        Self { axes: [Shown::Topic(Topic::Grain), Shown::Topic(Topic::Speed)] }
    }
}

impl Shown {
    fn name(self) -> String {
        match self {
            Self::Topic(topic) => capital(topic.name()),
            Self::Figure(id) => capital(spec(id).label),
        }
    }

    fn axis(self, unit: &str) -> MapAxis {
        let label = if unit.is_empty() { self.name() } else { format!("{}, {unit}", self.name()) };
        let lower_is_better = match self {
            Self::Topic(topic) => Some(topic.lowest_first()),
            Self::Figure(_) => None,
        };
        MapAxis { label, lower_is_better }
    }
}

/// What is known of all films, by film.
struct Known<'a> {
    films: Vec<&'a Film>,
    conclusions: &'a [Conclusion],
}

impl Known<'_> {
    /// Values by the number of the film, and their unit.
    fn values(&self, view: &View<'_>, shown: Shown) -> (BTreeMap<usize, Measured>, String) {
        match shown {
            Shown::Topic(topic) => {
                let found = self.conclusions.iter().find(|found| found.topic == topic);
                let rows = found.map(|found| &*found.films).unwrap_or_default();
                let unit = found.map_or_else(String::new, |found| found.unit.clone());
                (rows.iter().map(|row| (row.number, row.value)).collect(), unit)
            }
            Shown::Figure(id) => {
                let value = |film: &Film| {
                    let figures = view.session.peek(&FiguresOf { film: film.id.clone() });
                    let value = figures.value()?.figures.get(&id).cloned();
                    value.as_ref().and_then(Value::known).copied()
                };
                let values = self.films.iter().enumerate();
                (
                    values.filter_map(|(number, film)| Some((number, value(film)?))).collect(),
                    spec(id).unit.to_owned(),
                )
            }
        }
    }
}

impl Map {
    /// Shows the films of `passing`; answers which was pressed.
    pub(super) fn show(
        &mut self,
        ui: &mut Ui,
        view: &View<'_>,
        passing: &BTreeSet<&FilmId>,
    ) -> Option<FilmId> {
        let slot = view.session.peek(&ConclusionsOf);
        let mut pressed = None;
        widgets::slot(ui, &slot, "Putting all films in order", |ui, conclusions| {
            let known = Known { films: view.series.distinct_films().collect(), conclusions };
            self.fall_back(conclusions);
            ui.horizontal_wrapped(|ui| {
                self.choose(ui, 1, "Upwards", conclusions);
                self.choose(ui, 0, "Across", conclusions);
            });
            ui.add_space(STEP);
            let [(across, x_unit), (up, y_unit)] = self.axes.map(|shown| known.values(view, shown));
            let films: Vec<(usize, Mapped)> = across
                .iter()
                .filter_map(|(number, x)| {
                    let film = known.films.get(*number).filter(|film| passing.contains(&film.id))?;
                    let at = [*x, *up.get(number)?];
                    Some((*number, Mapped { label: film.label.clone(), role: role(view, film), at }))
                })
                .collect();
            if films.is_empty() {
                widgets::muted(ui, "No film has both figures.");
                return;
            }
            let wanted = known.films.iter().filter(|film| passing.contains(&film.id)).count();
            let missing = wanted - films.len();
            if missing > 0 {
                let word = if missing == 1 { "film has" } else { "films have" };
                widgets::muted(ui, &format!("{missing} {word} not both figures and stand not on the map."));
            }
            pressed = draw(ui, &films, &[self.axes[0].axis(&x_unit), self.axes[1].axis(&y_unit)])
                .and_then(|number| known.films.get(number))
                .map(|film| film.id.clone());
        });
        pressed
    }

    /// An axis whose topic no two films have shows the first that they have.
    fn fall_back(&mut self, conclusions: &[Conclusion]) {
        for which in [1, 0] {
            let there = |shown: Shown| match shown {
                Shown::Topic(topic) => conclusions.iter().any(|found| found.topic == topic),
                Shown::Figure(_) => true,
            };
            if !there(self.axes[which]) {
                let other = self.axes[1 - which];
                let mut topics = conclusions.iter().map(|found| Shown::Topic(found.topic));
                if let Some(first) = topics.find(|topic| *topic != other) {
                    self.axes[which] = first;
                }
            }
        }
    }

    fn choose(&mut self, ui: &mut Ui, which: usize, name: &str, conclusions: &[Conclusion]) {
        widgets::muted(ui, name);
        let shown = &mut self.axes[which];
        let combo = ComboBox::from_id_salt(("map", which)).width(220.0).selected_text(shown.name());
        let response = combo.show_ui(ui, |ui| {
            for found in conclusions {
                let topic = Shown::Topic(found.topic);
                ui.selectable_value(shown, topic, topic.name()).on_hover_text(found.topic.definition());
            }
            ui.separator();
            for figure in registry() {
                let option = Shown::Figure(figure.id);
                ui.selectable_value(shown, option, option.name()).on_hover_text(figure.definition);
            }
        });
        let spoken = format!("{name}: {}", shown.name());
        response.response.widget_info(|| WidgetInfo::labeled(egui::Role::ComboBox, true, &spoken));
    }
}

fn role(view: &View<'_>, film: &Film) -> Role {
    let is = |other: Option<&Film>| other.is_some_and(|other| other.id == film.id);
    match (is(view.reference), is(view.candidate)) {
        (true, _) => Role::Reference,
        (_, true) => Role::Candidate,
        _ => Role::Other,
    }
}

/// Draws the map; answers the number of the film whose mark was pressed.
fn draw(ui: &mut Ui, films: &[(usize, Mapped)], axes: &[MapAxis; 2]) -> Option<usize> {
    let mapped: Vec<Mapped> = films.iter().map(|(_, film)| film.clone()).collect();
    let plot = map_plot(&mapped, axes);
    let id = ui.scope_id().with("map of films");
    let look = PlotLook { free: true, ..PlotLook::new(id, ui.available_height().max(240.0)) };
    let shown = plot::show(ui, &plot, &look);
    let mark = shown.pressed?;
    // The mark was drawn at exactly these numbers.
    let is = |film: &Mapped| (0..2).all(|axis| film.at[axis].number().to_bits() == mark.at[axis].to_bits());
    films.iter().find(|(_, film)| is(film)).map(|(number, _)| *number)
}
