//! A simulated series of which everything is scanned: two calibrations, two strips, two prints of a patch chart and plain
//! fields of film and print. The scanner has a tone curve of its own, flare and noise; certificates are wrong by what they
//! state.

use std::path::Path;

use twinwedge_core::document::{
    Calibration, CalibrationId, Exposure, Film, FilmId, GrainArea, GridShape, PatchLayout, PrintChoice,
    ReadingsSource, ScanEntry, ScanId, ScanKind, Series, StripShape, TabletExposure, TabletId,
};
use twinwedge_core::geometry::{Point, Quad, Rect};
use twinwedge_core::patch::default_layout;

use super::chance::Chance;
use super::films;
use super::series::{Wedge, foot};
use crate::tiff::{Packing, grey16};

/// Pixels of a step along and across the strip, and of the ground around the strip.
const STEP: (usize, usize) = (36, 48);
const GROUND: (usize, usize) = (24, 14);
/// Side of a patch, and the ground around the chart.
const PATCH: usize = 30;
const BOARD: usize = 20;
/// Side of a plain field, its dots per inch (8 µm a pixel) and the aperture that it is measured through.
const FIELD: usize = 150;
const FIELD_DPI: u32 = 3_175;
const PIXEL_UM: f64 = 8.0;
const APERTURE_UM: f64 = 48.0;

/// A scanner at fixed settings.
#[derive(Debug, Clone, Copy)]
struct Scanner {
    power: f64,
    dark: f64,
    full: f64,
    flare: f64,
    photon: f64,
    read: f64,
}

impl Scanner {
    fn draw(chance: &mut Chance) -> Self {
        Self {
            power: chance.between(0.42, 1.0),
            dark: chance.between(150.0, 900.0),
            full: chance.between(58_000.0, 64_500.0),
            flare: chance.between(0.0, 0.001),
            photon: chance.between(1e-6, 4e-6),
            read: chance.between(1e-5, 8e-5),
        }
    }

    fn code(&self, light: f64, chance: &mut Chance) -> u16 {
        let seen = (light + self.flare) / (1.0 + self.flare);
        let seen = seen + chance.normal((self.photon * seen + self.read * self.read).sqrt());
        let code = self.dark + (self.full - self.dark) * seen.max(0.0).powf(self.power);
        code.round().clamp(0.0, 65_535.0) as u16
    }
}

/// A picture of densities, and the standard deviation of density that grain makes of each in one pixel.
struct Sheet {
    width: usize,
    pixels: Vec<(f64, f64)>,
}

impl Sheet {
    fn of(width: usize, height: usize, at: impl Fn(usize, usize) -> (f64, f64)) -> Self {
        let rows = (0..height).flat_map(|y| (0..width).map(move |x| (x, y)));
        Self { width, pixels: rows.map(|(x, y)| at(x, y)).collect() }
    }

    /// Its codes. Grain keeps the mean light of an area; where it is `coarse` neighbours in a row share half of it.
    fn codes(&self, scanner: &Scanner, coarse: bool, chance: &mut Chance) -> Vec<u16> {
        let mut before = chance.normal(1.0);
        let pixel = |(density, sigma): &(f64, f64)| {
            let own = chance.normal(1.0);
            let grain = if coarse { (own + before) / 2.0_f64.sqrt() } else { own };
            before = own;
            let spread = std::f64::consts::LN_10 * sigma;
            let light = 10.0_f64.powf(-density) * (spread * grain - 0.5 * spread * spread).exp();
            scanner.code(light, chance)
        };
        self.pixels.iter().map(pixel).collect()
    }
}

/// A film of the series and what is true of it.
#[derive(Debug)]
pub(super) struct ScannedFilm {
    pub(super) id: FilmId,
    pub(super) film: films::Film,
    /// True density of each step of its strip.
    pub(super) steps: Vec<f64>,
    /// True density of each patch of its print, over what is sampled of it.
    pub(super) patches: Vec<f64>,
    /// True granularity of its field of film and of that of its print.
    pub(super) grain: [f64; 2],
}

/// A scanned series.
#[derive(Debug)]
pub(super) struct Scanned {
    pub(super) series: Series,
    pub(super) films: [ScannedFilm; 2],
    /// Patches have a texture of their own.
    pub(super) textured: bool,
}

/// Writes the scans of series `number` into `folder`.
///
/// # Errors
/// A file that could not be written.
pub(super) fn scanned(seed: u64, number: u64, folder: &Path) -> Result<Scanned, String> {
    let mut chance = Chance::new(seed ^ 0x5ca9, number);
    let mut bench = Bench { folder, series: Series::default(), chance: &mut chance };
    bench.series.title = format!("Scanned series {number}, invented");
    bench.series.settings.seed = number;
    let exposing = Wedge::draw(21, 0.15, bench.chance);
    let own = number.is_multiple_of(2).then(|| Wedge::draw(21, 0.15, bench.chance));
    let reflecting = Wedge::draw(21, 0.10, bench.chance);
    let scanners = [Scanner::draw(bench.chance), Scanner::draw(bench.chance)];
    bench.series.tablets.insert(TabletId::from("exposing"), exposing.certificate.clone());
    bench.calibrate("film", ScanKind::Film, own.as_ref().unwrap_or(&exposing), &scanners[0])?;
    bench.calibrate("print", ScanKind::Print, &reflecting, &scanners[1])?;
    let textured = number % 4 < 2;
    let chart = Chart::draw(textured, bench.chance);
    let reference = bench.film("Tern 160", &exposing, &chart, scanners)?;
    let chart = chart.of_another(bench.chance);
    let candidate = bench.film("Plover 640", &exposing, &chart, scanners)?;
    let mut series = bench.series;
    series.layout = Some(layout());
    series.reference = series.films.first().map(|film| film.id.clone());
    Ok(Scanned { series, films: [reference, candidate], textured })
}

fn layout() -> PatchLayout {
    default_layout()
}

/// The chart: densities on a print and the texture of the target, which every print shows.
#[derive(Clone)]
struct Chart {
    densities: Vec<f64>,
    /// Size, frequencies and phase of each wave.
    texture: Vec<[f64; 4]>,
}

impl Chart {
    fn draw(textured: bool, chance: &mut Chance) -> Self {
        let densities = layout().patches.iter().map(|_| chance.between(0.10, 1.80)).collect();
        let mut wave = || {
            let (turn, period) = (chance.between(0.0, std::f64::consts::TAU), chance.between(8.0, 40.0));
            let frequency = std::f64::consts::TAU / period;
            let size = if textured { chance.between(0.002, 0.006) } else { 0.0 };
            [size, frequency * turn.cos(), frequency * turn.sin(), chance.between(0.0, 6.0)]
        };
        let texture = (0..6).map(|_| wave()).collect();
        Self { densities, texture }
    }

    fn of_another(&self, chance: &mut Chance) -> Self {
        let other = |density: &f64| (density + chance.normal(0.08)).clamp(0.08, 1.85);
        Self { densities: self.densities.iter().map(other).collect(), texture: self.texture.clone() }
    }

    fn density(&self, x: usize, y: usize) -> Option<f64> {
        let grid = layout();
        let (column, row) = (x.checked_sub(BOARD)? / PATCH, y.checked_sub(BOARD)? / PATCH);
        let inside = column < grid.columns as usize && row < grid.rows as usize;
        let own = inside.then(|| self.densities.get(row * grid.columns as usize + column).copied())??;
        let waves = self.texture.iter();
        let bump: f64 = waves.map(|[size, u, v, w]| size * (u * x as f64 + v * y as f64 + w).sin()).sum();
        Some(own + bump)
    }

    /// The density of the mean light over the inner 0.6 of a patch.
    fn truth(&self, patch: usize) -> f64 {
        let columns = layout().columns as usize;
        let (left, top) = (BOARD + patch % columns * PATCH, BOARD + patch / columns * PATCH);
        let (from, to) = (PATCH / 5, PATCH - PATCH / 5);
        let places = (from..to).flat_map(|dy| (from..to).map(move |dx| (left + dx, top + dy)));
        let lights: Vec<f64> =
            places.filter_map(|(x, y)| self.density(x, y)).map(|density| 10.0_f64.powf(-density)).collect();
        -(lights.iter().sum::<f64>() / lights.len() as f64).log10()
    }
}

/// The series in the making.
struct Bench<'a> {
    folder: &'a Path,
    series: Series,
    chance: &'a mut Chance,
}

impl Bench<'_> {
    fn write(
        &mut self,
        name: &str,
        kind: ScanKind,
        dpi: u32,
        (sheet, coarse): (&Sheet, bool),
        (scanner, calibration): (&Scanner, Option<&str>),
    ) -> Result<ScanId, String> {
        let codes = sheet.codes(scanner, coarse, self.chance);
        let height = codes.len() / sheet.width;
        let bytes = grey16(sheet.width as u32, height as u32, &codes, dpi, Packing::Plain)
            .map_err(|error| error.to_string())?;
        let path = format!("{}.tif", name.replace(' ', "-"));
        std::fs::write(self.folder.join(&path), bytes).map_err(|error| error.to_string())?;
        let id = ScanId(name.to_owned());
        let entry = ScanEntry {
            calibration: calibration.map(CalibrationId::from),
            ..ScanEntry::new(path, None, kind)
        };
        self.series.scans.insert(id.clone(), entry);
        Ok(id)
    }

    fn calibrate(
        &mut self,
        name: &str,
        kind: ScanKind,
        wedge: &Wedge,
        scanner: &Scanner,
    ) -> Result<(), String> {
        let (sheet, shape) = strip(&wedge.truth, |_| 0.002);
        let scan = self.write(&format!("{name} tablet"), kind, 400, (&sheet, true), (scanner, None))?;
        let tablet = TabletId(format!("{name} scanner's"));
        self.series.tablets.insert(tablet.clone(), wedge.certificate.clone());
        let calibration = Calibration::new(name.to_owned(), scan, shape, tablet);
        self.series.calibrations.insert(CalibrationId::from(name), calibration);
        Ok(())
    }

    fn film(
        &mut self,
        label: &str,
        wedge: &Wedge,
        chart: &Chart,
        scanners: [Scanner; 2],
    ) -> Result<ScannedFilm, String> {
        let id = FilmId::from(label);
        let (film, lowest) = loop {
            let film = films::Film::draw(self.chance);
            if let Some(lowest) = foot(&film) {
                break (film, lowest);
            }
        };
        // The light is known exactly: what is uncertain comes from tablets and scans.
        let light = lowest + 0.05 + 0.15 * (wedge.truth.len() as f64 - 1.0);
        let steps: Vec<f64> = wedge.truth.iter().map(|step| film.density(light - step)).collect();
        let mut document = Film::named(id.clone(), label);
        let grain = self.chance.between(0.008, 0.03);
        let (sheet, shape) = strip(&steps, |density| grain * (density - film.base).max(0.0).sqrt());
        let on = (&scanners[0], Some("film"));
        let scan = self.write(&format!("{label} strip"), ScanKind::Film, 400, (&sheet, true), on)?;
        document.strips = vec![ReadingsSource::Strip { scan, shape }.into()];
        document.tablet_exposure = Some(TabletExposure::new(
            TabletId::from("exposing"),
            Exposure::Absolute { log_h: light, u: 0.0 },
        ));
        document.print = Some(self.print(label, chart, &scanners[1])?);
        let mut fields = Vec::new();
        let mut truths = [0.0; 2];
        for (number, (name, kind)) in
            [("film", ScanKind::Film), ("print", ScanKind::Print)].into_iter().enumerate()
        {
            let (density, sigma) = (self.chance.between(0.6, 1.3), self.chance.between(0.025, 0.05));
            truths[number] = granularity(sigma);
            let sheet = Sheet::of(FIELD, FIELD, |_, _| (density, sigma));
            let on = (&scanners[number], Some(name));
            let scan = self.write(&format!("{label} {name} field"), kind, FIELD_DPI, (&sheet, false), on)?;
            let all = Rect::between(Point::default(), Point::new(FIELD as f64, FIELD as f64));
            fields.push(GrainArea::new(scan, all));
        }
        document.uniform_areas = fields;
        self.series.films.push(document);
        let patches = (0..chart.densities.len()).map(|patch| chart.truth(patch)).collect();
        Ok(ScannedFilm { id, film, steps, patches, grain: truths })
    }

    fn print(&mut self, label: &str, chart: &Chart, scanner: &Scanner) -> Result<PrintChoice, String> {
        let grid = layout();
        let (width, height) = (PATCH * grid.columns as usize, PATCH * grid.rows as usize);
        let grain = self.chance.between(0.004, 0.02);
        let sheet = Sheet::of(width + 2 * BOARD, height + 2 * BOARD, |x, y| {
            (chart.density(x, y).unwrap_or(1.9), grain)
        });
        let on = (scanner, Some("print"));
        let scan = self.write(&format!("{label} print"), ScanKind::Print, 150, (&sheet, true), on)?;
        let quad = rectangle((BOARD, BOARD), (width, height));
        Ok(PrintChoice { grid: Some(GridShape::new(quad)), ..PrintChoice::new(scan) })
    }
}

/// Granularity of independent pixels of that standard deviation of density: the relative variance of log-normal light (moments of
/// the log-normal distribution) by the areas of pixel and aperture.
fn granularity(sigma: f64) -> f64 {
    let spread = sigma * std::f64::consts::LN_10;
    let relative = (spread * spread).exp_m1().sqrt();
    let aperture = std::f64::consts::FRAC_PI_4 * APERTURE_UM * APERTURE_UM;
    1000.0 * std::f64::consts::LOG10_E * relative * PIXEL_UM / aperture.sqrt()
}

/// A strip of steps on clear ground, with the grain that each density has, and where it lies.
fn strip(densities: &[f64], grain: impl Fn(f64) -> f64) -> (Sheet, StripShape) {
    let (width, height) = (densities.len() * STEP.0, STEP.1);
    let sheet = Sheet::of(width + 2 * GROUND.0, height + 2 * GROUND.1, |x, y| {
        let step = x.checked_sub(GROUND.0).map(|x| x / STEP.0);
        let inside = y >= GROUND.1 && y < GROUND.1 + height;
        let density = step.filter(|_| inside).and_then(|step| densities.get(step).copied());
        density.map_or((0.03, 0.001), |density| (density, grain(density)))
    });
    (sheet, StripShape::new(rectangle(GROUND, (width, height)), densities.len() as u32))
}

fn rectangle((x, y): (usize, usize), (width, height): (usize, usize)) -> Quad {
    let (left, top) = (x as f64, y as f64);
    let (right, bottom) = (left + width as f64, top + height as f64);
    Quad {
        corners: [
            Point::new(left, top),
            Point::new(right, top),
            Point::new(right, bottom),
            Point::new(left, bottom),
        ],
    }
}
