//! Frames: the brackets of both films, the shadow match, and the print exposure that follows from base+fog.

mod bracket;
mod drawing;
mod filling;
mod pictures;
mod scanned;

use egui::{Rect, Ui, UiBuilder, vec2};

use twinwedge_workbench::core::bracket::{Frame, ShadowTarget, reference_shadow};
use twinwedge_workbench::core::compare::difference::distinguishable;
use twinwedge_workbench::core::compare::{Comparison, FigureRow, SpeedRow, format};
use twinwedge_workbench::core::document::{Film, FilmId, ShadowDensity};
use twinwedge_workbench::core::drawing::Role;
use twinwedge_workbench::core::figures::FigureId;
use twinwedge_workbench::core::figures::speed::iso_rounded;
use twinwedge_workbench::core::measured::{Flags, Value};
use twinwedge_workbench::core::problem::Problem;
use twinwedge_workbench::core::units::Density;
use twinwedge_workbench::edits::RecordEdit;
use twinwedge_workbench::engine::Slot;
use twinwedge_workbench::engine::ask::{BracketOf, ComparisonOf, FiguresOf};

use super::{Page, PageId, View};
use crate::actions::Action;
use crate::appearance::comparison::{self, Line};
use crate::appearance::{STEP, widgets};
use crate::canvas::{Tiles, ZoomPan};
use crate::origin::On;
use crate::outbox::{Command, Outbox};
use crate::plot;

/// What the page keeps.
#[derive(Debug, Default)]
pub struct Frames {
    /// Text being pasted, for the reference and for the candidate.
    pasting: [Option<String>; 2],
    /// Indices being filled in, for the reference and for the candidate.
    filling: [Option<filling::Filling>; 2],
    /// The scanned frame that is shown.
    shown: Option<Shown>,
    sight: ZoomPan,
    tiles: Tiles,
}

/// A frame by its film and its number in the bracket.
#[derive(Debug, Clone, PartialEq, Eq)]
struct Shown {
    film: FilmId,
    frame: usize,
}

/// The frames of a film as they were measured; nothing while they are being read.
fn measured(view: &View<'_>, film: &Film) -> Vec<Result<Frame, Problem>> {
    match view.session.peek(&BracketOf { film: film.id.clone() }) {
        Slot::Ready(frames) | Slot::Stale(frames, _) => frames.to_vec(),
        Slot::Pending(_) | Slot::Failed(_) => Vec::new(),
    }
}

/// The shadow density that brackets are matched to.
fn target(view: &View<'_>) -> Result<ShadowTarget, String> {
    let reference = view.reference.ok_or("The series has no reference film.")?;
    let all = measured(view, reference);
    let frames: Vec<Frame> = all.iter().flatten().copied().collect();
    if frames.is_empty() && !all.is_empty() {
        return Err("No frame of the reference's bracket is read yet.".to_owned());
    }
    reference_shadow(&frames, reference.box_speed).map_err(|why| why.to_string())
}

/// Base+fog of a film, where it is known.
fn base_fog(view: &View<'_>, film: &Film) -> Option<f64> {
    let figures = match view.session.peek(&FiguresOf { film: film.id.clone() }) {
        Slot::Ready(figures) | Slot::Stale(figures, _) => figures,
        Slot::Pending(_) | Slot::Failed(_) => return None,
    };
    let base = figures.figures.get(&FigureId::BaseFog)?.known()?;
    (!base.flags.contains(Flags::UPPER_BOUND)).then_some(base.value)
}

impl Page for Frames {
    fn ui(&mut self, ui: &mut Ui, view: &View<'_>, outbox: &mut Outbox) {
        widgets::title(
            ui,
            "Frames",
            "The exposure index at which the candidate's shadow is as dense as the reference's at its box speed, the speeds \
             by every criterion beside it, and the print exposure that follows from base+fog.",
        );
        if view.reference.is_none() {
            let why = "Brackets are matched to the reference's shadow.";
            if widgets::empty(ui, "No reference film", why, "Go to Films") {
                outbox.send(Command::Page(PageId::Films));
            }
            return;
        }
        self.tiles.begin();
        let room = ui.available_height();
        let plot_height = (room * 0.5).clamp(180.0, 560.0);
        let target = target(view);
        let drawing = drawing::plot(view, target.as_ref().ok());
        let look = plot::PlotLook {
            across: plot::Figures::ExposureIndex,
            ..plot::PlotLook::new(ui.scope_id().with("bracket"), plot_height)
        };
        let chosen = self.shown.clone().filter(|shown| scanned::chosen(view, shown).is_some());
        let pair = pictures::pair(view, target.as_ref().ok());
        if chosen.is_none() && pair.is_none() {
            plot::show(ui, &drawing, &look);
        } else {
            let whole = ui.available_rect_before_wrap();
            let whole = Rect::from_min_size(whole.min, vec2(whole.width(), plot_height));
            let (left, right) = whole.split_left_right_at_fraction(0.5);
            let left = left.with_max_x(left.right() - STEP);
            ui.scope_builder(UiBuilder::new().max_rect(left).id_salt("plot"), |ui| {
                plot::show(ui, &drawing, &look);
            });
            ui.scope_builder(UiBuilder::new().max_rect(right).id_salt("scanned frame"), |ui| {
                match (chosen, pair) {
                    (Some(shown), _) => self.scanned(ui, &shown, view, outbox),
                    (None, Some(pair)) => pair.show(ui, view, &mut self.tiles),
                    (None, None) => {}
                }
            });
            ui.advance_cursor_after_rect(whole);
        }
        // Its line is there with or without words, so that nothing below it moves when a result comes in.
        widgets::footnote(ui, target.as_ref().err().map_or(" ", String::as_str));
        ui.add_space(STEP);
        let films = [(Role::Reference, view.reference), (Role::Candidate, view.candidate)];
        let Self { pasting, filling, shown, tiles, .. } = self;
        ui.columns_const(|columns: &mut [Ui; 2]| {
            let entering = pasting.iter_mut().zip(filling);
            for ((ui, (role, film)), (pasting, filling)) in columns.iter_mut().zip(films).zip(entering) {
                match film {
                    Some(film) => {
                        let frames = measured(view, film);
                        pictures::row(ui, film, view, tiles, shown);
                        let here = bracket::Here { film, role, frames: &frames };
                        bracket::show(ui, &here, (pasting, filling), shown, outbox);
                    }
                    None => {
                        widgets::muted(ui, "No candidate lies on the bench.");
                    }
                }
            }
        });
    }

    fn forget_pictures(&mut self) {
        self.tiles = Tiles::default();
    }

    fn act(&mut self, action: Action, _view: &View<'_>, _outbox: &mut Outbox) -> bool {
        self.shown.is_some() && self.sight.act(action)
    }

    fn readout(&mut self, ui: &mut Ui, view: &View<'_>, outbox: &mut Outbox) {
        comparison::films(
            ui,
            view.reference.map(|film| film.label.as_str()),
            view.candidate.map(|film| film.label.as_str()),
        );
        chosen_density(ui, view, outbox);
        let Some(candidate) = view.candidate else { return };
        let slot = view.session.peek(&ComparisonOf { film: candidate.id.clone() });
        widgets::slot(ui, &slot, &format!("Comparing {}", candidate.label), |ui, comparison| {
            matched(ui, comparison, view);
            speeds(ui, comparison);
            print_exposure(ui, comparison);
        });
    }
}

/// By which density shadows are matched.
fn chosen_density(ui: &mut Ui, view: &View<'_>, outbox: &mut Outbox) {
    widgets::section(ui, "Shadows matched by");
    let mut chosen = view.series.settings.shadow_match;
    let net = "Density above each film's own base+fog: shadows alike once the print exposure has made up for base+fog";
    let gross = "Density as read: shadows alike when all films are printed at one exposure";
    let options = [(ShadowDensity::Net, "net density", net), (ShadowDensity::Gross, "gross density", gross)];
    if widgets::choice(ui, "Shadow density", &mut chosen, &options) {
        outbox.change(RecordEdit::ShadowMatch(chosen));
    }
}

/// Speeds by every criterion, how far each lies from the box, and when it is the right one.
fn speeds(ui: &mut Ui, comparison: &Comparison) {
    widgets::section(ui, "Speeds");
    comparison::head(ui);
    let label = |row: &SpeedRow| widgets::capital(row.criterion.text());
    let lines: Vec<Line<'_>> = comparison
        .speeds
        .iter()
        .map(|row| Line {
            label: label(row).into(),
            unit: "",
            about: row.criterion.when().to_owned(),
            reference: Some(&row.speeds[0]),
            candidate: Some(&row.speeds[1]),
            difference: Some(&row.difference),
            difference_unit: "stops",
            distinguishable: distinguishable(&row.difference),
            decimals: 0,
            on: On::Curves,
        })
        .collect();
    for (line, row) in lines.iter().zip(&comparison.speeds) {
        comparison::line(ui, line);
        let films = [("reference", 0), ("candidate", 1)];
        let notes: Vec<String> = films.iter().filter_map(|(film, which)| note(row, film, *which)).collect();
        if !notes.is_empty() {
            widgets::footnote(ui, &notes.join("; "));
        }
        widgets::footnote(ui, row.criterion.when());
    }
    comparison::footnotes(ui, &lines);
}

/// What is printed on a box by this speed, and how far it lies from what is.
fn note(row: &SpeedRow, film: &str, which: usize) -> Option<String> {
    let printed = row.printed[which].as_ref().map(|printed| format!("printed {printed}"));
    let distance = row.from_box[which].known().map(|stops| {
        let assumed = if stops.flags.contains(Flags::ASSUMED) { ", reference taken at its box" } else { "" };
        format!(
            "{}, {} stops{assumed}",
            format::thirds_beside(stops, "its box"),
            format::difference(stops, 2)
        )
    });
    let parts: Vec<String> = printed.into_iter().chain(distance).collect();
    (!parts.is_empty()).then(|| format!("{film}: {}", parts.join(", ")))
}

fn row(comparison: &Comparison, id: FigureId) -> Option<&FigureRow> {
    comparison.rows.iter().find(|row| row.figure == id)
}

fn matched(ui: &mut Ui, comparison: &Comparison, view: &View<'_>) {
    widgets::section(ui, "Matched shadow");
    if let Ok(target) = target(view) {
        let hover = "Shadow density of the reference's frame that was metered at its box speed";
        widgets::value_row(ui, "Reference's shadow density", &format::number(target.density, 2), hover);
    }
    let ids = [FigureId::ShadowMatchIndex, FigureId::ShadowMatchOther];
    let rows: Vec<&FigureRow> = ids.iter().filter_map(|id| row(comparison, *id)).collect();
    let chosen = view.series.settings.shadow_match;
    comparison::head(ui);
    let lines: Vec<Line<'_>> = rows
        .iter()
        .zip([chosen, chosen.other()])
        .map(|(row, density)| {
            let label = match density {
                ShadowDensity::Net => "Exposure index, net density",
                ShadowDensity::Gross => "Exposure index, gross density",
            };
            Line { label: label.into(), ..Line::of(row) }
        })
        .collect();
    for line in &lines {
        comparison::line(ui, line);
    }
    if let Some(row) = rows.first() {
        settings_of_the_meter(ui, row, view);
    }
    comparison::footnotes(ui, &lines);
}

/// The index in words of the meter: nearest third, nearest frame, distance from the reference.
fn settings_of_the_meter(ui: &mut Ui, row: &FigureRow, view: &View<'_>) {
    if let Value::Known(index) = &row.candidate {
        let third = iso_rounded(index.value).map_or("–".to_owned(), |(third, _)| format::number(third, 0));
        let hover = "The nearest setting of a meter in thirds of a stop";
        widgets::value_row(ui, "Candidate, nearest third", &third, hover);
        let frames = view.candidate.and_then(|film| film.bracket.as_ref()).map(|bracket| &bracket.frames);
        let nearest = frames.and_then(|frames| {
            let read = frames.iter().filter(|frame| frame.shadow_density.is_some() || frame.scan.is_some());
            let metered = read.filter_map(|frame| Some((frame, frame.exposure_index?)));
            let off = metered.map(|(frame, metered)| (frame, metered, (metered / index.value).log2()));
            off.min_by(|a, b| a.2.abs().total_cmp(&b.2.abs()))
        });
        if let Some((frame, metered, stops)) = nearest {
            let text = format!(
                "{}, at {}, {} stops off",
                frame.name,
                format::number(metered, 0),
                format::signed(-stops, 2)
            );
            widgets::value_row(
                ui,
                "Matched frame",
                &text,
                "The frame nearest to the match, and its exposure against it",
            );
        }
    }
    if let Value::Known(known) = &row.difference {
        let text = format::thirds_beside(known, "the reference's");
        widgets::value_row(
            ui,
            "Speed in use against the reference",
            &text,
            "In thirds of a stop, as far as the interval allows",
        );
    }
}

/// The candidate's print exposure over the reference's: the paper sees both base+fogs alike when the exposure makes up
/// for their difference, `10^dD` (ISO 5-1:2009, density is -lg of transmittance).
fn print_exposure(ui: &mut Ui, comparison: &Comparison) {
    let Some(row) = row(comparison, FigureId::BaseFog) else { return };
    widgets::section(ui, "Print exposure");
    comparison::head(ui);
    let lines = [Line::of(row)];
    comparison::line(ui, &lines[0]);
    match &row.difference {
        Value::Known(known) => {
            let factor = |density: f64| Density(-density).light();
            let text = format!(
                "× {} ({} to {})",
                format::number(factor(known.value), 2),
                format::number(factor(known.low), 2),
                format::number(factor(known.high), 2)
            );
            let hover = "10 to the power of the difference in base+fog: multiply the reference's print exposure by it. In \
                         brackets: its 95 % interval";
            widgets::value_row(ui, "Candidate's exposure", &text, hover);
        }
        Value::Undefined(_) => {
            widgets::value_row(ui, "Candidate's exposure", "–", "Follows from the difference in base+fog");
        }
    }
    comparison::footnotes(ui, &lines);
}
