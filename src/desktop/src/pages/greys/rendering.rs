//! Each patch as the grey that it becomes on either film, halves touching, beside its difference with its interval.

use egui::{Rect, Stroke, Ui, pos2, vec2};
use twinwedge_workbench::core::compare::{format, greys as words};
use twinwedge_workbench::core::document::Film;
use twinwedge_workbench::core::drawing::{GreyRow, greys_picture};
use twinwedge_workbench::core::greys::colour::Family;
use twinwedge_workbench::core::greys::pair::GreysPair;
use twinwedge_workbench::core::greys::rendering::Rendered;
use twinwedge_workbench::core::greys::stops::Route;
use twinwedge_workbench::core::measured::{Measured, Value};
use twinwedge_workbench::core::units::Stops;
use twinwedge_workbench::engine::ask::RenderingOf;

use crate::appearance::comparison::{self, Line};
use crate::appearance::table::{self, Column, NumberCell, Table};
use crate::appearance::{Tokens, over, widgets};
use crate::origin::On;
use crate::outbox::{Command, Outbox};
use crate::pages::{PageId, Selected, View};

pub(super) fn ui(ui: &mut Ui, view: &View<'_>, candidate: &Film, outbox: &mut Outbox) {
    let slot = view.session.peek(&RenderingOf { film: candidate.id.clone() });
    widgets::slot(ui, &slot, &format!("Comparing the greys of {}", candidate.label), |ui, pair| {
        if pair.route() == Route::Bare {
            closed(ui, pair, outbox);
        } else {
            show(ui, pair, view, outbox);
        }
    });
}

/// Why nothing is said of colours, and what would open the way.
fn closed(ui: &mut Ui, pair: &GreysPair, outbox: &mut Outbox) {
    let why = "Enter the known densities of four or more neutral patches on the Prints page, or test the paper on the Tones \
               page and enter the seconds of each print.";
    if widgets::empty(ui, "Colours cannot be told from print densities alone", why, "Go to Prints") {
        outbox.send(Command::Page(PageId::Prints));
    }
    for (way, reason) in pair.reference.closed.iter().chain(&pair.candidate.closed) {
        widgets::footnote(ui, &words::closed(*way, *reason));
    }
}

fn value(stops: Option<&Measured<Stops>>, why: &str) -> Value {
    stops.map_or_else(|| Value::Undefined(why.into()), |stops| Value::Known(stops.plain()))
}

fn told(row: &GreyRow) -> bool {
    matches!(row.rendered, Rendered::Lighter | Rendered::Darker)
}

fn show(ui: &mut Ui, pair: &GreysPair, view: &View<'_>, outbox: &mut Outbox) {
    let picture = greys_picture(pair);
    let columns = [
        Column::text("Patch", 112.0).hover("As named in the patch grid"),
        Column::text("As grey", 84.0)
            .hover("The grey that the patch becomes: left on the reference, right on the candidate, both against the grey card"),
        Column::number("Reference", 88.0).hover("Stops from the grey card on the reference"),
        Column::number("Candidate", 88.0).hover("Stops from the grey card on the candidate"),
        Column::measured("Difference", 148.0).hover("How much lighter the candidate renders it, in stops"),
        Column::text("Darker  |  lighter", 160.0)
            .growing(1.0)
            .hover("The difference with its 95 % interval; filled where it is beyond doubt for all patches together"),
        Column::text("It is", 144.0).hover("What is said of it"),
    ];
    let selected = match view.selected {
        Selected::Patch(patch) => picture.rows.iter().position(|row| row.patch == patch),
        _ => None,
    };
    let table = Table { selected, press: true, ..Table::new("greys", &columns, picture.rows.len()) };
    let height = ui.available_height() - 64.0;
    let pressed = Table { height, ..table }.show(
        ui,
        |row| picture.rows[row].name.clone(),
        |ui, row, column| {
            let row = &picture.rows[row];
            let name = &row.name;
            let number = |ui: &mut Ui, which: usize, whose: &str| {
                let value = value(row.stops[which].as_ref(), &row.words);
                table::number_cell(
                    ui,
                    &NumberCell::difference(format!("{name} on the {whose}"), &value, 2, Some(true)).alone(),
                );
            };
            match column {
                0 => {
                    table::text_cell(ui, name);
                }
                1 => halves(ui, row),
                2 => number(ui, 0, "reference"),
                3 => number(ui, 1, "candidate"),
                4 => {
                    let value = value(row.difference.as_ref(), &row.words);
                    let cell =
                        NumberCell::difference(format!("Difference of {name}"), &value, 2, Some(told(row)));
                    table::number_cell(ui, &cell);
                }
                5 => interval(ui, row, picture.reach),
                _ if told(row) => {
                    table::text_cell(ui, &row.words);
                }
                _ => {
                    table::muted_cell(ui, &row.words);
                }
            }
        },
    );
    if let Some(row) = pressed.row {
        outbox.send(Command::Select(Selected::Patch(picture.rows[row].patch)));
    }
    ui.add_space(4.0);
    widgets::footnote(ui, &format!("Stops stand {}. {}", words::route(pair.route()), picture.caption));
}

/// The patch on both films, halves touching, before the mid grey that prints are judged against.
fn halves(ui: &Ui, row: &GreyRow) {
    let place = ui.max_rect().shrink2(vec2(0.0, 1.0));
    ui.painter().rect_filled(place, 0.0, over::surround(0.47));
    let inner = place.shrink2(vec2(4.0, 2.0));
    let middle = inner.center().x;
    for (film, code) in row.tones.iter().enumerate() {
        let Some(code) = code else { continue };
        let (left, right) = if film == 0 { (inner.left(), middle) } else { (middle, inner.right()) };
        let half = Rect::from_min_max(pos2(left, inner.top()), pos2(right, inner.bottom()));
        ui.painter().rect_filled(half, 0.0, over::grey(*code));
    }
}

/// The difference as a dot with its interval about the middle line.
fn interval(ui: &Ui, row: &GreyRow, reach: f64) {
    let tokens = Tokens::get(ui);
    let whole = ui.max_rect();
    let place = whole.shrink2(vec2(6.0, 0.0));
    ui.painter().vline(place.center().x, whole.y_range(), Stroke::new(1.0, tokens.edge));
    let Some(difference) = &row.difference else { return };
    #[expect(clippy::cast_possible_truncation, reason = "a place on the screen")]
    let at =
        |stops: f64| place.center().x + (stops.clamp(-reach, reach) / reach) as f32 * place.width() / 2.0;
    let color = if told(row) { tokens.ink } else { tokens.muted };
    let y = place.center().y;
    let stroke = Stroke::new(1.5, color);
    let (low, high) = (at(difference.low), at(difference.high));
    ui.painter().hline(low..=high, y, stroke);
    for x in [low, high] {
        ui.painter().vline(x, y - 4.0..=y + 4.0, stroke);
    }
    let dot = pos2(at(difference.number()), y);
    if told(row) {
        ui.painter().circle_filled(dot, 4.0, color);
    } else {
        ui.painter().circle(dot, 4.0, ui.visuals().panel_fill, stroke);
    }
}

/// Families of colours, the selected patch, and what speaks against both.
pub(super) fn readout(ui: &mut Ui, view: &View<'_>, candidate: &Film) {
    let slot = view.session.peek(&RenderingOf { film: candidate.id.clone() });
    let Some(pair) = slot.value() else { return };
    if pair.route() == Route::Bare {
        return;
    }
    if let Selected::Patch(patch) = view.selected
        && let Some(row) = greys_picture(pair).rows.iter().find(|row| row.patch == patch)
    {
        selected(ui, row);
    } else {
        widgets::muted(ui, "Press a patch to read it here.");
    }
    widgets::section(ui, "Families of colours");
    for row in pair.rendering.families.iter().filter(|row| row.family != Family::Neutral) {
        let said = words::rendered(row.rendered);
        let label = format!("{}, {said}", widgets::capital(row.family.words()));
        let names: Vec<&str> =
            row.patches.iter().filter_map(|patch| pair.names.get(*patch).map(String::as_str)).collect();
        let hover = format!(
            "How much lighter the candidate renders them, in stops: the mean of {}",
            names.join("; ")
        );
        widgets::value_row(ui, &label, &words::stops(&row.difference), &hover);
    }
    for (found, label) in [
        (&pair.reference, view.reference.map_or("reference", |film| film.label.as_str())),
        (&pair.candidate, candidate.label.as_str()),
    ] {
        for doubt in words::doubts(found, &pair.names) {
            widgets::footnote(ui, &format!("{label}: {doubt}"));
        }
    }
    widgets::footnote(ui, format::INTERVAL_NOTE);
}

fn selected(ui: &mut Ui, row: &GreyRow) {
    widgets::section(ui, &row.name);
    comparison::head(ui);
    let values = [0, 1].map(|film: usize| value(row.stops[film].as_ref(), &row.words));
    let difference = value(row.difference.as_ref(), &row.words);
    let line = Line {
        label: "From the grey card".into(),
        unit: "stops",
        about: "Exposure that the film received, against that of the grey card".to_owned(),
        reference: Some(&values[0]),
        candidate: Some(&values[1]),
        difference: row.difference.is_some().then_some(&difference),
        difference_unit: "stops",
        distinguishable: row.difference.is_some().then(|| told(row)),
        decimals: 2,
        on: On::Patches,
    };
    comparison::line(ui, &line);
    widgets::footnote(ui, &format!("The candidate renders it: {}.", row.words));
}
