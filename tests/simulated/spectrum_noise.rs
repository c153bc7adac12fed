//! Noise of a scanner, white and coloured, taken off the spectrum of film by a blank area and by a second scan: the truth is the
//! spectrum that the film was made with.

use rand::{Rng, SeedableRng};
use rand_pcg::Pcg64Mcg;
use twinwedge_core::document::Channel;
use twinwedge_core::geometry::{Point, Rect};
use twinwedge_core::grain::spectrum::{Noise, NoiseBy, NoiseSpectrum, Spectrum, spectrum};
use twinwedge_core::scan::Scan;
use twinwedge_core::units::Micrometres;
use twinwedge_core::words::Sentence;

use crate::grain::{even_table, field, gaussian, scan};
use crate::spectrum::{no_noise, settings, transfer};

const SIDE: usize = 640;
const PITCH: f64 = 5.0;
/// Of the film's pixels before the blur, and the blur, in pixels.
const GRAIN: (f64, f64) = (0.12, 1.5);
const APERTURE: Micrometres = Micrometres(48.0);

fn all(scan: &Scan) -> Rect {
    Rect::between(Point::default(), Point::new(scan.width as f64, scan.height as f64))
}

fn measure(scan: &Scan, noise: Result<Noise<'_>, Sentence>) -> Spectrum {
    let plane = scan.plane(Channel::Green);
    spectrum(plane, &even_table(), all(scan), settings(PITCH), noise, &|| false).unwrap()
}

/// A white part, and one that hangs together as behind a blur of 0.8 pixels.
fn scanner(rng: &mut impl Rng, side: usize, coloured: bool) -> Vec<f64> {
    let white = field(rng, side, side, 0.02, &[1.0]);
    if !coloured {
        return white.iter().map(|d| d - 1.0).collect();
    }
    let second = field(rng, side, side, 0.06, &gaussian(0.8));
    white.iter().zip(&second).map(|(a, b)| a + b - 2.0).collect()
}

fn sum(film: &[f64], noise: &[f64]) -> Scan {
    let side = (film.len() as f64).sqrt() as usize;
    let both: Vec<f64> = film.iter().zip(noise).map(|(film, noise)| film + noise).collect();
    scan(side, &both)
}

/// The film's power at a frequency in cycles per pixel, mean over two directions: exact for a Gaussian but for its pixels.
fn truth(blur: &[f64], frequency: f64) -> f64 {
    let power = |x: f64, y: f64| (GRAIN.0 * PITCH).powi(2) * transfer(blur, x) * transfer(blur, y);
    let aslant = frequency / 2.0_f64.sqrt();
    0.5 * (power(frequency, 0.0) + power(aslant, aslant))
}

/// Departures of rings from the truth in their standard uncertainties: as large as stated, and to neither side.
fn judge(name: &str, found: &Spectrum, blur: &[f64]) {
    let of = |frequency: f64| truth(blur, frequency * PITCH / 1000.0);
    // Where the blur has left a thousandth, the light of log-normal pixels adds some of its own.
    let rings: Vec<f64> = found
        .radial
        .iter()
        .filter(|bin| of(bin.frequency) > 0.02 * of(0.0))
        .map(|bin| (bin.power.value - of(bin.frequency)) / bin.power.u.hypot(0.015 * of(bin.frequency)))
        .collect();
    let count = rings.len() as f64;
    let square = rings.iter().map(|z| z * z).sum::<f64>() / count;
    let mean = rings.iter().sum::<f64>() / count;
    let zero = (found.zero.value - of(0.0)) / found.zero.u.hypot(0.015 * of(0.0));
    let noise = found.noise.as_ref().unwrap();
    println!("{name}: {count} rings, mean z {mean:.2}, mean z² {square:.2}, at zero z {zero:.2}; {noise:?}");
    assert!((0.4..1.8).contains(&square), "{name}: {square}");
    assert!(mean.abs() < 0.6, "{name}: {mean}");
    assert!(zero.abs() < 3.0, "{name}: {zero}");
}

/// The noise that is taken off is that which was put on, and the film's spectrum comes back; without taking it off, it does not.
#[test]
fn noise_comes_off_by_a_blank_area() {
    let mut rng = Pcg64Mcg::seed_from_u64(700);
    let blur = gaussian(GRAIN.1);
    for coloured in [false, true] {
        let film = field(&mut rng, SIDE, SIDE, GRAIN.0, &blur);
        let seen = sum(&film, &scanner(&mut rng, SIDE, coloured));
        // A smaller one, of which the blocks are smaller too.
        let empty = scanner(&mut rng, 300, coloured);
        let blank = measure(&sum(&vec![1.0; empty.len()], &empty), no_noise());
        let noise = NoiseSpectrum::of_blank(&blank);
        let found = measure(&seen, Ok(Noise::Measured(&noise)));
        let name = if coloured { "blank, coloured" } else { "blank, white" };
        judge(name, &found, &blur);
        let taken = found.noise.clone().unwrap();
        let spread: f64 = empty.iter().map(|d| d * d).sum::<f64>() / empty.len() as f64;
        assert!((taken.power / (spread * PITCH * PITCH) - 1.0).abs() < 0.05, "{taken:?} for {spread}");
        assert!(taken.by == NoiseBy::Blank && !taken.white);
        assert!(found.notes.iter().any(|note| note.contains("from a blank area")), "{:?}", found.notes);
        let left = measure(&seen, no_noise());
        let at = left.radial.iter().position(|bin| bin.frequency > 50.0).unwrap();
        let want = truth(&blur, left.radial[at].frequency * PITCH / 1000.0);
        assert!(left.radial[at].power.value > 1.1 * want, "{:?} for {want}", left.radial[at]);
        let far = vec![1.5; empty.len()];
        let far = NoiseSpectrum::of_blank(&measure(&sum(&far, &empty), no_noise()));
        let found = measure(&seen, Ok(Noise::Measured(&far)));
        assert!(found.noise.as_ref().is_err_and(|why| why.contains("more alike")), "{:?}", found.noise);
    }
}

/// The second scan lies on the first, two pixels off, or a quarter of one: film on a grid four times as fine.
#[test]
fn noise_comes_off_by_a_second_scan() {
    const FINE: usize = 4;
    let mut rng = Pcg64Mcg::seed_from_u64(710);
    let blur = gaussian(GRAIN.1 * FINE as f64);
    let wide = FINE * (SIDE + 3);
    let fine = field(&mut rng, wide, wide, GRAIN.0 * FINE as f64, &blur);
    let pixels = |offset: usize| -> Vec<f64> {
        let mean = |k: usize| {
            let (x, y) = (FINE * (k % SIDE) + offset, FINE * (k / SIDE));
            (y..y + FINE).map(|y| fine[y * wide + x..][..FINE].iter().sum::<f64>()).sum::<f64>()
                / (FINE * FINE) as f64
        };
        (0..SIDE * SIDE).map(mean).collect()
    };
    let table = even_table();
    let square = vec![1.0 / FINE as f64; FINE];
    for (offset, coloured) in [(0, true), (2 * FINE, true), (1, false), (1, true)] {
        let first = sum(&pixels(0), &scanner(&mut rng, SIDE, coloured));
        let second = sum(&pixels(offset), &scanner(&mut rng, SIDE, coloured));
        let sides = [&first, &second].map(|scan| (scan.plane(Channel::Green), &table));
        let noise =
            NoiseSpectrum::of_repeat(sides[0], sides[1], all(&first), settings(PITCH), APERTURE, &|| false)
                .unwrap();
        let found = measure(&first, Ok(Noise::Measured(&noise)));
        let name = format!("second scan {offset} quarters of a pixel off, coloured {coloured}");
        assert!(found.noise.as_ref().is_ok_and(|taken| taken.by == NoiseBy::Repeat));
        // Blur and square pixel on the fine grid: at a frequency per pixel, a quarter of it per fine point.
        let of = |frequency: f64| {
            let axis = |f: f64| transfer(&blur, f / FINE as f64) * box_of(&square, f / FINE as f64);
            let aslant = frequency / 2.0_f64.sqrt();
            (GRAIN.0 * PITCH).powi(2) * 0.5 * (axis(frequency) * axis(0.0) + axis(aslant).powi(2))
        };
        let rings: Vec<f64> = found
            .radial
            .iter()
            .filter(|bin| of(bin.frequency * PITCH / 1000.0) > 0.02 * of(0.0))
            .map(|bin| {
                let want = of(bin.frequency * PITCH / 1000.0);
                (bin.power.value - want) / bin.power.u.hypot(0.015 * want)
            })
            .collect();
        let count = rings.len() as f64;
        let square = rings.iter().map(|z| z * z).sum::<f64>() / count;
        let mean = rings.iter().sum::<f64>() / count;
        println!("{name}: {count} rings, mean z {mean:.2}, mean z² {square:.2}; {:?}", found.noise);
        assert!((0.4..1.8).contains(&square), "{name}: {square}");
        assert!(mean.abs() < 0.6, "{name}: {mean}");
    }
    // Half a pixel off differs by grain as much as by noise.
    let (first, second) = (scan(SIDE, &pixels(0)), scan(SIDE, &pixels(2)));
    let sides = [&first, &second].map(|scan| (scan.plane(Channel::Green), &table));
    let refused =
        NoiseSpectrum::of_repeat(sides[0], sides[1], all(&first), settings(PITCH), APERTURE, &|| false);
    assert!(refused.is_err_and(|problem| problem.cause.contains("beside whole pixels")));
}

/// Squared response of a box of equal weights: the same sum as a blur's, about its own middle.
fn box_of(weights: &[f64], frequency: f64) -> f64 {
    let middle = (weights.len() as f64 - 1.0) / 2.0;
    let turn = |k: usize| (std::f64::consts::TAU * frequency * (k as f64 - middle)).cos();
    weights.iter().enumerate().map(|(k, w)| w * turn(k)).sum::<f64>().powi(2)
}
