//! Numbers as they stand in cells: figures of equal width, aligned at the decimal point.

use egui::{Align2, Color32, FontId, Painter, Pos2, Rect, pos2};

use twinwedge_workbench::core::compare::format;
use twinwedge_workbench::core::measured::Measured;

use super::fonts;

/// Decimals that a column of mixed figures keeps room for.
pub const DECIMALS: usize = 3;

/// Paints a number so that its decimal point stands where a number with `decimals` decimals would have it if it ended at
/// the right edge of `rect`. Figures without a point end where the point would stand.
pub fn paint(painter: &Painter, rect: Rect, decimals: usize, text: &str, color: Color32) {
    paint_in(painter, rect, decimals, text, fonts::body(), color);
}

fn paint_in(painter: &Painter, rect: Rect, decimals: usize, text: &str, font: FontId, color: Color32) {
    let point = point_x(painter, rect, decimals, &font);
    let middle = rect.center().y;
    let (whole, part) = split(text);
    painter.text(pos2(point, middle), Align2::RIGHT_CENTER, whole, font.clone(), color);
    if !part.is_empty() {
        painter.text(pos2(point, middle), Align2::LEFT_CENTER, part, font, color);
    }
}

fn point_x(painter: &Painter, rect: Rect, decimals: usize, font: &FontId) -> f32 {
    if decimals == 0 {
        return rect.right();
    }
    let sample = format!(".{}", "0".repeat(decimals));
    rect.right() - painter.layout_no_wrap(sample, font.clone(), Color32::PLACEHOLDER).size().x
}

/// Where the dash of an undefined figure stands: right before the decimal point.
#[must_use]
pub fn dash_at(painter: &Painter, rect: Rect, decimals: usize) -> Pos2 {
    pos2(point_x(painter, rect, decimals, &fonts::body()), rect.center().y)
}

/// Decimals that a column of one figure keeps room for: one more than usual, for well known values.
#[must_use]
pub fn room(decimals: usize) -> usize {
    if decimals == 0 { 0 } else { (decimals + 1).min(DECIMALS) }
}

/// An uncertainty as short as a cell needs it: `± 0.03`, or both sides where they differ, `−0.04 +0.07`.
#[must_use]
pub fn interval(known: &Measured, parts: &format::Parts) -> String {
    if parts.uncertainty.is_empty() || parts.uncertainty.starts_with('±') {
        return parts.uncertainty.clone();
    }
    let decimals = split(&parts.value).1.len().saturating_sub(1);
    let (below, above) = (known.number() - known.low, known.high - known.number());
    format!("−{} +{}", format::number(below, decimals), format::number(above, decimals))
}

/// A number's text before its decimal point, and from it on.
#[must_use]
pub fn split(text: &str) -> (&str, &str) {
    text.find('.').map_or((text, ""), |at| text.split_at(at))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_split_at_the_point() {
        assert_eq!(split("−12.07"), ("−12", ".07"));
        assert_eq!(split("400"), ("400", ""));
    }

    #[test]
    fn lopsided_intervals_show_both_sides() {
        let lopsided = Measured::with_interval(0.05, 0.03, 0.01, 0.12);
        assert_eq!(interval(&lopsided, &format::parts(&lopsided, 2)), "−0.04 +0.07");
        let even = Measured::with_interval(0.05, 0.03, 0.01, 0.09);
        assert_eq!(interval(&even, &format::parts(&even, 2)), "± 0.04");
    }

    /// The width of every figure in both weights is the same: columns stay aligned when numbers change.
    #[test]
    fn figures_have_equal_widths() {
        let ctx = egui::Context::default();
        super::super::install(&ctx);
        let mut widths = Vec::new();
        let mut output = ctx.run_ui(egui::RawInput::default(), |ui| {
            for font in [fonts::body(), fonts::body_strong(), fonts::small()] {
                let width = |figure: char| {
                    ui.painter()
                        .layout_no_wrap(figure.to_string().repeat(20), font.clone(), Color32::PLACEHOLDER)
                        .size()
                        .x
                };
                widths.push(('0'..='9').map(width).collect::<Vec<_>>());
            }
        });
        // Nothing is painted here.
        output.textures_delta.clear();
        for font in &widths {
            assert!(font.iter().all(|width| (width - font[0]).abs() < 0.5), "{font:?}");
        }
    }
}
