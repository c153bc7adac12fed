//! The decimal sign of everything that is shown: painted text and what a screen reader is told get commas in one place, right
//! before they leave the window.

use std::borrow::Cow;

use egui::accesskit::{Node, Role};
use egui::epaint::TextShape;
use egui::{Context, FullOutput, Id, Shape};

fn id() -> Id {
    Id::unique("decimal comma")
}

/// Says whether a window shows its numbers with a comma.
pub fn take_up(ctx: &Context, comma: bool) {
    ctx.data_mut(|data| data.insert_temp(id(), comma));
}

/// Puts commas into what a window shows, where its tester wishes so.
#[derive(Debug)]
pub(super) struct DecimalComma;

impl egui::Plugin for DecimalComma {
    fn debug_name(&self) -> &'static str {
        "decimal comma"
    }

    fn output_hook(&mut self, ctx: &Context, output: &mut FullOutput) {
        if !ctx.data(|data| data.get_temp(id())).unwrap_or(false) {
            return;
        }
        for clipped in &mut output.shapes {
            shape(ctx, &mut clipped.shape);
        }
        for (_, node) in
            output.platform_output.accesskit_update.iter_mut().flat_map(|update| &mut update.nodes)
        {
            told(node);
        }
    }
}

fn shape(ctx: &Context, shape: &mut Shape) {
    match shape {
        Shape::Vec(shapes) => shapes.iter_mut().for_each(|inner| self::shape(ctx, inner)),
        Shape::Text(text) => painted(ctx, text),
        _ => {}
    }
}

fn painted(ctx: &Context, text: &mut TextShape) {
    if let Cow::Owned(with_commas) = commas(&text.galley.job.text) {
        // A comma takes as many bytes as a point: sections keep their places.
        let mut job = (*text.galley.job).clone();
        job.text = with_commas;
        text.galley = ctx.fonts_mut(|fonts| fonts.layout_job(job));
    }
}

/// What a screen reader is told; what stands in a field stays as it was typed.
fn told(node: &mut Node) {
    if let Some(Cow::Owned(label)) = node.label().map(commas) {
        node.set_label(label);
    }
    if let Some(Cow::Owned(description)) = node.description().map(commas) {
        node.set_description(description);
    }
    let typed = matches!(node.role(), Role::TextInput | Role::MultilineTextInput | Role::TextRun);
    if let Some(Cow::Owned(value)) = node.value().filter(|_| !typed).map(commas) {
        node.set_value(value);
    }
}

/// The same text with a decimal comma in each number. Points of names, dates, versions and files stay: a number is a run of
/// figures with one point and no letter.
#[must_use]
pub fn commas(text: &str) -> Cow<'_, str> {
    let mut changed: Option<Vec<u8>> = None;
    let mut begin = 0;
    for run in
        text.split(|char: char| !(char.is_alphanumeric() || matches!(char, '.' | '_' | '/' | '\\' | '-')))
    {
        let at = begin;
        // What parts two runs is one character of any length.
        begin += run.len();
        begin += text[begin..].chars().next().map_or(0, char::len_utf8);
        // The end of a sentence is no decimal point.
        let number = run.trim_end_matches('.');
        let point = number.find('.').filter(|point| {
            let rest = &number[point + 1..];
            number[..*point].bytes().all(|byte| byte.is_ascii_digit())
                && !rest.is_empty()
                && rest.bytes().all(|byte| byte.is_ascii_digit())
        });
        if let Some(point) = point {
            changed.get_or_insert_with(|| text.as_bytes().to_vec())[at + point] = b',';
        }
    }
    changed.and_then(|bytes| String::from_utf8(bytes).ok()).map_or(Cow::Borrowed(text), Cow::Owned)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// What is a number, and what only looks like one.
    #[test]
    fn numbers_get_commas_and_names_keep_their_points() {
        for (text, with_commas) in [
            (
                "Gamma: reference 0.62 ± 0.03, candidate −1.5 (−1.7 to −1.3).",
                "Gamma: reference 0,62 ± 0,03, candidate −1,5 (−1,7 to −1,3).",
            ),
            ("about 3.5", "about 3,5"),
            ("At the end stands 2.07.", "At the end stands 2,07."),
            (".07", ",07"),
            ("1.5×, 12.5 %, 20.0 °C", "1,5×, 12,5 %, 20,0 °C"),
        ] {
            assert_eq!(commas(text), with_commas);
        }
        for text in [
            "scan-1.5-b.tif",
            "tern 160.tif",
            "version 0.1.2",
            "on 24.12.2026",
            "/films/roll.3/4.5.tif",
            "Fig. 3",
            "16 steps.",
        ] {
            assert_eq!(commas(text), text);
        }
    }
}
