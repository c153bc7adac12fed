//! The table zone by zone: both films and the third at one exposure index.

use egui::Ui;
use twinwedge_workbench::core::compare::difference::distinguishable;
use twinwedge_workbench::core::compare::format;
use twinwedge_workbench::core::measured::Value;
use twinwedge_workbench::core::tone::{Reach, Tones, ZoneDifference, ZoneReading, zone_name};
use twinwedge_workbench::engine::ask::TonesOf;

use crate::appearance::table::{Column, NumberCell, Table, muted_cell, number_cell};
use crate::appearance::{STEP, widgets};
use crate::pages::View;

/// Which number of each zone is shown.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub(super) enum Quantity {
    Density,
    #[default]
    Net,
    Separation,
    Print,
}

impl Quantity {
    fn value_in(self, zone: &ZoneReading) -> Option<&Value> {
        match self {
            Self::Density => Some(&zone.density),
            Self::Net => Some(&zone.net),
            Self::Separation => Some(&zone.separation),
            Self::Print => zone.print.as_ref(),
        }
    }

    fn difference(self, difference: &ZoneDifference) -> Option<&Value> {
        match self {
            Self::Density => Some(&difference.density),
            Self::Net => Some(&difference.net),
            Self::Separation => Some(&difference.separation),
            Self::Print => difference.print.as_ref(),
        }
    }

    fn word(self) -> &'static str {
        match self {
            Self::Density => "Density",
            Self::Net => "Density above base+fog",
            Self::Separation => "Separation to the next zone",
            Self::Print => "Print density",
        }
    }
}

/// The table; a press on a row follows that zone through the diagram.
pub(super) fn ui(ui: &mut Ui, view: &View<'_>, quantity: &mut Quantity, zone: &mut f64) {
    let options = [
        (Quantity::Net, "above base+fog", "Density above base+fog"),
        (Quantity::Separation, "separation", "Density gained to the next zone"),
        (Quantity::Density, "density", "Density of the negative, base and fog in it"),
        (Quantity::Print, "print", "Density in the print; needs the paper test"),
    ];
    widgets::choice(ui, "Zone by zone", quantity, &options);
    ui.add_space(STEP);
    let Some(film) = super::beside(view) else { return };
    let slot = view.session.peek(&TonesOf { film });
    widgets::slot(ui, &slot, "Zones", |ui, tones| table(ui, tones, *quantity, zone));
}

fn columns(tones: &Tones, quantity: Quantity) -> Vec<Column<'_>> {
    let mut columns = vec![
        Column::number("Zone", 48.0),
        Column::number("log H", 64.0).hover("At the film in lux seconds, flare included"),
    ];
    for (index, film) in tones.films.iter().enumerate() {
        columns.push(Column::measured(film.label.as_str(), 148.0).growing(1.0).hover(quantity.word()));
        if index > 0 {
            let hover = format!("{} minus {}", film.label, tones.films[0].label);
            columns.push(Column::measured("difference", 156.0).growing(1.0).hover(hover));
        }
    }
    for film in &tones.films {
        let (net, separation) = tones.criteria;
        let hover = format!(
            "Up to zone V: at least {net} above base+fog, and at least {separation} to the next zone; above V: at least \
             {separation} from the zone before. Kept or lost only where the 95 % interval leaves no doubt"
        );
        columns.push(Column::text(format!("{}?", film.label), 84.0).hover(hover));
    }
    columns
}

/// What a column after the first two shows.
enum Shows {
    Film(usize),
    Difference(usize),
    Kept(usize),
}

fn shows(tones: &Tones, column: usize) -> Shows {
    let measured = 2 * tones.films.len() - 1;
    let column = column - 2;
    if column >= measured {
        Shows::Kept(column - measured)
    } else if column == 0 {
        Shows::Film(0)
    } else if column % 2 == 1 {
        Shows::Film(column.div_ceil(2))
    } else {
        Shows::Difference(column / 2)
    }
}

fn table(ui: &mut Ui, tones: &Tones, quantity: Quantity, zone: &mut f64) {
    let columns = columns(tones, quantity);
    let mut table = Table::new("Zones", &columns, tones.rows.len());
    table.press = true;
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "eleven zones")]
    let selected = zone.round().clamp(0.0, 10.0) as usize;
    table.selected = Some(selected);
    let pressed = table.show(
        ui,
        |row| format!("Zone {}", zone_name(tones.rows[row].zone)),
        |ui, row, column| cell(ui, tones, quantity, row, column),
    );
    if let Some(row) = pressed.row {
        *zone = f64::from(tones.rows[row].zone);
    }
    for film in &tones.films {
        widgets::footnote(ui, &format!("{}: {}", film.label, film.tie));
    }
    let (net, separation) = tones.criteria;
    widgets::footnote(
        ui,
        &format!(
            "{} Grey differences are not distinguishable. ≤ and ≥ are bounds where a zone lies off the tested exposures; \
             nothing is extrapolated. Lost: beyond doubt less than {net} above base+fog or less than {separation} apart \
             (common practice, no source).",
            format::INTERVAL_NOTE
        ),
    );
}

fn cell(ui: &mut Ui, tones: &Tones, quantity: Quantity, row: usize, column: usize) {
    let zone = &tones.rows[row];
    let name = zone_name(zone.zone);
    match column {
        0 => {
            number_cell(ui, &NumberCell::plain("Zone", name, 0));
        }
        1 => {
            let text = format::number(zone.log_h, 2);
            number_cell(ui, &NumberCell::plain(format!("log H of zone {name}"), text, 2));
        }
        _ => match shows(tones, column) {
            Shows::Film(film) => value(ui, tones, quantity, row, film),
            Shows::Difference(film) => {
                let Some(found) = quantity.difference(&zone.differences[film - 1]) else { return };
                let label = format!(
                    "{}, zone {name}, {} against {}",
                    quantity.word(),
                    tones.films[film].label,
                    tones.films[0].label
                );
                number_cell(ui, &NumberCell::difference(label, found, 2, distinguishable(found)));
            }
            Shows::Kept(film) => {
                let kept = zone.films[film].kept;
                let response = muted_cell(ui, kept.word());
                response.widget_info(|| {
                    let words = format!("Zone {name} of {}: {}", tones.films[film].label, kept.word());
                    egui::WidgetInfo::labeled(egui::Role::Label, true, words)
                });
            }
        },
    }
}

fn value(ui: &mut Ui, tones: &Tones, quantity: Quantity, row: usize, film: usize) {
    let zone = &tones.rows[row];
    let reading = &zone.films[film];
    let missing = Value::Undefined("The paper was not tested.".into());
    let found = quantity.value_in(reading).unwrap_or(&missing);
    let label = format!("{}, zone {}, {}", quantity.word(), zone_name(zone.zone), tones.films[film].label);
    let cell = NumberCell::value(label, found, 2);
    let off = matches!(reading.reach, Some(Reach::Below | Reach::Above));
    let hover = if off {
        format!("{}\nNot tested: a bound from the nearest tested exposure", cell.hover)
    } else {
        cell.hover.to_string()
    };
    number_cell(ui, &NumberCell { grey: cell.grey || off, hover: hover.into(), ..cell });
}
