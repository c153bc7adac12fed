//! From the still life through film and paper to the scan of a print.

use rayon::prelude::*;
use twinwedge_core::geometry::{Point, Similarity};
use twinwedge_core::numeric::math;

use super::chance::Chance;
use super::chart::{PATCHES, SHADOW};
use super::curve::{PaperCurve, root};
use super::film::FilmTruth;
use super::grain::APERTURE_UM;
use super::scanner::{Dirt, Light};
use super::scene::{self, Material};
use super::spectra::Reflectance;

/// Pixels of every print scan.
pub(super) const WIDTH: usize = 1200;
/// Pixels of every print scan.
pub(super) const HEIGHT: usize = 900;
/// Resolution of every print scan.
pub(super) const DPI: u32 = 150;
/// From negative to print.
pub(super) const ENLARGEMENT: f64 = 6.5;

/// Stray light in the camera, as a share of the light from a perfect white.
const CAMERA_FLARE: f64 = 0.004;
/// Density at which the reference's grey card is printed.
const GREY_CARD_PRINT: f64 = 0.75;
/// Exposure of the reference's print.
pub(super) const REFERENCE_SECONDS: f64 = 14.0;
pub(super) const PAPER: PaperCurve = PaperCurve { white: 0.06, black: 2.10, gamma: 2.4 };

/// lg H in the camera of a perfect white, metered from a grey card at exposure index `ei`: the meter gives 8.125 / ei lux
/// seconds to a surface of 0.18 (q = 0.65 and K = 12.5, common practice; ISO 2720:1974 allows K from 10.6 to 13.4).
fn white_log_h(ei: f64) -> f64 {
    math::log10(8.125 / ei / 0.18)
}

/// lg H of a surface that reflects `reflectance` of the film's light, lit as the cards are.
fn log_h(reflectance: f64, ei: f64) -> f64 {
    white_log_h(ei) + math::log10(reflectance + CAMERA_FLARE)
}

/// Density on the negative of a surface.
pub(super) fn negative_density(film: &FilmTruth, surface: &Reflectance, ei: f64) -> f64 {
    film.curve.density(log_h(film.sensitivity.exposure(surface), ei))
}

fn shadow() -> &'static Reflectance {
    &SHADOW.reflectance
}

/// Density of the shadow patch on the negative.
pub(super) fn shadow_density(film: &FilmTruth, ei: f64) -> f64 {
    negative_density(film, shadow(), ei)
}

/// The exposure index at which the shadow patch reaches `density`.
pub(super) fn index_for_shadow(film: &FilmTruth, density: f64) -> f64 {
    let seen = film.curve.log_h_at(density) - math::log10(film.sensitivity.exposure(shadow()) + CAMERA_FLARE);
    8.125 / 0.18 / math::pow(10.0, seen)
}

/// A negative in the enlarger.
pub(super) struct Print<'a> {
    film: &'a FilmTruth,
    /// Index of the frame that is printed.
    pub(super) ei: f64,
    /// Log exposure of the paper without a negative, from where the paper's curve is steepest.
    light: f64,
    /// The same in seconds, as the darkroom's clock was set.
    seconds: f64,
}

impl<'a> Print<'a> {
    /// Prints of all films, the reference first: each from the frame whose shadow comes nearest to the reference's above
    /// base+fog; exposure changes only by the difference of base+fog.
    pub(super) fn of_all(films: &'a [FilmTruth]) -> Vec<Self> {
        let reference = &films[0];
        let grey = negative_density(reference, &Material::GreyCard.reflectance(), reference.box_speed);
        let light = root(-3.0, 5.0, |light| PAPER.density(light - grey) - GREY_CARD_PRINT);
        let shadow = shadow_density(reference, reference.box_speed) - reference.curve.base;
        let print = |film: &'a FilmTruth| {
            let miss = |ei: f64| (shadow_density(film, ei) - film.curve.base - shadow).abs();
            let nearest = |best: f64, ei: f64| if miss(ei) < miss(best) { ei } else { best };
            let ei = film.bracket.into_iter().fold(film.bracket[0], nearest);
            let change = film.curve.base - reference.curve.base;
            let seconds = REFERENCE_SECONDS * math::pow(10.0, change);
            Self { film, ei, light: light + change, seconds }
        };
        films.iter().map(print).collect()
    }

    /// Exposure of the paper, to a tenth of a second.
    pub(super) fn seconds(&self) -> f64 {
        (self.seconds * 10.0).round() / 10.0
    }

    /// Log exposure of the paper without a negative, from where the paper's curve is steepest.
    pub(super) fn light(&self) -> f64 {
        self.light
    }

    /// From the reference's print to this one.
    pub(super) fn pose(&self) -> Similarity {
        let (scale, degrees, (x, y)) = self.film.print_pose;
        Similarity { scale, angle: degrees.to_radians(), shift: Point::new(x, y) }
    }

    /// Standard deviation of negative density in one pixel of the print scan, where net density is `net`: Selwyn's law
    /// from the aperture to the pixel as it lies on the film, and the root of density (Siedentopf, 1937).
    fn grain(&self, net: f64) -> f64 {
        let pixel_um = 25_400.0 / f64::from(DPI) / ENLARGEMENT;
        let aperture = core::f64::consts::PI * APERTURE_UM * APERTURE_UM / 4.0;
        let field = self.film.field;
        let at_field = field.granularity / 1000.0 * math::sqrt(aperture) / pixel_um;
        at_field * math::sqrt(net.max(0.0) / (field.density - self.film.curve.base))
    }

    /// Power of grain in the print at the grey card, at equal contrast of the scene: standard deviation of negative density
    /// over the negative's gradient there, squared. Paper and enlarger treat all films alike and drop out.
    pub(super) fn grain_power(&self) -> f64 {
        const STEP: f64 = 1e-3;
        let exposure = self.film.sensitivity.exposure(&Material::GreyCard.reflectance());
        let at = |change: f64| self.film.curve.density(log_h(exposure, self.ei) + change);
        let gradient = (at(STEP) - at(-STEP)) / (2.0 * STEP);
        let sigma = self.grain(at(0.0) - self.film.curve.base);
        sigma * sigma / (gradient * gradient)
    }

    fn reflected(&self, negative: f64) -> f64 {
        math::pow(10.0, -PAPER.density(self.light - negative))
    }

    /// Print density of an even surface: of the mean light over its grain, by the midpoint rule over six deviations.
    pub(super) fn density(&self, surface: &Reflectance) -> f64 {
        const CELLS: u32 = 600;
        let negative = negative_density(self.film, surface, self.ei);
        let sigma = self.grain(negative - self.film.curve.base);
        let (mut sum, mut weights) = (0.0, 0.0);
        for cell in 0..CELLS {
            let z = -6.0 + 12.0 * (f64::from(cell) + 0.5) / f64::from(CELLS);
            let weight = math::exp(-0.5 * z * z);
            sum += weight * self.reflected(negative + sigma * z);
            weights += weight;
        }
        -math::log10(sum / weights)
    }

    /// The light of the print at every pixel: nine places a pixel, one grain for all of them, dust from the negative.
    pub(super) fn picture(&self) -> Light {
        let exposures = Exposures::of(self.film);
        let pose = self.pose();
        let (sin, cos) = math::sincos(-pose.angle);
        let row = |y: usize| {
            let mut chance = Chance::of(&format!("{} print row {y}", self.film.slug));
            let pixel = |x: usize| {
                let grain = chance.normal();
                let mut sum = 0.0;
                for n in 0..9_u8 {
                    let dx = x as f64 + 0.5 + 0.36 * (f64::from(n % 3) - 1.0) - pose.shift.x;
                    let dy = y as f64 + 0.5 + 0.36 * (f64::from(n / 3) - 1.0) - pose.shift.y;
                    let (material, light) =
                        scene::at((cos * dx - sin * dy) / pose.scale, (sin * dx + cos * dy) / pose.scale);
                    let negative = self.film.curve.density(log_h(exposures.get(material) * light, self.ei));
                    sum += self.reflected(negative + grain * self.grain(negative - self.film.curve.base));
                }
                sum / 9.0
            };
            (0..WIDTH).map(pixel).collect::<Vec<f64>>()
        };
        let light = (0..HEIGHT).into_par_iter().flat_map_iter(row).collect();
        let mut picture = Light { width: WIDTH, height: HEIGHT, light };
        let dirt = Dirt { specks: 24, hairs: 2, scratches: 0, dust_light: math::pow(10.0, -PAPER.white) };
        picture.soil(dirt, &mut Chance::of(&format!("{} print dust", self.film.slug)));
        picture
    }
}

/// What each material gives to one film.
struct Exposures {
    patches: Vec<f64>,
    others: Vec<f64>,
}

impl Exposures {
    fn of(film: &FilmTruth) -> Self {
        let exposure = |surface: &Reflectance| film.sensitivity.exposure(surface);
        Self {
            patches: PATCHES.iter().map(|patch| exposure(&patch.reflectance)).collect(),
            others: Material::OTHERS.iter().map(|material| exposure(&material.reflectance())).collect(),
        }
    }

    fn get(&self, material: Material) -> f64 {
        match material {
            Material::Patch(index) => self.patches[index],
            other => {
                Material::OTHERS.iter().position(|m| *m == other).map_or(0.0, |index| self.others[index])
            }
        }
    }
}
