//! Graph paper: fine and heavy lines from the axis, made finer or coarser as the plot is zoomed, and the figures beside it.

use egui::{Shape, Stroke};
use egui_plot::{AxisHints, GridInput, GridMark, PlotPoint, PlotTransform};

use twinwedge_workbench::core::compare::format;
use twinwedge_workbench::core::drawing::{Axis, Plot};

use twinwedge_workbench::core::figures::speed::iso_rounded;

use super::Figures;
use crate::appearance::{Tokens, fonts};

/// Least distance of fine lines, in points.
const FINE: f64 = 5.0;
/// Least distance of heavy lines, which carry the figures.
const HEAVY: f64 = 36.0;

/// Distances of fine and heavy lines at `points` per unit.
fn distances(axis: &Axis, figures: Figures, points: f64) -> (f64, f64) {
    let (mut fine, mut heavy) = (axis.minor, axis.major);
    // Nearer: a heavy distance splits where it would leave the paper almost empty.
    while heavy * points > 6.0 * HEAVY && heavy > axis.major / 1000.0 {
        heavy = fine.max(heavy / 10.0);
        fine = heavy / 5.0;
    }
    // A stop has three thirds.
    let coarser = match figures {
        Figures::Plain => [2.0, 2.5, 2.0],
        Figures::ExposureIndex => [3.0, 2.0, 2.0],
    };
    for factor in coarser.iter().cycle().take(24) {
        if heavy * points >= HEAVY {
            break;
        }
        heavy *= factor;
    }
    if fine * points < FINE {
        fine = if axis.major * points >= FINE && axis.major < heavy { axis.major } else { heavy };
    }
    (fine, heavy)
}

/// Whole multiples of `distance` in a range; not more than a screen can show.
fn multiples(range: (f64, f64), distance: f64) -> impl Iterator<Item = f64> {
    let sound = distance > 0.0 && ((range.1 - range.0) / distance) < 2000.0;
    #[expect(clippy::cast_possible_truncation, reason = "bounded by the test above")]
    let (first, last) = if sound {
        ((range.0 / distance).ceil() as i64, (range.1 / distance).floor() as i64)
    } else {
        (1, 0)
    };
    #[expect(clippy::cast_precision_loss, reason = "at most 2000 lines")]
    (first..=last).map(move |index| index as f64 * distance)
}

/// Where figures stand.
pub(super) fn spacer(axis: &Axis, figures: Figures) -> impl Fn(GridInput) -> Vec<GridMark> + use<> {
    let axis = axis.clone();
    move |input| {
        // egui_plot tells its least grid distance (8 points) in plot units.
        let points = 8.0 / input.base_step_size;
        let (_, heavy) = distances(&axis, figures, points);
        multiples(input.bounds, heavy).map(|value| GridMark { value, step_size: heavy }).collect()
    }
}

/// The axis with its label and figures.
pub(super) fn hints(axis: &Axis, across: bool, figures: Figures) -> AxisHints<'static> {
    let hints = if across { AxisHints::new_x() } else { AxisHints::new_y() };
    hints
        .label(egui::RichText::new(axis.label.clone()).size(fonts::SMALL))
        .tick_label_font(fonts::small())
        .formatter(move |mark, _| match figures {
            Figures::Plain => format::number(mark.value, decimals(mark.step_size)),
            Figures::ExposureIndex => index(mark.value),
        })
        .label_spacing(egui::Rangef::new(8.0, 8.0))
}

/// The exposure index so many stops above 100: as meters show it where it is one of their settings.
fn index(stops: f64) -> String {
    let exact = 100.0 * stops.exp2();
    let setting = iso_rounded(exact).map(|(speed, _)| speed);
    let shown = setting.filter(|speed| (speed / exact).log2().abs() < 0.05).unwrap_or(exact);
    format::number(shown, decimals_of_index(shown))
}

fn decimals_of_index(index: f64) -> usize {
    usize::from(index < 10.0 && (index - index.round()).abs() > 0.05)
}

/// Decimals that tell multiples of `distance` apart.
fn decimals(distance: f64) -> usize {
    (0..6)
        .find(|&decimals| {
            let scaled = distance * 10_f64.powi(decimals);
            (scaled - scaled.round()).abs() < 1e-6
        })
        .and_then(|decimals| usize::try_from(decimals).ok())
        .unwrap_or(3)
}

/// The paper with its lines.
pub(super) fn paper(plot: &Plot, across: Figures, transform: &PlotTransform, tokens: &Tokens) -> Shape {
    let frame = *transform.frame();
    let mut shapes = vec![Shape::rect_filled(frame, 0.0, tokens.paper)];
    let bounds = transform.bounds();
    let (x, y) = ((bounds.min()[0], bounds.max()[0]), (bounds.min()[1], bounds.max()[1]));
    let [right, up] = transform.dpos_dvalue();
    let (fine_x, heavy_x) = distances(&plot.x, across, right.abs());
    let (fine_y, heavy_y) = distances(&plot.y, Figures::Plain, up.abs());
    let upright = |shapes: &mut Vec<Shape>, value: f64, color| {
        let at = transform.position_from_point(&PlotPoint::new(value, y.0)).x;
        shapes.push(Shape::vline(at, frame.y_range(), Stroke::new(1.0, color)));
    };
    let level = |shapes: &mut Vec<Shape>, value: f64, color| {
        let at = transform.position_from_point(&PlotPoint::new(x.0, value)).y;
        shapes.push(Shape::hline(frame.x_range(), at, Stroke::new(1.0, color)));
    };
    for (fine, color_x, color_y) in
        [(true, tokens.grid_fine, tokens.grid_fine), (false, tokens.grid_heavy, tokens.grid_heavy)]
    {
        for value in multiples(x, if fine { fine_x } else { heavy_x }) {
            upright(&mut shapes, value, color_x);
        }
        for value in multiples(y, if fine { fine_y } else { heavy_y }) {
            level(&mut shapes, value, color_y);
        }
    }
    shapes.push(Shape::rect_stroke(frame, 0.0, Stroke::new(1.0, tokens.edge), egui::StrokeKind::Inside));
    Shape::Vec(shapes)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn axis() -> Axis {
        Axis { label: String::new(), range: (0.0, 3.0), major: 0.3, minor: 0.1 }
    }

    #[test]
    fn lines_keep_their_distance_at_every_zoom() {
        for points in [0.5, 5.0, 30.0, 120.0, 300.0, 2000.0, 20_000.0] {
            let (fine, heavy) = distances(&axis(), Figures::Plain, points);
            assert!(heavy * points >= HEAVY - 1e-9, "{points}: {heavy}");
            assert!(fine * points >= FINE - 1e-9 && fine <= heavy + 1e-12, "{points}: {fine} {heavy}");
            let lines = heavy / fine;
            assert!((lines - lines.round()).abs() < 1e-6, "{points}: fine lines meet heavy ones");
        }
        assert_eq!(distances(&axis(), Figures::Plain, 150.0), (0.1, 0.3), "as the axis says at usual sizes");
    }

    /// Settings of meters in thirds of a stop (ISO 2720:1974, 3.3; ISO 5800, table of speeds).
    #[test]
    fn indices_are_those_of_meters() {
        let shown: Vec<String> = (-3..=9).map(|third| index(f64::from(third) / 3.0)).collect();
        let meters = ["50", "64", "80", "100", "125", "160", "200", "250", "320", "400", "500", "640", "800"];
        assert_eq!(shown, meters);
    }

    #[test]
    fn lines_of_indices_stay_on_thirds_or_whole_stops() {
        let axis = Axis { major: 1.0 / 3.0, minor: 1.0 / 3.0, ..axis() };
        for (points, heavy) in [(120.0, 1.0 / 3.0), (60.0, 1.0), (20.0, 2.0)] {
            assert!((distances(&axis, Figures::ExposureIndex, points).1 - heavy).abs() < 1e-9, "{points}");
        }
    }

    #[test]
    fn figures_have_the_decimals_they_need() {
        for (distance, expected) in [(0.3, 1), (0.25, 2), (1.0, 0), (0.5, 1), (0.075, 3)] {
            assert_eq!(decimals(distance), expected, "{distance}");
        }
    }
}
