//! The list of films: a small curve each, what is missing and what is in doubt; opened from the bench, or kept beside the page.

use std::collections::HashMap;

use egui::{
    Align2, Pos2, Rect, Response, ScrollArea, Sense, Shape, Stroke, TextEdit, Ui, WidgetInfo, pos2, vec2,
};
use twinwedge_workbench::core::document::{Film, FilmId};
use twinwedge_workbench::core::drawing::Role;
use twinwedge_workbench::core::problem::{Severity, Subject};

use super::order;
use super::stations::station_of_scan;
use crate::actions::Action;
use crate::appearance::{Tokens, fonts, widgets};
use crate::outbox::{Command, Outbox};
use crate::pages::View;

const ROW: f32 = 52.0;
const CURVE: f32 = 44.0;
/// How far a further roll stands in from its film.
const INDENT: f32 = 12.0;

/// Which films are shown.
#[derive(Debug, Default)]
pub struct Filter {
    words: String,
    /// The candidate that was brought into sight last.
    followed: Option<FilmId>,
}

impl Filter {
    /// Whether a film's label holds every word.
    fn lets_through(&self, film: &Film) -> bool {
        let label = film.label.to_lowercase();
        self.words.to_lowercase().split_whitespace().all(|word| label.contains(word))
    }

    /// The list has just been opened: it begins at the candidate.
    pub(super) fn follow_again(&mut self) {
        self.followed = None;
    }

    /// The row of the candidate, where it is another than before.
    fn follow(&mut self, films: &[(&Film, bool)], candidate: Option<&Film>) -> Option<usize> {
        let candidate =
            candidate.map(|film| film.id.clone()).filter(|id| self.followed.as_ref() != Some(id))?;
        let row = films.iter().position(|(film, _)| film.id == candidate);
        self.followed = Some(candidate);
        row
    }
}

/// The list, as high as there is room, `kept` beside the page or opened from the bench; answers whether a film was chosen.
pub fn list(ui: &mut Ui, view: &View<'_>, filter: &mut Filter, kept: bool, outbox: &mut Outbox) -> bool {
    let all = view.series.in_families();
    let number = all.len();
    let films: Vec<_> = all.into_iter().filter(|(film, _)| filter.lets_through(film)).collect();
    ui.horizontal(|ui| {
        ui.label(fonts::strong("Films"));
        let shown =
            if films.len() == number { number.to_string() } else { format!("{} of {number}", films.len()) };
        ui.label(egui::RichText::new(shown).color(Tokens::get(ui).muted));
        ui.with_layout(egui::Layout::right_to_left(egui::Align::Center), |ui| {
            let word = if kept { "Hide" } else { "Keep" };
            super::top::action_button(ui, view, Action::FilmList, word, outbox);
            super::top::action_button(ui, view, Action::AddFilm, "Add", outbox);
        });
    });
    if number > 6 {
        let hover = "Shows the films whose label holds all these words";
        let field = ui.add(TextEdit::singleline(&mut filter.words).hint_text("words of the label"));
        let field = field.on_hover_text(hover);
        widgets::name_it(&field, "Films with these words");
    }
    ui.add_space(4.0);
    ui.spacing_mut().item_spacing.y = 0.0;
    let doubts = doubts(view);
    let mut chosen = false;
    let reveal = filter.follow(&films, view.candidate);
    ScrollArea::vertical().auto_shrink([false, false]).show_rows(ui, ROW, films.len(), |ui, rows| {
        if let Some(row) = reveal {
            #[expect(clippy::cast_precision_loss, reason = "rows on a screen")]
            let below = (row as f32 - rows.start as f32) * ROW;
            let corner = ui.max_rect().min + vec2(0.0, below);
            ui.scroll_to_rect(Rect::from_min_size(corner, vec2(1.0, ROW)), None);
        }
        for place in rows {
            let (film, roll) = films[place];
            let doubts = doubts.get(&film.id).copied().unwrap_or(0);
            let (response, pressed) = row(ui, film, roll, doubts, view, outbox);
            chosen |= pressed;
            order::moved(ui, &films, place, &response, outbox);
        }
    });
    chosen
}

/// How many doubts there are about each film and its scans.
fn doubts(view: &View<'_>) -> HashMap<FilmId, usize> {
    let mut doubts: HashMap<FilmId, usize> = HashMap::new();
    for problem in view.session.problems().into_iter().filter(|problem| problem.severity > Severity::Note) {
        match &problem.subject {
            Subject::Film(film) => *doubts.entry(film.clone()).or_default() += 1,
            Subject::Scan(scan) => {
                let holds = |film: &&Film| station_of_scan(film, scan).is_some();
                for film in view.series.films.iter().filter(holds) {
                    *doubts.entry(film.id.clone()).or_default() += 1;
                }
            }
            Subject::Series | Subject::Tablet(_) | Subject::Calibration(_) | Subject::File { .. } => {}
        }
    }
    doubts
}

fn row(
    ui: &mut Ui,
    film: &Film,
    roll: bool,
    doubts: usize,
    view: &View<'_>,
    outbox: &mut Outbox,
) -> (Response, bool) {
    let tokens = Tokens::get(ui);
    let is = |other: Option<&Film>| other.is_some_and(|other| other.id == film.id);
    let role = match (is(view.reference), is(view.candidate)) {
        (true, _) => Role::Reference,
        (_, true) => Role::Candidate,
        _ => Role::Other,
    };
    let missing = missing(film);
    let (rect, response) = ui.allocate_exact_size(vec2(ui.available_width(), ROW), Sense::click_and_drag());
    let note = match (role, missing.is_empty()) {
        (Role::Reference, true) => "reference".to_owned(),
        (_, true) if roll => film.process.in_words(),
        (_, true) => film.box_speed.map(|speed| format!("box speed {speed}")).unwrap_or_default(),
        (_, false) => format!("no {}", missing.join(", ")),
    };
    let note = match doubts {
        0 => note,
        1 => format!("1 doubt, {note}"),
        number => format!("{number} doubts, {note}"),
    };
    let what = match (role, roll) {
        (Role::Reference, _) => "reference ",
        (_, true) => "roll ",
        _ => "",
    };
    let spoken = format!("{what}{}, {note}", film.label);
    response.widget_info(|| {
        WidgetInfo::selected(egui::Role::ListItem, true, role == Role::Candidate, spoken.clone())
    });
    let painter = ui.painter_at(rect);
    let fill = match role {
        Role::Candidate => tokens.accent_fill,
        _ if response.hovered() || response.has_focus() => tokens.hover,
        _ => egui::Color32::TRANSPARENT,
    };
    painter.rect_filled(rect.shrink2(vec2(0.0, 1.0)), 4.0, fill);
    let box_rect = Rect::from_min_size(
        rect.min + vec2(if roll { 4.0 + INDENT } else { 4.0 }, (ROW - CURVE + 8.0) / 2.0),
        vec2(CURVE, CURVE - 8.0),
    );
    small_curve(ui, box_rect, film, role, view);
    let left = box_rect.right() + 8.0;
    let room = rect.right() - left - 4.0;
    let line = |y: f32, text: &str, font: egui::FontId, color: egui::Color32| {
        let mut job = egui::text::LayoutJob::simple_singleline(text.to_owned(), font, color);
        job.wrap = egui::text::TextWrapping::truncate_at_width(room);
        let galley = ui.fonts_mut(|fonts| fonts.layout_job(job));
        painter.galley(pos2(left, y), galley, color);
    };
    line(rect.top() + 8.0, &film.label, fonts::body_strong(), tokens.ink);
    line(rect.top() + 28.0, &note, fonts::small(), tokens.muted);
    let hover = format!("{}\n{note}", film.label);
    let order = "Drag it, or press Alt with an arrow, for another place in the list";
    let response = response.on_hover_text(if role == Role::Reference {
        format!("{hover}\n{order}")
    } else {
        format!("{hover}\nA click lays this film beside the reference\n{order}")
    });
    let chosen = response.clicked() && role != Role::Reference;
    if chosen {
        outbox.send(Command::Candidate(film.id.clone()));
    }
    (response, chosen)
}

fn small_curve(ui: &Ui, rect: Rect, film: &Film, role: Role, view: &View<'_>) {
    const POINTS: usize = 24;
    let tokens = Tokens::get(ui);
    let painter = ui.painter_at(rect);
    painter.rect_filled(rect, 2.0, tokens.paper);
    if film.strips.is_empty() {
        painter.text(rect.center(), Align2::CENTER_CENTER, "–", fonts::small(), tokens.muted);
        return;
    }
    let slot = view.session.peek_compared(&film.id);
    let Some(found) = slot.value() else { return };
    let (low, high) = found.curve.range();
    // One scale for all films: three units of log H across, as many of density up as fit.
    let scale = rect.width() / 3.2;
    let inner = rect.shrink(3.0);
    let at = |x: f64, d: f64| -> Pos2 {
        pos2(inner.left() + (x - low) as f32 * scale, inner.bottom() - d as f32 * scale)
    };
    let points: Vec<Pos2> = (0..=POINTS)
        .filter_map(|i| {
            let x = low + (high - low) * i as f64 / POINTS as f64;
            Some(at(x, found.curve.best.density(x)?))
        })
        .collect();
    let color = if role == Role::Other { tokens.muted } else { tokens.role(role) };
    painter.add(Shape::line(points, Stroke::new(1.5, color)));
}

/// What a film lacks, in words.
#[must_use]
pub fn missing(film: &Film) -> Vec<&'static str> {
    // A further roll is there for its curve.
    let roll = film.roll_of.is_some();
    let lacks = [
        (film.strips.is_empty(), "readings"),
        (!film.strips.is_empty() && film.tablet_exposure.is_none(), "tablet"),
        (film.print.is_none() && !roll, "print"),
        (film.uniform_areas.is_empty() && !roll, "grain area"),
    ];
    lacks.into_iter().filter(|(lacks, _)| *lacks).map(|(_, word)| word).collect()
}
