//! The table of films: what stands in each row, and how rows are sorted and filtered.

use std::cmp::Ordering;
use std::sync::Arc;

use egui::Ui;

use twinwedge_workbench::core::compare::{Comparison, FilmFigures, format};
use twinwedge_workbench::core::document::{Film, Process};
use twinwedge_workbench::core::drawing::Role;
use twinwedge_workbench::core::figures::{FigureId, spec};
use twinwedge_workbench::core::measured::Value;
use twinwedge_workbench::engine::Slot;
use twinwedge_workbench::engine::ask::{ComparisonOf, FiguresOf};

use crate::appearance::table::{self, Column, NumberCell, Sort};
use crate::appearance::widgets;
use crate::pages::View;

/// Figures with a column of their own, in order.
const FIGURES: [FigureId; 6] = [
    FigureId::BaseFog,
    FigureId::AverageGradient,
    FigureId::Gamma,
    FigureId::DMax,
    FigureId::Granularity,
    FigureId::ShadowMatchIndex,
];
/// Columns before the figures: film, box speed, speed against the reference.
const BEFORE: usize = 3;

/// One film's row.
#[derive(Debug)]
pub(super) struct Line<'a> {
    pub(super) film: &'a Film,
    role: Role,
    figures: Option<Arc<FilmFigures>>,
    comparison: Option<Arc<Comparison>>,
    waiting: bool,
    missing: String,
    process: String,
}

/// The rows that pass the filter, reference first, in the series' order.
pub(super) fn lines<'a>(view: &View<'a>, filter: &str) -> Vec<Line<'a>> {
    let wanted = filter.trim().to_lowercase();
    let series = view.series;
    series
        .reference_film()
        .into_iter()
        .chain(series.candidates())
        .filter(|film| wanted.is_empty() || letters(film).contains(&wanted))
        .map(|film| Line::of(film, view))
        .collect()
}

fn letters(film: &Film) -> String {
    let process = process(&film.process);
    format!("{}\n{}\n{}\n{process}\n{}", film.label, film.batch, film.format, film.notes).to_lowercase()
}

/// The head of the table.
pub(super) fn columns() -> Vec<Column<'static>> {
    let mut columns = vec![
        Column::text("Film", 168.0).growing(0.6).sortable().hover("Reference first, then the candidates"),
        Column::number("Box", 56.0).sortable().hover("Speed printed on the box, arithmetic"),
        Column::measured("Speed, stops", 148.0)
            .sortable()
            .hover("Speed against the reference by the speed point, in stops; more speed is positive"),
    ];
    columns.extend(FIGURES.map(|id| {
        let figure = spec(id);
        let title = match id {
            FigureId::ShadowMatchIndex => "Shadow match".to_owned(),
            FigureId::AverageGradient => "Average gradient".to_owned(),
            _ => widgets::capital(figure.label),
        };
        let hover =
            format!("{}: {}\n{}", widgets::capital(figure.label), figure.definition, figure.source.text);
        Column::measured(title, 148.0).sortable().hover(hover)
    }));
    columns.push(
        Column::text("Missing", 160.0)
            .growing(1.0)
            .sortable()
            .hover("What the series does not hold of this film"),
    );
    columns.push(
        Column::text("Process", 200.0)
            .growing(1.0)
            .sortable()
            .hover("Developer, dilution, temperature, time"),
    );
    columns.push(Column::text("Price", 88.0).growing(0.4).sortable().hover("Price of a roll as typed"));
    columns
}

/// What a row is sorted by.
enum SortKey {
    Text(String),
    Number(f64),
    Nothing,
}

/// Sorts rows; what has no value in the column stays at the end either way.
pub(super) fn sort(lines: &mut [Line<'_>], sort: Sort) {
    lines.sort_by_cached_key(|line| Ranked { key: line.key(sort.column), falling: sort.falling });
}

struct Ranked {
    key: SortKey,
    falling: bool,
}

impl Ord for Ranked {
    fn cmp(&self, other: &Self) -> Ordering {
        let order = match (&self.key, &other.key) {
            (SortKey::Nothing, SortKey::Nothing) => return Ordering::Equal,
            (SortKey::Nothing, _) => return Ordering::Greater,
            (_, SortKey::Nothing) => return Ordering::Less,
            (SortKey::Number(a), SortKey::Number(b)) => a.total_cmp(b),
            (SortKey::Text(a), SortKey::Text(b)) => a.cmp(b),
            (SortKey::Number(_), SortKey::Text(_)) => Ordering::Less,
            (SortKey::Text(_), SortKey::Number(_)) => Ordering::Greater,
        };
        if self.falling { order.reverse() } else { order }
    }
}

impl PartialOrd for Ranked {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}

impl PartialEq for Ranked {
    fn eq(&self, other: &Self) -> bool {
        self.cmp(other) == Ordering::Equal
    }
}

impl Eq for Ranked {}

impl<'a> Line<'a> {
    fn of(film: &'a Film, view: &View<'_>) -> Self {
        let is = |other: Option<&Film>| other.is_some_and(|other| other.id == film.id);
        let role = if is(view.reference) {
            Role::Reference
        } else if is(view.candidate) {
            Role::Candidate
        } else {
            Role::Other
        };
        let slot = view.session.peek(&FiguresOf { film: film.id.clone() });
        let comparison = (role != Role::Reference && view.reference.is_some())
            .then(|| view.session.peek(&ComparisonOf { film: film.id.clone() }));
        Self {
            film,
            role,
            figures: slot.value().cloned(),
            comparison: comparison.and_then(|slot| slot.value().cloned()),
            waiting: matches!(slot, Slot::Pending(_)),
            missing: missing(film).join(", "),
            process: process(&film.process),
        }
    }

    /// The row in words.
    pub(super) fn words(&self) -> String {
        let kind = match self.role {
            Role::Reference => "reference ",
            Role::Candidate => "candidate ",
            Role::Other | Role::Guide => "",
        };
        format!("{kind}{}", self.film.label)
    }

    fn figure(&self, id: FigureId) -> Option<&Value> {
        self.figures.as_ref()?.figures.get(&id)
    }

    /// Speed against the reference in stops.
    fn speed(&self) -> Option<(&Value, Option<bool>)> {
        let row = self.comparison.as_ref()?.rows.iter().find(|row| row.figure == FigureId::SpeedPoint)?;
        Some((&row.difference, row.distinguishable))
    }

    fn key(&self, column: usize) -> SortKey {
        let text = |text: &str| {
            if text.is_empty() { SortKey::Nothing } else { SortKey::Text(text.to_lowercase()) }
        };
        let number = |value: Option<f64>| value.map_or(SortKey::Nothing, SortKey::Number);
        let known = |value: Option<&Value>| number(value.and_then(Value::known).map(|known| known.value));
        match column {
            0 => text(&self.film.label),
            1 => number(self.film.box_speed),
            2 => known(self.speed().map(|(value, _)| value)),
            column if column < BEFORE + FIGURES.len() => known(self.figure(FIGURES[column - BEFORE])),
            column if column == BEFORE + FIGURES.len() => text(&self.missing),
            column if column == BEFORE + FIGURES.len() + 1 => text(&self.process),
            _ => text(&self.film.price),
        }
    }

    /// Fills one cell.
    pub(super) fn cell(&self, ui: &mut Ui, column: usize) {
        let label = &self.film.label;
        match column {
            0 => {
                widgets::film_sign(ui, self.role);
                widgets::ellipsis(ui, label.as_str()).on_hover_text(format!(
                    "{}\n{}",
                    self.words(),
                    self.film.notes
                ));
            }
            1 => {
                let speed =
                    self.film.box_speed.map_or_else(|| "–".to_owned(), |speed| format::number(speed, 0));
                let cell = NumberCell::plain(format!("Box speed of {label}"), speed, 0);
                table::number_cell(ui, &NumberCell { grey: self.film.box_speed.is_none(), ..cell });
            }
            2 if self.role == Role::Reference => {
                table::number_cell(ui, &dash("Speed against the reference", "It is the reference.", 2));
            }
            2 => {
                let name = format!("Speed of {label} against the reference");
                match self.speed() {
                    Some((value, judged)) => {
                        table::number_cell(ui, &NumberCell::difference(name, value, 2, judged));
                    }
                    None => {
                        table::number_cell(ui, &dash(&name, self.why_not(), 2));
                    }
                }
            }
            column if column < BEFORE + FIGURES.len() => self.figure_cell(ui, FIGURES[column - BEFORE]),
            column if column == BEFORE + FIGURES.len() => {
                table::muted_cell(ui, &self.missing);
            }
            column if column == BEFORE + FIGURES.len() + 1 => {
                table::text_cell(ui, &self.process);
            }
            _ => {
                table::text_cell(ui, &self.film.price);
            }
        }
    }

    fn figure_cell(&self, ui: &mut Ui, id: FigureId) {
        let figure = spec(id);
        let name = format!("{} of {}", widgets::capital(figure.label), self.film.label);
        match self.figure(id) {
            Some(value) => table::number_cell(ui, &NumberCell::value(name, value, figure.decimals)),
            None => table::number_cell(ui, &dash(&name, self.why_not(), figure.decimals)),
        };
    }

    fn why_not(&self) -> &'static str {
        if self.waiting { "Being computed." } else { "Not to be had yet." }
    }
}

fn dash<'a>(name: &'a str, why: &'a str, decimals: usize) -> NumberCell<'a> {
    static NOTHING: Value = Value::Undefined(String::new());
    NumberCell { hover: why.into(), ..NumberCell::value(name, &NOTHING, decimals) }
}

/// What the series does not hold of a film, in words.
pub(super) fn missing(film: &Film) -> Vec<&'static str> {
    let lacks = [
        (film.readings.is_none(), "readings"),
        (film.readings.is_some() && film.tablet_exposure.is_none(), "tablet"),
        (film.box_speed.is_none(), "box speed"),
        (film.bracket.as_ref().is_none_or(|bracket| bracket.frames.is_empty()), "bracket"),
        (film.print.is_none(), "print"),
        (film.grain.is_none(), "grain area"),
    ];
    lacks.into_iter().filter(|(lacks, _)| *lacks).map(|(_, word)| word).collect()
}

/// A process on one line.
fn process(process: &Process) -> String {
    let mut parts = Vec::new();
    let name = format!("{} {}", process.developer, process.dilution);
    if !name.trim().is_empty() {
        parts.push(name.trim().to_owned());
    }
    parts.extend(process.temperature_c.map(|degrees| format!("{} °C", widgets::plain(degrees))));
    parts.extend(process.minutes.map(|minutes| format!("{} min", widgets::plain(minutes))));
    parts.join(", ")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_has_no_value_stays_at_the_end() {
        let ranked = |key, falling| Ranked { key, falling };
        for falling in [false, true] {
            let nothing = ranked(SortKey::Nothing, falling);
            assert!(ranked(SortKey::Number(1.0), falling) < nothing);
            assert_eq!(
                ranked(SortKey::Number(1.0), falling) < ranked(SortKey::Number(2.0), falling),
                !falling
            );
        }
    }

    #[test]
    fn a_process_stands_on_one_line() {
        let full = Process {
            developer: "Curlew".into(),
            dilution: "1+9".into(),
            temperature_c: Some(20.0),
            minutes: Some(8.5),
            agitation: String::new(),
        };
        assert_eq!(process(&full), "Curlew 1+9, 20 °C, 8.5 min");
        assert_eq!(process(&Process::default()), "");
    }
}
