//! What the workloads work on, written once into `target/bench`.

use std::path::{Path, PathBuf};

use rand::RngExt;
use rand_pcg::Pcg64;
use rayon::prelude::*;
use serde_json::{Value, json};
use tiff::encoder::TiffEncoder;
use tiff::encoder::colortype::RGB16;
use twinwedge_core::scan::srgb_to_linear;

use crate::Failure;
use crate::tiff::{Packing, grey16};

const LARGE: (u32, u32) = (11_547, 8_661);
/// Bytes of the large scan's pixels.
pub(super) const LARGE_BYTES: u64 = 2 * LARGE.0 as u64 * LARGE.1 as u64;
const GRAIN_SIDE: u32 = 4096;
/// Resolution of the grain field.
pub(super) const GRAIN_DPI: u32 = 4000;
/// Films of the curves workload.
const FILMS: u32 = 50;
/// Steps of their tablet.
const STEPS: u32 = 21;
/// Resamplings of each film.
pub(super) const RESAMPLINGS: u32 = 400;
/// Standard uncertainty of a density.
pub(super) const DENSITY_U: f64 = 0.01;

/// The file that a workload opens.
pub(super) fn large(folder: &Path, workload: &str) -> PathBuf {
    folder.join(format!("{workload}.tif"))
}

/// Width and height of the huge scan.
const HUGE: (u32, u32) = (23_094, 17_321);
/// Bytes of the huge scan's pixels: three channels of 16 bits.
pub(super) const HUGE_BYTES: u64 = 6 * HUGE.0 as u64 * HUGE.1 as u64;
/// Rows of one of its strips.
const HUGE_ROWS: u32 = 64;

/// The uniform area.
pub(super) fn grain(folder: &Path) -> PathBuf {
    folder.join("grain.tif")
}

/// Size of the prints whose detail is compared.
const PRINT: (u32, u32) = (3000, 2400);

/// Two prints of one scene with grain of their own.
pub(super) fn prints(folder: &Path) -> [PathBuf; 2] {
    ["print-first.tif", "print-second.tif"].map(|name| folder.join(name))
}

/// The prints as the peer is asked about them.
pub(super) fn detail_question(folder: &Path) -> Value {
    json!({ "paths": prints(folder), "side": 128 })
}

/// Writes what is not there yet. The series is that of the sample.
pub(super) fn make(top: &Path, folder: &Path) -> Result<(), Failure> {
    std::fs::create_dir_all(folder)?;
    std::fs::write(
        folder.join("series.txt"),
        top.join("sample-projects/saltmarsh").to_string_lossy().as_bytes(),
    )?;
    let packings =
        [("open-plain", Packing::Plain), ("open-deflate", Packing::QuickDeflate), ("open-lzw", Packing::Lzw)];
    for (workload, packing) in packings {
        let path = large(folder, workload);
        if !path.exists() {
            let codes = noisy(LARGE, |x, y| 30_000.0 + 20_000.0 * (x * 9.0).sin() * (y * 6.0).cos(), 900.0);
            std::fs::write(path, grey16(LARGE.0, LARGE.1, &codes, GRAIN_DPI, packing)?)?;
        }
    }
    if !large(folder, "open-huge").exists() {
        huge(&large(folder, "open-huge"))?;
    }
    if !grain(folder).exists() {
        let codes = noisy((GRAIN_SIDE, GRAIN_SIDE), |_, _| 23_000.0, 1_500.0);
        std::fs::write(grain(folder), grey16(GRAIN_SIDE, GRAIN_SIDE, &codes, GRAIN_DPI, Packing::Plain)?)?;
    }
    for (number, path) in (1_u64..).zip(prints(folder)) {
        if path.exists() {
            continue;
        }
        let scene = noisy(PRINT, |x, y| 20_000.0 + 9_000.0 * (x * 40.0).sin() * (y * 30.0).cos(), 2_500.0);
        let grain = |k: usize| (Pcg64::new(u128::from(number), k as u128).random::<f64>() - 0.5) * 6_000.0;
        let codes: Vec<u16> = scene
            .par_iter()
            .enumerate()
            .map(|(k, code)| (f64::from(*code) + grain(k)).max(0.0) as u16)
            .collect();
        std::fs::write(path, grey16(PRINT.0, PRINT.1, &codes, 600, Packing::Plain)?)?;
    }
    Ok(())
}

/// 400 megapixels, 16-bit colour, 64-bit offsets: one noisy strip over and over, for writing it should be cheap.
fn huge(path: &Path) -> Result<(), Failure> {
    let strip = noisy((3 * HUGE.0, HUGE_ROWS), |x, _| 30_000.0 + 20_000.0 * (x * 9.0).sin(), 900.0);
    let file = std::io::BufWriter::new(std::fs::File::create(path)?);
    let mut encoder = TiffEncoder::new_big(file)?;
    let mut image = encoder.new_image::<RGB16>(HUGE.0, HUGE.1)?;
    image.rows_per_strip(HUGE_ROWS)?;
    for first in (0..HUGE.1).step_by(HUGE_ROWS as usize) {
        let rows = HUGE_ROWS.min(HUGE.1 - first);
        image.write_strip(&strip[..(3 * HUGE.0 * rows) as usize])?;
    }
    image.finish()?;
    Ok(())
}

/// A smooth picture with noise of standard deviation `noise`, row by row from seeds of their own.
fn noisy((width, height): (u32, u32), smooth: impl Fn(f64, f64) -> f64 + Sync, noise: f64) -> Vec<u16> {
    let row = |y: u32| {
        let mut chance = Pcg64::new(u128::from(y) << 64, 9);
        let smooth = &smooth;
        (0..width).map(move |x| {
            // Four evenly spread numbers have variance 1/3 together.
            let sum: f64 = (0..4).map(|_| chance.random::<f64>() - 0.5).sum();
            let mean = smooth(f64::from(x) / f64::from(width), f64::from(y) / f64::from(height));
            (mean + noise * sum * 3.0_f64.sqrt()) as u16
        })
    };
    (0..height).into_par_iter().flat_map_iter(row).collect()
}

/// The grain field as the peers are asked about it: codes by the sRGB curve, as a scan without calibration is read.
pub(super) fn grain_question(folder: &Path) -> Value {
    let table: Vec<f64> =
        (0..=u16::MAX).map(|code| srgb_to_linear(f64::from(code) / 65_535.0).max(1e-9)).collect();
    json!({
        "path": grain(folder),
        "table": table,
        "pitch_um": 25_400.0 / f64::from(GRAIN_DPI),
        "aperture_um": 48.0,
    })
}

/// The same for the noise power spectrum.
pub(super) fn spectrum_question(folder: &Path) -> Value {
    let mut question = grain_question(folder);
    if let Some(map) = question.as_object_mut() {
        map.remove("aperture_um");
        map.insert("side".to_owned(), json!(256));
    }
    question
}

/// Base+fog of every film.
pub(super) const BASE: f64 = 0.2;

/// Fifty films as log exposures and densities: a toe, a line of rising slope, and a shoulder.
pub(super) fn films() -> Vec<(Vec<f64>, Vec<f64>)> {
    let film = |number: u32| {
        let gradient = 0.5 + 0.01 * f64::from(number);
        let log_h: Vec<f64> = (0..STEPS).map(|step| -3.0 + 0.15 * f64::from(step)).collect();
        let density = |x: &f64| {
            let line = gradient / 2.0 * (1.0 + 10_f64.powf(2.0 * (x + 2.1))).log10();
            BASE + line / (1.0 + (line / 1.8).powi(4)).powf(0.25)
        };
        (log_h.clone(), log_h.iter().map(density).collect())
    };
    (0..FILMS).map(film).collect()
}

/// The peer measures one film in so many; its seconds are multiplied by it.
pub(super) const ONE_IN: u32 = 10;

/// The same as the peer is asked about them.
pub(super) fn curves_question() -> Value {
    let film = |(log_h, density): &(Vec<f64>, Vec<f64>)| json!({ "log_h": log_h, "density": density, "u": DENSITY_U, "base": BASE });
    let films: Vec<Value> = films().iter().step_by(ONE_IN as usize).map(film).collect();
    json!({ "films": films, "resamplings": RESAMPLINGS, "seed": 1 })
}
