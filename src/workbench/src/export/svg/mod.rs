//! Plots as SVG: a view box in millimetres, coordinates as data give them, text as text.

mod greys;
mod labels;
mod layers;
mod quadrants;

use std::fmt::Write;

use twinwedge_core::compare::format;
use twinwedge_core::drawing::{Axis, Layer, Plot, Role, grey_ladder};

use super::markup::escape_plain;
pub(super) use greys::greys;
use labels::Placer;
pub(super) use quadrants::quadrants;

/// Open fonts with clear figures first, then whatever the reader has.
pub(super) const FONTS: &str =
    "Inter, 'Source Sans 3', 'Noto Sans', 'Liberation Sans', 'DejaVu Sans', sans-serif";

/// The one accent: the candidate.
pub(super) const ACCENT: &str = "#b0511a";
/// The reference and all text.
pub(super) const INK: &str = "#1c1c1c";
/// Films that are neither.
pub(super) const PALE: &str = "#8f8f8f";

/// Millimetres that stand beside the axes of a plot without labels at its lines, and above and below them.
pub(super) const MARGINS: [f64; 2] = [LEFT + RIGHT, TOP + BOTTOM];
const LEFT: f64 = 9.0;
const RIGHT: f64 = 3.0;
const TOP: f64 = 6.5;
const BOTTOM: f64 = 9.0;

/// Height of text in millimetres.
const TEXT: f64 = 2.5;
/// Mean width of a letter over the height of text; on the wide side, so that labels keep apart.
const LETTER: f64 = 0.56;

/// A number of millimetres, short.
fn mm(value: f64) -> String {
    let text = format!("{value:.3}");
    let text = text.trim_end_matches('0').trim_end_matches('.');
    if text == "-0" { "0".to_owned() } else { text.to_owned() }
}

/// Where data lie on the sheet.
struct Frame {
    left: f64,
    top: f64,
    width: f64,
    height: f64,
    x: (f64, f64),
    y: (f64, f64),
}

impl Frame {
    /// The frame of a plot on a sheet `width_mm` wide. With one scale for both axes a very high plot is made narrower.
    fn of(plot: &Plot, width_mm: f64) -> Self {
        let (left, top) = (LEFT, TOP);
        let right = if labels_at_lines(plot) { 30.0 } else { RIGHT };
        let mut width = (width_mm - left - right).max(10.0);
        let (x_span, y_span) = (plot.x.range.1 - plot.x.range.0, plot.y.range.1 - plot.y.range.0);
        let height = match plot.x_per_y {
            Some(x_per_y) => {
                let height = width / x_span * y_span / x_per_y;
                let highest = 1.25 * width_mm;
                if height > highest {
                    width *= highest / height;
                }
                height.min(highest)
            }
            None => 0.3 * width,
        };
        Self { left, top, width, height, x: plot.x.range, y: plot.y.range }
    }

    fn x_mm(&self, x: f64) -> f64 {
        self.left + (x - self.x.0) / (self.x.1 - self.x.0) * self.width
    }

    fn y_mm(&self, y: f64) -> f64 {
        self.top + (self.y.1 - y) / (self.y.1 - self.y.0) * self.height
    }

    fn at(&self, point: [f64; 2]) -> [f64; 2] {
        [self.x_mm(point[0]), self.y_mm(point[1])]
    }

    fn right(&self) -> f64 {
        self.left + self.width
    }

    fn bottom(&self) -> f64 {
        self.top + self.height
    }
}

fn labels_at_lines(plot: &Plot) -> bool {
    // A line without a name is part of something else: the bar of an interval.
    let labelled =
        |layer: &Layer| matches!(layer, Layer::Line { role: Role::Other, name, .. } if !name.is_empty());
    plot.layers.iter().any(labelled)
}

/// A plot as SVG, `width_mm` wide; true scale in millimetres. Colours are fixed greys and the one accent.
#[must_use]
pub fn svg(plot: &Plot, width_mm: f64) -> String {
    draw(plot, width_mm, |[w, h]| {
        format!(r#"xmlns="http://www.w3.org/2000/svg" width="{}mm" height="{}mm""#, mm(w), mm(h))
    })
}

/// The same as part of an HTML page, which knows the name space by itself.
pub(super) fn inline(plot: &Plot, width_mm: f64) -> String {
    draw(plot, width_mm, |[w, h]| format!(r#"width="{}mm" height="{}mm""#, mm(w), mm(h)))
}

/// The same as part of another drawing: as large as `size` there, in a corner at `at`.
pub(super) fn placed(plot: &Plot, width_mm: f64, at: [f64; 2], size: [f64; 2]) -> String {
    let [x, y, w, h] = [at[0], at[1], size[0], size[1]].map(mm);
    draw(plot, width_mm, |_| format!(r#"x="{x}" y="{y}" width="{w}" height="{h}""#))
}

/// The films' lines of a plot and where they lie on a sheet `width_mm` wide, for the script of a page: JSON. `shift` is by how much
/// the candidate is moved along the axis to be aligned otherwise.
pub(super) fn lines_json(plot: &Plot, width_mm: f64, shift: Option<f64>) -> serde_json::Value {
    let frame = Frame::of(plot, width_mm);
    let short = |value: f64| (value * 1000.0).round() / 1000.0;
    let films = plot.layers.iter().filter_map(|layer| match layer {
        Layer::Line { role: Role::Reference | Role::Candidate, name, points } if !name.is_empty() => {
            let every = points.len().div_ceil(PLACES).max(1);
            let last = points.len().saturating_sub(1);
            let kept = points.iter().enumerate().filter(|(at, _)| at % every == 0 || *at == last);
            let points: Vec<[f64; 2]> = kept.map(|(_, point)| point.map(short)).collect();
            Some((layer.role() == Role::Candidate, serde_json::json!({ "name": name, "points": points })))
        }
        _ => None,
    });
    let mut films: Vec<_> = films.collect();
    films.sort_by_key(|(candidate, _)| *candidate);
    let films: Vec<_> = films.into_iter().map(|(_, film)| film).collect();
    let x = [plot.x.range.0, plot.x.range.1, frame.left, frame.width].map(short);
    let y = [plot.y.range.0, plot.y.range.1, frame.top, frame.height].map(short);
    let (axis, shift) = (&plot.x.label, shift.map(short));
    serde_json::json!({ "axis": axis, "x": x, "y": y, "films": films, "shift": shift })
}

/// Places along a line that tell its course to a thousandth.
const PLACES: usize = 100;

/// How high a plot is on a sheet `width_mm` wide, millimetres.
pub(super) fn height_mm(plot: &Plot, width_mm: f64) -> f64 {
    Frame::of(plot, width_mm).bottom() + BOTTOM
}

fn draw(plot: &Plot, width_mm: f64, place: impl FnOnce([f64; 2]) -> String) -> String {
    let frame = Frame::of(plot, width_mm);
    let height = frame.bottom() + BOTTOM;
    let mut out = String::new();
    // Writing to a String cannot fail.
    let _ = write!(
        out,
        r#"<svg {place} viewBox="0 0 {w} {h}" role="img" aria-label="{title}" font-family="{FONTS}" font-size="{TEXT}" fill="{INK}"><title>{title}</title>"#,
        place = place([width_mm, height]),
        w = mm(width_mm),
        h = mm(height),
        title = escape_plain(&plot.title),
    );
    grid(&mut out, &frame, plot);
    let mut placer = Placer::new(&frame);
    // The inner picture cuts off what lies outside the axes; it keeps the sheet's millimetres.
    let _ = write!(
        out,
        r#"<svg x="{x}" y="{y}" width="{w}" height="{h}" viewBox="{x} {y} {w} {h}" overflow="hidden">"#,
        x = mm(frame.left),
        y = mm(frame.top),
        w = mm(frame.width),
        h = mm(frame.height)
    );
    for layer in &plot.layers {
        let of_candidate = layer.role() == Role::Candidate;
        out.push_str(if of_candidate { r#"<g data-film="candidate">"# } else { "" });
        layers::draw(&mut out, &frame, layer, &mut placer);
        out.push_str(if of_candidate { "</g>" } else { "" });
    }
    out.push_str("</svg>");
    let _ = write!(
        out,
        r##"<rect x="{}" y="{}" width="{}" height="{}" fill="none" stroke="#6f6f6f" stroke-width="0.2"/>"##,
        mm(frame.left),
        mm(frame.top),
        mm(frame.width),
        mm(frame.height)
    );
    let _ = write!(out, "<g data-labels=\"\">{}</g>", placer.write());
    labels::at_lines(&mut out, &frame, plot);
    head(&mut out, &frame, plot);
    out.push_str("</svg>");
    out
}

/// Multiples of `step` within an axis.
fn lines(axis: &Axis, step: f64) -> impl Iterator<Item = f64> + use<> {
    let (low, high) = axis.range;
    let slack = step * 1e-6;
    let first = ((low - slack) / step).ceil() as i64;
    let last = ((high + slack) / step).floor() as i64;
    // A drawing with more lines than a sheet can hold would show none of them.
    let last = last.min(first + 2000);
    (first..=last).map(move |i| i as f64 * step)
}

fn decimals_of(step: f64) -> usize {
    (0..4)
        .find(|decimals| {
            let scaled = step * 10_f64.powi(*decimals);
            (scaled - scaled.round()).abs() < 1e-6
        })
        .map_or(3, |decimals| usize::try_from(decimals).unwrap_or(3))
}

fn grid(out: &mut String, frame: &Frame, plot: &Plot) {
    let _ = write!(
        out,
        r##"<rect x="{}" y="{}" width="{}" height="{}" fill="#ffffff"/>"##,
        mm(frame.left),
        mm(frame.top),
        mm(frame.width),
        mm(frame.height)
    );
    for (step_x, step_y, tone, width) in
        [(plot.x.minor, plot.y.minor, "#e7e7e7", 0.1), (plot.x.major, plot.y.major, "#c4c4c4", 0.16)]
    {
        let mut path = String::new();
        for x in lines(&plot.x, step_x) {
            let _ = write!(path, "M{} {}V{}", mm(frame.x_mm(x)), mm(frame.top), mm(frame.bottom()));
        }
        for y in lines(&plot.y, step_y) {
            let _ = write!(path, "M{} {}H{}", mm(frame.left), mm(frame.y_mm(y)), mm(frame.right()));
        }
        let _ = write!(out, r#"<path d="{path}" fill="none" stroke="{tone}" stroke-width="{width}"/>"#);
    }
    let decimals = decimals_of(plot.x.major);
    let widest =
        lines(&plot.x, plot.x.major).map(|x| format::number(x, decimals).chars().count()).max().unwrap_or(1)
            as f64;
    let room = plot.x.major / (plot.x.range.1 - plot.x.range.0) * frame.width;
    // Numbers that would touch are thinned: every second, third ... heavy line.
    let every = ((widest + 1.5) * LETTER * TEXT / room).ceil().max(1.0);
    out.push_str(r##"<g fill="#4a4a4a" class="x-numbers" text-anchor="middle">"##);
    for x in lines(&plot.x, plot.x.major * every) {
        let _ = write!(
            out,
            r#"<text x="{}" y="{}">{}</text>"#,
            mm(frame.x_mm(x)),
            mm(frame.bottom() + 1.3 + TEXT * 0.8),
            format::number(x, decimals)
        );
    }
    out.push_str(r##"</g><g fill="#4a4a4a" class="y-numbers" text-anchor="end">"##);
    let decimals = decimals_of(plot.y.major);
    for y in lines(&plot.y, plot.y.major) {
        let _ = write!(
            out,
            r#"<text x="{}" y="{}">{}</text>"#,
            mm(frame.left - 1.2),
            mm(frame.y_mm(y) + TEXT * 0.36),
            format::number(y, decimals)
        );
    }
    out.push_str("</g>");
}

/// What runs up, what runs across, and which line is whose: outside the axes, where nothing can hide it.
fn head(out: &mut String, frame: &Frame, plot: &Plot) {
    let y = frame.top - 2.2;
    let _ = write!(
        out,
        r#"<text x="{}" y="{}" text-anchor="end">{}</text>"#,
        mm(frame.right()),
        mm(frame.bottom() + 7.6),
        escape_plain(&plot.x.label)
    );
    let _ = write!(out, r#"<text x="{}" y="{}">{}</text>"#, mm(1.0), mm(y), escape_plain(&plot.y.label));
    let named = plot.layers.iter().filter_map(|layer| match layer {
        Layer::Line { role: role @ (Role::Reference | Role::Candidate), name, .. } => Some((*role, name)),
        _ => None,
    });
    let mut entries: Vec<_> = named.collect();
    entries.sort_by_key(|(role, _)| *role != Role::Reference);
    let mut x = frame.right();
    // What is left beside the label of the other axis is shared out; a mark and its line take 14 mm.
    let taken = 3.0 + plot.y.label.chars().count() as f64 * LETTER * TEXT;
    let each = (frame.right() - taken) / entries.len().max(1) as f64 - 14.0;
    let letters = (each / (LETTER * TEXT)).max(4.0) as usize;
    for (role, name) in entries.into_iter().rev() {
        let name = labels::clipped(name, letters);
        x -= name.chars().count() as f64 * LETTER * TEXT;
        let _ = write!(out, r#"<text x="{}" y="{}">{}</text>"#, mm(x), mm(y), escape_plain(&name));
        x -= 10.0;
        let middle = y - TEXT * 0.35;
        layers::stroke(out, role, &format!("M{} {}h8.5", mm(x), mm(middle)));
        layers::mark(out, role, [x + 4.25, middle], false, 0);
        x -= 4.0;
    }
}

/// Height of the grey ladder on the sheet, millimetres.
pub(super) const LADDER_HEIGHT: f64 = 22.5;

/// The grey ladder with its densities, `width_mm` wide, as part of an HTML page.
pub(super) fn ladder(width_mm: f64) -> String {
    ladder_in(width_mm, &format!(r#"width="{}mm" height="{LADDER_HEIGHT}mm""#, mm(width_mm)))
}

/// The same as part of another drawing whose units it fills, `width` wide.
pub(super) fn ladder_placed(width: f64) -> String {
    ladder_in(width, &format!(r#"width="{}" height="{LADDER_HEIGHT}""#, mm(width)))
}

fn ladder_in(width_mm: f64, size: &str) -> String {
    let steps = grey_ladder();
    let step = width_mm / steps.len() as f64;
    let mut out = format!(
        r#"<svg {size} viewBox="0 0 {w} {LADDER_HEIGHT}" role="img" aria-label="Grey ladder" font-family="{FONTS}" font-size="{TEXT}" fill="{INK}">"#,
        w = mm(width_mm)
    );
    for (i, rung) in steps.iter().enumerate() {
        let x = i as f64 * step;
        let code = rung.code;
        let _ = write!(
            out,
            r##"<rect x="{}" y="0" width="{}" height="14" fill="rgb({code},{code},{code})"/><text x="{}" y="17.4" text-anchor="middle">{}</text><text x="{}" y="21" text-anchor="middle" fill="#6a6a6a">{}</text>"##,
            mm(x),
            mm(step),
            mm(x + step / 2.0),
            format::number(rung.density, 2),
            mm(x + step / 2.0),
            format::number(rung.munsell, 1)
        );
    }
    let _ = write!(
        out,
        r##"<rect x="0.05" y="0.05" width="{}" height="13.9" fill="none" stroke="#bdbdbd" stroke-width="0.1"/></svg>"##,
        mm(width_mm - 0.1)
    );
    out
}

#[cfg(test)]
mod tests;
