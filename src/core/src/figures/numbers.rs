//! The figures of one spline as plain numbers: of the best fit and of each resampling alike.

use super::FigureId;
use super::criteria;
use super::registry::COUNT;
use super::shape::{Shape, Stretch};
use super::speed::{self, CONTRAST_RANGE, SPEED_NET_DENSITY};
use super::straight::StraightLine;
use crate::curve::Spline;
use crate::document::Settings;
use crate::numeric::math;
use crate::units::STOP;

/// The longer of the two ranges over which average gradients are taken in the trade.
pub(super) const LONG_RANGE: f64 = 1.50;

/// One number for each figure, not a number where there is none.
#[derive(Debug, Clone, Copy)]
pub(super) struct Numbers([f64; COUNT]);

/// What the numbers of a spline start from.
#[derive(Debug, Clone, Copy)]
pub(super) struct StartOf<'a> {
    pub(super) spline: &'a Spline,
    pub(super) base_fog: Option<f64>,
    /// Highest mean gradient over a stop, and where that stop begins.
    pub(super) steepest: Option<(f64, f64)>,
    pub(super) line: Option<StraightLine>,
    /// Exposures are in lux seconds.
    pub(super) absolute: bool,
}

/// Figures that are log exposures.
const PLACES: [FigureId; 7] = [
    FigureId::SpeedPoint,
    FigureId::FractionalGradientPoint,
    FigureId::DeltaXPoint,
    FigureId::StraightFrom,
    FigureId::StraightTo,
    FigureId::UsableFrom,
    FigureId::UsableTo,
];
/// Figures that are speeds by an exposure.
pub(super) const SPEEDS: [FigureId; 4] = [
    FigureId::IsoSpeed,
    FigureId::FixedDensitySpeed,
    FigureId::FractionalGradientSpeed,
    FigureId::DeltaXSpeed,
];

impl Numbers {
    /// A figure's number, if there is one.
    pub(super) fn get(&self, id: FigureId) -> Option<f64> {
        let number = self.0[id as usize];
        (!number.is_nan()).then_some(number)
    }

    pub(super) fn set(&mut self, id: FigureId, number: Option<f64>) {
        self.0[id as usize] = number.unwrap_or(f64::NAN);
    }

    /// All that follows from a spline once base+fog and the straight line are known. Speeds need `absolute` exposures.
    /// Places that lie below the data stand at their low end.
    pub(super) fn of(start: &StartOf<'_>, settings: &Settings) -> Self {
        let mut numbers = Self([f64::NAN; COUNT]);
        numbers.of_speed_point(start, settings);
        numbers.of_fraction(start);
        numbers.of_line(start);
        numbers.of_shape(start, settings);
        numbers.set(FigureId::DMax, Some(start.spline.highest()));
        numbers
    }

    fn of_speed_point(&mut self, start: &StartOf<'_>, settings: &Settings) {
        let StartOf { spline, absolute, .. } = *start;
        self.set(FigureId::BaseFog, start.base_fog);
        let Some(base) = start.base_fog else { return };
        let net = base + SPEED_NET_DENSITY;
        let point = if spline.lowest() >= net { Some(spline.from) } else { spline.log_h_at(net) };
        let Some(point) = point else { return };
        let gain = |width| spline.rise(point, width);
        let speed = absolute.then(|| speed::arithmetic_speed(point));
        let contrast = gain(CONTRAST_RANGE);
        let range = settings.gradient_range;
        for (id, number) in [
            (FigureId::SpeedPoint, Some(point)),
            (FigureId::IsoSpeed, speed),
            (FigureId::FixedDensitySpeed, speed),
            (FigureId::SpeedPointGradient, spline.gradient(point)),
            (FigureId::IsoContrast, contrast),
            (FigureId::AverageGradient130, contrast.map(|gain| gain / CONTRAST_RANGE)),
            (FigureId::AverageGradient150, gain(LONG_RANGE).map(|gain| gain / LONG_RANGE)),
            (FigureId::AverageGradient, gain(range).map(|gain| gain / range)),
            (FigureId::DeltaXPoint, contrast.map(|gain| point - criteria::delta_x(gain))),
            (
                FigureId::DeltaXSpeed,
                contrast.filter(|_| absolute).map(|gain| criteria::delta_x_speed(point, gain)),
            ),
        ] {
            self.set(id, number);
        }
        let index = criteria::contrast_index(|x| spline.density(x), spline.from, spline.to, base);
        self.set(FigureId::ContrastIndex, index.map(|(index, _)| index));
    }

    /// A curve that begins above the criterion holds it where it begins.
    fn of_fraction(&mut self, start: &StartOf<'_>) {
        let reached = start.base_fog.and_then(|base| criteria::fraction_of(start.spline, base));
        let point = reached.map(criteria::Reached::place);
        self.set(FigureId::FractionalGradientPoint, point);
        let speed = point.filter(|_| start.absolute).map(criteria::fractional_gradient_speed);
        self.set(FigureId::FractionalGradientSpeed, speed);
    }

    fn of_line(&mut self, start: &StartOf<'_>) {
        let Some(line) = start.line else { return };
        self.set(FigureId::Gamma, Some(line.gamma));
        self.set(FigureId::StraightFrom, Some(line.from));
        self.set(FigureId::StraightTo, Some(line.to));
        self.set(FigureId::StraightLength, Some((line.to - line.from) / STOP));
        let point = self.get(FigureId::SpeedPoint);
        self.set(FigureId::Headroom, point.map(|point| (line.to - point) / STOP));
    }

    fn of_shape(&mut self, start: &StartOf<'_>, settings: &Settings) {
        self.set(FigureId::MaximumGradient, start.steepest.map(|(gradient, _)| gradient));
        let Some(shape) = Shape::of(start.spline, start.steepest) else { return };
        let stops = |stretch: Option<Stretch>| stretch.map(|stretch| stretch.length() / STOP);
        self.set(FigureId::ToeLength, stops(shape.toe()));
        self.set(FigureId::ShoulderLength, stops(shape.shoulder()));
        let (toe, shoulder) = shape.curvatures();
        self.set(FigureId::ToeCurvature, toe);
        self.set(FigureId::ShoulderCurvature, shoulder);
        let usable = shape.usable(settings.usable_toe_gradient, settings.usable_shoulder_gradient);
        self.set(FigureId::UsableFrom, usable.map(|usable| usable.from));
        self.set(FigureId::UsableTo, usable.map(|usable| usable.to));
        self.set(FigureId::UsableRange, stops(usable));
    }

    /// The same with all log exposures moved by an error of the light.
    pub(super) fn moved(mut self, shift: f64) -> Self {
        for id in PLACES {
            self.0[id as usize] += shift;
        }
        let factor = math::pow(10.0, -shift);
        for id in SPEEDS {
            self.0[id as usize] *= factor;
        }
        self
    }
}
