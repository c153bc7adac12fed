//! From which light both films take their exposure: shares of bands with their uncertainty, and what the patches cannot tell.

use egui::{Rect, Stroke, StrokeKind, Ui, pos2, vec2};
use twinwedge_workbench::core::compare::{format, greys as words};
use twinwedge_workbench::core::document::Film;
use twinwedge_workbench::core::drawing::Role;
use twinwedge_workbench::core::greys::pair::{BandsPair, band_words};
use twinwedge_workbench::core::greys::sensitivity::{Band, Sensitivity};
use twinwedge_workbench::core::measured::Value;
use twinwedge_workbench::engine::ask::BandsOf;

use super::target;
use crate::appearance::table::{self, Column, NumberCell, Table};
use crate::appearance::{Tokens, widgets};
use crate::outbox::Outbox;
use crate::pages::View;

pub(super) fn ui(ui: &mut Ui, view: &View<'_>, candidate: &Film, outbox: &mut Outbox) {
    target::bar(ui, view, outbox);
    ui.add_space(4.0);
    let slot = view.session.peek(&BandsOf { film: candidate.id.clone() });
    widgets::slot(ui, &slot, &format!("Sensitivity of {}", candidate.label), show);
}

fn show(ui: &mut Ui, pair: &BandsPair) {
    let columns = [
        Column::text("Light", 172.0).hover("Where bands meet no standard says; these meet at 500 and 600 nm"),
        Column::measured("Reference", 148.0).hover("Share of a white's exposure that the reference takes from it"),
        Column::measured("Candidate", 148.0).hover("Share of a white's exposure that the candidate takes from it"),
        Column::measured("Difference, stops", 148.0)
            .hover("How much more of its exposure the candidate takes from it than the reference does"),
        Column::text("Share, 0 to 1", 104.0).growing(1.0).hover(
            "Upper bar: reference; lower bar: candidate. Thick: 95 % interval. Thin: whatever any sensitivity could have there \
             that explains the patches",
        ),
        Column::text("Told apart", 104.0)
            .hover("Whether these patches tell the band from the others, on both films"),
    ];
    let count = pair.against.len();
    let told = pair.told();
    let table = Table { height: 180.0, ..Table::new("bands", &columns, count) };
    table.show(
        ui,
        |row| band_words(row, count).to_owned(),
        |ui, row, column| {
            let (reference, candidate) = (&pair.reference.bands[row], &pair.candidate.bands[row]);
            let name = band_words(row, count);
            match column {
                0 => {
                    let text = format!(
                        "{name}, {} to {} nm",
                        format::number(reference.from, 0),
                        format::number(reference.to, 0)
                    );
                    table::text_cell(ui, &text);
                }
                1 | 2 => {
                    let (band, whose) =
                        if column == 1 { (reference, "reference") } else { (candidate, "candidate") };
                    let value = Value::Known(band.share);
                    let name = format!("Share of {name} light on the {whose}");
                    table::number_cell(ui, &NumberCell::value(name, &value, 2));
                }
                3 => {
                    let value = match pair.against[row].filter(|_| told[row]) {
                        Some(against) => Value::Known(against.plain()),
                        None => {
                            Value::Undefined("These patches do not tell this light from the other.".into())
                        }
                    };
                    let sure = pair.against[row].is_some_and(|one| told[row] && one.excludes_zero());
                    let name = format!("Difference of {name} light");
                    table::number_cell(ui, &NumberCell::difference(name, &value, 2, Some(sure)));
                }
                4 => bars(ui, [reference, candidate]),
                _ if told[row] => {
                    table::text_cell(ui, "yes");
                }
                _ => {
                    table::muted_cell(ui, "no: only with others");
                }
            }
        },
    );
    widgets::footnote(
        ui,
        &format!(
            "Under {}. A share is that of the exposure of a white. Bands that the patches do not tell apart are not compared.",
            pair.light
        ),
    );
}

/// Intervals of both films: thick what is likely, thin what is possible.
fn bars(ui: &Ui, bands: [&Band; 2]) {
    let tokens = Tokens::get(ui);
    let place = ui.max_rect().shrink2(vec2(4.0, 2.0));
    #[expect(clippy::cast_possible_truncation, reason = "a place on the screen")]
    let at = |share: f64| place.left() + share.clamp(0.0, 1.0) as f32 * place.width();
    ui.painter().hline(place.x_range(), place.center().y, Stroke::new(1.0, tokens.line));
    for (film, band) in bands.into_iter().enumerate() {
        let role = if film == 0 { Role::Reference } else { Role::Candidate };
        let color = tokens.role(role);
        let y = place.top() + place.height() * if film == 0 { 0.27 } else { 0.73 };
        ui.painter().hline(at(band.possible.0)..=at(band.possible.1), y, Stroke::new(1.0, color));
        let bar = Rect::from_min_max(pos2(at(band.share.low), y - 3.0), pos2(at(band.share.high), y + 3.0));
        if film == 0 {
            ui.painter().rect_filled(bar, 0.0, color);
        } else {
            ui.painter().rect(bar, 0.0, ui.visuals().panel_fill, Stroke::new(1.5, color), StrokeKind::Inside);
        }
    }
}

/// What kind of film each may be, and how much the patches tell.
pub(super) fn readout(ui: &mut Ui, view: &View<'_>, candidate: &Film) {
    let slot = view.session.peek(&BandsOf { film: candidate.id.clone() });
    let Some(pair) = slot.value() else { return };
    let reference = view.reference.map_or("reference", |film| film.label.as_str());
    for (label, found) in [(reference, &pair.reference), (candidate.label.as_str(), &pair.candidate)] {
        widgets::section(ui, label);
        one(ui, label, found);
    }
}

fn one(ui: &mut Ui, label: &str, found: &Sensitivity) {
    widgets::muted(ui, &words::classes(label, &found.classes));
    let hover = "At least 15 % of the sensitivity in its best band";
    for (word, verdict) in ["green", "red", "beyond 670 nm"].into_iter().zip(found.classes.bands) {
        widgets::value_row(ui, &format!("Sees {word}"), words::sees(verdict), hover);
    }
    widgets::value_row(
        ui,
        "The patches settle",
        &format!("{} of {} numbers", format::number(found.told, 1), found.nodes.len()),
        "The sensitivity is drawn through so many numbers; these patches settle so many of them independently",
    );
    if found.error_scale > 1.0 {
        widgets::footnote(
            ui,
            &format!(
                "No sensitivity explains the patches within their stated errors; these were taken as {} times as large.",
                format::number(found.error_scale, 1)
            ),
        );
    }
}
