//! The stations of a comparison, on the left: the pages in the order of the job, each with a mark for what it holds for the
//! two films on the bench.

use egui::{Color32, Pos2, Rect, ScrollArea, Sense, Shape, Stroke, Ui, WidgetInfo, pos2, vec2};
use twinwedge_workbench::core::document::{Film, ReadingsSource, ScanId, Series, Strip};
use twinwedge_workbench::core::problem::{Problem, Severity, Subject};

use crate::actions::Action;
use crate::appearance::{Tokens, fonts, widgets};
use crate::outbox::{Command, Outbox};
use crate::pages::{PageId, View};

/// Width of the column with its words.
pub const WIDE: f32 = 116.0;
/// Width of the column that is folded to its marks.
pub const FOLDED: f32 = 36.0;
const ROW: f32 = 28.0;

/// The parts of the job, with their stations.
const PARTS: [(&str, &[PageId]); 3] = [
    ("set up", &[PageId::Films, PageId::Tablets]),
    (
        "measure",
        &[
            PageId::Curves,
            PageId::Times,
            PageId::Tones,
            PageId::Frames,
            PageId::Prints,
            PageId::Greys,
            PageId::Grain,
        ],
    ),
    ("publish", &[PageId::Report]),
];

/// What a station holds for the two films on the bench.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Holds {
    /// Nothing of either film.
    Nothing,
    /// Something of one of them.
    One,
    /// Something of both.
    Both,
    /// Something that is in doubt, or could not be measured.
    Doubts(usize),
}

/// Draws the column of stations.
pub fn column(ui: &mut Ui, page: PageId, folded: bool, view: &View<'_>, outbox: &mut Outbox) {
    let problems = view.session.problems();
    ui.spacing_mut().item_spacing.y = 0.0;
    ScrollArea::vertical().auto_shrink([false, false]).show(ui, |ui| {
        for (part, pages) in PARTS {
            heading(ui, part, folded);
            for id in pages {
                let holds = holds(*id, view, &problems);
                station(ui, *id, *id == page, folded, holds, view, outbox);
            }
        }
        ui.add_space(8.0);
        fold_button(ui, folded, view, outbox);
    });
}

fn heading(ui: &mut Ui, part: &str, folded: bool) {
    ui.add_space(4.0);
    if folded {
        ui.separator();
    } else {
        ui.label(egui::RichText::new(part).small().color(Tokens::get(ui).muted));
    }
}

fn station(
    ui: &mut Ui,
    id: PageId,
    shown: bool,
    folded: bool,
    holds: Holds,
    view: &View<'_>,
    outbox: &mut Outbox,
) {
    let tokens = Tokens::get(ui);
    let (rect, response) = ui.allocate_exact_size(vec2(ui.available_width(), ROW), Sense::click());
    let state = in_words(id, holds, view);
    response.widget_info(|| WidgetInfo::selected(egui::Role::Tab, true, shown, id.word()));
    ui.ctx().accesskit_node_builder(response.id, |node| node.set_description(state.clone()));
    let painter = ui.painter_at(rect);
    let fill = match (shown, response.hovered() || response.has_focus()) {
        (true, _) => tokens.accent_fill,
        (_, true) => tokens.hover,
        _ => Color32::TRANSPARENT,
    };
    painter.rect_filled(rect.shrink2(vec2(0.0, 1.0)), 4.0, fill);
    mark(&painter, pos2(rect.left() + 14.0, rect.center().y), holds, tokens);
    if !folded {
        let font = if shown { fonts::body_strong() } else { fonts::body() };
        let at = pos2(rect.left() + 30.0, rect.center().y);
        painter.text(at, egui::Align2::LEFT_CENTER, id.word(), font, tokens.ink);
    }
    let hover = format!("{}: {state}\n{}", id.word(), view.keys.hover(Action::page(id)));
    if response.on_hover_text(hover).clicked() {
        outbox.send(Command::Page(id));
    }
}

/// A ring for nothing, half filled for one film, filled for both, and a triangle for doubt.
fn mark(painter: &egui::Painter, center: Pos2, holds: Holds, tokens: &Tokens) {
    const RADIUS: f32 = 5.0;
    let stroke = Stroke::new(1.5, tokens.muted);
    match holds {
        Holds::Nothing => {
            painter.circle_stroke(center, RADIUS, stroke);
        }
        Holds::One => {
            let left = Rect::from_min_max(center - vec2(8.0, 8.0), center + vec2(0.0, 8.0));
            painter.with_clip_rect(left.intersect(painter.clip_rect())).circle_filled(
                center,
                RADIUS,
                tokens.muted,
            );
            painter.circle_stroke(center, RADIUS, stroke);
        }
        Holds::Both => {
            painter.circle_filled(center, RADIUS + 0.5, tokens.muted);
        }
        Holds::Doubts(_) => {
            let corners = vec![center + vec2(0.0, -6.5), center + vec2(6.5, 5.0), center + vec2(-6.5, 5.0)];
            painter.add(Shape::closed_line(corners, Stroke::new(1.5, tokens.ink)));
            painter.line_segment(
                [center + vec2(0.0, -2.5), center + vec2(0.0, 1.5)],
                Stroke::new(1.5, tokens.ink),
            );
            painter.circle_filled(center + vec2(0.0, 3.3), 0.9, tokens.ink);
        }
    }
}

fn in_words(id: PageId, holds: Holds, view: &View<'_>) -> String {
    match holds {
        Holds::Nothing => "nothing yet".to_owned(),
        Holds::One => {
            let here = view.bench().find(|film| has(id, film, view.series));
            here.map_or_else(String::new, |film| format!("{} only", film.label))
        }
        Holds::Both => "both films".to_owned(),
        Holds::Doubts(1) => "1 doubt".to_owned(),
        Holds::Doubts(number) => format!("{number} doubts"),
    }
}

fn holds(id: PageId, view: &View<'_>, problems: &[Problem]) -> Holds {
    let doubts = problems
        .iter()
        .filter(|problem| problem.severity > Severity::Note && station_of(problem, view) == Some(id))
        .count();
    if doubts > 0 {
        return Holds::Doubts(doubts);
    }
    match view.bench().filter(|film| has(id, film, view.series)).count() {
        0 => Holds::Nothing,
        1 => Holds::One,
        _ => Holds::Both,
    }
}

/// Whether a film has what a page shows.
fn has(id: PageId, film: &Film, series: &Series) -> bool {
    match id {
        PageId::Films => true,
        PageId::Tablets => !film.strips.is_empty(),
        PageId::Curves | PageId::Tones | PageId::Report => {
            !film.strips.is_empty() && film.tablet_exposure.is_some()
        }
        PageId::Times => {
            series.family(&film.id).filter(|roll| roll.process.minutes.is_some()).nth(1).is_some()
        }
        PageId::Frames => film.bracket.as_ref().is_some_and(|bracket| !bracket.frames.is_empty()),
        PageId::Prints => film.print.is_some(),
        PageId::Greys => film.print.is_some() && series.layout.is_some(),
        PageId::Grain => !film.uniform_areas.is_empty() || !film.edges.is_empty(),
    }
}

/// The station where a problem is mended, if it concerns the films on the bench.
fn station_of(problem: &Problem, view: &View<'_>) -> Option<PageId> {
    match &problem.subject {
        Subject::Series => Some(PageId::Films),
        Subject::Film(id) => view.bench().any(|film| film.id == *id).then_some(PageId::Films),
        Subject::Tablet(_) | Subject::Calibration(_) => Some(PageId::Tablets),
        Subject::Scan(scan) => view.bench().find_map(|film| station_of_scan(film, scan)),
        Subject::File { .. } => None,
    }
}

/// The station of a film's scan; none where the film does not hold it.
pub(super) fn station_of_scan(film: &Film, scan: &ScanId) -> Option<PageId> {
    let strip =
        |strip: &Strip| matches!(&strip.readings, ReadingsSource::Strip { scan: held, .. } if held == scan);
    if film.strips.iter().any(strip) {
        return Some(PageId::Tablets);
    }
    if film.print.as_ref().is_some_and(|print| print.scan == *scan) {
        return Some(PageId::Prints);
    }
    let framed = |bracket: &twinwedge_workbench::core::document::Bracket| {
        bracket.frames.iter().any(|frame| frame.scan.as_ref() == Some(scan))
    };
    if film.bracket.as_ref().is_some_and(framed) {
        return Some(PageId::Frames);
    }
    let grain = film.uniform_areas.iter().any(|area| area.scan == *scan);
    (grain || film.edges.iter().any(|edge| edge.scan == *scan)).then_some(PageId::Grain)
}

fn fold_button(ui: &mut Ui, folded: bool, view: &View<'_>, outbox: &mut Outbox) {
    let words = if folded { "»" } else { "« Fold" };
    let response = widgets::button(ui, words, &view.keys.hover(Action::FoldStations));
    widgets::name_it(&response, Action::FoldStations.spec().label);
    if response.clicked() {
        outbox.send(Command::Do(Action::FoldStations));
    }
}
