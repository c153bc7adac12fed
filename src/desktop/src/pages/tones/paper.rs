//! The paper test: a print of a step tablet, its densities typed, pasted or scanned, its curve and its figures.

use std::fmt::Write as _;

use egui::{ScrollArea, TextEdit, Ui};
use twinwedge_workbench::core::compare::format;
use twinwedge_workbench::core::document::{Exposure, PaperTest, ReadingsSource};
use twinwedge_workbench::core::drawing::paper_plot;
use twinwedge_workbench::core::found::Found;
use twinwedge_workbench::core::measured::Value;
use twinwedge_workbench::core::tablet::find::{FoundStrip, Order};
use twinwedge_workbench::core::tablet::step_areas;
use twinwedge_workbench::core::tone::{PAPER_SOURCES, PaperFigures};
use twinwedge_workbench::edits::{PaperEdit, TabletEdit, TabletOf, Taking};
use twinwedge_workbench::engine::ask::{PaperCurve, PaperOf, ScreenTones, TilePicture};
use twinwedge_workbench::intake::{Purpose, in_one};
use twinwedge_workbench::load;

use super::Tones;
use crate::appearance::{STEP, Tokens, fonts, over, widgets};
use crate::canvas::{self, Picture};
use crate::outbox::{Command, Outbox};
use crate::pages::View;
use crate::pages::tablets::choices;
use crate::pages::tablets::found::{self, Placed};
use crate::plot;

/// Densities while they are typed.
#[derive(Debug, Default)]
pub(super) struct Typing {
    text: String,
    wrong: Option<String>,
}

/// The paper test, or what goes there.
pub(super) fn ui(page: &mut Tones, ui: &mut Ui, view: &View<'_>, outbox: &mut Outbox) {
    if page.typing.is_some() {
        typing(page, ui, outbox);
        return;
    }
    let Some(test) = &view.series.paper else {
        nothing_yet(page, ui, outbox);
        return;
    };
    record(page, ui, test, view, outbox);
    ui.add_space(STEP);
    let scanned = match &test.readings {
        Some(ReadingsSource::Strip { scan, shape }) => Some((scan, shape)),
        _ => None,
    };
    if let Some((scan, shape)) = scanned {
        let placed = Placed { scan, shape, tablet: Some(&test.tablet), order: Order::Falling };
        let slot = placed.found(view);
        if let Some(shape) = found::row(ui, &placed, &slot, |_| {}) {
            outbox.change(PaperEdit::Found(shape));
        }
        let whole = ui.available_rect_before_wrap();
        let rect = egui::Rect::from_min_size(whole.min, egui::vec2(whole.width(), whole.height() * 0.4));
        strip(page, ui, rect, &placed, placed.as_found(&slot), view, outbox);
        ui.advance_cursor_after_rect(rect);
    }
    let slot = view.session.peek(&PaperOf);
    let height = (ui.available_height() - 2.0 * STEP).max(160.0);
    widgets::slot(ui, &slot, "Fitting the curve of the paper", |ui, paper: &PaperCurve| {
        let look = plot::PlotLook::new(ui.scope_id().with("paper curve"), height);
        plot::show(ui, &paper_plot(&paper.curve, &paper.figures), &look);
    });
}

fn nothing_yet(page: &mut Tones, ui: &mut Ui, outbox: &mut Outbox) {
    widgets::boxed(ui, |ui| {
        ui.label(fonts::strong("The paper goes here"));
        widgets::muted(
            ui,
            "Print a step tablet on the paper that all films are printed on, develop it as the prints are, and read the \
             reflection densities of its steps: from step 1, where the tablet is clearest and the print darkest. With the \
             tablet in the negative's place of the same enlarger, its light is part of the test.",
        );
        ui.add_space(STEP);
        ui.horizontal(|ui| {
            let hover = "Reflection densities read with a densitometer";
            if widgets::button(ui, "Type or paste densities", hover).clicked() {
                page.typing = Some(Typing::default());
            }
            if widgets::button(ui, "Open a table ...", "A table of densities: CSV, TSV or text").clicked() {
                outbox.ask(Purpose::PaperReadings);
            }
            if widgets::button(ui, "Open a scan ...", "A scan of the print of the tablet").clicked() {
                outbox.ask(Purpose::PaperStrip);
            }
        });
    });
}

fn typed_text(test: Option<&PaperTest>) -> String {
    let mut text = String::new();
    if let Some(ReadingsSource::Typed(readings)) = test.and_then(|test| test.readings.as_ref()) {
        for (step, reading) in (1..).zip(readings) {
            let _ = match reading.u {
                Some(u) => writeln!(text, "{step}\t{}\t{u}", reading.density),
                None => writeln!(text, "{step}\t{}", reading.density),
            };
        }
    }
    text
}

fn typing(page: &mut Tones, ui: &mut Ui, outbox: &mut Outbox) {
    let Some(typing) = &mut page.typing else { return };
    widgets::muted(
        ui,
        "One density a line, step 1 (the darkest) first; or step and density; or step, density and uncertainty. Blanks, \
         commas or semicolons between them, decimal point or comma.",
    );
    let room = (ui.available_height() - 72.0).max(80.0);
    ScrollArea::vertical().id_salt("paper typing").max_height(room).show(ui, |ui| {
        let edit = TextEdit::multiline(&mut typing.text).desired_width(f32::INFINITY).desired_rows(12);
        ui.name_inputs("Densities of the paper test", |ui| ui.add(edit))
            .on_hover_text("Densities of the steps of the tablet, printed on this paper");
    });
    if let Some(wrong) = &typing.wrong {
        ui.add(egui::Label::new(fonts::strong(wrong)).wrap());
    }
    let mut over = false;
    ui.horizontal(|ui| {
        let ready = !typing.text.trim().is_empty();
        let hover = "They become the paper's curve";
        if widgets::button_if(ui, ready, "Take these densities", hover, "Nothing is typed yet").clicked() {
            match load::table(&typing.text, "the typed densities") {
                Ok(load::Table { readings, notes, .. }) => {
                    outbox.change(Taking::PaperReadings(readings));
                    if let Some(told) = in_one(&notes) {
                        outbox.send(Command::Say(told));
                    }
                    over = true;
                }
                Err(problem) => typing.wrong = Some(problem.to_string()),
            }
        }
        over |= widgets::button(ui, "Leave it", "The paper test stays as it was").clicked();
    });
    if over {
        page.typing = None;
    }
}

fn record(page: &mut Tones, ui: &mut Ui, test: &PaperTest, view: &View<'_>, outbox: &mut Outbox) {
    ui.horizontal_wrapped(|ui| {
        ui.label("Paper");
        let id = ui.scope_id().with("paper label");
        let hover = "Paper, grade or filter, as it is shown";
        if let Some(label) = widgets::text_field(ui, id, "Label of the paper", &test.label, hover, 150.0) {
            outbox.change(PaperEdit::Name(label));
        }
        ui.label("Tablet");
        let name = "Tablet of the paper test";
        if let Some(tablet) = choices::tablet(ui, name, Some(&test.tablet), view, outbox) {
            outbox.change(TabletEdit::Choose(TabletOf::Paper, tablet));
        }
        seconds_and_white(ui, test, outbox);
        light(ui, test, outbox);
        if widgets::button(ui, "Type or paste densities", "Reflection densities of the steps").clicked() {
            let text = typed_text(Some(test));
            page.typing = Some(Typing { text, wrong: None });
        }
        if widgets::button(ui, "Open a scan ...", "A scan of the print of the tablet").clicked() {
            outbox.ask(Purpose::PaperStrip);
        }
        if widgets::button(ui, "Take the paper out", "The series has no paper test any more").clicked() {
            outbox.change(PaperEdit::TakeOut);
        }
    });
}

fn seconds_and_white(ui: &mut Ui, test: &PaperTest, outbox: &mut Outbox) {
    ui.label("Exposed");
    let id = ui.scope_id().with("paper seconds");
    let hover = "Seconds of the tablet's exposure; print exposures on record are told against it, at the same enlarger settings";
    if let Some(seconds) =
        widgets::number_field(ui, id, "Seconds of the paper test", test.seconds, hover, 48.0)
    {
        outbox.change(PaperEdit::Seconds(seconds));
    }
    ui.label("s");
    ui.label("White");
    let id = ui.scope_id().with("paper white");
    let hover = "Density of the paper processed without exposure; empty: the lightest step, where the curve is level there";
    let now = test.white.map(|white| white.density);
    if let Some(white) = widgets::number_field(ui, id, "Density of the paper's white", now, hover, 48.0) {
        outbox.change(PaperEdit::White(white));
    }
}

fn light(ui: &mut Ui, test: &PaperTest, outbox: &mut Outbox) {
    ui.label("log H of the light");
    let id = ui.scope_id().with("paper light");
    let now = match test.exposure {
        Exposure::Absolute { log_h, .. } => Some(log_h),
        Exposure::Relative { .. } | Exposure::NotSaid => None,
    };
    let hover = "lg of lux seconds on the paper without the tablet, where it was measured; empty: relative, and then there is no \
                 paper speed";
    if let Some(log_h) = widgets::number_field(ui, id, "log H of the light on the paper", now, hover, 48.0) {
        outbox.change(PaperEdit::Light(log_h));
    }
}

fn strip(
    page: &mut Tones,
    ui: &mut Ui,
    rect: egui::Rect,
    placed: &Placed<'_>,
    found: Option<&Found<FoundStrip>>,
    view: &View<'_>,
    outbox: &mut Outbox,
) {
    let Placed { scan, shape, .. } = *placed;
    ui.painter().rect_filled(rect, 2.0, Tokens::get(ui).raised);
    let size = match canvas::size_of(view.session, scan) {
        Ok(size) => size,
        Err(note) => return canvas::note(ui, rect, &note),
    };
    let picture = Picture {
        tiles: TilePicture::Scan(scan.clone()),
        size,
        look: ScreenTones::default(),
        name: "Print of the tablet",
    };
    let (_, placement) =
        canvas::show(ui, rect, &mut page.sight.camera, &picture, &mut page.tiles, view.session);
    page.sight.shown(placement, ui.pixels_per_point());
    let painter = ui.painter_at(rect);
    canvas::quad(&painter, &placement, &shape.quad, 1.0, Tokens::get(ui).pale);
    if let Some(found) = found {
        found::draw(&painter, &placement, &found.value);
    }
    for area in step_areas(shape) {
        canvas::quad(&painter, &placement, &area, 1.0, over::LIGHT);
    }
    let names = [
        "Paper test: corner at the start of step 1",
        "Paper test: corner at the end of the last step",
        "Paper test: other corner at the end of the last step",
        "Paper test: other corner at the start of step 1",
        "Paper test: the whole strip",
    ];
    if let Some(held) = canvas::quad_handles(ui, &placement, &shape.quad, names, PaperEdit::Place, outbox) {
        canvas::loupe(ui, rect, &placement, &held, &picture, &mut page.tiles, view.session);
    }
}

/// The figures of the paper.
pub(super) fn readout(ui: &mut Ui, view: &View<'_>) {
    ui.heading("Paper");
    let Some(test) = &view.series.paper else {
        widgets::muted(ui, "No paper test yet: the way of a tone ends at the negative.");
        return;
    };
    if !test.label.is_empty() {
        widgets::ellipsis(ui, fonts::strong(&test.label));
    }
    if let Some(ReadingsSource::Strip { scan, shape }) = &test.readings {
        let placed = Placed { scan, shape, tablet: Some(&test.tablet), order: Order::Falling };
        if let Some(found) = placed.as_found(&placed.found(view)) {
            found::words(ui, "The print of the tablet", found);
        }
    }
    let slot = view.session.peek(&PaperOf);
    widgets::slot(ui, &slot, "The paper", |ui, paper: &PaperCurve| figures(ui, &paper.figures));
    ui.add_space(STEP);
    ui.label(fonts::strong("Sources"));
    widgets::footnote(ui, PAPER_SOURCES);
}

fn figures(ui: &mut Ui, figures: &PaperFigures) {
    let mut reasons = Vec::new();
    let rows: [(&str, &Value, usize, &str); 8] = [
        ("D-min", &figures.d_min, 2, "Density of the paper's white"),
        ("D-max", &figures.d_max, 2, "Highest density; a lower bound where it still rises"),
        ("T: 0.04 above white, log H", &figures.t, 2, "The first tone told from white (ISO 6846)"),
        ("M: 0.60 above white, log H", &figures.m, 2, "The middle from which the speed is taken (recalled)"),
        ("S: 90 % of the range, log H", &figures.s, 2, "The last tone told from black (ISO 6846)"),
        ("Range R = 100 (S − T)", &figures.range, 0, "A hundredth of it is the log exposure range"),
        ("Speed P = 1000 / H at M", &figures.speed, 0, "The constant 1000 is recalled"),
        ("Steepest stop", &figures.steepest, 2, "Highest mean gradient over a stop"),
    ];
    for (label, value, decimals, hover) in rows {
        widgets::value_row(ui, label, &format::value(value, decimals, ""), hover);
        if let Value::Undefined(reason) = value
            && !reasons.contains(&reason)
        {
            reasons.push(reason);
        }
    }
    let rounded = |value: Option<f64>, prefix: &str| {
        value.map_or("–".to_owned(), |value| format!("{prefix}{}", format::number(value, 0)))
    };
    let hover = "To the nearest ten; the rounding is recalled";
    widgets::value_row(ui, "Range, rounded", &rounded(figures.range_rounded, "R"), hover);
    let hover = "In the third-stop series; the rounding is recalled";
    widgets::value_row(ui, "Speed, rounded", &rounded(figures.speed_rounded, "P"), hover);
    let grade = figures.grade.map_or("–".to_owned(), |grade| grade.to_string());
    let hover =
        "By log exposure range; limits recalled for the most part, makers' labels follow no one scale";
    widgets::value_row(ui, "Grade by its range", &grade, hover);
    for reason in reasons {
        widgets::footnote(ui, &format!("– {reason}"));
    }
    widgets::footnote(ui, format::INTERVAL_NOTE);
}
