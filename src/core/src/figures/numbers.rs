//! The figures of one spline as plain numbers: of the best fit and of each resampling alike.

use super::FigureId;
use super::of_curve::StartOf;
use super::registry::COUNT;
use super::speed::{self, CONTRAST_RANGE, SPEED_NET_DENSITY};
use crate::document::Settings;

/// One number for each figure, not a number where there is none.
#[derive(Debug, Clone, Copy)]
pub(super) struct Numbers([f64; COUNT]);

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
    pub(super) fn of(start: &StartOf<'_>, settings: &Settings) -> Self {
        let StartOf { spline, base_fog, steepest, line, absolute } = *start;
        let mut numbers = Self([f64::NAN; COUNT]);
        let speed_point = base_fog.and_then(|base| spline.log_h_at(base + SPEED_NET_DENSITY));
        let gain = |width| speed_point.and_then(|at| spline.rise(at, width));
        let speed = speed_point.filter(|_| absolute).map(speed::arithmetic_speed);
        let range = settings.gradient_range;
        for (id, number) in [
            (FigureId::IsoSpeed, speed),
            (FigureId::FixedDensitySpeed, speed),
            (FigureId::SpeedPoint, speed_point),
            (FigureId::BaseFog, base_fog),
            (FigureId::DMax, Some(spline.highest())),
            (FigureId::IsoContrast, gain(CONTRAST_RANGE)),
            (FigureId::AverageGradient, gain(range).map(|gain| gain / range)),
            (FigureId::Gamma, line.map(|line| line.gamma)),
            (FigureId::StraightFrom, line.map(|line| line.from)),
            (FigureId::StraightTo, line.map(|line| line.to)),
            (FigureId::MaximumGradient, steepest),
        ] {
            numbers.set(id, number);
        }
        numbers
    }

    /// The same with all log exposures moved by an error of the light.
    pub(super) fn moved(mut self, shift: f64) -> Self {
        const PLACES: [FigureId; 3] = [FigureId::SpeedPoint, FigureId::StraightFrom, FigureId::StraightTo];
        const SPEEDS: [FigureId; 2] = [FigureId::IsoSpeed, FigureId::FixedDensitySpeed];
        for id in PLACES {
            self.0[id as usize] += shift;
        }
        for id in SPEEDS {
            self.0[id as usize] *= crate::numeric::math::pow(10.0, -shift);
        }
        self
    }
}
