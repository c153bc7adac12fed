//! A graph sheet as a page: log H and density on one scale, blank or with a film's curve and its data.

use std::fmt::Write;

use twinwedge_core::document::Film;
use twinwedge_core::drawing::{Alignment, Axis, ExposureAxis, Layer, LowerPlot, Plot, Role, curve_plots};
use twinwedge_core::figures::{FigureId, spec};
use twinwedge_core::problem::{Problem, Subject};

use super::{Footnotes, GENERATOR, cell, curves, head, records};
use crate::engine::ask::FilmCurve;
use crate::export::markup::escape;
use crate::export::svg::{MARGINS, inline};

/// Figures of the data block.
const FIGURES: [FigureId; 5] = [
    FigureId::BaseFog,
    FigureId::SpeedPoint,
    FigureId::Gamma,
    FigureId::AverageGradient,
    FigureId::ContrastIndex,
];

/// Length of the line by which a print is checked, millimetres.
const CHECK: f64 = 100.0;

/// What the page is made for.
#[derive(Debug, Clone, Copy)]
pub(in crate::export) struct Room {
    /// Millimetres of 1.00 in log H and of 1.00 in density.
    pub(in crate::export) mm_per_unit: f64,
    /// Room for the graph with its numbers, millimetres.
    pub(in crate::export) size_mm: [f64; 2],
}

impl Room {
    /// How much of log H and of density the sheet shows, in whole tenths.
    fn units(&self) -> [f64; 2] {
        let [width, height] = self.size_mm;
        [width - MARGINS[0], height - MARGINS[1]]
            .map(|mm| (mm / self.mm_per_unit * 10.0 + 1e-9).floor() / 10.0)
    }
}

/// The page of a film, or one to draw on by hand.
///
/// # Errors
/// The curve does not fit onto the sheet at this scale.
pub(in crate::export) fn graph(of: Option<(&Film, &FilmCurve)>, room: &Room) -> Result<String, Problem> {
    let plot = match of {
        Some((film, curve)) => filled(film, curve, room)?,
        None => blank(room),
    };
    let title = of.map_or_else(|| "Graph sheet".to_owned(), |(film, _)| film.label.clone());
    let mut out = head(&title, GENERATOR);
    let _ = writeln!(out, "<section class=\"graph\">\n<h1>{}</h1>", escape(&title));
    data(&mut out, of);
    let width = plot_width(&plot, room);
    let _ = writeln!(
        out,
        "<figure>{}<figcaption>1.00 in log H and 1.00 in density are {} mm each, on one scale (common practice, no source). \
         Heavy lines are 0.50 apart, fine ones 0.02.</figcaption></figure>",
        inline(&plot, width),
        mm(room.mm_per_unit)
    );
    check(&mut out);
    out.push_str("</section>\n</main>\n</body>\n</html>\n");
    Ok(out)
}

fn plot_width(plot: &Plot, room: &Room) -> f64 {
    (plot.x.range.1 - plot.x.range.0) * room.mm_per_unit + MARGINS[0]
}

fn mm(value: f64) -> String {
    format!("{value:.2}").trim_end_matches('0').trim_end_matches('.').to_owned()
}

/// A line of known length, to see whether the printer kept the scale.
fn check(out: &mut String) {
    let _ = writeln!(
        out,
        "<figure><svg width=\"{width}mm\" height=\"4mm\" viewBox=\"0 0 {width} 4\" role=\"img\" aria-label=\"A line of {CHECK} mm\">\
         <path d=\"M0.5 0.5V3.5M0.5 2H{end}M{end} 0.5V3.5\" fill=\"none\" stroke=\"#1c1c1c\" stroke-width=\"0.2\"/></svg>\
         <p class=\"small\">Print at 100 %, not fitted to the page: this line is then {CHECK} mm long.</p></figure>",
        width = CHECK + 1.0,
        end = CHECK + 0.5
    );
}

/// The data block: how the film was developed, and its figures; empty to be filled in.
fn data(out: &mut String, of: Option<(&Film, &FilmCurve)>) {
    out.push_str("<table>\n<thead><tr><th>developer</th><th>time and temperature</th><th>tablet</th>");
    for id in FIGURES {
        let _ = write!(out, "<th class=\"v\">{}</th>", spec(id).label);
    }
    out.push_str("</tr></thead>\n<tbody>\n");
    let mut notes = Footnotes::default();
    match of {
        Some((film, curve)) => {
            let [developer, time, tablet] = records::in_short(film);
            let _ = write!(
                out,
                "<tr><td>{}</td><td>{}</td><td>{}</td>",
                escape(&developer),
                escape(&time),
                escape(&tablet)
            );
            for id in FIGURES {
                let text = curve.figures.get(&id).map(|value| cell(value, spec(id).decimals, &mut notes));
                let _ = write!(out, "<td class=\"v\">{}</td>", text.unwrap_or_default());
            }
            out.push_str("</tr>\n");
        }
        None => {
            let cells = "<td></td>".repeat(3 + FIGURES.len());
            let _ = writeln!(out, "<tr class=\"blank\">{cells}</tr>");
        }
    }
    out.push_str("</tbody>\n</table>\n");
    notes.write(out);
}

fn axis(label: &str, from: f64, length: f64) -> Axis {
    Axis { label: label.to_owned(), range: (from, from + length), major: 0.1, minor: 0.02 }
}

/// Heavier lines every half unit.
fn heavy([x0, x1]: [f64; 2], [y0, y1]: [f64; 2]) -> Vec<Layer> {
    let every = |low: f64, high: f64| {
        ((low * 2.0 - 1e-9).ceil() as i64..=(high * 2.0 + 1e-9).floor() as i64).map(|at| at as f64 / 2.0)
    };
    let line = |points: Vec<[f64; 2]>| Layer::Line { role: Role::Guide, name: String::new(), points };
    let uprights = every(x0, x1).map(|x| line(vec![[x, y0], [x, y1]]));
    let levels = every(y0, y1).map(|y| line(vec![[x0, y], [x1, y]]));
    uprights.chain(levels).collect()
}

fn sheet(title: String, label: &str, from: f64, [width, height]: [f64; 2], layers: Vec<Layer>) -> Plot {
    let mut all = heavy([from, from + width], [0.0, height]);
    all.extend(layers);
    Plot {
        title,
        x: axis(label, from, width),
        y: axis("density", 0.0, height),
        x_per_y: Some(1.0),
        layers: all,
    }
}

fn blank(room: &Room) -> Plot {
    let title = "Blank graph for a characteristic curve".to_owned();
    sheet(title, "log H, relative: 0.30 is a stop", 0.0, room.units(), Vec::new())
}

fn filled(film: &Film, curve: &FilmCurve, room: &Room) -> Result<Plot, Problem> {
    let drawn = [curves::of_film(&film.label, curve, Role::Reference)];
    let plots = curve_plots(&drawn, Alignment::AsExposed, ExposureAxis::LogH, LowerPlot::Gradient);
    let [width, height] = room.units();
    let (low, high) = curve.curve.range();
    let top = plots.upper.layers.iter().fold(0.0_f64, |top, layer| match layer {
        Layer::Line { points, .. } => points.iter().map(|at| at[1]).fold(top, f64::max),
        _ => top,
    });
    if high - low > width || top > height {
        let fits = (width * room.mm_per_unit / (high - low)).min(height * room.mm_per_unit / top);
        return Err(Problem::error(
            Subject::Film(film.id.clone()),
            format!(
                "At {} mm for 1.00 its curve, {:.2} long in log H and {top:.2} high, does not fit onto the sheet.",
                mm(room.mm_per_unit),
                high - low
            ),
            format!("Choose a scale of {} mm or less.", (fits * 0.97).floor()),
        ));
    }
    // The curve stands in the middle, and the sheet begins at a whole tenth.
    let spare = (width - (high - low)) / 2.0;
    let from = ((low - spare) * 10.0).ceil() / 10.0;
    let from = from.min((low * 10.0 + 1e-9).floor() / 10.0);
    let title = format!("Characteristic curve of {}", film.label);
    Ok(sheet(title, "log H (lux seconds)", from, [width, height], plots.upper.layers))
}
