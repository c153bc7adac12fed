//! Pictures inside the report: prints at modest size in one frame, grain crops at one physical scale.

use std::io::Cursor;

use base64::Engine as _;
use base64::engine::general_purpose::STANDARD;
use image::codecs::jpeg::JpegEncoder;
use image::{DynamicImage, GrayImage, ImageFormat, RgbImage};
use twinwedge_core::document::{Film, ScanId};
use twinwedge_core::geometry::{Quad, Rect};
use twinwedge_core::patch::patch_areas;
use twinwedge_core::problem::{Problem, Subject};

use super::gather::FilmPart;
use super::svg::{FONTS, INK};
use crate::engine::ask::{ScanSizeOf, ScreenTones, TILE, TileOf, TilePicture};
use crate::session::Session;

/// Longest side of a print in the report, pixels: about 250 to the inch at half a page.
const PRINT_SIDE: usize = 900;
/// Quality of print pictures; grain crops are stored without loss.
const JPEG_QUALITY: u8 = 85;
/// Longest side of a grain crop, pixels of the finest scan.
const GRAIN_SIDE: f64 = 360.0;
/// Longest side of a grain crop on the film, micrometres.
const GRAIN_UM: f64 = 1500.0;
/// The mean density that grain crops are brought to: a middle grey on the screen.
pub(super) const GRAIN_MEAN: f64 = 0.75;

/// The reference's print and the frame that all prints are shown in.
#[derive(Debug)]
pub(super) struct PrintPictures {
    /// The reference's print as a data URI, or why it cannot be shown.
    pub(super) reference: Result<String, Problem>,
    /// The frame in the reference print's pixels.
    pub(super) width: f64,
    /// Its height in the unit of its width.
    pub(super) height: f64,
    /// The sampled inner areas of the patches with their names.
    pub(super) patches: Vec<(String, Quad)>,
}

/// A piece of a film scan.
#[derive(Debug)]
pub(super) struct GrainCrop {
    /// Lossless, as a data URI.
    pub(super) uri: String,
    /// Side on the film, micrometres.
    pub(super) side_um: f64,
}

impl GrainCrop {
    /// A bar of a round length near a quarter of the side, in micrometres as the view box has them.
    pub(super) fn scale_bar(&self) -> String {
        let side_um = self.side_um;
        let wanted = side_um / 4.0;
        let length = [10.0, 20.0, 50.0, 100.0, 200.0, 500.0, 1000.0]
            .into_iter()
            .rev()
            .find(|length| *length <= wanted)
            .unwrap_or(5.0);
        let unit = side_um / 86.0;
        let (x, y) = (3.0 * unit, side_um - 3.5 * unit);
        format!(
            "<rect x=\"{:.1}\" y=\"{:.1}\" width=\"{:.1}\" height=\"{:.1}\" fill=\"#fff\"/>\
         <rect x=\"{x:.1}\" y=\"{y:.1}\" width=\"{length}\" height=\"{:.1}\" fill=\"{INK}\"/>\
         <text x=\"{x:.1}\" y=\"{:.1}\" font-size=\"{:.1}\" font-family=\"{FONTS}\" fill=\"{INK}\">{} mm</text>",
            x - unit,
            y - 4.2 * unit,
            length + 2.0 * unit,
            6.2 * unit,
            0.8 * unit,
            y - 1.0 * unit,
            2.6 * unit,
            length / 1000.0
        )
    }
}

/// The reference's print; `None` where it has none.
pub(super) fn reference_print(session: &Session, reference: &Film) -> Option<PrintPictures> {
    let print = reference.print.as_ref()?;
    let size = match session.wait(&ScanSizeOf { scan: print.scan.clone() }) {
        Ok(size) => size,
        Err(problem) => return Some(PrintPictures::missing(problem)),
    };
    let patches = match (&session.series().layout, &print.grid) {
        (Some(layout), Some(grid)) => {
            layout.patches.iter().map(|patch| patch.name.clone()).zip(patch_areas(layout, grid)).collect()
        }
        _ => Vec::new(),
    };
    Some(PrintPictures {
        reference: in_frame(session, &TilePicture::Scan(print.scan.clone()), (size.width, size.height)),
        width: size.width as f64,
        height: size.height as f64,
        patches,
    })
}

impl PrintPictures {
    fn missing(problem: Problem) -> Self {
        Self { reference: Err(problem), width: 1.0, height: 1.0, patches: Vec::new() }
    }

    /// A candidate's print registered to the reference's; `None` where one of the two is not there.
    pub(super) fn candidate(&self, session: &Session, film: &Film) -> Option<Result<String, Problem>> {
        let both = film.print.is_some() && self.reference.is_ok();
        let of = TilePicture::Registered(film.id.clone());
        both.then(|| in_frame(session, &of, (self.width as usize, self.height as usize)))
    }
}

/// A picture in the frame of the reference's print, as a data URI.
fn in_frame(session: &Session, of: &TilePicture, size: (usize, usize)) -> Result<String, Problem> {
    let mut level = 0;
    while size.0.max(size.1) >> level > PRINT_SIDE {
        level += 1;
    }
    let (width, height) = (size.0.div_ceil(1 << level), size.1.div_ceil(1 << level));
    jpeg(&assembled(session, of, level, Region { x: 0, y: 0, width, height }, ScreenTones::default())?)
}

/// Fills in the grain crops of all films that have a measured granularity: one side on film for all, so that all are
/// shown at one scale.
pub(super) fn grain_crops(session: &Session, parts: Vec<&mut FilmPart>) {
    let side_um = parts
        .iter()
        .filter_map(|part| part.grain.as_ref()?.as_ref().ok())
        .map(|grain| {
            let pitch = grain.pitch.0;
            (pitch * GRAIN_SIDE).min(pitch * grain.area.width().min(grain.area.height()))
        })
        .fold(GRAIN_UM, f64::min);
    for part in parts {
        let (Some(Ok(grain)), Some(area)) = (&part.grain, part.film.uniform_areas.first()) else { continue };
        let side = (side_um / grain.pitch.0).round().max(1.0);
        let rect = grain.area;
        let offset = ((grain.mean_density.number() - GRAIN_MEAN) * 1000.0).round() as i32;
        let crop =
            places(rect, side).into_iter().map(|region| grain_crop(session, &area.scan, region, offset));
        // Dust would be taken for grain: the crop without any that lies nearest to the middle, else the one with least.
        let mut best: Option<(usize, Result<GrayImage, Problem>)> = None;
        for picture in crop {
            let specks = picture.as_ref().map_or(0, specks);
            if best.as_ref().is_none_or(|(least, _)| specks < *least) {
                best = Some((specks, picture));
            }
            if specks == 0 {
                break;
            }
        }
        let written = |picture: GrayImage| -> Result<GrainCrop, Problem> {
            let mut bytes = Cursor::new(Vec::new());
            picture.write_to(&mut bytes, ImageFormat::Png).map_err(|error| unwritable(&error))?;
            Ok(GrainCrop { uri: uri("png", bytes.get_ref()), side_um: side * grain.pitch.0 })
        };
        part.crop = best.map(|(_, picture)| picture.and_then(written));
    }
}

/// Squares of `side` pixels in an area: its middle first, then eight around it as far as there is room.
fn places(area: Rect, side: f64) -> Vec<Region> {
    let start = |low: f64, length: f64, way: f64| {
        let room = (length - side).max(0.0) / 2.0;
        (low + room + way * room).max(0.0) as usize
    };
    let ways = [
        (0.0, 0.0),
        (-0.9, 0.0),
        (0.9, 0.0),
        (0.0, -0.9),
        (0.0, 0.9),
        (-0.9, -0.9),
        (0.9, -0.9),
        (-0.9, 0.9),
        (0.9, 0.9),
    ];
    let region = |(across, down): (f64, f64)| Region {
        x: start(area.min.x, area.width(), across),
        y: start(area.min.y, area.height(), down),
        width: side as usize,
        height: side as usize,
    };
    ways.into_iter().map(region).collect()
}

/// How many pixels stand out of a picture of grain as dust and scratches do: further from its middle tone than grain, which is
/// about normal, comes in ten million pixels (5.3 standard deviations, that of the middle half of all pixels).
fn specks(picture: &GrayImage) -> usize {
    let mut counts = [0_usize; 256];
    picture.pixels().for_each(|pixel| counts[usize::from(pixel.0[0])] += 1);
    let quantile = |share: f64| {
        let mut left = (share * picture.pixels().len() as f64) as usize;
        counts.iter().position(|count| {
            let here = left < *count;
            left = left.saturating_sub(*count);
            here
        })
    };
    let [low, middle, high] = [0.25, 0.5, 0.75].map(|share| quantile(share).unwrap_or(0) as f64);
    // The middle half of a normal distribution is 1.349 standard deviations wide; tones are whole numbers.
    let far = 5.3 * ((high - low) / 1.349).max(1.0);
    let tones = counts.iter().enumerate();
    tones.filter(|(tone, _)| (*tone as f64 - middle).abs() > far).map(|(_, count)| count).sum()
}

fn grain_crop(
    session: &Session,
    scan: &ScanId,
    region: Region,
    density_offset: i32,
) -> Result<GrayImage, Problem> {
    let look = ScreenTones { density_offset, ..ScreenTones::default() };
    let picture = assembled(session, &TilePicture::Scan(scan.clone()), 0, region, look)?;
    Ok(DynamicImage::ImageRgb8(picture).into_luma8())
}

/// A rectangle of whole pixels of one level.
#[derive(Debug, Clone, Copy)]
struct Region {
    x: usize,
    y: usize,
    width: usize,
    height: usize,
}

/// A region put together from tiles; white where a picture does not reach.
fn assembled(
    session: &Session,
    picture: &TilePicture,
    level: u8,
    region: Region,
    look: ScreenTones,
) -> Result<RgbImage, Problem> {
    let mut out = RgbImage::from_pixel(region.width as u32, region.height as u32, image::Rgb([255; 3]));
    for row in region.y / TILE..(region.y + region.height).div_ceil(TILE) {
        for column in region.x / TILE..(region.x + region.width).div_ceil(TILE) {
            let tile = session.wait(&TileOf {
                picture: picture.clone(),
                level,
                column: column as u32,
                row: row as u32,
                look,
            })?;
            for (i, rgba) in tile.rgba.chunks_exact(4).enumerate() {
                let (x, y) = (column * TILE + i % tile.width, row * TILE + i / tile.width);
                let inside = x >= region.x
                    && y >= region.y
                    && x < region.x + region.width
                    && y < region.y + region.height;
                if inside && rgba[3] > 0 {
                    let pixel = image::Rgb([rgba[0], rgba[1], rgba[2]]);
                    out.put_pixel((x - region.x) as u32, (y - region.y) as u32, pixel);
                }
            }
        }
    }
    Ok(out)
}

/// Grey and opacity of each pixel, without loss, as a data URI.
pub(super) fn grey_picture(width: usize, height: usize, pixels: &[[u8; 2]]) -> Result<String, Problem> {
    let mut picture = image::GrayAlphaImage::new(width as u32, height as u32);
    picture.pixels_mut().zip(pixels).for_each(|(pixel, value)| *pixel = image::LumaA(*value));
    let mut bytes = Cursor::new(Vec::new());
    picture.write_to(&mut bytes, ImageFormat::Png).map_err(|error| unwritable(&error))?;
    Ok(uri("png", bytes.get_ref()))
}

fn jpeg(picture: &RgbImage) -> Result<String, Problem> {
    let mut bytes = Vec::new();
    let encoder = JpegEncoder::new_with_quality(&mut bytes, JPEG_QUALITY);
    let grey = picture.pixels().all(|pixel| pixel[0] == pixel[1] && pixel[1] == pixel[2]);
    let written = if grey {
        DynamicImage::ImageRgb8(picture.clone()).into_luma8().write_with_encoder(encoder)
    } else {
        picture.write_with_encoder(encoder)
    };
    written.map_err(|error| unwritable(&error))?;
    Ok(uri("jpeg", &bytes))
}

fn uri(kind: &str, bytes: &[u8]) -> String {
    format!("data:image/{kind};base64,{}", STANDARD.encode(bytes))
}

fn unwritable(error: &image::ImageError) -> Problem {
    Problem::error(
        Subject::Series,
        format!("A picture of the report could not be written: {error}."),
        "The report shows the numbers without it.",
    )
}
