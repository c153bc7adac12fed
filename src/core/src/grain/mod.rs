//! Grain: RMS granularity through a circular aperture (ISO 10505:2009 practice).
//!
//! 1. Light, not density, is averaged through the disc at every pixel of the area, as a microdensitometer does; the
//!    density of each average is what fluctuates.
//! 2. A first robust look finds the level, the slow shading and what small squares of grain differ by; squares far
//!    outside are dust or scratches and are left out with the apertures that touch them.
//! 3. A polynomial surface is fitted to all densities that remain; the variance about it is corrected for the freedom
//!    that the surface took.
//! 4. The correlation of the residuals says how many independent apertures the area is worth, and chi-square with that
//!    many gives the interval.

mod aperture;
mod blur;
mod correlation;
mod density;
mod law;
mod log;
mod loss;
mod noise;
mod pair;
mod precision;
mod preview;
mod repeat;
mod rows;
pub mod spectrum;
mod surface;
mod tile;
mod verdict;
pub mod viewer;

pub use aperture::{ApertureWeights, aperture_weights};
pub use blur::{Texture, left_by_blur};
pub use density::{GrainAt, GrainPoint, GranularityCurve, How, grain_ratio};
pub use law::{ApertureLaw, AperturePoint, LawVerdict, aperture_ladder, law_of_apertures};
pub use loss::{Loss, LossBy, LossOf};
pub use noise::{NoiseTaken, ScannerNoise};
pub use pair::{Alike, PairRow, PairSide, pair_rows};
pub use precision::{ExpectedInterval, LeastArea, expected_interval, least_area, values_for};
pub use repeat::{Repeat, repeat};

use rayon::prelude::*;
use serde::Serialize;
use statrs::distribution::{ChiSquared, ContinuousCDF};

use crate::geometry::{Point, Rect};
use crate::measured::Measured;
use crate::numeric::math;
use crate::problem::{Problem, Subject};
use crate::scan::{Plane, SharedError, ToneTable};
use crate::units::{Density, Micrometres};
use crate::words::{self, Sentence};
use correlation::{Extent, Lattice, extent};
use preview::{Preview, PreviewArea, nearest_code, preview};
use surface::Surface;
use tile::{Job, Patch, Sums, Tile};

/// How granularity is measured.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct GrainSettings {
    /// Distance between samples.
    pub pitch: Micrometres,
    /// Diameter of the circular aperture; 48 µm by ISO 10505.
    pub aperture: Micrometres,
}

/// A measured granularity.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Granularity {
    /// 1000 times the standard deviation of density through the aperture. Its interval joins that of so many apertures
    /// (chi-square) with the calibration's uncertain gradient, for fluctuations are read by the table's slope.
    pub rms: Measured,
    /// The calibration's part in that: films on the same calibration share it.
    pub gradient: SharedError,
    /// Mean density of the area (density of its mean light).
    pub mean_density: Measured<Density>,
    /// The diameter of the aperture.
    pub aperture: Micrometres,
    /// Distance between samples.
    pub pitch: Micrometres,
    /// Independent apertures that the interval rests on: it is that of a standard deviation from so many independent
    /// normal values. Apertures that overlap tell more than only those side by side, so it can exceed area over
    /// aperture.
    pub independent_apertures: f64,
    /// Range of density over the area that was removed as slow shading.
    pub shading: f64,
    /// Share of the area left out as dust or scratches.
    pub left_out: f64,
    /// The area that was measured, whole pixels.
    pub area: Rect,
    /// What was taken off as the scanner's noise; `None` where it is left in.
    pub noise: Option<NoiseTaken>,
    /// What its pixels say of the scan; `None` where the area is too small to tell.
    pub texture: Option<Texture>,
    /// What the scanner's own blur took from it, or may have taken; `None` where nothing tells.
    pub loss: Option<Loss>,
    /// Things worth telling: area too small, a picture instead of a uniform area, pitch too coarse.
    pub notes: Vec<Sentence>,
}

impl Granularity {
    /// How much higher than another: what the calibration's gradient does to both is counted as common.
    #[must_use]
    pub fn minus(&self, other: &Self) -> Measured {
        let common = self.rms.value * other.rms.value * self.gradient.common(&other.gradient);
        self.rms.minus(&other.rms).with_variance(-2.0 * common)
    }

    /// Share of the measured variance that is left as the grain's.
    #[must_use]
    pub fn share_of_grain(&self) -> f64 {
        self.noise.as_ref().map_or(1.0, |taken| (1.0 - taken.share).max(1e-3))
    }
}

/// Fewest pixels that the aperture must be wide.
pub const LEAST_PIXELS_ACROSS: f64 = 2.0;
/// Most pixels across an aperture: 540 µm at 12,000 dots per inch. What the scanner's blur takes from it is worked out in a time that
/// goes with the fourth power of this.
const MOST_PIXELS_ACROSS: f64 = 256.0;

/// Fewest apertures side by side that the area must hold.
pub const LEAST_APERTURES: f64 = 6.0;

/// The area in whole pixels and the aperture in pixels.
#[derive(Debug, Clone, Copy)]
struct Frame {
    x0: usize,
    y0: usize,
    width: usize,
    height: usize,
    diameter: f64,
}

/// RMS granularity of an area: light averaged through the aperture at every position, density of each average, slow
/// shading removed, standard deviation, interval from the number of independent apertures.
///
/// Along rows there is an aperture at every pixel; rows of apertures are two sevenths of its diameter apart, which loses
/// next to nothing: apertures so near tell the same. The value is that of the discrete aperture of [`aperture_weights`] on the pixels as scanned; the scanner's own blur is in it.
///
/// `stop` is asked once per tile.
///
/// # Errors
/// The area lies outside the scan or is too small for the aperture, the pitch is too coarse for it, or `stop` said so.
pub fn granularity(
    plane: Plane<'_>,
    table: &ToneTable,
    area: Rect,
    settings: GrainSettings,
    stop: &(dyn Fn() -> bool + Sync),
) -> Result<Granularity, Problem> {
    let frame = frame(plane, table, area, settings)?;
    let weights = aperture_weights(frame.diameter);
    let columns = weights.columns();
    let side = ((frame.diameter / 3.0).round() as usize).max(1);
    let look = PreviewArea { x0: frame.x0, y0: frame.y0, width: frame.width, height: frame.height, side };
    let first = preview(plane, table, look, degree(&frame));
    let light: Vec<f32> = table.light.iter().map(|light| (light / first.level) as f32).collect();
    let step = row_step(frame.diameter);
    let spacing = ((frame.diameter / 3.5) as usize).max(1);
    let job = Job {
        plane,
        light: &light,
        columns: &columns,
        surface: &first.surface,
        spread: first.spread,
        x0: frame.x0,
        y0: frame.y0,
        width: frame.width,
        height: frame.height,
        step,
        side,
        lattice: (spacing, (spacing / step).max(1)),
    };
    let sums = whole(&job, frame.diameter, stop).ok_or_else(|| {
        let remedy = words::Remedy::AskForGranularity;
        Problem::note(Subject::Series, words::Stopped::Granularity, remedy)
    })?;
    conclude(&job, &frame, table, settings, &first, sums)
}

/// Pixels from one row of apertures to the next: at most 1 / 3.7 of the diameter. The variance of the estimate goes with the sum
/// of the squared correlation over the places of the apertures; for independent grain, the least correlated there is, rows so
/// far apart raise it by about one in a hundred over rows at every place, the interval by half of that.
fn row_step(diameter: f64) -> usize {
    ((diameter / 3.7) as usize).max(1)
}

/// Checks what was asked for.
fn frame(plane: Plane<'_>, table: &ToneTable, area: Rect, settings: GrainSettings) -> Result<Frame, Problem> {
    let refuse = |cause: Sentence, remedy: Sentence| Err(Problem::error(Subject::Series, cause, remedy));
    let (pitch, aperture) = (settings.pitch.0, settings.aperture.0);
    let sizes = pitch > 0.0 && aperture > 0.0 && pitch.is_finite() && aperture.is_finite();
    if !sizes {
        return refuse(
            words::Grain::BadSizes { pitch, aperture }.into(),
            words::Remedy::ResolutionAndAperture.into(),
        );
    }
    if table.light.len() != plane.levels() || table.density.len() != plane.levels() {
        return refuse(
            words::Scan::OtherCodes { codes: table.light.len(), scan: plane.levels() }.into(),
            words::Remedy::CalibrateAtDepth.into(),
        );
    }
    let diameter = aperture / pitch;
    if diameter < LEAST_PIXELS_ACROSS {
        return refuse(
            words::Grain::PixelsTooCoarse { pitch, aperture }.into(),
            words::Remedy::ScanFiner { dpi: 25_400.0 * 4.0 / aperture }.into(),
        );
    }
    if diameter > MOST_PIXELS_ACROSS {
        return refuse(
            words::Grain::ApertureTooWide {
                aperture,
                diameter,
                pitch,
                most_pixels_across: MOST_PIXELS_ACROSS,
            }
            .into(),
            words::Remedy::CheckResolutionOrAperture.into(),
        );
    }
    let (x0, y0, x1, y1) = (area.min.x.round(), area.min.y.round(), area.max.x.round(), area.max.y.round());
    let inside = x0 >= 0.0
        && y0 >= 0.0
        && x1 <= plane.width() as f64
        && y1 <= plane.height() as f64
        && x0 < x1
        && y0 < y1;
    if !inside {
        return refuse(
            words::Grain::AreaOutside { x0, y0, x1, y1, wide: plane.width(), high: plane.height() }.into(),
            words::Remedy::MarkInside.into(),
        );
    }
    let found = Frame {
        x0: x0 as usize,
        y0: y0 as usize,
        width: (x1 - x0) as usize,
        height: (y1 - y0) as usize,
        diameter,
    };
    let span = 2 * aperture_weights(diameter).reach() + 1;
    let small = found.width < span || found.height < span || apertures(&found) < LEAST_APERTURES;
    if small {
        let least = verdict::side_for(LEAST_APERTURES, diameter);
        let better = least_area(0.05, settings).map_or(least, |area| area.side_px);
        return refuse(
            words::Grain::AreaTooSmall { width: found.width, height: found.height, diameter }.into(),
            words::Remedy::MarkAtLeast { least, better }.into(),
        );
    }
    Ok(found)
}

/// Apertures that fit into the area side by side.
fn apertures(frame: &Frame) -> f64 {
    let disc = core::f64::consts::FRAC_PI_4 * frame.diameter * frame.diameter;
    frame.width as f64 * frame.height as f64 / disc
}

/// How much the surface may bend: its coefficients stay below a fortieth of the apertures of all but the smallest areas.
/// A surface that bends more would take the grain's own slow fluctuation for shading, worst where grain hangs together.
fn degree(frame: &Frame) -> usize {
    match apertures(frame) {
        n if n < 60.0 => 0,
        n if n < 400.0 => 1,
        n if n < 1_500.0 => 2,
        n if n < 6_000.0 => 3,
        _ => surface::DEGREE,
    }
}

/// Runs all tiles and adds them up in their order. `None` if stopped.
fn whole(job: &Job<'_>, diameter: f64, stop: &(dyn Fn() -> bool + Sync)) -> Option<(Sums, Vec<Patch>)> {
    /// Values that the correlation is taken from; more would not make it better known.
    const KEPT: usize = 1 << 18;
    let (columns, rows) = job.size();
    let across = ((8.0 * diameter).ceil() as usize).max(1024);
    let down = ((8.0 * diameter / job.step as f64).ceil() as usize).max(if job.step == 1 { 128 } else { 64 });
    let pieces = |size: usize, piece: usize| {
        let count = (size / piece).max(1);
        (0..count).map(move |k| (k * size / count, (k + 1) * size / count))
    };
    let mut tiles: Vec<Tile> = pieces(rows, down)
        .flat_map(|y| pieces(columns, across).map(move |x| Tile { x, y, keep: false }))
        .collect();
    let each = across.div_ceil(job.lattice.0) * down.div_ceil(job.lattice.1);
    let wanted = (KEPT / each).clamp(1, tiles.len());
    let count = tiles.len();
    for k in 0..wanted {
        tiles[(2 * k + 1) * count / (2 * wanted)].keep = true;
    }
    let parts: Option<Vec<Sums>> =
        tiles.par_iter().map_init(Vec::new, |light, tile| (!stop()).then(|| job.run(tile, light))).collect();
    let mut total = Sums::default();
    let mut patches = Vec::new();
    for part in parts? {
        total.moments.join(&part.moments);
        total.light += part.light;
        total.squares += part.squares;
        total.fourths += part.fourths;
        total.left_out += part.left_out;
        patches.extend(part.kept);
    }
    Some((total, patches))
}

/// From sums to a granularity.
fn conclude(
    job: &Job<'_>,
    frame: &Frame,
    table: &ToneTable,
    settings: GrainSettings,
    first: &Preview,
    (sums, patches): (Sums, Vec<Patch>),
) -> Result<Granularity, Problem> {
    let count = sums.moments.count();
    let (columns, rows) = job.size();
    let all = (columns * rows) as f64;
    let solved = sums.moments.solve(first.surface.degree).filter(|_| count > 0.05 * all);
    let Some((correction, explained)) = solved else {
        return Err(Problem::error(
            Subject::Series,
            words::Grain::NothingUniform,
            words::Remedy::MarkEvenWithoutDetail,
        ));
    };
    let surface = first.surface.plus(&correction);
    let lattice = Lattice {
        spacing: (job.lattice.0 as f64, (job.lattice.1 * job.step) as f64),
        diameter: frame.diameter,
        area: (columns as f64, (rows * job.step) as f64),
        terms: surface.terms() as f64,
    };
    let extent = extent(&patches, &lattice);
    // The area over which apertures lie; that pairs at its edges are fewer is in the integrals.
    let used = count * job.step as f64;
    let of_mean = (used / extent.of_mean).max(1.0);
    let freedom = freedom(&sums, count, used, &extent, &surface);
    let variance = (sums.squares - explained).max(0.0) / count;
    let sigma = math::sqrt(variance / (1.0 - lattice.terms / of_mean).max(0.2));
    let level = -math::log10(first.level);
    let mean = -math::log10(sums.light / count) + level;
    let from_grain = sigma / math::sqrt(of_mean);
    let mean_u =
        math::hypot(from_grain, table.density_u.get(nearest_code(table, mean)).copied().unwrap_or(0.0));
    let (low, high) = surface.range((-1.0, 1.0), (-1.0, 1.0), 32);
    let gradient = table.errors.gradient(mean);
    let mut found = Granularity {
        rms: with_table(interval(1000.0 * sigma, freedom)?, &gradient),
        gradient,
        mean_density: Measured::normal(Density(mean), mean_u),
        aperture: settings.aperture,
        pitch: settings.pitch,
        independent_apertures: freedom + 1.0,
        shading: high - low,
        left_out: sums.left_out as f64 / all,
        area: Rect {
            min: Point::new(frame.x0 as f64, frame.y0 as f64),
            max: Point::new((frame.x0 + frame.width) as f64, (frame.y0 + frame.height) as f64),
        },
        noise: None,
        texture: None,
        loss: None,
        notes: Vec::new(),
    };
    found.texture = blur::texture(job.plane, table, found.area, settings.pitch);
    let blur = found.texture.as_ref().and_then(|texture| texture.blur);
    found.loss = blur.map(|blur| Loss::by_pixels(blur, settings.aperture));
    verdict::judge(&mut found, frame.diameter, table, first, &extent);
    Ok(found)
}

/// Degrees of freedom of the variance: twice its square over the variance of its estimate. A heavy-tailed field
/// (excess kurtosis) tells less; that few values look light-tailed by chance must not make them tell more.
fn freedom(sums: &Sums, count: f64, used: f64, extent: &Extent, surface: &Surface) -> f64 {
    let square = sums.squares / count;
    let kurtosis = if square > 0.0 { (sums.fourths / count / (square * square) - 3.0).max(0.0) } else { 0.0 };
    let independent = used / extent.of_square * 2.0 / (2.0 + kurtosis);
    // The surface takes the freedom of its coefficients.
    (independent - surface.terms() as f64).max(1.0)
}

/// The chi-square interval of a standard deviation (formula: ISO 2854 practice; `s sqrt(n / chi2)`).
fn interval(sigma: f64, freedom: f64) -> Result<Measured, Problem> {
    let chi = ChiSquared::new(freedom).map_err(|error| {
        Problem::error(
            Subject::Series,
            words::Grain::NotCounted { error: error.to_string() },
            words::Remedy::MarkLarger,
        )
    })?;
    let end = |p: f64| sigma * math::sqrt(freedom / chi.inverse_cdf(p));
    Ok(Measured::with_interval(sigma, sigma / math::sqrt(2.0 * freedom), end(0.975), end(0.025)))
}

/// Joins the relative uncertainty of the table's gradient, in squares on each side (JCGM 100:2008, 5.1.2).
fn with_table(sigma: Measured, gradient: &SharedError) -> Measured {
    let u = sigma.value * gradient.u();
    sigma.with_variance(u * u)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::document::Channel;
    use crate::measured::Flags;
    use crate::measured::Z95;
    use crate::scan::{Samples, ScaleErrors, Scan, ScanMeta, ToneSource};

    #[test]
    fn the_number_of_processors_changes_no_bit() {
        let (width, height) = (700, 500);
        let mut state = 1_u32;
        let mut next = || {
            state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            20_000 + (state >> 18) as u16
        };
        let samples = Samples::U16((0..width * height).map(|_| next()).collect());
        let scan = Scan { width, height, channels: 1, samples, meta: ScanMeta::default() };
        let light: Vec<f64> = (1..=65_536).map(|code| f64::from(code) / 65_536.0).collect();
        let table = ToneTable {
            density: light.iter().map(|l| -math::log10(*l)).collect(),
            density_u: vec![0.0; light.len()],
            errors: ScaleErrors::default(),
            light,
            trusted: (0.0, 4.0),
            source: ToneSource::Calibration("exact".to_owned()),
            flags: Flags::empty(),
        };
        let area = Rect::between(Point::default(), Point::new(width as f64, height as f64));
        let settings = GrainSettings { pitch: Micrometres(6.35), aperture: Micrometres(48.0) };
        let on = |threads| {
            let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
            let plane = scan.plane(Channel::Green);
            pool.install(|| granularity(plane, &table, area, settings, &|| false)).unwrap()
        };
        assert_eq!(on(1), on(3));
    }

    /// For independent grain the relative variance of the mean square is `2 sum rho^2` over the lags of the apertures, times
    /// the area of one; `rho` straight from the weights. Rows as far apart as they are against a row at every pixel.
    #[test]
    fn rows_apart_lose_about_one_in_a_hundred() {
        for diameter in [3.5, 7.41, 7.559, 9.06, 11.2, 13.9, 18.1, 24.5, 28.0, 35.0] {
            let disc = aperture_weights(diameter);
            let (reach, step) = (disc.reach() as isize, row_step(diameter) as isize);
            let product = |dx: isize, dy: isize| {
                let row = |y: isize| (-reach..=reach).map(move |x| (x, y));
                let places = (-reach..=reach).flat_map(row);
                places.map(|(x, y)| disc.at(x, y) * disc.at(x + dx, y + dy)).sum::<f64>()
            };
            let far = 2 * reach;
            let sum = |step: isize| {
                let rows = (-far / step..=far / step).map(|k| k * step);
                let square = |dy: isize| (-far..=far).map(|dx| product(dx, dy).powi(2)).sum::<f64>();
                step as f64 * rows.map(square).sum::<f64>()
            };
            let loss = sum(step) / sum(1) - 1.0;
            assert!((-1e-3..0.0115).contains(&loss), "{diameter}: {loss}");
        }
    }

    /// `stat.chi2_ci`: s 0.010 from 100 values, 0.008780 to 0.011617 (chi-square tables).
    #[test]
    fn interval_of_a_standard_deviation() {
        let found = interval(0.010, 99.0).unwrap();
        assert!((found.low - 0.008_780).abs() < 1e-6 && (found.high - 0.011_617).abs() < 1e-6);
        assert!((found.u / 0.010 - 0.071_067).abs() < 1e-6);
    }

    /// Source: 3 and 4 make 5 in squares; a table that is sure changes nothing.
    #[test]
    fn an_uncertain_gradient_widens_the_interval() {
        let alone = Measured::with_interval(10.0, 0.3, 10.0 - 0.6 * Z95, 10.0 + 0.3 * Z95);
        let of = |parts: Vec<f64>| SharedError { calibration: 1, parts };
        let same = with_table(alone, &SharedError::default());
        assert!((same.u - 0.3).abs() < 1e-12 && (same.low - alone.low).abs() < 1e-12);
        // 0.024 and 0.032 make 0.04.
        let joined = with_table(alone, &of(vec![0.024, -0.032]));
        assert!((joined.u - 0.5).abs() < 1e-12 && (joined.high - 10.0 - 0.5 * Z95).abs() < 1e-12);
        assert!(joined.low < alone.low);
    }
}
