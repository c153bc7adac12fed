//! All films in order by one topic: which is first, and the place that each may have.

use std::collections::BTreeSet;

use egui::{Sense, Stroke, Ui, pos2, vec2};

use twinwedge_workbench::core::document::FilmId;
use twinwedge_workbench::core::ranking::{Conclusion, Ranked, Topic};
use twinwedge_workbench::engine::ask::ConclusionsOf;

use crate::appearance::table::{Column, Table};
use crate::appearance::{STEP, Tokens, fonts, widgets};
use crate::pages::View;

/// Columns: place, film, value, its picture.
const PICTURE: usize = 3;

/// Shows those of `passing`, each with its place among all films; answers which was pressed.
pub(super) fn show(
    ui: &mut Ui,
    view: &View<'_>,
    topic: &mut Topic,
    passing: &BTreeSet<&FilmId>,
) -> Option<FilmId> {
    let slot = view.session.peek(&ConclusionsOf);
    let mut pressed = None;
    widgets::slot(ui, &slot, "Putting all films in order", |ui, found| {
        let Some(conclusion) = found.iter().find(|found| found.topic == *topic).or(found.first()) else {
            widgets::muted(ui, "No figure is known of two films yet.");
            return;
        };
        *topic = conclusion.topic;
        let options: Vec<(Topic, &str, &str)> =
            found.iter().map(|found| (found.topic, found.topic.name(), found.topic.definition())).collect();
        ui.horizontal_wrapped(|ui| widgets::choice(ui, "Order by", topic, &options));
        ui.add_space(STEP);
        ui.add(egui::Label::new(fonts::strong(conclusion.sentence.to_string())).wrap());
        widgets::muted(ui, conclusion.topic.definition());
        for left in &conclusion.left_out {
            widgets::footnote(ui, &format!("{} is left out. {}", left.film, left.why));
        }
        ui.add_space(STEP);
        pressed = table(ui, view, conclusion, passing);
    });
    pressed
}

fn table(
    ui: &mut Ui,
    view: &View<'_>,
    conclusion: &Conclusion,
    passing: &BTreeSet<&FilmId>,
) -> Option<FilmId> {
    let films: Vec<_> = view.series.distinct_films().collect();
    let hover = "Its place from the first on. Where two are given it lies between them; all places hold together in 95 of 100 series";
    let columns = [
        Column::text("place", 84.0).hover(hover),
        Column::text("film", 170.0),
        Column::text(conclusion.topic.name(), 190.0).hover(conclusion.topic.definition()),
        Column::text("value and 95 % interval", 200.0)
            .growing(1.0)
            .hover("The dot is the value, the line its interval"),
    ];
    let id = |row: &Ranked| films.get(row.number).map(|film| &film.id);
    let passes = |row: &&Ranked| id(row).is_some_and(|id| passing.contains(id));
    let rows: Vec<&Ranked> = conclusion.films.iter().filter(passes).collect();
    let on_bench = view.candidate.map(|film| &film.id);
    let selected = rows.iter().position(|row| on_bench.is_some() && id(row) == on_bench);
    let range = range(&conclusion.films);
    let table = Table { selected, press: true, ..Table::new("order", &columns, rows.len()) };
    let words = |row: usize| {
        let film = rows[row];
        format!("{}, place {}, {}", film.film, film.told_place(), conclusion.told(film))
    };
    let pressed = table.show(ui, words, |ui, row, column| {
        let film = rows[row];
        match column {
            0 => drop(widgets::ellipsis(ui, film.told_place())),
            1 => drop(widgets::ellipsis(ui, &film.film)),
            PICTURE => picture(ui, film, range, conclusion.topic),
            _ => drop(widgets::ellipsis(ui, conclusion.told(film))),
        }
    });
    pressed.row.and_then(|row| rows.get(row)).and_then(|row| id(row)).cloned()
}

/// From the lowest to the highest end of all intervals.
fn range(rows: &[Ranked]) -> [f64; 2] {
    rows.iter().fold([f64::INFINITY, f64::NEG_INFINITY], |[low, high], row| {
        [low.min(row.value.low), high.max(row.value.high)]
    })
}

/// A dot with its interval, on one scale for all rows; a thin line at zero where values are differences.
fn picture(ui: &mut Ui, film: &Ranked, [low, high]: [f64; 2], topic: Topic) {
    let size = vec2(ui.available_width(), ui.available_height().max(12.0));
    let (rect, _) = ui.allocate_exact_size(size, Sense::hover());
    let inner = rect.shrink2(vec2(6.0, 0.0));
    let span = (high - low).max(f64::MIN_POSITIVE);
    #[expect(clippy::cast_possible_truncation, reason = "a place on the screen")]
    let x = |value: f64| inner.left() + ((value - low) / span).clamp(0.0, 1.0) as f32 * inner.width();
    let tokens = Tokens::get(ui);
    let painter = ui.painter();
    if matches!(topic, Topic::Speed | Topic::Box) && low < 0.0 && high > 0.0 {
        painter.vline(x(0.0), rect.y_range(), Stroke::new(1.0, tokens.line));
    }
    let (y, value) = (rect.center().y, &film.value);
    painter.hline(x(value.low)..=x(value.high), y, Stroke::new(1.5, tokens.muted));
    painter.circle_filled(pos2(x(value.number()), y), 4.0, tokens.ink);
}
