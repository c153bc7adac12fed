//! How a figure is constructed on its curve, as lines to be laid over the plot: chords, rays, arcs, ranges.

use super::curves::{ExposureAxis, FilmCurve};
use super::{Layer, Role};
use crate::compare::format;
use crate::figures::speed::{CONTRAST_RANGE, SPEED_NET_DENSITY};
use crate::figures::{FigureId, criteria, shoulder_ends, toe_ends};
use crate::numeric::math;

/// Log exposure on either side of a point over which a tangent is drawn.
const TANGENT: f64 = 0.3;
/// Points of an arc.
const ARC: u32 = 40;

/// The construction of `figure` on the curve of `film`, moved by `shift` in log H; `gradient_range` is that of the series'
/// average gradient. Empty where the figure has no construction or the film no such figure.
#[must_use]
pub fn construction(
    film: &FilmCurve<'_>,
    figure: FigureId,
    shift: f64,
    axis: ExposureAxis,
    gradient_range: f64,
) -> Vec<Layer> {
    let pen = Pen { film, shift, axis };
    let drawn = match figure {
        FigureId::SpeedPoint | FigureId::FixedDensitySpeed | FigureId::IsoSpeed | FigureId::BoxDistance => {
            pen.speed_point()
        }
        FigureId::FractionalGradientPoint | FigureId::FractionalGradientSpeed => pen.fraction(),
        FigureId::DeltaXPoint | FigureId::DeltaXSpeed => pen.place(FigureId::DeltaXPoint, "delta-X point"),
        FigureId::BaseFog => pen.level(FigureId::BaseFog, "base+fog"),
        FigureId::DMax => pen.level(FigureId::DMax, "D-max"),
        FigureId::SpeedPointGradient => pen.tangent(FigureId::SpeedPoint),
        FigureId::IsoContrast | FigureId::AverageGradient130 => pen.chord(figure, CONTRAST_RANGE),
        FigureId::AverageGradient150 => pen.chord(figure, 1.5),
        FigureId::AverageGradient => pen.chord(figure, gradient_range),
        FigureId::ContrastIndex => pen.arcs(),
        FigureId::Gamma
        | FigureId::StraightFrom
        | FigureId::StraightTo
        | FigureId::StraightLength
        | FigureId::StraightDeparture => pen.straight(),
        FigureId::Headroom => pen.range(FigureId::SpeedPoint, FigureId::StraightTo),
        FigureId::MaximumGradient => pen.steepest(),
        FigureId::ToeLength | FigureId::ToeCurvature => pen.ends(toe_ends(film.curve), "toe"),
        FigureId::ShoulderLength | FigureId::ShoulderCurvature => {
            pen.ends(shoulder_ends(film.curve), "shoulder")
        }
        FigureId::UsableFrom | FigureId::UsableTo | FigureId::UsableRange => {
            pen.range(FigureId::UsableFrom, FigureId::UsableTo)
        }
        FigureId::TestedRange => pen.ends(Some(film.curve.range()), "tested"),
        FigureId::ShadowMatchIndex
        | FigureId::ShadowMatchOther
        | FigureId::IndexBoxDistance
        | FigureId::Granularity
        | FigureId::GranularityDensity
        | FigureId::GranularityNetOne
        | FigureId::Mtf50
        | FigureId::Mtf10 => None,
    };
    drawn.unwrap_or_default()
}

/// Whether [`construction`] draws a figure at all.
#[must_use]
pub fn has_construction(figure: FigureId) -> bool {
    !matches!(
        figure,
        FigureId::ShadowMatchIndex
            | FigureId::ShadowMatchOther
            | FigureId::IndexBoxDistance
            | FigureId::Granularity
            | FigureId::GranularityDensity
            | FigureId::GranularityNetOne
            | FigureId::Mtf50
            | FigureId::Mtf10
    )
}

struct Pen<'a> {
    film: &'a FilmCurve<'a>,
    shift: f64,
    axis: ExposureAxis,
}

impl Pen<'_> {
    fn role(&self) -> Role {
        self.film.role
    }

    fn at(&self, log_h: f64, density: f64) -> [f64; 2] {
        [(log_h + self.shift) / self.axis.log_h_per_unit(), density]
    }

    fn number(&self, id: FigureId) -> Option<f64> {
        Some(self.film.figures.get(&id)?.known()?.number())
    }

    fn density(&self, log_h: f64) -> Option<f64> {
        self.film.curve.best.density(log_h)
    }

    fn segment(&self, from: (f64, f64), to: (f64, f64), text: String) -> Layer {
        Layer::Segment { role: self.role(), from: self.at(from.0, from.1), to: self.at(to.0, to.1), text }
    }

    fn guide(&self, points: impl Iterator<Item = (f64, f64)>) -> Layer {
        let points = points.map(|(log_h, density)| self.at(log_h, density)).collect();
        Layer::Line { role: Role::Guide, name: String::new(), points }
    }

    fn upright(&self, log_h: f64, text: &str) -> Layer {
        Layer::Upright { role: self.role(), x: self.at(log_h, 0.0)[0], text: text.to_owned() }
    }

    fn named(&self, id: FigureId, label: &str) -> String {
        let decimals = crate::figures::spec(id).decimals;
        self.number(id)
            .map_or_else(String::new, |value| format!("{label} {}", format::number(value, decimals)))
    }

    fn speed_point(&self) -> Option<Vec<Layer>> {
        let (base, point) = (self.number(FigureId::BaseFog)?, self.number(FigureId::SpeedPoint)?);
        let level = Layer::Level { role: self.role(), y: base, text: "base+fog".to_owned() };
        let up = self.segment(
            (point, base),
            (point, base + SPEED_NET_DENSITY),
            format!("{SPEED_NET_DENSITY:.2} above base+fog"),
        );
        Some(vec![level, up])
    }

    fn place(&self, id: FigureId, label: &str) -> Option<Vec<Layer>> {
        Some(vec![self.upright(self.number(id)?, &self.named(id, label))])
    }

    fn level(&self, id: FigureId, label: &str) -> Option<Vec<Layer>> {
        let text = self.named(id, label);
        Some(vec![Layer::Level { role: self.role(), y: self.number(id)?, text }])
    }

    /// A chord over a range from the speed point, with its legs.
    fn chord(&self, id: FigureId, width: f64) -> Option<Vec<Layer>> {
        let from = self.number(FigureId::SpeedPoint)?;
        let value = self.number(id)?;
        let (low, high) = (self.density(from)?, self.density(from + width)?);
        let legs = self.guide([(from, low), (from + width, low), (from + width, high)].into_iter());
        let text = format!("{} over {width:.2}", format::number(value, 2));
        Some(vec![legs, self.segment((from, low), (from + width, high), text)])
    }

    fn tangent(&self, at: FigureId) -> Option<Vec<Layer>> {
        let log_h = self.number(at)?;
        let (density, gradient) = (self.density(log_h)?, self.film.curve.best.gradient(log_h)?);
        let end = |by: f64| (log_h + by, density + gradient * by);
        let text = format!("gradient {}", format::number(gradient, 2));
        Some(vec![self.segment(end(-TANGENT), end(TANGENT), text)])
    }

    fn fraction(&self) -> Option<Vec<Layer>> {
        let from = self.number(FigureId::FractionalGradientPoint)?;
        let (low, high) = (self.density(from)?, self.density(from + 1.5)?);
        let chord = self.segment((from, low), (from + 1.5, high), "mean over 1.50".to_owned());
        let mut drawn = vec![chord];
        drawn.extend(self.tangent(FigureId::FractionalGradientPoint)?);
        Some(drawn)
    }

    /// The two arcs about their centre on the base+fog line, and the ray.
    fn arcs(&self) -> Option<Vec<Layer>> {
        let base = self.number(FigureId::BaseFog)?;
        self.number(FigureId::ContrastIndex)?;
        let best = &self.film.curve.best;
        let (index, centre) = criteria::contrast_index(|x| best.density(x), best.from, best.to, base)?;
        let (inner, outer) = criteria::CONTRAST_INDEX_ARCS;
        let arc = |radius: f64| {
            // From the base line to beyond the ray.
            let end = 1.3 * libm::atan(index);
            self.guide((0..=ARC).map(move |i| {
                let angle = end * f64::from(i) / f64::from(ARC);
                (centre + radius * math::cos(angle), base + radius * math::sin(angle))
            }))
        };
        let angle = libm::atan(index);
        let end = (centre + outer * math::cos(angle), base + outer * math::sin(angle));
        let text = format!("contrast index {}", format::number(index, 2));
        let foot = self.guide([(centre, base), (centre + outer, base)].into_iter());
        Some(vec![foot, arc(inner), arc(outer), self.segment((centre, base), end, text)])
    }

    /// The regression line, drawn on beyond its range, and where it begins and ends.
    fn straight(&self) -> Option<Vec<Layer>> {
        let line = self.film.straight?;
        let beyond = [line.from - 0.45, line.to + 0.45].into_iter();
        let text = format!("gamma {}", format::number(line.gamma, 2));
        let on = |log_h: f64| (log_h, line.density(log_h));
        Some(vec![
            self.guide(beyond.map(on)),
            self.upright(line.from, "straight from"),
            self.upright(line.to, "to"),
            self.segment(on(line.from), on(line.to), text),
        ])
    }

    fn steepest(&self) -> Option<Vec<Layer>> {
        const STOP: f64 = 0.30;
        let (gradient, from) = self.film.curve.best.steepest(STOP)?;
        let (low, high) = (self.density(from)?, self.density(from + STOP)?);
        let text = format!("steepest stop {}", format::number(gradient, 2));
        Some(vec![self.segment((from, low), (from + STOP, high), text)])
    }

    fn ends(&self, ends: Option<(f64, f64)>, label: &str) -> Option<Vec<Layer>> {
        let (from, to) = ends?;
        Some(vec![self.upright(from, &format!("{label} from")), self.upright(to, "to")])
    }

    fn range(&self, from: FigureId, to: FigureId) -> Option<Vec<Layer>> {
        self.ends(self.number(from).zip(self.number(to)), "range")
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::drawing::tests::{line_from, of};
    use crate::figures::of_curve;

    // On a straight line of slope 0.6 every chord has the slope 0.6, as has the ray of the contrast index and gamma.
    #[test]
    fn constructions_of_a_line_have_its_slope() {
        let (curve, _, straight) = line_from(-2.0);
        let figures = of_curve(&curve, &crate::document::Settings::default()).figures;
        let film = (curve, figures, straight);
        let tern = of("Tern", Role::Reference, &film);
        for id in [FigureId::Gamma, FigureId::MaximumGradient, FigureId::AverageGradient150] {
            let layers = construction(&tern, id, 0.4, ExposureAxis::Stops, 1.5);
            let slopes: Vec<f64> = layers
                .iter()
                .filter_map(|layer| match layer {
                    Layer::Segment { from, to, .. } => {
                        Some((to[1] - from[1]) / ((to[0] - from[0]) * crate::units::STOP))
                    }
                    _ => None,
                })
                .collect();
            assert!(
                !slopes.is_empty() && slopes.iter().all(|slope| (slope - 0.6).abs() < 0.01),
                "{id:?} {slopes:?}"
            );
        }
        assert!(construction(&tern, FigureId::Granularity, 0.0, ExposureAxis::LogH, 1.5).is_empty());
    }

    #[test]
    fn only_figures_without_a_construction_draw_nothing() {
        let drawn = crate::figures::registry().iter().filter(|spec| has_construction(spec.id)).count();
        assert_eq!(drawn, crate::figures::registry().len() - 8);
    }
}
