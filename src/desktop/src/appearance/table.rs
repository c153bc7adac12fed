//! Tables: a head row that stays, rows that scroll inside their place, a first column that stays when scrolled sideways.
//! Only the rows in sight are built, so 500 films cost what 25 do.

use std::borrow::Cow;

use egui::{
    Align2, CursorIcon, Layout, Rect, Response, Role, ScrollArea, Sense, Stroke, Ui, UiBuilder, WidgetInfo,
};
use egui::{pos2, vec2};

use twinwedge_workbench::core::compare::format;
use twinwedge_workbench::core::measured::{Measured, Value};

use super::{ROW, STEP, Tokens, fonts, numbers};

/// Room at the left and right of a cell.
const PAD: f32 = 2.0 * STEP;

/// What stands in a column, for the place of its title.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    /// Text, from the left.
    Text,
    /// Numbers, to the right.
    Number,
    /// Numbers with room for their uncertainty behind them.
    Measured,
}

/// A column: its head, its width in points, and how its cells are set.
#[derive(Debug, Clone)]
pub struct Column<'a> {
    /// Head of the column.
    pub title: Cow<'a, str>,
    /// What the column shows, for the hover text of the head.
    pub hover: Cow<'a, str>,
    /// Its least width in points.
    pub width: f32,
    /// Share of the width that is left over.
    pub grow: f32,
    /// What stands in it.
    pub kind: Kind,
    /// A press on the head sorts by it.
    pub sortable: bool,
}

impl<'a> Column<'a> {
    /// A column of text.
    pub fn text(title: impl Into<Cow<'a, str>>, width: f32) -> Self {
        Self { title: title.into(), hover: "".into(), width, grow: 0.0, kind: Kind::Text, sortable: false }
    }

    /// A column of numbers.
    pub fn number(title: impl Into<Cow<'a, str>>, width: f32) -> Self {
        Self { kind: Kind::Number, ..Self::text(title, width) }
    }

    /// A column of numbers with uncertainties.
    pub fn measured(title: impl Into<Cow<'a, str>>, width: f32) -> Self {
        Self { kind: Kind::Measured, ..Self::text(title, width) }
    }

    /// The same with a hover text on its head.
    #[must_use]
    pub fn hover(mut self, hover: impl Into<Cow<'a, str>>) -> Self {
        self.hover = hover.into();
        self
    }

    /// The same, taking a share of the width that is left over.
    #[must_use]
    pub fn growing(mut self, grow: f32) -> Self {
        self.grow = grow;
        self
    }

    /// The same, sorted by a press on its head.
    #[must_use]
    pub fn sortable(mut self) -> Self {
        self.sortable = true;
        self
    }
}

/// Which way a column is sorted.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Sort {
    /// The place of the column from 0.
    pub column: usize,
    /// Largest or last first.
    pub falling: bool,
}

/// A table to be shown.
#[derive(Debug)]
pub struct Table<'a> {
    /// Its name for screen readers and for remembering where it was scrolled to.
    pub name: &'a str,
    /// The columns from left to right.
    pub columns: &'a [Column<'a>],
    /// Number of rows.
    pub rows: usize,
    /// The row that is selected.
    pub selected: Option<usize>,
    /// How it is sorted.
    pub sort: Option<Sort>,
    /// Rows can be pressed.
    pub press: bool,
    /// A row that shall come into sight.
    pub reveal: Option<usize>,
    /// Height it may take; beyond that it scrolls. Within what scrolls itself it must be said: what is left there is no measure.
    pub height: f32,
}

/// What was pressed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Pressed {
    /// The number of the row that was pressed.
    pub row: Option<usize>,
    /// The head of a column.
    pub head: Option<usize>,
}

impl<'a> Table<'a> {
    /// A table that takes the height that is there.
    #[must_use]
    pub fn new(name: &'a str, columns: &'a [Column<'a>], rows: usize) -> Self {
        Self {
            name,
            columns,
            rows,
            selected: None,
            sort: None,
            press: false,
            reveal: None,
            height: f32::INFINITY,
        }
    }

    /// Shows it. `row_name` names a row for screen readers; `cell` fills one cell of a row.
    pub fn show(
        self,
        ui: &mut Ui,
        row_name: impl Fn(usize) -> String,
        mut cell: impl FnMut(&mut Ui, usize, usize),
    ) -> Pressed {
        let mut pressed = Pressed::default();
        let mut entered: Option<Rect> = None;
        #[expect(clippy::cast_precision_loss, reason = "rows on a screen")]
        let content = ROW * (self.rows as f32 + 1.0);
        let room = if self.height.is_finite() { self.height } else { ui.available_height() };
        let height = room.min(content + 2.0 * STEP + 8.0);
        let area = ScrollArea::both().id_salt(self.name).auto_shrink([false, false]);
        // However little is left of what scrolls around it.
        let area = area.max_height(height).min_scrolled_height(height);
        let shown = area.show_viewport(ui, |ui, viewport| {
            let lefts = self.place(ui.available_width());
            let width = lefts.last().copied().unwrap_or_default();
            let (rect, _) = ui.allocate_exact_size(vec2(width, content), Sense::hover());
            // Where the rows scroll, whether or not the table itself is in sight: a screen reader finds its cells anyway.
            let clip = Rect::from_min_size(rect.min + viewport.min.to_vec2(), viewport.size());
            let frame = Frame { rect, clip, lefts, frozen: viewport.min.x > 0.5 };
            let whole = ui.interact(clip, ui.scope_id().with((self.name, "whole")), Sense::hover());
            whole.widget_info(|| WidgetInfo::labeled(Role::Table, true, self.name));
            ui.ctx().accesskit_node_builder(whole.id, |node| {
                node.set_scroll_x_max(f64::from((width - viewport.width()).max(0.0)));
            });
            if let Some(row) = self.reveal {
                // The head covers the first row's worth of what is in sight.
                ui.scroll_to_rect(frame.row(row).expand2(vec2(0.0, ROW)), None);
            }
            // The keyboard goes through the heads before the rows, though the heads are painted over them.
            let heads = self.heads(ui, &frame, &mut entered);
            pressed.row = self.body(ui, (&frame, viewport), &row_name, &mut cell, &mut entered);
            pressed.head = self.paint_heads(ui, &frame, heads);
            if let Some(place) = entered {
                ui.scroll_to_rect(place, None);
            }
        });
        if let Some(place) = entered {
            // What scrolls around the table shows the line where it has come to.
            let inner = shown.inner_rect;
            let top = place.top().min(inner.bottom() - 2.0 * ROW).max(inner.top());
            ui.scroll_to_rect(Rect::from_x_y_ranges(inner.x_range(), top..=top + 2.0 * ROW), None);
        }
        pressed
    }

    /// Left edge of each column, and the right edge of the last.
    fn place(&self, available: f32) -> Vec<f32> {
        let least: f32 = self.columns.iter().map(|column| column.width).sum();
        let shares: f32 = self.columns.iter().map(|column| column.grow).sum();
        let spare = (available - least).max(0.0);
        let mut x = 0.0;
        let mut lefts = vec![x];
        for column in self.columns {
            x += column.width + if shares > 0.0 { spare * column.grow / shares } else { 0.0 };
            lefts.push(x);
        }
        lefts
    }

    /// Draws the rows in sight, and one above and below them, so that the keyboard goes on to these; answers which was
    /// pressed. `entered` becomes the place that shall come into sight.
    fn body(
        &self,
        ui: &mut Ui,
        (frame, viewport): (&Frame, Rect),
        row_name: &impl Fn(usize) -> String,
        cell: &mut impl FnMut(&mut Ui, usize, usize),
        entered: &mut Option<Rect>,
    ) -> Option<usize> {
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a row on a screen")]
        let row_at = |y: f32| (y.max(0.0) / ROW) as usize;
        let tokens = Tokens::get(ui);
        let mut pressed = None;
        let clip = frame.below_head();
        let fresh = self.fresh(ui);
        let first = row_at(viewport.min.y).saturating_sub(1);
        for row in first..self.rows.min(row_at(viewport.max.y) + 2) {
            let place = frame.row(row);
            let line = child(ui, place, clip);
            let sense = if self.press { Sense::click() } else { Sense::hover() };
            let response = line.interact(place, ui.scope_id().with((self.name, row)), sense);
            if response.gained_focus() {
                // The head covers the first row's worth of what is in sight.
                *entered = Some(place.expand2(vec2(0.0, ROW)));
            }
            let selected = self.selected == Some(row);
            response.widget_info(|| WidgetInfo::selected(Role::Row, true, selected, row_name(row)));
            let ground = self.ground(ui, tokens, &response, selected);
            line.painter().rect_filled(place, 0.0, ground);
            line.painter().hline(place.x_range(), place.bottom(), Stroke::new(1.0, tokens.line));
            if frame.frozen {
                let first = frame.cell(row, 0);
                let edge = Stroke::new(1.0, tokens.edge);
                ui.painter().with_clip_rect(clip).vline(first.right(), first.y_range(), edge);
            }
            for column in 0..self.columns.len() {
                self.cell(ui, frame, frame.cell(row, column), clip, (row, column), cell);
            }
            if fresh.is_some_and(|rect| place.contains(rect.center())) {
                *entered = Some(place.expand2(vec2(0.0, ROW)));
            }
            if response.has_focus() {
                let mark = Stroke::new(1.0, tokens.ink);
                line.painter().rect_stroke(place.intersect(clip), 0.0, mark, egui::StrokeKind::Inside);
            }
            if response.clicked() {
                pressed = Some(row);
            }
        }
        pressed
    }

    /// The place of what has got the keyboard since the last frame, if it may be a field of this table: it lies within, or is out
    /// of sight.
    fn fresh(&self, ui: &Ui) -> Option<Rect> {
        let key = ui.scope_id().with((self.name, "keyboard"));
        let now = ui.memory(egui::Memory::focused);
        let before = ui.data_mut(|data| {
            let before = data.get_temp::<Option<egui::Id>>(key).flatten();
            data.insert_temp(key, now);
            before
        });
        let response = ui.ctx().read_response(now.filter(|_| now != before)?)?;
        let hidden = !response.interact_rect.is_positive();
        let within = hidden || ui.clip_rect().contains(response.rect.center());
        (within && response.layer_id == ui.layer_id()).then_some(response.rect)
    }

    fn ground(&self, ui: &Ui, tokens: &Tokens, response: &Response, selected: bool) -> egui::Color32 {
        if selected {
            tokens.accent_fill
        } else if self.press && response.hovered() {
            tokens.hover
        } else {
            ui.visuals().panel_fill
        }
    }

    fn cell(
        &self,
        ui: &mut Ui,
        frame: &Frame,
        place: Rect,
        clip: Rect,
        (row, column): (usize, usize),
        cell: &mut impl FnMut(&mut Ui, usize, usize),
    ) {
        let clip = if column > 0 && frame.frozen { frame.right_of_frozen(clip) } else { clip };
        if !clip.intersects(place) {
            return;
        }
        let inner = place.shrink2(vec2(PAD, 0.0));
        // A field keeps the keyboard, whatever comes or goes above the table.
        let builder = UiBuilder::new()
            .scope_id(ui.scope_id().with((self.name, row, column)))
            .max_rect(inner)
            .layout(Layout::left_to_right(egui::Align::Center));
        let mut ui = ui.new_child(builder);
        ui.shrink_clip_rect(clip.intersect(place));
        cell(&mut ui, row, column);
    }

    /// The heads as controls, in reading order. `entered` becomes the place that shall come into sight.
    fn heads(&self, ui: &mut Ui, frame: &Frame, entered: &mut Option<Rect>) -> Vec<Response> {
        let mut heads = Vec::with_capacity(self.columns.len());
        for (index, column) in self.columns.iter().enumerate() {
            let place = frame.head_cell(index);
            let clipped = child(ui, place, frame.head_clip(index));
            let sense = if column.sortable { Sense::click() } else { Sense::hover() };
            let response = clipped.interact(place, ui.scope_id().with((self.name, "head", index)), sense);
            response.widget_info(|| {
                let role = if column.sortable { Role::Button } else { Role::ColumnHeader };
                let verb = if column.sortable { "Sort by " } else { "" };
                WidgetInfo::labeled(role, true, format!("{verb}{}", column.title))
            });
            if response.gained_focus() && index > 0 {
                // The first column stays, and covers as much at the left.
                *entered = Some(place.with_min_x(place.left() - frame.lefts[1]));
            }
            heads.push(response);
        }
        heads
    }

    /// Draws the heads over the rows; answers which was pressed.
    fn paint_heads(&self, ui: &Ui, frame: &Frame, heads: Vec<Response>) -> Option<usize> {
        let tokens = Tokens::get(ui);
        let whole = frame.head();
        let painter = ui.painter().with_clip_rect(ui.clip_rect().intersect(whole));
        painter.rect_filled(whole, 0.0, tokens.raised);
        painter.hline(whole.x_range(), whole.bottom(), Stroke::new(1.0, tokens.edge));
        let mut pressed = None;
        for (index, response) in heads.into_iter().enumerate() {
            let column = &self.columns[index];
            let painter = painter.with_clip_rect(painter.clip_rect().intersect(frame.head_clip(index)));
            if self.paint_head(&painter, tokens, column, index, frame.head_cell(index), response).clicked() {
                pressed = Some(index);
            }
        }
        pressed
    }

    fn paint_head(
        &self,
        painter: &egui::Painter,
        tokens: &Tokens,
        column: &Column<'_>,
        index: usize,
        place: Rect,
        response: Response,
    ) -> Response {
        if column.sortable && (response.hovered() || response.has_focus()) {
            painter.rect_filled(place, 0.0, tokens.hover);
        }
        let arrow = match self.sort {
            Some(sort) if sort.column == index => {
                if sort.falling {
                    " ↓"
                } else {
                    " ↑"
                }
            }
            _ => "",
        };
        let text = format!("{}{arrow}", column.title);
        let color = if arrow.is_empty() { tokens.muted } else { tokens.ink };
        let inner = place.shrink2(vec2(PAD, 0.0));
        let mut job = egui::text::LayoutJob::simple_singleline(text, fonts::small(), color);
        job.wrap = egui::text::TextWrapping::truncate_at_width(inner.width());
        let galley = painter.layout_job(job);
        let (align, at) = match column.kind {
            Kind::Text => (Align2::LEFT_CENTER, inner.left_center()),
            Kind::Number => (Align2::RIGHT_CENTER, inner.right_center()),
            Kind::Measured => {
                let right = inner.right_center() - vec2(PLUS_MINUS, 0.0);
                // A title longer than its numbers runs on over their uncertainties.
                let right = right.x.max(inner.left() + galley.size().x).min(inner.right());
                (Align2::RIGHT_CENTER, pos2(right, inner.center().y))
            }
        };
        let corner = align.anchor_size(at, galley.size()).min;
        painter.galley(corner, galley, color);
        let hover = match (column.hover.is_empty(), column.sortable) {
            (true, false) => return response,
            (true, true) => "Sorts by this column; again turns it round".to_owned(),
            (false, false) => column.hover.to_string(),
            (false, true) => format!("{}\nPress to sort; again turns it round", column.hover),
        };
        let response = response.on_hover_text(hover);
        if column.sortable { response.on_hover_cursor(CursorIcon::PointingHand) } else { response }
    }
}

/// Where things are while a table is drawn.
struct Frame {
    rect: Rect,
    clip: Rect,
    lefts: Vec<f32>,
    /// Scrolled sideways: the first column stays.
    frozen: bool,
}

impl Frame {
    fn head(&self) -> Rect {
        Rect::from_min_max(self.clip.min, pos2(self.clip.right(), self.clip.top() + ROW))
    }

    fn below_head(&self) -> Rect {
        Rect::from_min_max(pos2(self.clip.left(), self.clip.top() + ROW), self.clip.max)
    }

    /// The head of a column.
    fn head_cell(&self, column: usize) -> Rect {
        let place = self.cell(0, column);
        Rect::from_min_size(pos2(place.left(), self.clip.top()), vec2(place.width(), ROW))
    }

    /// Where the head of a column is seen.
    fn head_clip(&self, column: usize) -> Rect {
        if column > 0 && self.frozen { self.right_of_frozen(self.head()) } else { self.head() }
    }

    fn right_of_frozen(&self, clip: Rect) -> Rect {
        Rect::from_min_max(pos2(clip.left() + self.lefts[1], clip.top()), clip.max)
    }

    fn row(&self, row: usize) -> Rect {
        #[expect(clippy::cast_precision_loss, reason = "rows on a screen")]
        let top = self.rect.top() + ROW * (row as f32 + 1.0);
        Rect::from_min_max(pos2(self.clip.left(), top), pos2(self.clip.right(), top + ROW))
    }

    fn cell(&self, row: usize, column: usize) -> Rect {
        let origin = if column == 0 { self.clip.left() } else { self.rect.left() };
        let line = self.row(row);
        Rect::from_min_max(
            pos2(origin + self.lefts[column], line.top()),
            pos2(origin + self.lefts[column + 1], line.bottom()),
        )
    }
}

fn child(ui: &mut Ui, place: Rect, clip: Rect) -> Ui {
    let mut child = ui.new_child(UiBuilder::new().max_rect(place));
    child.shrink_clip_rect(clip);
    child
}

/// A cell of text; cut with an ellipsis where it is too long, whole on hover.
pub fn text_cell(ui: &mut Ui, text: &str) -> Response {
    let color = Tokens::get(ui).ink;
    toned_cell(ui, text, color)
}

/// A cell of secondary text.
pub fn muted_cell(ui: &mut Ui, text: &str) -> Response {
    let color = Tokens::get(ui).muted;
    toned_cell(ui, text, color)
}

fn toned_cell(ui: &mut Ui, text: &str, color: egui::Color32) -> Response {
    let place = ui.max_rect();
    let response = ui.interact(place, ui.scope_id().with("text"), Sense::hover());
    response.widget_info(|| WidgetInfo::labeled(Role::Label, true, text));
    let mut job = egui::text::LayoutJob::simple_singleline(text.to_owned(), fonts::body(), color);
    job.wrap = egui::text::TextWrapping::truncate_at_width(place.width());
    let galley = ui.painter().layout_job(job);
    let cut = galley.elided;
    let corner = Align2::LEFT_CENTER.anchor_size(place.left_center(), galley.size()).min;
    ui.painter().galley(corner, galley, color);
    if cut { response.on_hover_text(text) } else { response }
}

/// A number as a cell shows it.
#[derive(Debug, Clone, PartialEq)]
pub struct NumberCell<'a> {
    /// What it is, for screen readers: 'Gamma of Tern 160'.
    pub name: Cow<'a, str>,
    /// The number, or a dash.
    pub text: Cow<'a, str>,
    /// How it was got, or why it is not there.
    pub hover: Cow<'a, str>,
    /// Set in grey: not distinguishable, or not there.
    pub grey: bool,
    /// Decimals that the column keeps room for.
    pub decimals: usize,
    /// Its uncertainty, set small behind it.
    pub after: Cow<'a, str>,
    /// Room that the column keeps for uncertainties.
    pub room: f32,
}

impl<'a> NumberCell<'a> {
    /// A number without uncertainty.
    pub fn plain(name: impl Into<Cow<'a, str>>, text: impl Into<Cow<'a, str>>, decimals: usize) -> Self {
        Self {
            name: name.into(),
            text: text.into(),
            hover: "".into(),
            grey: false,
            decimals,
            after: "".into(),
            room: 0.0,
        }
    }

    /// The same with a hover text.
    #[must_use]
    pub fn hover(mut self, hover: impl Into<Cow<'a, str>>) -> Self {
        self.hover = hover.into();
        self
    }

    /// A measured value with its uncertainty, or a dash with its reason.
    pub fn value(name: impl Into<Cow<'a, str>>, value: &'a Value, decimals: usize) -> Self {
        let cell = Self { room: PLUS_MINUS, ..Self::plain(name, "–", numbers::room(decimals)) };
        match value {
            Value::Known(known) => Self::of_parts(cell, format::parts(known, decimals), known),
            Value::Undefined(reason) => Self { hover: reason.to_string().into(), grey: true, ..cell },
        }
    }

    /// A difference with its sign and uncertainty; grey where it is not distinguishable.
    pub fn difference(
        name: impl Into<Cow<'a, str>>,
        value: &'a Value,
        decimals: usize,
        distinguishable: Option<bool>,
    ) -> Self {
        let cell = Self { room: PLUS_MINUS, ..Self::plain(name, "–", numbers::DECIMALS) };
        match value {
            Value::Known(known) => {
                let grey = distinguishable != Some(true);
                Self { grey, ..Self::of_parts(cell, format::difference_parts(known, decimals), known) }
            }
            Value::Undefined(reason) => Self { hover: reason.to_string().into(), grey: true, ..cell },
        }
    }

    /// The same without its uncertainty, which the hover text tells.
    #[must_use]
    pub fn alone(self) -> Self {
        Self { room: 0.0, after: "".into(), ..self }
    }

    fn of_parts(cell: Self, parts: format::Parts, known: &Measured) -> Self {
        let mut hover = format!("{} {}", parts.value, parts.uncertainty);
        for word in known.flags.words() {
            hover.push('\n');
            hover.push_str(word);
        }
        Self {
            after: numbers::interval(known, &parts).into(),
            text: parts.value.into(),
            hover: hover.into(),
            ..cell
        }
    }
}

/// Room for an uncertainty set small.
const PLUS_MINUS: f32 = 84.0;

/// A cell of a number, its point under the points above it.
pub fn number_cell(ui: &mut Ui, cell: &NumberCell<'_>) -> Response {
    let tokens = Tokens::get(ui);
    let place = ui.max_rect();
    let response = ui.interact(place, ui.scope_id().with("number"), Sense::hover());
    response.widget_info(|| {
        let words = format!("{}: {} {}", cell.name, cell.text, cell.after);
        WidgetInfo::labeled(Role::Label, true, words.trim_end())
    });
    let color = if cell.grey { tokens.muted } else { tokens.ink };
    let (number, after) = place.split_left_right_at_x(place.right() - cell.room);
    numbers::paint(ui.painter(), number, cell.decimals, &cell.text, color);
    if !cell.after.is_empty() {
        let mut job =
            egui::text::LayoutJob::simple_singleline(cell.after.to_string(), fonts::small(), tokens.muted);
        job.wrap = egui::text::TextWrapping::truncate_at_width(after.width() - STEP);
        let galley = ui.painter().layout_job(job);
        let corner =
            Align2::LEFT_CENTER.anchor_size(after.left_center() + vec2(STEP, 0.0), galley.size()).min;
        ui.painter().galley(corner, galley, tokens.muted);
    }
    if cell.hover.is_empty() { response } else { response.on_hover_text(cell.hover.as_ref()) }
}
