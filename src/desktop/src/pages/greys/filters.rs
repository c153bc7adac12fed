//! Which filter on the candidate brings it nearest to the reference, under which light, and what stays different.

use egui::Ui;
use twinwedge_workbench::core::compare::{format, greys as words};
use twinwedge_workbench::core::document::Film;
use twinwedge_workbench::core::greys::filters::Choice;
use twinwedge_workbench::core::measured::Value;
use twinwedge_workbench::engine::ask::{FilterAdvice, FiltersOf};

use super::target;
use crate::appearance::table::{self, Column, NumberCell, Table};
use crate::appearance::widgets;
use crate::outbox::Outbox;
use crate::pages::View;

/// What the part keeps.
#[derive(Debug, Default)]
pub(super) struct Filters {
    /// Number of the light.
    light: usize,
    /// The choice that is read, by its place in the table.
    row: usize,
}

impl Filters {
    pub(super) fn ui(&mut self, ui: &mut Ui, view: &View<'_>, candidate: &Film, outbox: &mut Outbox) {
        target::bar(ui, view, outbox);
        ui.add_space(4.0);
        let slot = view.session.peek(&FiltersOf { film: candidate.id.clone() });
        widgets::slot(ui, &slot, &format!("Choosing filters for {}", candidate.label), |ui, advice| {
            self.show(ui, advice, &names(view));
        });
    }

    fn of_light<'a>(&mut self, advice: &'a FilterAdvice) -> Vec<&'a Choice> {
        self.light = self.light.min(advice.lights.len().saturating_sub(1));
        advice.choices.iter().filter(|choice| choice.light == self.light).collect()
    }

    fn show(&mut self, ui: &mut Ui, advice: &FilterAdvice, names: &[&str]) {
        let lights: Vec<(usize, &str, &str)> = advice
            .lights
            .iter()
            .enumerate()
            .map(|(number, light)| (number, light.as_str(), "Both films are taken under this light"))
            .collect();
        ui.horizontal_wrapped(|ui| widgets::choice(ui, "Under", &mut self.light, &lights));
        ui.add_space(4.0);
        let choices = self.of_light(advice);
        let columns = [
            Column::text("Filter on the candidate", 180.0).hover("By its standard number, and its colour"),
            Column::measured("Left, stops", 148.0)
                .hover("Root of the mean squared difference of all patches that is left; what their errors add is in it"),
            Column::number("Factor, stops", 104.0).hover("How much more exposure the candidate needs behind it"),
            Column::text("Against the nearest", 140.0).hover("Whether it is told from the nearest of this light"),
            Column::text("Stays different", 200.0).growing(1.0).hover("Patches whose difference is beyond doubt for all together"),
        ];
        let selected = (self.row < choices.len()).then_some(self.row);
        let table = Table { selected, press: true, ..Table::new("filters", &columns, choices.len()) };
        let height = ui.available_height() - 44.0;
        let pressed = Table { height, ..table }.show(
            ui,
            |row| filter(advice, choices[row]),
            |ui, row, column| {
                let choice = choices[row];
                let name = filter(advice, choice);
                match column {
                    0 => {
                        table::text_cell(ui, &name);
                    }
                    1 => {
                        let value = Value::Known(choice.distance.plain());
                        table::number_cell(ui, &NumberCell::value(format!("Left with {name}"), &value, 2));
                    }
                    2 => {
                        let text = choice
                            .factor
                            .map_or_else(|| "–".to_owned(), |factor| format::number(factor.stops, 1));
                        table::number_cell(ui, &NumberCell::plain(format!("Factor of {name}"), text, 1));
                    }
                    3 if row == 0 => {
                        table::text_cell(ui, "the nearest");
                    }
                    3 if choice.as_good => {
                        table::muted_cell(ui, "not distinguishable");
                    }
                    3 => {
                        table::text_cell(ui, "farther");
                    }
                    _ => {
                        table::muted_cell(ui, &stays(choice, names));
                    }
                }
            },
        );
        if let Some(row) = pressed.row {
            self.row = row;
        }
        widgets::footnote(
            ui,
            "Predicted from both sensitivities. A starting point: try it on film before you rely on it.",
        );
    }

    /// What stays different with the choice that is selected.
    pub(super) fn readout(&mut self, ui: &mut Ui, view: &View<'_>, candidate: &Film) {
        let slot = view.session.peek(&FiltersOf { film: candidate.id.clone() });
        let Some(advice) = slot.value() else { return };
        let choices = self.of_light(advice);
        let Some(choice) = choices.get(self.row).or_else(|| choices.first()) else { return };
        widgets::section(ui, &widgets::capital(&filter(advice, choice)));
        let names = names(view);
        for left in &choice.left {
            let name = names.get(left.patch).copied().unwrap_or_default();
            let label = if left.stays { format!("{name}, stays different") } else { name.to_owned() };
            let hover = "How much lighter the candidate renders it through the filter, in stops";
            widgets::value_row(ui, &label, &words::stops(&left.difference), hover);
        }
    }
}

fn names<'a>(view: &View<'a>) -> Vec<&'a str> {
    view.series.layout.iter().flat_map(|layout| &layout.patches).map(|patch| patch.name.as_str()).collect()
}

fn filter(advice: &FilterAdvice, choice: &Choice) -> String {
    let number = choice.filter.and_then(|number| advice.filters.get(number));
    number.map_or_else(|| "no filter".to_owned(), |number| words::numbered(*number))
}

fn stays(choice: &Choice, names: &[&str]) -> String {
    let stays: Vec<&str> = choice
        .left
        .iter()
        .filter(|left| left.stays)
        .filter_map(|left| names.get(left.patch).copied())
        .collect();
    if stays.is_empty() { "nothing that is distinguishable".to_owned() } else { stays.join("; ") }
}
