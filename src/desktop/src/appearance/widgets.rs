//! The small parts that pages are made of. Each has a name for screen readers and a hover text.

use egui::{Align2, Color32, Id, Key, Rect, Response, Role, Sense, Stroke, TextEdit, Ui, WidgetInfo, vec2};

use twinwedge_workbench::core::drawing::Role as FilmRole;
use twinwedge_workbench::core::problem::{Problem, Severity};
use twinwedge_workbench::engine::{Progress, Slot};

use super::{CONTROL, STEP, Tokens, fonts};

/// A heading with one line under it that says what is shown.
pub fn title(ui: &mut Ui, heading: &str, line: &str) {
    ui.heading(heading);
    muted(ui, line);
    ui.add_space(STEP);
}

/// A heading within a page.
pub fn section(ui: &mut Ui, text: &str) -> Response {
    ui.add_space(2.0 * STEP);
    ui.label(fonts::strong(text))
}

/// Secondary text, wrapped.
pub fn muted(ui: &mut Ui, text: &str) -> Response {
    let color = Tokens::get(ui).muted;
    ui.add(egui::Label::new(egui::RichText::new(text).color(color)).wrap())
}

/// A footnote, wrapped.
pub fn footnote(ui: &mut Ui, text: &str) -> Response {
    let color = Tokens::get(ui).muted;
    ui.add(egui::Label::new(egui::RichText::new(text).small().color(color)).wrap())
}

/// A button with a hover text.
pub fn button(ui: &mut Ui, text: &str, hover: &str) -> Response {
    ui.button(text).on_hover_text(hover)
}

/// A button that can be pressed only where `enabled`; else its hover text says why not.
pub fn button_if(ui: &mut Ui, enabled: bool, text: &str, hover: &str, why_not: &str) -> Response {
    ui.add_enabled(enabled, egui::Button::new(text)).on_hover_text(hover).on_disabled_hover_text(why_not)
}

/// Whether a dialog in which something is entered is left: by Escape alone, for a click beside it would lose what was
/// entered.
pub fn left_by_key<T>(dialog: &egui::containers::ModalResponse<T>) -> bool {
    !dialog.backdrop_response.clicked() && dialog.should_close()
}

/// One of a few, side by side: each a value, its word and its hover text. Answers whether it was changed.
pub fn choice<T: PartialEq + Copy>(
    ui: &mut Ui,
    name: &str,
    value: &mut T,
    options: &[(T, &str, &str)],
) -> bool {
    let before = *value;
    let mut buttons = |ui: &mut Ui| {
        let apart = ui.spacing().item_spacing.x;
        ui.spacing_mut().item_spacing.x = STEP;
        muted_inline(ui, name);
        for (option, word, hover) in options {
            let chosen = *value == *option;
            let response = ui.add(egui::Button::selectable(chosen, *word)).on_hover_text(*hover);
            response.widget_info(|| {
                WidgetInfo::selected(Role::RadioButton, true, chosen, format!("{name}: {word}"))
            });
            if response.clicked() {
                *value = *option;
            }
        }
        ui.spacing_mut().item_spacing.x = apart;
    };
    // In a row that wraps, buttons that find no room go on in the next.
    if ui.layout().main_wrap {
        buttons(ui);
    } else {
        ui.horizontal_wrapped(|ui| buttons(ui));
    }
    *value != before
}

/// A row of groups of controls; a group that finds no room begins a further row.
pub fn groups<R>(ui: &mut Ui, contents: impl FnOnce(&mut Ui) -> R) -> R {
    ui.horizontal_wrapped(|ui| {
        ui.spacing_mut().item_spacing.x = 4.0 * STEP;
        contents(ui)
    })
    .inner
}

/// Controls that stay together within [`groups`].
pub fn group<R>(ui: &mut Ui, name: &str, contents: impl FnOnce(&mut Ui) -> R) -> R {
    let id = ui.scope_id().with(("group", name));
    // How wide it was in the last frame; the first is drawn twice before anybody sees it.
    let width = ui.data(|data| data.get_temp::<f32>(id)).unwrap_or(0.0);
    if width > ui.available_size_before_wrap().x {
        ui.end_row();
    }
    let inner = ui.horizontal(|ui| {
        ui.spacing_mut().item_spacing.x = 2.0 * STEP;
        contents(ui)
    });
    let now = inner.response.rect.width();
    if (now - width).abs() > 0.5 {
        ui.data_mut(|data| data.insert_temp(id, now));
        ui.ctx().request_discard("a group of controls found its width");
    }
    inner.inner
}

/// Secondary text in a row.
pub fn muted_inline(ui: &mut Ui, text: &str) -> Response {
    let color = Tokens::get(ui).muted;
    ui.label(egui::RichText::new(text).color(color))
}

/// A switch with a word. Answers whether it was changed.
pub fn switch(ui: &mut Ui, value: &mut bool, word: &str, hover: &str) -> bool {
    ui.checkbox(value, word).on_hover_text(hover).changed()
}

/// The sign of a film: line and mark as they are in every plot, so that a name in text and its curve are seen as one.
pub fn film_sign(ui: &mut Ui, role: FilmRole) -> Response {
    let tokens = Tokens::get(ui);
    let (rect, response) = ui.allocate_exact_size(vec2(28.0, 16.0), Sense::hover());
    let painter = ui.painter();
    let (left, right) = (rect.left_center(), rect.right_center());
    let stroke = Stroke::new(2.0, tokens.role(role));
    match role {
        FilmRole::Candidate => {
            painter.extend(egui::Shape::dashed_line(&[left, right], stroke, 6.0, 4.0));
            let mark = Rect::from_center_size(rect.center(), vec2(7.0, 7.0));
            painter.rect(
                mark,
                0.0,
                ui.visuals().panel_fill,
                Stroke::new(1.5, stroke.color),
                egui::StrokeKind::Middle,
            );
        }
        FilmRole::Reference => {
            painter.line_segment([left, right], stroke);
            painter.circle_filled(rect.center(), 4.0, stroke.color);
        }
        FilmRole::Other | FilmRole::Guide => {
            painter.line_segment([left, right], Stroke::new(1.0, stroke.color));
        }
    }
    response
}

/// A line of text that is cut with an ellipsis where the room ends and shows whole on hover.
pub fn ellipsis(ui: &mut Ui, text: impl Into<egui::WidgetText>) -> Response {
    ui.add(egui::Label::new(text).truncate())
}

/// A label and its value at the right edge, on one line; on two where one has no room for both.
pub fn value_row(ui: &mut Ui, label: &str, value: &str, hover: &str) -> Response {
    const LINE: f32 = 20.0;
    let tokens = Tokens::get(ui);
    let width = ui.available_width();
    let spoken = format!("{label}: {value}");
    let value = ui.painter().layout_no_wrap(value.to_owned(), fonts::body(), tokens.ink);
    let mut job = egui::text::LayoutJob::simple_singleline(label.to_owned(), fonts::body(), tokens.muted);
    job.wrap = egui::text::TextWrapping::truncate_at_width(width);
    let label = ui.painter().layout_job(job);
    let one = label.size().x + 2.0 * STEP + value.size().x <= width;
    let (rect, response) =
        ui.allocate_exact_size(vec2(width, if one { LINE } else { 2.0 * LINE - STEP }), Sense::hover());
    response.widget_info(|| WidgetInfo::labeled(Role::Label, true, &spoken));
    let first = rect.with_max_y(rect.top() + LINE);
    let last = rect.with_min_y(rect.bottom() - LINE);
    let at = Align2::RIGHT_CENTER.anchor_size(last.right_center(), value.size()).min;
    ui.painter().galley(at, value, tokens.ink);
    let at = Align2::LEFT_CENTER.anchor_size(first.left_center(), label.size()).min;
    ui.painter().galley(at, label, tokens.muted);
    if hover.is_empty() { response } else { response.on_hover_text(hover) }
}

/// An empty page: what goes there, and the one button that puts it there. Answers whether it was pressed.
pub fn empty(ui: &mut Ui, what: &str, why: &str, action: &str) -> bool {
    let mut pressed = false;
    boxed(ui, |ui| {
        ui.label(fonts::strong(what));
        muted(ui, why);
        ui.add_space(STEP);
        pressed = ui.button(action).on_hover_text(why).clicked();
    });
    pressed
}

/// A box with a thin edge.
pub fn boxed<R>(ui: &mut Ui, contents: impl FnOnce(&mut Ui) -> R) -> R {
    let tokens = Tokens::get(ui);
    egui::Frame::new()
        .fill(ui.visuals().panel_fill)
        .stroke(Stroke::new(1.0, tokens.line))
        .corner_radius(4)
        .inner_margin(12)
        .show(ui, |ui| {
            ui.set_width(ui.available_width());
            contents(ui)
        })
        .inner
}

/// A caution: a heavy edge and the word, no hue.
pub fn caution(ui: &mut Ui, text: &str) {
    note_box(ui, "Caution", text, Tokens::get(ui).ink);
}

/// A problem with its remedy.
pub fn problem(ui: &mut Ui, problem: &Problem) {
    let tokens = Tokens::get(ui);
    let (word, edge) = match problem.severity {
        Severity::Note => ("Note", tokens.edge),
        Severity::Doubt => ("In doubt", tokens.muted),
        Severity::Error => ("Not to be had", tokens.ink),
    };
    note_box(ui, word, &format!("{} {}", problem.cause, problem.remedy), edge);
}

/// What could not be done, and what to do instead, beside the control that it is about.
pub fn caution_line(ui: &mut Ui, text: &str) {
    note_box(ui, "Not taken", text, Tokens::get(ui).ink);
}

fn note_box(ui: &mut Ui, word: &str, text: &str, edge: Color32) {
    let frame = egui::Frame::new().inner_margin(egui::Margin { left: 12, right: 4, top: 4, bottom: 4 });
    let response = frame
        .show(ui, |ui| {
            ui.set_width(ui.available_width());
            ui.spacing_mut().item_spacing.y = 0.0;
            ui.label(fonts::strong(word));
            ui.add(egui::Label::new(text).wrap());
        })
        .response;
    ui.painter().vline(response.rect.left() + 2.0, response.rect.y_range(), Stroke::new(3.0, edge));
}

/// Shows a result, the previous one greyed with its progress, a progress alone, or why there is none.
pub fn slot<T>(ui: &mut Ui, slot: &Slot<T>, what: &str, contents: impl FnOnce(&mut Ui, &T)) {
    match slot {
        Slot::Ready(value) => contents(ui, value),
        Slot::Stale(value, progress) => {
            waiting(ui, what, *progress);
            ui.scope(|ui| {
                ui.multiply_opacity(0.5);
                contents(ui, value);
            });
        }
        Slot::Pending(progress) => waiting(ui, what, *progress),
        Slot::Failed(found) => problem(ui, found),
    }
}

/// A thin bar with what is being computed.
pub fn waiting(ui: &mut Ui, what: &str, progress: Progress) {
    let tokens = Tokens::get(ui);
    let (rect, response) = ui.allocate_exact_size(vec2(ui.available_width(), 20.0), Sense::hover());
    response.widget_info(|| WidgetInfo::labeled(Role::ProgressIndicator, true, what));
    let bar = Rect::from_min_max(egui::pos2(rect.left(), rect.bottom() - 3.0), rect.right_bottom());
    ui.painter().rect_filled(bar, 0.0, tokens.line);
    let share = progress.done.unwrap_or(0.0).clamp(0.0, 1.0);
    let done = Rect::from_min_size(bar.min, vec2(bar.width() * share, bar.height()));
    ui.painter().rect_filled(done, 0.0, tokens.muted);
    ui.painter().text(rect.left_top(), Align2::LEFT_TOP, what, fonts::small(), tokens.muted);
}

/// Names a field for screen readers; a hint in it is no name.
pub fn name_it(response: &Response, name: &str) {
    response.ctx.accesskit_node_builder(response.id, |node| node.set_label(name));
}

/// A labelled line of text that is edited in place. Answers the new text when it was entered: with Enter or by leaving
/// the field; Escape leaves it as it was.
pub fn text_field(ui: &mut Ui, id: Id, name: &str, current: &str, hover: &str, width: f32) -> Option<String> {
    let mut buffer = ui.data(|data| data.get_temp::<String>(id)).unwrap_or_else(|| current.to_owned());
    // No field hides what it holds: it grows with it, and where there is no more room it goes on in further lines.
    let text = ui.painter().layout_no_wrap(buffer.clone(), fonts::body(), Tokens::get(ui).ink).size().x;
    let needed = text + 2.0 * ui.spacing().button_padding.x + STEP;
    let width = width.max(needed).min(ui.available_width());
    let edit = if needed <= width {
        TextEdit::singleline(&mut buffer)
    } else {
        TextEdit::multiline(&mut buffer).desired_rows(1).return_key(None)
    };
    let edit = edit.id(id).desired_width(width).min_size(vec2(0.0, CONTROL)).align(Align2::LEFT_CENTER);
    let response = ui.add(edit).on_hover_text(hover);
    if response.has_focus() && ui.input(|input| input.key_pressed(Key::Enter)) {
        response.surrender_focus();
    }
    name_it(&response, name);
    entered(ui, id, current, buffer.replace('\n', " "), &response)
}

/// The same within a table row.
pub fn cell_field(ui: &mut Ui, id: Id, name: &str, current: &str, width: f32) -> Option<String> {
    let mut buffer = ui.data(|data| data.get_temp::<String>(id)).unwrap_or_else(|| current.to_owned());
    let edit = TextEdit::singleline(&mut buffer)
        .id(id)
        .desired_width(width)
        .margin(egui::Margin::symmetric(4, 1))
        .align(Align2::LEFT_CENTER);
    let response = ui.add(edit).on_hover_text(name);
    name_it(&response, name);
    entered(ui, id, current, buffer, &response)
}

/// The same over several lines; Enter makes a new line.
pub fn text_area(ui: &mut Ui, id: Id, name: &str, current: &str, hint: &str, rows: usize) -> Option<String> {
    let mut buffer = ui.data(|data| data.get_temp::<String>(id)).unwrap_or_else(|| current.to_owned());
    let edit = TextEdit::multiline(&mut buffer)
        .id(id)
        .desired_width(f32::INFINITY)
        .desired_rows(rows)
        .hint_text(hint);
    let response = ui.add(edit).on_hover_text(format!("{name}: {hint}"));
    name_it(&response, name);
    entered(ui, id, current, buffer, &response)
}

fn entered(ui: &Ui, id: Id, current: &str, buffer: String, response: &Response) -> Option<String> {
    let escaped = ui.input(|input| input.key_pressed(Key::Escape));
    if response.has_focus() {
        ui.data_mut(|data| data.insert_temp(id, buffer));
        return None;
    }
    if response.lost_focus() || response.changed() {
        ui.data_mut(|data| data.remove::<String>(id));
        return (!escaped && buffer != current).then_some(buffer);
    }
    None
}

/// A number that is edited as text: empty is none. Answers the new number; text that is no number is refused and stays.
pub fn number_field(
    ui: &mut Ui,
    id: Id,
    name: &str,
    current: Option<f64>,
    hover: &str,
    width: f32,
) -> Option<Option<f64>> {
    let shown = current.map(plain).unwrap_or_default();
    let entered = text_field(ui, id, name, &shown, hover, width)?;
    read_number(&entered)
}

/// A label as it begins a line.
pub use twinwedge_workbench::core::shown::capital;

/// A number as it was typed: no more digits than it has.
#[must_use]
pub fn plain(value: f64) -> String {
    format!("{value}").replace('-', "−")
}

/// Reads a typed number: decimal point or comma, plain or true minus; empty is none. `None` where it is no number.
#[must_use]
pub fn read_number(text: &str) -> Option<Option<f64>> {
    let text = text.trim().replace(',', ".").replace('−', "-");
    if text.is_empty() {
        return Some(None);
    }
    text.parse::<f64>().ok().filter(|number| number.is_finite()).map(Some)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn typed_numbers_are_read() {
        assert_eq!(read_number(" 1,25 "), Some(Some(1.25)));
        assert_eq!(read_number("−0.3"), Some(Some(-0.3)));
        assert_eq!(read_number(""), Some(None));
        assert_eq!(read_number("1.2.3"), None);
        assert_eq!(read_number("inf"), None);
    }

    #[test]
    fn numbers_survive_being_shown_and_read() {
        for value in [0.1, -2.5, 400.0, 6.35] {
            assert_eq!(read_number(&plain(value)), Some(Some(value)));
        }
    }
}
