//! The table that every page shows: reference, candidate, difference, uncertainty, a line of label above each.

use std::borrow::Cow;

use egui::text::{LayoutJob, TextWrapping};
use egui::{Align2, Color32, Rect, Response, Role, Sense, Stroke, Ui, WidgetInfo, pos2, vec2};

use twinwedge_workbench::core::compare::{FigureRow, format};
use twinwedge_workbench::core::drawing::Role as FilmRole;
use twinwedge_workbench::core::figures::spec;
use twinwedge_workbench::core::measured::{Measured, Value};

use super::{STEP, Tokens, fonts, numbers, widgets};
use crate::origin::{Asked, On};
use crate::outbox::{self, Command};

/// Height of a line with its label.
const LINE: f32 = 38.0;
/// Decimals that columns keep room for.
const DECIMALS: usize = numbers::DECIMALS;

/// One quantity of both films.
#[derive(Debug, Clone, Default)]
pub struct Line<'a> {
    /// What it is called.
    pub label: Cow<'a, str>,
    /// Unit of the two values.
    pub unit: &'a str,
    /// How it is defined and where that comes from, for the hover text.
    pub about: String,
    /// The reference's value; `None` in lines of a difference alone.
    pub reference: Option<&'a Value>,
    /// The candidate's value; `None` in lines of a difference alone.
    pub candidate: Option<&'a Value>,
    /// The candidate less the reference, where both have it.
    pub difference: Option<&'a Value>,
    /// What is printed behind the difference; empty for ratios and logarithms.
    pub difference_unit: &'a str,
    /// Whether the difference exceeds its uncertainty.
    pub distinguishable: Option<bool>,
    /// Decimals where the uncertainty does not say.
    pub decimals: usize,
    /// What it was measured on.
    pub on: On,
}

impl<'a> Line<'a> {
    /// The line of one figure of merit.
    #[must_use]
    pub fn of(row: &'a FigureRow) -> Self {
        let figure = spec(row.figure);
        Self {
            label: widgets::capital(figure.label).into(),
            unit: figure.unit,
            about: format!("{}\n{}", figure.definition, figure.source.text),
            reference: Some(&row.reference),
            candidate: Some(&row.candidate),
            difference: Some(&row.difference),
            difference_unit: &row.difference_unit,
            distinguishable: row.distinguishable,
            decimals: figure.decimals,
            on: On::Figure(row.figure),
        }
    }

    /// The whole line in words, for screen readers and hover texts.
    #[must_use]
    pub fn words(&self) -> String {
        let of = |value: Option<&Value>, unit: &str| {
            value.map_or_else(|| "–".to_owned(), |value| format::value(value, self.decimals, unit))
        };
        let difference = match self.difference {
            Some(Value::Known(known)) => {
                format::with_unit(&format::difference(known, self.decimals), self.difference_unit)
            }
            _ => "–".to_owned(),
        };
        let judged = if self.distinguishable == Some(false) { ", not distinguishable" } else { "" };
        format!(
            "{}: reference {}, candidate {}, difference {difference}{judged}",
            self.label,
            of(self.reference, self.unit),
            of(self.candidate, self.unit)
        )
    }

    fn reasons(&self) -> Vec<String> {
        let mut reasons: Vec<String> = Vec::new();
        // A difference that is missing because a film lacks the figure says nothing new.
        let films = [self.reference, self.candidate];
        let both = films.iter().all(|value| value.is_some_and(|value| value.known().is_some()));
        for value in films.into_iter().chain([self.difference.filter(|_| both)]).flatten() {
            if let Value::Undefined(reason) = value
                && !reason.is_empty()
                && !reasons.contains(&reason.to_string())
            {
                reasons.push(reason.to_string());
            }
        }
        reasons
    }
}

/// The four columns of a line of this width.
fn columns(rect: Rect) -> [Rect; 4] {
    let width = rect.width() / 4.0;
    [0.0, 1.0, 2.0, 3.0].map(|index| {
        let left = rect.left() + width * index;
        Rect::from_min_max(pos2(left, rect.top()), pos2(left + width - STEP, rect.bottom()))
    })
}

/// The head: which column is whose.
pub fn head(ui: &mut Ui) {
    let tokens = Tokens::get(ui);
    let (rect, _) = ui.allocate_exact_size(vec2(ui.available_width(), 20.0), Sense::hover());
    let words = [("reference", "ref."), ("candidate", "cand."), ("difference", "diff."), ("±", "±")];
    for (column, (word, short)) in columns(rect).into_iter().zip(words) {
        let text = |word: &str| ui.painter().layout_no_wrap(word.to_owned(), fonts::small(), tokens.muted);
        // Columns of a narrow readout leave no room between whole words.
        let whole = text(word);
        let galley = if whole.size().x + STEP <= column.width() { whole } else { text(short) };
        let corner = Align2::RIGHT_CENTER.anchor_size(column.right_center(), galley.size()).min;
        ui.painter().galley(corner, galley, tokens.muted);
    }
    ui.painter().hline(rect.x_range(), rect.bottom(), Stroke::new(1.0, tokens.edge));
}

/// The two films by name, with their signs.
pub fn films(ui: &mut Ui, reference: Option<&str>, candidate: Option<&str>) {
    for (role, label, kind) in
        [(FilmRole::Reference, reference, "reference"), (FilmRole::Candidate, candidate, "candidate")]
    {
        ui.horizontal(|ui| {
            widgets::film_sign(ui, role);
            match label {
                Some(label) => widgets::ellipsis(ui, fonts::strong(label)),
                None => widgets::muted(ui, &format!("no {kind}")),
            };
        });
    }
}

/// Draws one line of a comparison. A press on it asks what it was measured on, and how.
pub fn line(ui: &mut Ui, line: &Line<'_>) -> Response {
    let tokens = Tokens::get(ui);
    let (rect, response) = ui.allocate_exact_size(vec2(ui.available_width(), LINE), Sense::click());
    response.widget_info(|| WidgetInfo::labeled(Role::Button, true, line.words()));
    if response.hovered() {
        ui.painter().rect_filled(rect, 2.0, tokens.hover);
    }
    if response.has_focus() {
        let stroke = Stroke::new(1.5, tokens.ink);
        ui.painter().rect_stroke(rect.shrink(1.0), 2.0, stroke, egui::StrokeKind::Inside);
    }
    if response.clicked() {
        let reasons = line.reasons();
        let (label, words, about) = (line.label.to_string(), line.words(), line.about.clone());
        let asked = Asked { label, words, about, reasons, on: line.on };
        outbox::send_aside(ui.ctx(), Command::Origin(Box::new(asked)));
    }
    let label =
        if line.unit.is_empty() { line.label.to_string() } else { format!("{}, {}", line.label, line.unit) };
    let top = Rect::from_min_size(rect.min + vec2(0.0, 3.0), vec2(rect.width() - STEP, 14.0));
    let unit = ui.painter().text(
        top.right_top(),
        Align2::RIGHT_TOP,
        line.difference_unit,
        fonts::small(),
        tokens.muted,
    );
    cut(ui, top.with_max_x(unit.left() - STEP), &label, tokens.muted);
    let below = Rect::from_min_max(pos2(rect.left(), rect.top() + 17.0), rect.max);
    let [reference, candidate, difference, interval] = columns(below);
    value(ui, reference, line.reference, line.decimals, tokens);
    value(ui, candidate, line.candidate, line.decimals, tokens);
    if let Some(Value::Known(known)) = line.difference {
        let parts = format::difference_parts(known, line.decimals);
        let color = if line.distinguishable == Some(true) { tokens.ink } else { tokens.muted };
        numbers::paint(ui.painter(), difference, DECIMALS, &parts.value, color);
        plus_minus(ui, interval, known, &parts, tokens);
    } else {
        dash(ui, difference, tokens);
    }
    ui.painter().hline(rect.x_range(), rect.bottom(), Stroke::new(1.0, tokens.line));
    let reasons = line.reasons().join("\n");
    let more = "Press it for how it was got, and where".to_owned();
    let hover = [line.words(), line.about.clone(), reasons, more].into_iter();
    let hover = hover.filter(|text| !text.is_empty());
    response.on_hover_text(hover.collect::<Vec<_>>().join("\n\n"))
}

/// A line whose figure can be pointed at: by the pointer, or by the keyboard that brings it into focus. Answers whether it
/// is.
pub fn pointed_line(ui: &mut Ui, of: &Line<'_>) -> bool {
    let response = line(ui, of);
    response.hovered() || response.has_focus()
}

fn cut(ui: &Ui, rect: Rect, text: &str, color: Color32) {
    let mut job = LayoutJob::simple_singleline(text.to_owned(), fonts::small(), color);
    job.wrap = TextWrapping::truncate_at_width(rect.width());
    let galley = ui.painter().layout_job(job);
    ui.painter().galley(rect.min, galley, color);
}

fn value(ui: &Ui, rect: Rect, value: Option<&Value>, decimals: usize, tokens: &Tokens) {
    match value {
        Some(Value::Known(known)) => {
            let parts = format::parts(known, decimals);
            numbers::paint(ui.painter(), rect, DECIMALS, &parts.value, tokens.ink);
        }
        Some(Value::Undefined(_)) | None => dash(ui, rect, tokens),
    }
}

fn dash(ui: &Ui, rect: Rect, tokens: &Tokens) {
    numbers::paint(ui.painter(), rect, DECIMALS, "–", tokens.muted);
}

fn plus_minus(ui: &Ui, rect: Rect, known: &Measured, parts: &format::Parts, tokens: &Tokens) {
    let text = numbers::interval(known, parts);
    if let Some(half) = text.strip_prefix("± ") {
        numbers::paint(ui.painter(), rect, DECIMALS, half, tokens.muted);
    } else {
        // Lopsided: both sides, smaller, in the place of one.
        ui.painter().text(rect.right_center(), Align2::RIGHT_CENTER, text, fonts::small(), tokens.muted);
    }
}

/// Why figures are not there, each reason once with all that it concerns.
pub fn footnotes(ui: &mut Ui, lines: &[Line<'_>]) {
    let mut reasons: Vec<(String, Vec<&str>)> = Vec::new();
    for line in lines {
        for reason in line.reasons() {
            match reasons.iter_mut().find(|(known, _)| *known == reason) {
                Some((_, labels)) if labels.contains(&line.label.as_ref()) => {}
                Some((_, labels)) => labels.push(&line.label),
                None => reasons.push((reason, vec![line.label.as_ref()])),
            }
        }
    }
    for (reason, labels) in reasons {
        widgets::footnote(ui, &format!("– {}: {reason}", labels.join(", ")));
    }
    if lines.iter().any(|line| line.difference.is_some_and(|value| value.known().is_some())) {
        let grey = "Grey differences are not distinguishable: smaller than their uncertainty.";
        widgets::footnote(ui, &format!("{} {grey}", format::INTERVAL_NOTE));
    }
}
