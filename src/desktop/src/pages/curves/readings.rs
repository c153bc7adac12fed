//! The readings behind the curves: a press on a point, or its switch in the list, sets it aside and takes it back; a typed
//! reading is dragged up and down.

use egui::Ui;

use twinwedge_workbench::core::compare::format;
use twinwedge_workbench::core::curve::{Reading, Readings, last_digit};
use twinwedge_workbench::core::document::{Film, FilmId, ReadingsSource};
use twinwedge_workbench::core::drawing::mark_word;
use twinwedge_workbench::core::measured::Flags;
use twinwedge_workbench::edits::StripChange;
use twinwedge_workbench::engine::ask::{CurveOf, ReadingsOf};

use super::Choices;
use super::plots::{Drawn, Shown, log_h};
use crate::appearance::table::{self, Column, NumberCell, Table};
use crate::appearance::widgets;
use crate::outbox::{Command, Outbox};
use crate::pages::{Selected, View};
use crate::plot::{Dragged, Mark, Phase};

/// Densities that a reading may be dragged to.
const DENSITIES: (f64, f64) = (0.0, 6.0);

/// The film and the reading that a mark of the plot stands for.
fn reading_of<'a>(
    mark: Mark,
    drawn: &Drawn,
    films: &'a [Shown],
    choices: &Choices,
) -> Option<(&'a Shown, Reading)> {
    let (index, shown) = films.iter().enumerate().find(|(_, film)| film.role == mark.role)?;
    let at = log_h(mark.at[0], drawn.shift(index), choices.axis);
    let distance = |reading: &Reading| (reading.log_h - at).abs() + (reading.density - mark.at[1]).abs();
    let points = shown.curve.curve.readings.points.iter();
    Some((shown, *points.min_by(|a, b| distance(a).total_cmp(&distance(b)))?))
}

/// A mark of the plot was pressed.
pub(super) fn press(
    mark: Mark,
    drawn: &Drawn,
    films: &[Shown],
    choices: &Choices,
    view: &View<'_>,
    outbox: &mut Outbox,
) {
    let Some((shown, reading)) = reading_of(mark, drawn, films, choices) else { return };
    if let Some(film) = view.series.film(&shown.id).filter(|_| shown.curve.prediction.is_none()) {
        outbox.send(Command::Select(Selected::Step(reading.step)));
        press_on(film, &reading, outbox);
    }
}

/// What a mark under the pointer is, in words.
pub(super) fn about(
    mark: Mark,
    drawn: &Drawn,
    films: &[Shown],
    choices: &Choices,
    view: &View<'_>,
) -> Option<String> {
    let (shown, reading) = reading_of(mark, drawn, films, choices)?;
    let film = view.series.film(&shown.id)?;
    let readings = &shown.curve.curve.readings;
    let mut words = format!("{}\n", name(film, readings, &reading));
    if film.strips.len() > 1 {
        words.push_str(&format!(
            "{} are of {}\n",
            mark_word(shown.role, reading.strip),
            film.strip_name(reading.strip)
        ));
    }
    words.push_str(match film.strip_readings(reading.strip) {
        Some(ReadingsSource::Typed(_)) => {
            "drag it up or down to change what was typed; press it to set it aside"
        }
        _ => "measured on a scan: it is not dragged; press it to set it aside",
    });
    Some(words)
}

fn name(film: &Film, readings: &Readings, reading: &Reading) -> String {
    let words = reading.flags.words().join(", ");
    format!(
        "{} of {}: density {} ± {} at log H {}{}{words}",
        readings.name_of(reading),
        film.label,
        format::number(reading.density, 3),
        format::number(readings.density(reading).u, 3),
        format::number(reading.log_h, 2),
        if words.is_empty() { "" } else { "; " },
    )
}

/// A typed reading while it is dragged.
#[derive(Debug, Clone)]
pub(super) struct Dragging {
    film: FilmId,
    strip: usize,
    step: u32,
    /// Unit of the last digit: a dragged reading is as fine as the typed ones.
    unit: f64,
}

impl Dragging {
    /// A mark was taken; `None` where it is no typed reading, and why.
    fn begin(film: &Film, reading: &Reading, outbox: &mut Outbox) -> Option<Self> {
        let name = if film.strips.len() > 1 {
            format!("step {} of {} of {}", reading.step, film.strip_name(reading.strip), film.label)
        } else {
            format!("step {} of {}", reading.step, film.label)
        };
        let Some(ReadingsSource::Typed(typed)) = film.strip_readings(reading.strip) else {
            let text = format!("{name} was measured on a scan: move the strip there, or set the step aside.");
            outbox.send(Command::Say(text));
            return None;
        };
        let unit = last_digit(typed).unwrap_or(0.001).min(0.01);
        Some(Self { film: film.id.clone(), strip: reading.strip, step: reading.step, unit })
    }

    fn preview(&self, to: f64, outbox: &mut Outbox) {
        let Self { film, strip, step, unit } = self.clone();
        // Whole digits divided again leave the number that is written with them.
        let digits = (1.0 / unit).round();
        let density = (to.clamp(DENSITIES.0, DENSITIES.1) * digits).round() / digits;
        outbox.preview(StripChange::Reading { step, density }.of(&film, strip));
    }
}

/// Carries the drag of a mark on; answers what is dragged now.
pub(super) fn drag(
    going: Option<Dragging>,
    dragged: Dragged,
    (drawn, films, choices): (&Drawn, &[Shown], &Choices),
    view: &View<'_>,
    outbox: &mut Outbox,
) -> Option<Dragging> {
    let going = match dragged.phase {
        Phase::Taken => {
            let (shown, reading) = reading_of(dragged.mark, drawn, films, choices)?;
            Dragging::begin(view.series.film(&shown.id)?, &reading, outbox)?
        }
        _ => going?,
    };
    match dragged.phase {
        Phase::Taken | Phase::Moved => {
            going.preview(dragged.to, outbox);
            return Some(going);
        }
        Phase::LetGo => outbox.send(Command::Commit),
        Phase::BrokenOff => outbox.send(Command::Abort),
    }
    None
}

/// Keeps a step in the fit although the others contradict it, or leaves it to the fit again, as one step of the history.
pub(super) fn keep(film: &Film, strip: usize, step: u32, keep: bool, outbox: &mut Outbox) {
    outbox.change(StripChange::Keep { step, keep }.of(&film.id, strip));
}

/// A press on a reading: one in the fit is set aside, one set aside is taken back; where the fit set it aside, it is kept.
fn press_on(film: &Film, reading: &Reading, outbox: &mut Outbox) {
    if reading.flags.contains(Flags::MISREAD) {
        keep(film, reading.strip, reading.step, true, outbox);
    } else {
        turn(film, reading.strip, reading.step, !reading.set_aside, outbox);
    }
}

/// Sets a step aside or takes it back, as one step of the history.
pub(super) fn turn(film: &Film, strip: usize, step: u32, aside: bool, outbox: &mut Outbox) {
    outbox.change(StripChange::Aside { step, aside }.of(&film.id, strip));
}

/// The readings of both films, step by step, strip after strip.
pub(super) fn list(ui: &mut Ui, view: &View<'_>, outbox: &mut Outbox) {
    let films: Vec<_> = view
        .bench()
        .filter_map(|film| {
            // The curve knows which readings it set aside; where there is none, what it would be made of is shown.
            let curve = view.session.peek(&CurveOf { film: film.id.clone() });
            if let Some(curve) = curve.value() {
                return Some((film, curve.curve.readings.clone()));
            }
            let slot = view.session.peek(&ReadingsOf { film: film.id.clone() });
            Some((film, Readings::clone(slot.value()?)))
        })
        .collect();
    if films.is_empty() {
        return;
    }
    widgets::section(ui, "Readings");
    widgets::footnote(ui, "A step whose tick is taken away is set aside: shown crossed out, not fitted.");
    let mut rows: Vec<(usize, u32)> = films
        .iter()
        .flat_map(|(_, readings)| readings.points.iter().map(|point| (point.strip, point.step)))
        .collect();
    rows.sort_unstable();
    rows.dedup();
    let several = rows.last().is_some_and(|(strip, _)| *strip > 0);
    let (head, width) = if several { ("Strip, step", 76.0) } else { ("Step", 40.0) };
    let mut columns = vec![Column::number(head, width)];
    columns.extend(films.iter().map(|(film, _)| {
        Column::text(film.label.as_str(), 90.0).growing(1.0).hover(format!("Densities of {}", film.label))
    }));
    let selected = match view.selected {
        Selected::Step(step) => rows.iter().position(|(_, other)| *other == step),
        _ => None,
    };
    let table = Table { selected, height: 320.0, ..Table::new("readings", &columns, rows.len()) };
    let row_name = |row: usize| match rows[row] {
        (strip, step) if several => format!("Strip {}, step {step}", strip + 1),
        (_, step) => format!("Step {step}"),
    };
    table.show(ui, row_name, |ui, row, column| {
        let (strip, step) = rows[row];
        let Some((film, readings)) = column.checked_sub(1).and_then(|index| films.get(index)) else {
            let text = if several { format!("{}, {step}", strip + 1) } else { step.to_string() };
            table::number_cell(ui, &NumberCell::plain("Step", text, 0));
            return;
        };
        let at = |point: &&Reading| (point.strip, point.step) == (strip, step);
        let Some(point) = readings.points.iter().find(at) else { return };
        density(ui, film, readings, point, outbox);
    });
}

fn density(ui: &mut Ui, film: &Film, readings: &Readings, point: &Reading, outbox: &mut Outbox) {
    let mut used = !point.set_aside;
    let mut hover = name(film, readings, point);
    hover[..1].make_ascii_uppercase();
    let of = if point.strip == 0 { String::new() } else { format!("of {} ", film.strip_name(point.strip)) };
    let name = format!("Use step {} {of}of {}", point.step, film.label);
    let response = ui.checkbox(&mut used, format::number(point.density, 2)).on_hover_text(hover);
    response.widget_info(|| egui::WidgetInfo::selected(egui::Role::CheckBox, true, used, &name));
    if response.changed() {
        press_on(film, point, outbox);
    }
}
