//! The steps of both films in one table: reference, candidate, difference.

use egui::Ui;
use twinwedge_workbench::core::compare::format;
use twinwedge_workbench::core::curve::{Reading, Readings};
use twinwedge_workbench::core::document::{Film, ReadingsSource};
use twinwedge_workbench::core::tablet::find::Order;
use twinwedge_workbench::edits::named;
use twinwedge_workbench::engine::ask::ReadingsOf;
use twinwedge_workbench::engine::{Slot, ask::CurveOf};

use super::found::{self, Placed};
use super::strip::DOUBTFUL;
use crate::appearance::table::{Column, NumberCell, Table, number_cell};
use crate::appearance::{fonts, widgets};
use crate::outbox::{Command, Outbox};
use crate::pages::{Selected, View, sampling, scan_trust};

/// The table, and the selected step in words.
pub(super) fn steps(ui: &mut Ui, view: &View<'_>, strips: [usize; 2], outbox: &mut Outbox) {
    let reference = readings(view, view.reference, strips[0]);
    let candidate = readings(view, view.candidate, strips[1]);
    ui.heading("Step densities");
    widgets::footnote(ui, format::INTERVAL_NOTE);
    problems(ui, view, [view.reference, view.candidate]);
    scan_trust::strips(ui, view, outbox);
    for (film, strip) in [view.reference, view.candidate].into_iter().zip(strips) {
        doubts(ui, view, film, strip);
    }
    let step = match view.selected {
        Selected::Step(step) => Some(step),
        _ => None,
    };
    if let Some(step) = step {
        for (film, readings) in [(view.reference, &reference), (view.candidate, &candidate)] {
            let read = readings.as_ref().zip(find(readings.as_ref(), step));
            if let (Some(film), Some((readings, reading))) = (film, read) {
                about(ui, film, readings, reading);
            }
        }
    }
    let count = [&reference, &candidate]
        .into_iter()
        .flatten()
        .flat_map(|readings| readings.points.iter().map(|point| point.step))
        .max()
        .unwrap_or(0);
    if count == 0 {
        widgets::muted(ui, "No step densities yet.");
        return;
    }
    table(ui, view, [reference.as_ref(), candidate.as_ref()], step, count, outbox);
}

fn table(
    ui: &mut Ui,
    view: &View<'_>,
    films: [Option<&Readings>; 2],
    step: Option<u32>,
    count: u32,
    outbox: &mut Outbox,
) {
    let columns = [
        Column::number("Step", 44.0)
            .hover("Step of the tablet; a question mark stands where a step is doubtful"),
        Column::number("Ref.", 72.0).growing(1.0).hover("Density of the reference"),
        Column::number("Cand.", 72.0).growing(1.0).hover("Density of the candidate"),
        Column::number("Diff.", 72.0)
            .growing(1.0)
            .hover("Candidate minus reference; grey where it is not distinguishable"),
    ];
    let mut table = Table::new("Step densities of both films", &columns, count as usize);
    table.selected = step.map(|step| step as usize - 1);
    table.press = true;
    table.height = ui.available_height().max(240.0);
    let pressed = table.show(
        ui,
        |row| format!("Step {}", row + 1),
        |ui, row, column| {
            let step = row as u32 + 1;
            let both = films.map(|readings| find(readings, step));
            match column {
                0 => {
                    let doubtful = both.iter().flatten().any(|point| point.flags.intersects(DOUBTFUL));
                    let text = if doubtful { format!("{step} ?") } else { step.to_string() };
                    cell(ui, format!("Step {step}"), text, String::new(), false, 0);
                }
                1 | 2 => one(ui, films[column - 1], step, [view.reference, view.candidate][column - 1]),
                _ => difference(ui, films, step),
            }
        },
    );
    if let Some(row) = pressed.row {
        outbox.send(Command::Select(Selected::Step(row as u32 + 1)));
    }
}

fn one(ui: &mut Ui, readings: Option<&Readings>, step: u32, film: Option<&Film>) {
    let label = film.map_or("", |film| film.label.as_str());
    let name = format!("Density of step {step} of {label}");
    match readings.zip(find(readings, step)) {
        Some((readings, point)) => {
            let mut hover = format::measured(&readings.density(point), 3);
            for word in point.flags.words() {
                hover.push('\n');
                hover.push_str(word);
            }
            if point.set_aside {
                hover.push_str("\nset aside");
            }
            cell(ui, name, format::number(point.density, 2), hover, point.set_aside, 2);
        }
        None => cell(ui, name, "–".to_owned(), "Not read".to_owned(), true, 2),
    }
}

fn difference(ui: &mut Ui, films: [Option<&Readings>; 2], step: u32) {
    let name = format!("Difference of step {step}");
    let both = films.map(|readings| readings.zip(find(readings, step)));
    let [Some((of_reference, reference)), Some((of_candidate, candidate))] = both else {
        return cell(ui, name, "–".to_owned(), "Needs both films".to_owned(), true, 2);
    };
    let difference = of_candidate.density_less(candidate, of_reference, reference);
    let hover = format!("{}\n{}", format::difference(&difference, 3), sampling::COMMON);
    cell(ui, name, format::signed(difference.number(), 2), hover, !difference.excludes_zero(), 2);
}

fn cell(ui: &mut Ui, name: String, text: String, hover: String, grey: bool, decimals: usize) {
    number_cell(
        ui,
        &NumberCell {
            name: name.into(),
            text: text.into(),
            hover: hover.into(),
            grey,
            ..NumberCell::plain("", "", decimals)
        },
    );
}

fn about(ui: &mut Ui, film: &Film, readings: &Readings, point: &Reading) {
    let density = format::measured(&readings.density(point), 3);
    let words = point.flags.words().join(", ");
    widgets::value_row(
        ui,
        &format!("{}, step {}", named(film, point.strip), point.step),
        &format!("D {density}"),
        &words,
    );
    if !words.is_empty() {
        widgets::footnote(ui, &words);
    }
}

fn find(readings: Option<&Readings>, step: u32) -> Option<&Reading> {
    readings?.points.iter().find(|point| point.step == step)
}

/// The readings of the strip that is shown.
fn readings(view: &View<'_>, film: Option<&Film>, strip: usize) -> Option<Readings> {
    let film = film.filter(|film| !film.strips.is_empty())?;
    let slot = view.session.peek(&ReadingsOf { film: film.id.clone() });
    let mut readings = Readings::clone(slot.value()?);
    readings.points.retain(|point| point.strip == strip);
    Some(readings)
}

/// What speaks against a strip that was found by itself.
fn doubts(ui: &mut Ui, view: &View<'_>, film: Option<&Film>, strip: usize) {
    let Some(film) = film else { return };
    let Some(ReadingsSource::Strip { scan, shape }) = film.strip_readings(strip) else { return };
    let placed = Placed { scan, shape, tablet: film.strip_tablet(strip), order: Order::Falling };
    let slot = placed.found(view);
    if let Some(found) = placed.as_found(&slot) {
        found::words(ui, &named(film, strip), found);
    }
}

fn problems(ui: &mut Ui, view: &View<'_>, films: [Option<&Film>; 2]) {
    for film in films.into_iter().flatten().filter(|film| !film.strips.is_empty()) {
        if let Slot::Failed(problem) = view.session.peek(&CurveOf { film: film.id.clone() }) {
            ui.label(fonts::strong(&film.label));
            widgets::problem(ui, &problem);
        }
    }
}
