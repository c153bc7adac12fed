//! The traced tone in all films, the subject laid on them, what prints blank or black, and the settings behind it.

use egui::Ui;
use twinwedge_workbench::core::compare::difference::distinguishable;
use twinwedge_workbench::core::compare::format;
use twinwedge_workbench::core::measured::{Measured, Value};
use twinwedge_workbench::core::tone::{
    Chain, FilmTones, PAPER_SOURCES, PlacedSubject, PrintedFilm, TONE_SOURCES, Tones, TracedTone, zone_name,
    zone_words,
};
use twinwedge_workbench::core::words;
use twinwedge_workbench::edits::ToneNumber;

use super::choices;
use crate::appearance::comparison::{self, Line};
use crate::appearance::{fonts, widgets};
use crate::origin::On;
use crate::outbox::Outbox;
use crate::pages::View;

/// One line of two values without an uncertain difference.
fn line<'a>(
    label: &'a str,
    unit: &'a str,
    about: &str,
    (reference, candidate): (Option<&'a Value>, Option<&'a Value>),
    difference: Option<&'a Value>,
    decimals: usize,
) -> Line<'a> {
    Line {
        label: label.into(),
        unit,
        about: about.to_owned(),
        reference,
        candidate,
        difference,
        difference_unit: unit,
        distinguishable: difference.and_then(distinguishable),
        decimals,
        on: On::Curves,
    }
}

/// The tone that is followed.
pub(super) fn traced(ui: &mut Ui, view: &View<'_>, chain: &Chain<'_>, zone: f64) {
    comparison::films(
        ui,
        view.reference.map(|film| film.label.as_str()),
        view.candidate.map(|film| film.label.as_str()),
    );
    let traced = chain.trace(zone);
    widgets::section(ui, &format!("Zone {} followed", zone_words(zone)));
    let log_h = format::number(chain.log_h(zone), 2);
    widgets::value_row(ui, "log H at the film", &log_h, "lux seconds, flare included");
    let (first, second) = (traced.first(), traced.get(1).filter(|_| view.candidate.is_some()));
    let differences = second.and_then(|tone| tone.differences.as_ref());
    let exactly = |number: Option<f64>| {
        number.map_or_else(
            || Value::Undefined("It lies outside what was tested.".into()),
            |number| Value::Known(Measured::normal(number, 0.0)),
        )
    };
    let part = |tone: Option<&TracedTone>, part: usize| {
        exactly(tone.and_then(|tone| tone.gradients).map(|parts| parts[part]))
    };
    let film = (part(first, 1), part(second, 1));
    let overall =
        (exactly(first.and_then(TracedTone::overall)), exactly(second.and_then(TracedTone::overall)));
    comparison::head(ui);
    let density = (first.map(|tone| &tone.density), second.map(|tone| &tone.density));
    let mut lines = vec![line(
        "Negative density",
        "",
        "Density of the fitted curve at this exposure; a bound where it was not tested.",
        density,
        differences.map(|differences| &differences[0]),
        2,
    )];
    if view.series.paper.is_some() {
        let print = (first.map(|tone| &tone.print), second.map(|tone| &tone.print));
        let about = "What the paper makes of that density at each film's print exposure.";
        lines.push(line("Print density", "", about, print, differences.map(|found| &found[1]), 2));
        let about = "Slope of the film's curve there.";
        lines.push(line("Film gradient", "", about, (Some(&film.0), Some(&film.1)), None, 2));
        let about = "Gradients of camera, film and paper multiplied: how steeply the print renders the subject here; 1 is as \
                     the subject was. L. A. Jones (1920).";
        lines.push(line("Overall gradient", "", about, (Some(&overall.0), Some(&overall.1)), None, 2));
    }
    for one in &lines {
        comparison::line(ui, one);
    }
    if let Some(third) = traced.get(2) {
        let text = format!(
            "D {}{}",
            format::value(&third.density, 2, ""),
            third
                .print
                .known()
                .map_or(String::new(), |print| format!("   print {}", format::measured(print, 2)))
        );
        widgets::value_row(ui, chain.label(2), &text, "The third film at the same exposure");
    }
    comparison::footnotes(ui, &lines);
}

/// What the films make of the subject.
pub(super) fn films(ui: &mut Ui, tones: &Tones) {
    widgets::section(ui, "Zones kept");
    for film in &tones.films {
        let text = match film.kept {
            (Some(low), Some(high)) => format!("{} to {}", zone_name(low), zone_name(high)),
            _ => "not zone V".to_owned(),
        };
        let hover =
            "From V outwards, every zone with density enough and told from its neighbour beyond doubt";
        widgets::value_row(ui, &film.label, &text, hover);
    }
    let (range, image) = tones.subject;
    widgets::section(ui, "The subject on the films");
    let text = format!("{}, image {}", format::number(range, 2), format::number(image, 2));
    widgets::value_row(ui, "Log range of the subject", &text, "After flare the image is shorter");
    subject(ui, tones, "Placed by the meter, above base+fog", |film| &film.by_meter, false);
    subject(ui, tones, "Each film exposed for its own shadow", |film| &film.by_shadow, true);
    if tones.paper.is_some() {
        prints(ui, tones);
    }
}

fn pair<'a, T: 'a>(
    tones: &'a Tones,
    of: impl Fn(&'a FilmTones) -> Option<&'a T>,
) -> (Option<&'a T>, Option<&'a T>) {
    let at = |index: usize| tones.films.get(index).and_then(&of);
    (at(0), at(1))
}

fn subject(ui: &mut Ui, tones: &Tones, head: &str, of: fn(&FilmTones) -> &PlacedSubject, indexed: bool) {
    widgets::muted(ui, head);
    let mut lines = Vec::new();
    if indexed {
        let values = pair(tones, |film| Some(&of(film).exposure_index));
        let about = "The index at which the subject's darkest tone gets the chosen density above base+fog on this film.";
        lines.push(line("Exposure index", "", about, values, None, 0));
    } else {
        let values = pair(tones, |film| Some(&of(film).shadow_net));
        lines.push(line("Darkest tone", "", "Density above base+fog.", values, None, 2));
    }
    let values = pair(tones, |film| Some(&of(film).highlight_net));
    lines.push(line("Lightest tone", "", "Density above base+fog.", values, None, 2));
    let values = pair(tones, |film| Some(&of(film).range));
    lines.push(line(
        "Density range",
        "",
        "From the darkest to the lightest tone, in the negative.",
        values,
        None,
        2,
    ));
    for one in &lines {
        comparison::line(ui, one);
    }
    for film in &tones.films {
        let misfits = &of(film).misfits;
        let text = if misfits.is_empty() { "it fits.".to_owned() } else { words::joined(misfits) };
        widgets::footnote(ui, &format!("{}: {text}", film.label));
    }
}

fn prints(ui: &mut Ui, tones: &Tones) {
    widgets::section(ui, "On the paper");
    widgets::footnote(ui, &format!("Print exposure of the reference: {}.", tones.print_basis));
    let print = |of: fn(&PrintedFilm) -> &Value| pair(tones, move |film| film.print.as_ref().map(of));
    let blank = "Negative densities from here on print as white: less than 0.04 above the paper's white (ISO 6846, point T).";
    let black =
        "Negative densities up to here print as black: beyond 90 % of the paper's range (ISO 6846, point S).";
    let lines = [
        line(
            "Print exposure over the reference's",
            "×",
            "10 to the power of the densities' difference.",
            print(|p| &p.factor),
            None,
            2,
        ),
        line("Blank from density", "", blank, print(|p| &p.blank_density), None, 2),
        line("Blank from zone", "", blank, print(|p| &p.blank_zone), None, 1),
        line("Black up to density", "", black, print(|p| &p.black_density), None, 2),
        line("Black up to zone", "", black, print(|p| &p.black_zone), None, 1),
    ];
    for one in &lines {
        comparison::line(ui, one);
    }
    if let Some(gradient) = tones.wanted_gradient {
        let hover = "The mean gradient at which this subject would just fill the paper's log exposure range";
        widgets::value_row(ui, "Gradient that fits this paper", &format::number(gradient, 2), hover);
    }
    comparison::footnotes(ui, &lines);
}

/// The numbers behind the placing, and where they come from.
pub(super) fn settings(ui: &mut Ui, view: &View<'_>, outbox: &mut Outbox) {
    widgets::section(ui, "How tones are placed");
    let fields: [Setting; 5] = [
        (
            "q",
            "Share of the light that lens and obliquity leave: H = q L t / N². 0.65 is recalled",
            (0.1, 1.0),
            ToneNumber::LensQ,
        ),
        (
            "K, cd/m²",
            "Calibration constant of the meter; 12.5 is common practice, ISO 2720:1974 allows 10.6 to 13.4",
            (5.0, 30.0),
            ToneNumber::MeterK,
        ),
        (
            "Least above base+fog",
            "A shadow with less counts as lost; 0.10 is the density of the ISO 6 speed point",
            (0.0, 1.0),
            ToneNumber::LeastDensity,
        ),
        (
            "Least separation",
            "Neighbouring zones with less count as run together; common practice, no source",
            (0.0, 0.5),
            ToneNumber::LeastSeparation,
        ),
        (
            "Own shadow at",
            "Density above base+fog of the darkest tone when each film is exposed for itself",
            (0.02, 1.0),
            ToneNumber::ShadowDensity,
        ),
    ];
    for (name, hover, limits, which) in fields {
        ui.horizontal(|ui| {
            let width = egui::vec2(150.0, ui.spacing().interact_size.y);
            let layout = egui::Layout::left_to_right(egui::Align::Center);
            ui.allocate_ui_with_layout(width, layout, |ui| {
                ui.set_min_width(width.x);
                ui.label(name).on_hover_text(hover);
            });
            choices::number(ui, view, name, hover, limits, which, outbox);
        });
    }
    ui.add_space(4.0);
    ui.label(fonts::strong("Sources"));
    widgets::footnote(ui, TONE_SOURCES);
    if view.series.paper.is_some() {
        widgets::footnote(ui, PAPER_SOURCES);
    }
    let callier = "Prints are reckoned with diffuse densities. A condenser enlarger sees silver denser (A. Callier, 1909): \
                   test the paper with the tablet in the negative's place of the same enlarger.";
    widgets::footnote(ui, callier);
}

/// A setting: name, what it is, limits, how it is read and written.
type Setting = (&'static str, &'static str, (f64, f64), ToneNumber);
