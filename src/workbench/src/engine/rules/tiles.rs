//! Pictures for the screen: one square at a time, from a table of screen tones. Nothing is measured on them.

use std::sync::Arc;

use serde::Serialize;
use twinwedge_core::document::{FilmId, ScanId, Series};
use twinwedge_core::drawing::screen_grey;
use twinwedge_core::geometry::{Point, Transform};
use twinwedge_core::problem::{Problem, Subject};
use twinwedge_core::scan::{Pyramid, Samples, Scan, channel_offset};
use twinwedge_core::units::Density;

use super::measurable::ScanInputs;
use super::scans::file_name;
use super::{film, print_of, reference};
use crate::engine::ask::{
    DIFFERENCE_RANGE, PyramidOf, RegistrationOf, ScreenOf, ScreenTones, TILE, Tile, TileOf, TilePicture,
    ToneOf,
};
use crate::engine::names::stand_in;
use crate::engine::{Computation, Handle, NoAnswer, Query, View};
use crate::words::{Remedy, Rule};

impl Query for ScreenOf {
    type Inputs = (Handle<ToneOf>, ScreenTones);

    fn inputs(&self, view: &View<'_>) -> Result<Self::Inputs, NoAnswer> {
        Ok((view.handle(ToneOf { scan: self.scan.clone() })?, self.look))
    }

    fn compute((table, look): &Self::Inputs, work: &Computation<'_>) -> Result<Vec<u8>, NoAnswer> {
        let table = work.get(table)?;
        Ok(table.density.iter().map(|density| screen_tone(shown(*density, *look))).collect())
    }
}

/// The density that is shown for a density of the scan.
fn shown(density: f64, look: ScreenTones) -> f64 {
    let density = density - f64::from(look.density_offset) / 1000.0;
    let density = if look.inverted { 2.0 - density } else { density };
    let middle = 1.0 + f64::from(look.about) / 1000.0;
    middle + (density - middle) * (1.0 + f64::from(look.contrast) / 100.0)
}

/// The 8-bit sRGB code of a density: density 0 is the screen's white.
fn screen_tone(density: f64) -> u8 {
    screen_grey(Density(density).light())
}

/// A square of a picture.
#[derive(Debug, Serialize)]
pub struct Square {
    place: Place,
    picture: Picture,
}

/// Where it lies: level, column and row, in tiles.
#[derive(Debug, Clone, Copy, Serialize)]
struct Place {
    level: u8,
    column: u32,
    row: u32,
}

/// What is painted.
#[derive(Debug, Serialize)]
enum Picture {
    Scan(Levels, Handle<ScreenOf>),
    /// A candidate's print, by its tones, in the reference's pixels.
    Registered(Pair, Handle<ScreenOf>),
    Difference(Pair, ScreenTones),
}

/// A scan in all its sizes.
#[derive(Debug, Serialize)]
struct Levels {
    sight: ScanInputs,
    pyramid: Handle<PyramidOf>,
}

/// Two prints, and how one lies on the other.
#[derive(Debug, Serialize)]
struct Pair {
    reference: Levels,
    candidate: Levels,
    registration: Handle<RegistrationOf>,
}

impl Levels {
    fn of(view: &View<'_>, scan: &ScanId) -> Result<Self, NoAnswer> {
        Ok(Self {
            sight: ScanInputs::of(view, scan)?,
            pyramid: view.handle(PyramidOf { scan: scan.clone() })?,
        })
    }
}

impl Pair {
    fn of(view: &View<'_>, id: &FilmId) -> Result<Self, NoAnswer> {
        let (reference, candidate) = (print_of(reference(view)?)?, print_of(film(view, id)?)?);
        Ok(Self {
            reference: Levels::of(view, &reference.scan)?,
            candidate: Levels::of(view, &candidate.scan)?,
            registration: view.handle(RegistrationOf { film: id.clone() })?,
        })
    }
}

impl Query for TileOf {
    type Inputs = Square;

    fn label(&self, series: &Series) -> String {
        match &self.picture {
            TilePicture::Scan(scan) => format!("Drawing {}", file_name(series, scan)),
            TilePicture::Registered(film) => format!("Drawing the print of {}", stand_in(film)),
            TilePicture::Difference(film) => format!("Drawing the difference of {}", stand_in(film)),
        }
    }

    fn inputs(&self, view: &View<'_>) -> Result<Square, NoAnswer> {
        let tones = |scan: &ScanId| view.handle(ScreenOf { scan: scan.clone(), look: self.look });
        let picture = match &self.picture {
            TilePicture::Scan(scan) => Picture::Scan(Levels::of(view, scan)?, tones(scan)?),
            TilePicture::Registered(id) => {
                let pair = Pair::of(view, id)?;
                Picture::Registered(pair, tones(&print_of(film(view, id)?)?.scan)?)
            }
            TilePicture::Difference(id) => Picture::Difference(Pair::of(view, id)?, self.look),
        };
        Ok(Square { place: Place { level: self.level, column: self.column, row: self.row }, picture })
    }

    fn compute(square: &Square, work: &Computation<'_>) -> Result<Tile, NoAnswer> {
        let place = square.place;
        match &square.picture {
            Picture::Scan(scan, tones) => {
                let grid = Grid::of(work, scan, place.level)?;
                let tones = work.get(tones)?;
                place.paint(work, &grid, |at| grid.nearest(&tones, at))
            }
            Picture::Registered(pair, tones) => {
                let (frame, grid, transform) = place.grids(work, pair)?;
                let tones = work.get(tones)?;
                place.paint(work, &frame, |at| grid.nearest(&tones, transform.map(at)))
            }
            Picture::Difference(pair, look) => {
                let (frame, grid, transform) = place.grids(work, pair)?;
                let first = work.get(&pair.reference.sight.table)?;
                let second = work.get(&pair.candidate.sight.table)?;
                place.paint(work, &frame, |at| {
                    let a = frame.nearest(&first.density, at)?;
                    let b = grid.nearest(&second.density, transform.map(at))?;
                    Some(difference_tone(b - a, *look))
                })
            }
        }
    }

    fn slow(&self) -> bool {
        !matches!(self.picture, TilePicture::Scan(_))
    }
}

/// One level of a scan, ready to be read pixel by pixel.
struct Grid {
    scan: Option<Arc<Scan>>,
    pyramid: Option<Arc<Pyramid>>,
    level: u8,
    width: usize,
    height: usize,
    channels: usize,
    offset: usize,
}

impl Grid {
    /// Level `level` of a scan; the smallest there is where that is finer.
    fn of(work: &Computation<'_>, scan: &Levels, level: u8) -> Result<Self, NoAnswer> {
        let channel = scan.sight.channel;
        if level > 0 {
            let pyramid = work.get(&scan.pyramid)?;
            let level = level.min(u8::try_from(pyramid.levels.len()).unwrap_or(u8::MAX));
            if level > 0 {
                let index = usize::from(level) - 1;
                let (width, height) = (pyramid.levels[index].width, pyramid.levels[index].height);
                let count = match &pyramid.levels[index].samples {
                    Samples::U8(samples) => samples.len(),
                    Samples::U16(samples) => samples.len(),
                };
                let channels = count / (width * height).max(1);
                let offset = channel_offset(channels, channel);
                return Ok(Self {
                    scan: None,
                    pyramid: Some(pyramid),
                    level,
                    width,
                    height,
                    channels,
                    offset,
                });
            }
        }
        let full = scan.sight.codes.get(work)?;
        let (width, height, channels) = (full.width, full.height, full.channels);
        let offset = channel_offset(channels, channel);
        Ok(Self { scan: Some(full), pyramid: None, level: 0, width, height, channels, offset })
    }

    fn samples(&self) -> Option<&Samples> {
        match (&self.scan, &self.pyramid) {
            (Some(scan), _) => Some(&scan.samples),
            (None, Some(pyramid)) => {
                pyramid.levels.get(usize::from(self.level).checked_sub(1)?).map(|level| &level.samples)
            }
            (None, None) => None,
        }
    }

    /// Side of one pixel of this level in pixels of the scan.
    fn scale(&self) -> f64 {
        2.0_f64.powi(i32::from(self.level))
    }

    /// What `table` says at the nearest pixel of this level; `at` in pixels of the scan.
    fn nearest<T: Copy>(&self, table: &[T], at: Point) -> Option<T> {
        let (x, y) = ((at.x / self.scale()).floor(), (at.y / self.scale()).floor());
        if x < 0.0 || y < 0.0 || x >= self.width as f64 || y >= self.height as f64 {
            return None;
        }
        let index = (y as usize * self.width + x as usize) * self.channels + self.offset;
        let code = match self.samples()? {
            Samples::U8(samples) => usize::from(*samples.get(index)?),
            Samples::U16(samples) => usize::from(*samples.get(index)?),
        };
        table.get(code).copied()
    }
}

impl Place {
    /// The tile's first column and row and its size within a level of `width` by `height` pixels.
    fn place(self, width: usize, height: usize) -> Result<(usize, usize, usize, usize), Problem> {
        let (x0, y0) = (self.column as usize * TILE, self.row as usize * TILE);
        if x0 >= width || y0 >= height {
            return Err(Problem::error(Subject::Series, Rule::BeyondPicture, Remedy::LookElsewhere));
        }
        Ok((x0, y0, TILE.min(width - x0), TILE.min(height - y0)))
    }

    /// Paints the tile: `tone` is asked for each pixel, at its centre, in pixels of the scan whose level this is.
    fn paint(
        self,
        work: &Computation<'_>,
        grid: &Grid,
        tone: impl Fn(Point) -> Option<u8>,
    ) -> Result<Tile, NoAnswer> {
        if grid.level != self.level {
            return Err(Problem::error(Subject::Series, Rule::NoSmallCopy, Remedy::LookAtLarger).into());
        }
        let (x0, y0, width, height) = self.place(grid.width, grid.height)?;
        let mut rgba = Vec::with_capacity(width * height * 4);
        for y in y0..y0 + height {
            if work.stop() {
                return Err(NoAnswer::Dropped);
            }
            for x in x0..x0 + width {
                let centre = Point::new((x as f64 + 0.5) * grid.scale(), (y as f64 + 0.5) * grid.scale());
                rgba.extend(tone(centre).map_or([0; 4], |tone| [tone, tone, tone, 255]));
            }
        }
        Ok(Tile { width, height, rgba })
    }

    /// The candidate's level whose pixels are nearest in size to this tile's.
    fn level_of_candidate(self, transform: &Transform, frame: &Grid) -> u8 {
        let side = f64::from(u32::try_from(TILE).unwrap_or(u32::MAX)) * frame.scale();
        let share = |place: u32| (f64::from(place) + 0.5) * side;
        let middle = Point::new(share(self.column), share(self.row));
        (f64::from(self.level) + transform.scale_at(middle).log2()).round().clamp(0.0, 30.0) as u8
    }

    /// The reference's level, the candidate's that fits it, and the map from one to the other.
    fn grids(self, work: &Computation<'_>, pair: &Pair) -> Result<(Grid, Grid, Transform), NoAnswer> {
        let transform = work.get(&pair.registration)?.transform;
        let frame = Grid::of(work, &pair.reference, self.level)?;
        let grid = Grid::of(work, &pair.candidate, self.level_of_candidate(&transform, &frame))?;
        Ok((frame, grid, transform))
    }
}

/// The grey of a difference in density: 128 for none, darker where the candidate is denser.
fn difference_tone(difference: f64, look: ScreenTones) -> u8 {
    let difference = difference - f64::from(look.density_offset) / 1000.0;
    let sign = if look.inverted { -1.0 } else { 1.0 };
    let share = sign * difference * (1.0 + f64::from(look.contrast) / 100.0) / DIFFERENCE_RANGE;
    (128.0 - 255.0 * share).round().clamp(0.0, 255.0) as u8
}

#[cfg(test)]
mod tests {
    use super::*;

    // IEC 61966-2-1:1999: code 128 of 255 is linear 0.21586050 (check value scan.srgb_decode); density = -lg linear.
    #[test]
    fn screen_tones_follow_srgb() {
        assert_eq!(screen_tone(0.0), 255);
        assert_eq!(screen_tone(-0.215_860_50_f64.log10()), 128);
        assert_eq!(screen_tone(-0.1), 255);
        assert_eq!(screen_tone(6.0), 0);
    }

    #[test]
    fn differences_are_mid_grey_and_darker_where_denser() {
        let plain = ScreenTones::default();
        assert_eq!(difference_tone(0.0, plain), 128);
        assert_eq!(difference_tone(0.5, plain), 1);
        assert_eq!(difference_tone(-0.5, plain), 255);
        assert_eq!(difference_tone(-0.5, ScreenTones { inverted: true, ..plain }), 1);
        assert_eq!(difference_tone(0.25, ScreenTones { density_offset: 250, ..plain }), 128);
    }

    #[test]
    fn looks_turn_and_stretch_around_density_one() {
        let near = |a: f64, b: f64| assert!((a - b).abs() < 1e-12, "{a} {b}");
        near(shown(0.3, ScreenTones { inverted: true, ..ScreenTones::default() }), 1.7);
        near(shown(1.2, ScreenTones { contrast: 50, ..ScreenTones::default() }), 1.3);
        near(shown(0.7, ScreenTones { contrast: 100, about: -400, ..ScreenTones::default() }), 0.8);
        near(shown(0.7, ScreenTones { contrast: -50, about: -400, ..ScreenTones::default() }), 0.65);
        near(shown(1.2, ScreenTones { density_offset: 200, ..ScreenTones::default() }), 1.0);
    }
}
