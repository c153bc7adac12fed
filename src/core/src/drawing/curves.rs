//! The overlay of characteristic curves, and the plot below it.

use super::{Axis, Layer, Plot, Role};
use crate::curve::Curve;
use crate::figures::{Departures, FigureId, Figures, StraightLine};
use crate::measured::{Flags, Measured, Value, Z95};
use crate::units::STOP;
use crate::words::{self, Sentence};

/// How two curves are laid over each other.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Alignment {
    /// As exposed: the common log H.
    AsExposed,
    /// Speed points over each other.
    SpeedPoint,
    /// Points of this density above base+fog over each other.
    NetDensity(f64),
}

/// What runs along the exposure axis.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ExposureAxis {
    /// Decimal logarithm of exposure.
    LogH,
    /// The same in stops.
    Stops,
}

impl ExposureAxis {
    /// lg H of one unit of this axis.
    #[must_use]
    pub fn log_h_per_unit(self) -> f64 {
        match self {
            Self::LogH => 1.0,
            Self::Stops => STOP,
        }
    }
}

/// What the lower plot shows.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum LowerPlot {
    /// The local gradient of the curve.
    Gradient,
    /// Departure from the straight line.
    Departure,
}

/// One film's curve to be drawn.
#[derive(Debug, Clone, Copy)]
pub struct FilmCurve<'a> {
    /// The label at its line.
    pub label: &'a str,
    /// Reference, candidate or another.
    pub role: Role,
    /// The curve that is drawn.
    pub curve: &'a Curve,
    /// The figures that are constructed on it.
    pub figures: &'a Figures,
    /// Its straight line, if it has one.
    pub straight: Option<&'a StraightLine>,
    /// Its departures from it.
    pub departures: Option<&'a Departures>,
}

impl FilmCurve<'_> {
    fn figure(&self, id: FigureId) -> Option<&Measured> {
        self.figures.get(&id).and_then(Value::known)
    }

    fn in_front(&self) -> bool {
        matches!(self.role, Role::Reference | Role::Candidate)
    }
}

/// The two plots, and by how much each film was moved.
#[derive(Debug, Clone, PartialEq)]
pub struct CurvePlots {
    /// Density over exposure.
    pub upper: Plot,
    /// Gradient or departure over exposure.
    pub lower: Plot,
    /// For each film, in order: x of the plot = (log H + shift) in log H, before any change to stops.
    pub shifts: Vec<f64>,
    /// What could not be done: a film without a speed point stays as exposed.
    pub notes: Vec<Sentence>,
}

/// What one film reads at a place on the exposure axis.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Readout {
    /// The film's own lg H there.
    pub log_h: f64,
    /// Density, `None` outside the film's data.
    pub density: Option<Measured>,
    /// Local gradient, `None` outside the film's data.
    pub gradient: Option<Measured>,
    /// Density minus the straight line, `None` outside the data or where there is no straight line.
    pub departure: Option<f64>,
}

/// Places along a curve at which it is drawn.
const SAMPLES: u32 = 240;

/// Draws films over each other: the others first, then the candidate, the reference on top.
///
/// Alignment moves every film onto the first reference (or the first film where none is the reference).
#[must_use]
pub fn curve_plots(
    films: &[FilmCurve<'_>],
    alignment: Alignment,
    axis: ExposureAxis,
    lower: LowerPlot,
) -> CurvePlots {
    let (shifts, notes) = shifts(films, alignment);
    let mut order: Vec<usize> = (0..films.len()).collect();
    order.sort_by_key(|index| match films[*index].role {
        Role::Guide => 0,
        Role::Other => 1,
        Role::Candidate => 2,
        Role::Reference => 3,
    });
    let x_axis = exposure_axis(films, &shifts, alignment, axis);
    let mut upper_layers = Vec::new();
    let mut lower_layers = vec![Layer::Level { role: Role::Guide, y: 0.0, text: String::new() }];
    // Bands and helper lines lie under all curves.
    for index in &order {
        let film = Drawn { film: &films[*index], shift: shifts[*index], axis };
        film.background(&mut upper_layers);
        lower_layers.extend(film.lower_band(lower));
    }
    for index in &order {
        let film = Drawn { film: &films[*index], shift: shifts[*index], axis };
        film.foreground(&mut upper_layers);
        lower_layers.extend(film.lower_line(lower));
        lower_layers.extend(film.lower_marks(lower));
    }
    let y = density_axis(&upper_layers);
    let below = lower_axis(&lower_layers, lower);
    CurvePlots {
        upper: Plot {
            title: "Characteristic curves".to_owned(),
            x: x_axis.clone(),
            y,
            x_per_y: Some(axis.log_h_per_unit()),
            layers: upper_layers,
        },
        lower: Plot {
            title: match lower {
                LowerPlot::Gradient => "Local gradient".to_owned(),
                LowerPlot::Departure => "Departure from the straight line".to_owned(),
            },
            x: x_axis,
            y: below,
            x_per_y: None,
            layers: lower_layers,
        },
        shifts,
        notes,
    }
}

/// What every film reads at `x` of the plots, in the order of `films`.
#[must_use]
pub fn readout(films: &[FilmCurve<'_>], shifts: &[f64], axis: ExposureAxis, x: f64) -> Vec<Readout> {
    let measured = |(value, u)| Measured::normal(value, u);
    let one = |(film, shift): (&FilmCurve<'_>, &f64)| {
        let log_h = x * axis.log_h_per_unit() - shift;
        let density = film.curve.density(log_h);
        Readout {
            log_h,
            density: density.map(measured),
            gradient: film.curve.gradient(log_h).map(measured),
            departure: density.zip(film.straight).map(|((d, _), line)| d - on_line(line, log_h)),
        }
    };
    films.iter().zip(shifts).map(one).collect()
}

fn on_line(line: &StraightLine, log_h: f64) -> f64 {
    line.intercept + line.gamma * log_h
}

/// The log H at which films are laid over each other, or why a film has none.
fn anchor(film: &FilmCurve<'_>, alignment: Alignment) -> Result<f64, Sentence> {
    match alignment {
        Alignment::AsExposed => Ok(0.0),
        Alignment::SpeedPoint => match film.figures.get(&FigureId::SpeedPoint) {
            Some(Value::Known(point)) => Ok(point.number()),
            Some(Value::Undefined(reason)) => Err(reason.clone()),
            None => Err(words::Aligned::NoSpeedPoint.into()),
        },
        Alignment::NetDensity(net) => {
            let Some(base_fog) = film.figure(FigureId::BaseFog) else {
                return Err(words::Aligned::NoBaseFog.into());
            };
            film.curve
                .best
                .log_h_at(base_fog.number() + net)
                .ok_or_else(|| words::Aligned::NotThrough { net }.into())
        }
    }
}

fn shifts(films: &[FilmCurve<'_>], alignment: Alignment) -> (Vec<f64>, Vec<Sentence>) {
    let mut notes = Vec::new();
    let leader = films.iter().position(|film| film.role == Role::Reference).unwrap_or(0);
    let Some(target) = films.get(leader).map(|film| anchor(film, alignment)) else {
        return (Vec::new(), notes);
    };
    let target = match target {
        Ok(target) => target,
        Err(reason) => {
            notes.push(words::Aligned::NoPlace { label: films[leader].label.to_owned(), reason }.into());
            return (vec![0.0; films.len()], notes);
        }
    };
    let shift = |film: &FilmCurve<'_>| match anchor(film, alignment) {
        Ok(own) => target - own,
        Err(reason) => {
            notes.push(words::Aligned::StaysAsExposed { label: film.label.to_owned(), reason }.into());
            0.0
        }
    };
    let shifts = films.iter().map(shift).collect();
    (shifts, notes)
}

/// One film on its way into a plot.
struct Drawn<'a> {
    film: &'a FilmCurve<'a>,
    shift: f64,
    axis: ExposureAxis,
}

impl Drawn<'_> {
    fn x(&self, log_h: f64) -> f64 {
        (log_h + self.shift) / self.axis.log_h_per_unit()
    }

    /// Log exposures along the curve, both ends included.
    fn along(&self) -> impl Iterator<Item = f64> + use<> {
        let (low, high) = self.film.curve.range();
        (0..=SAMPLES).map(move |i| {
            // The last sample must not fall beyond the data by rounding.
            if i == SAMPLES { high } else { low + (high - low) * f64::from(i) / f64::from(SAMPLES) }
        })
    }

    /// Band, base+fog and straight-line range.
    fn background(&self, layers: &mut Vec<Layer>) {
        let role = self.film.role;
        if !self.film.in_front() {
            return;
        }
        let band = self.film.curve.band(SAMPLES as usize + 1);
        let band = band.iter().map(|point| [self.x(point.log_h), point.low, point.high]);
        layers.push(Layer::Band { role, points: band.collect() });
        if let Some(base_fog) = self.film.figure(FigureId::BaseFog) {
            let text = format!("base+fog {:.2}", base_fog.number());
            layers.push(Layer::Level { role, y: base_fog.number(), text });
        }
        if let Some(line) = self.film.straight {
            let at = |log_h: f64| [self.x(log_h), on_line(line, log_h)];
            layers.push(Layer::Segment {
                role,
                from: at(line.from),
                to: at(line.to),
                text: format!("gamma {:.2}", line.gamma),
            });
        }
    }

    /// Curve, points and speed point.
    fn foreground(&self, layers: &mut Vec<Layer>) {
        let FilmCurve { role, label, curve, .. } = *self.film;
        let points = self.along().filter_map(|log_h| Some([self.x(log_h), curve.best.density(log_h)?]));
        layers.push(Layer::Line { role, name: label.to_owned(), points: points.collect() });
        if !self.film.in_front() {
            return;
        }
        // A predicted curve has no readings of its own to mark.
        let predicted = curve.readings.flags.contains(Flags::PREDICTED);
        let strips = if predicted { 0 } else { curve.readings.sources.strips.len() };
        for (strip, set_aside) in (0..strips).flat_map(|strip| [(strip, false), (strip, true)]) {
            let marks: Vec<[f64; 2]> = curve
                .readings
                .points
                .iter()
                .filter(|point| point.set_aside == set_aside && point.strip == strip)
                .map(|point| [self.x(point.log_h), point.density])
                .collect();
            if !marks.is_empty() {
                let name = match strip {
                    0 => label.to_owned(),
                    _ => format!("{label}, {}", curve.readings.strip_name(strip)),
                };
                layers.push(Layer::Marks { role, name, points: marks, set_aside, strip });
            }
        }
        if let Some(speed) = self.film.figure(FigureId::SpeedPoint)
            && let Some((density, _)) = curve.density(speed.number())
        {
            let bound = if speed.flags.contains(Flags::UPPER_BOUND) {
                " (at most)"
            } else if speed.flags.contains(Flags::LOWER_BOUND) {
                " (at least)"
            } else {
                ""
            };
            let text = format!("speed point{bound}");
            layers.push(Layer::Note { role, at: [self.x(speed.number()), density], text });
        }
    }

    /// What the lower plot shows at `log_h`.
    fn below(&self, lower: LowerPlot, log_h: f64) -> Option<f64> {
        let best = &self.film.curve.best;
        match lower {
            LowerPlot::Gradient => best.gradient(log_h),
            LowerPlot::Departure => Some(best.density(log_h)? - on_line(self.film.straight?, log_h)),
        }
    }

    fn lower_band(&self, lower: LowerPlot) -> Option<Layer> {
        if !self.film.in_front() {
            return None;
        }
        let curve = self.film.curve;
        if let (LowerPlot::Departure, Some(departures)) = (lower, self.film.departures) {
            let places = departures.log_h.iter().zip(&departures.values);
            let points = places.map(|(log_h, value)| [self.x(*log_h), value.low, value.high]).collect();
            return Some(Layer::Band { role: self.film.role, points });
        }
        let points: Vec<[f64; 3]> = self
            .along()
            .filter_map(|log_h| {
                let value = self.below(lower, log_h)?;
                let (_, u) = match lower {
                    LowerPlot::Gradient => curve.gradient(log_h)?,
                    LowerPlot::Departure => curve.density(log_h)?,
                };
                Some([self.x(log_h), value - Z95 * u, value + Z95 * u])
            })
            .collect();
        (!points.is_empty()).then_some(Layer::Band { role: self.film.role, points })
    }

    /// Readings and the distinguishable peaks and valleys of the plot of departures.
    fn lower_marks(&self, lower: LowerPlot) -> Vec<Layer> {
        let (LowerPlot::Departure, Some(line), true) = (lower, self.film.straight, self.film.in_front())
        else {
            return Vec::new();
        };
        let FilmCurve { role, label, curve, .. } = *self.film;
        let fitted = curve.readings.points.iter().filter(|point| !point.set_aside);
        let points = fitted.map(|point| [self.x(point.log_h), point.density - on_line(line, point.log_h)]);
        let name = label.to_owned();
        let mut layers =
            vec![Layer::Marks { role, name, points: points.collect(), set_aside: false, strip: 0 }];
        let extremes = self.film.departures.iter().flat_map(|departures| &departures.extremes);
        layers.extend(extremes.filter(|extreme| extreme.distinguishable()).map(|extreme| Layer::Note {
            role,
            at: [self.x(extreme.log_h), extreme.departure.value],
            text: crate::compare::format::signed(extreme.departure.value, 3),
        }));
        layers
    }

    fn lower_line(&self, lower: LowerPlot) -> Option<Layer> {
        let points: Vec<[f64; 2]> =
            self.along().filter_map(|log_h| Some([self.x(log_h), self.below(lower, log_h)?])).collect();
        let name = self.film.label.to_owned();
        (!points.is_empty()).then_some(Layer::Line { role: self.film.role, name, points })
    }
}

fn exposure_axis(films: &[FilmCurve<'_>], shifts: &[f64], alignment: Alignment, axis: ExposureAxis) -> Axis {
    let per_unit = axis.log_h_per_unit();
    let mut range = (f64::INFINITY, f64::NEG_INFINITY);
    for (film, shift) in films.iter().zip(shifts) {
        let (low, high) = film.curve.range();
        range = (range.0.min((low + shift) / per_unit), range.1.max((high + shift) / per_unit));
    }
    let absolute = films.iter().all(|film| film.curve.readings.absolute);
    let moved = match alignment {
        Alignment::AsExposed => "",
        _ => ", films moved onto the reference",
    };
    let (label, major, minor) = match axis {
        ExposureAxis::LogH if absolute => ("log H (lux seconds)", 0.3, 0.1),
        ExposureAxis::LogH => ("relative log H", 0.3, 0.1),
        ExposureAxis::Stops => ("exposure in stops", 1.0, 1.0 / 3.0),
    };
    Axis { label: format!("{label}{moved}"), range: widened(range, (0.0, 1.0), minor), major, minor }
}

fn density_axis(layers: &[Layer]) -> Axis {
    let range = reach(layers).unwrap_or((0.0, 2.0));
    let (low, high) = widened((range.0.min(0.0), range.1), (0.0, 2.0), 0.1);
    Axis { label: "density".to_owned(), range: (low, high + 0.1), major: 0.5, minor: 0.1 }
}

fn lower_axis(layers: &[Layer], lower: LowerPlot) -> Axis {
    // The uncertainty of a gradient grows without limit at the ends of the data; lines set the scale, not bands.
    let lines: Vec<Layer> =
        layers.iter().filter(|layer| matches!(layer, Layer::Line { .. })).cloned().collect();
    match lower {
        LowerPlot::Gradient => {
            let range = reach(&lines).unwrap_or((0.0, 1.0));
            let (low, high) = widened((range.0.min(0.0), range.1), (0.0, 1.0), 0.1);
            Axis { label: "gradient".to_owned(), range: (low, high + 0.1), major: 0.5, minor: 0.1 }
        }
        LowerPlot::Departure => {
            let (low, high) = reach(&lines).unwrap_or((-0.2, 0.2));
            // Toe and shoulder leave the line by design; what happens along it is what the plot is for.
            let range = widened((low.clamp(-0.5, -0.1), high.clamp(0.1, 0.5)), (-0.2, 0.2), 0.05);
            Axis { label: "density minus line".to_owned(), range, major: 0.1, minor: 0.05 }
        }
    }
}

/// Lowest and highest y drawn.
fn reach(layers: &[Layer]) -> Option<(f64, f64)> {
    let mut range = (f64::INFINITY, f64::NEG_INFINITY);
    let mut take = |y: f64| {
        if y.is_finite() {
            range = (range.0.min(y), range.1.max(y));
        }
    };
    for layer in layers {
        match layer {
            Layer::Line { points, .. } | Layer::Marks { points, .. } => {
                points.iter().for_each(|point| take(point[1]));
            }
            Layer::Note { at, .. } => take(at[1]),
            Layer::Segment { from, to, .. } => [from, to].into_iter().for_each(|end| take(end[1])),
            Layer::Level { y, .. } => take(*y),
            Layer::Band { .. } | Layer::Upright { .. } => {}
        }
    }
    (range.0 <= range.1).then_some(range)
}

/// A range widened outwards to whole grid lines; `empty` where there is none.
fn widened((low, high): (f64, f64), empty: (f64, f64), grid: f64) -> (f64, f64) {
    if low > high {
        return empty;
    }
    // A range that ends on a line up to rounding stays there.
    let slack = 1e-9;
    let (low, high) = ((low / grid + slack).floor() * grid, (high / grid - slack).ceil() * grid);
    if high > low { (low, high) } else { (low, low + grid) }
}
