//! Strips and patches whose transmittances are known because the test made the picture: seen through a camera that stands
//! askew, with correlated grain, dust and scratches.

use twinwedge_core::document::{Channel, GridShape, StripShape};
use twinwedge_core::geometry::{Point, Quad, Rect, Similarity};
use twinwedge_core::measured::Flags;
use twinwedge_core::numeric::random::Stream;
use twinwedge_core::patch::{carry_grid, default_layout, patch_areas, sample_patches};
use twinwedge_core::scan::{Samples, Scan, ScanMeta, ToneTable};
use twinwedge_core::tablet::{StepSample, sample_disc, sample_quad, sample_strip, step_areas};

type Vector = [f64; 3];

/// A flat rectangle in space in front of a pinhole camera: the picture of it is a perspective one by construction.
struct Flat {
    corner: Vector,
    along: Vector,
    across: Vector,
    focal: f64,
    centre: Point,
}

impl Flat {
    fn askew() -> Self {
        Self {
            corner: [-430.0, -80.0, 950.0],
            along: [860.0, 45.0, 60.0],
            across: [-12.0, 150.0, 25.0],
            focal: 1000.0,
            centre: Point::new(480.0, 150.0),
        }
    }

    fn pixel(&self, u: f64, v: f64) -> Point {
        let [x, y, z] = [0, 1, 2].map(|i| self.corner[i] + u * self.along[i] + v * self.across[i]);
        Point::new(self.focal * x / z + self.centre.x, self.focal * y / z + self.centre.y)
    }

    /// Where the ray through a pixel meets the plane: three equations by Cramer's rule.
    fn place(&self, x: f64, y: f64) -> (f64, f64) {
        let ray = [(x - self.centre.x) / self.focal, (y - self.centre.y) / self.focal, 1.0];
        let determinant = |a: Vector, b: Vector, c: Vector| {
            a[0] * (b[1] * c[2] - b[2] * c[1]) - b[0] * (a[1] * c[2] - a[2] * c[1])
                + c[0] * (a[1] * b[2] - a[2] * b[1])
        };
        let back = self.corner.map(|c| -c);
        let turned = ray.map(|r| -r);
        let whole = determinant(self.along, self.across, turned);
        (determinant(back, self.across, turned) / whole, determinant(self.along, back, turned) / whole)
    }

    fn quad(&self) -> Quad {
        Quad { corners: [(0.0, 0.0), (1.0, 0.0), (1.0, 1.0), (0.0, 1.0)].map(|(u, v)| self.pixel(u, v)) }
    }
}

const WIDTH: usize = 960;
const HEIGHT: usize = 300;

/// A float scan of a picture given as density at each pixel.
fn scan(density: impl Fn(usize, usize) -> f64) -> Scan {
    let code = |i: usize| {
        let light = 10_f64.powf(-density(i % WIDTH, i / WIDTH)).clamp(0.0, 1.0);
        (light.sqrt() * 65_535.0).round() as u16
    };
    let samples = Samples::U16((0..WIDTH * HEIGHT).map(code).collect());
    let meta = ScanMeta { square_root: true, ..ScanMeta::default() };
    Scan { width: WIDTH, height: HEIGHT, channels: 1, samples, meta }
}

fn read(scan: &Scan, shape: &StripShape) -> Vec<StepSample> {
    sample_strip(scan.plane(Channel::Green), &ToneTable::uncalibrated(scan), shape).expect("a good strip")
}

/// White noise averaged over 2 x 2 pixels: standard deviation 1, neighbours correlate by one half.
fn grain(seed: u64) -> Vec<f64> {
    let mut chance = Stream::new(seed, 7);
    let white: Vec<f64> = (0..(WIDTH + 1) * (HEIGHT + 1)).map(|_| chance.normal()).collect();
    let at = |x: usize, y: usize| white[y * (WIDTH + 1) + x];
    let mean = |x, y| (at(x, y) + at(x + 1, y) + at(x, y + 1) + at(x + 1, y + 1)) / 2.0;
    (0..WIDTH * HEIGHT).map(|i| mean(i % WIDTH, i / WIDTH)).collect()
}

fn step_density(step: f64) -> f64 {
    0.05 + 0.15 * step
}

#[test]
fn a_strip_in_perspective_reads_its_own_densities() {
    let flat = Flat::askew();
    let scan = scan(|x, y| {
        let (u, v) = flat.place(x as f64 + 0.5, y as f64 + 0.5);
        let inside = (0.0..1.0).contains(&u) && (0.0..1.0).contains(&v);
        if inside { step_density((u * 21.0).floor()) } else { 0.0 }
    });
    let samples = read(&scan, &StripShape::new(flat.quad(), 21));
    for (step, sample) in samples.iter().enumerate() {
        // The 16-bit code of the square root resolves 1e-3 of density at 3.05 and far less below.
        let error = sample.density.value.0 - step_density(step as f64);
        assert!(error.abs() < 5e-4, "step {}: {error}", step + 1);
        assert_eq!(sample.left_out, 0);
        assert!(
            sample.density.low <= step_density(step as f64)
                && step_density(step as f64) <= sample.density.high
        );
    }
}

#[test]
fn step_areas_lie_where_the_camera_puts_them() {
    let flat = Flat::askew();
    let areas = step_areas(&StripShape::new(flat.quad(), 21));
    // Step 8, inner share 0.6: from 7.2 / 21 to 7.8 / 21 along, 0.2 to 0.8 across.
    let wanted = [(7.2, 0.2), (7.8, 0.2), (7.8, 0.8), (7.2, 0.8)].map(|(u, v)| flat.pixel(u / 21.0, v));
    for (got, wanted) in areas[7].corners.iter().zip(wanted) {
        assert!((got.x - wanted.x).abs() < 1e-9 && (got.y - wanted.y).abs() < 1e-9, "{got:?} for {wanted:?}");
    }
}

#[test]
fn intervals_hold_the_truth_with_correlated_grain() {
    const SPREAD: f64 = 0.05;
    let flat = Flat::askew();
    let shape = StripShape::new(flat.quad(), 21);
    let places: Vec<f64> = (0..WIDTH * HEIGHT)
        .map(|i| (flat.place((i % WIDTH) as f64 + 0.5, (i / WIDTH) as f64 + 0.5).0 * 21.0).floor())
        .collect();
    let (mut held, mut bias, mut all) = (0.0, 0.0, 0.0);
    for seed in 0..25 {
        let grain = grain(seed);
        let scan = scan(|x, y| {
            let i = y * WIDTH + x;
            step_density(places[i].clamp(2.0, 20.0)) + SPREAD * grain[i]
        });
        for (step, sample) in read(&scan, &shape).iter().enumerate().skip(2) {
            // Light is averaged: E[10^-(D + s z)] = 10^-D exp((s ln 10)^2 / 2), the mean of a log-normal variable.
            let truth = step_density(step as f64) - std::f64::consts::LN_10 * SPREAD * SPREAD / 2.0;
            held += f64::from(u8::from(sample.density.low <= truth && truth <= sample.density.high));
            bias += (sample.density.value.0 - truth) / sample.density.u;
            all += 1.0;
        }
    }
    let share = held / all;
    // 475 readings: the count of a true 95 % has a standard deviation of 1 %.
    assert!((0.92..=0.98).contains(&share), "{share} of the intervals hold the truth");
    assert!((bias / all).abs() < 0.2, "mean error is {} of its standard error", bias / all);
}

#[test]
fn dust_and_scratches_do_not_count() {
    let flat = Flat::askew();
    let shape = StripShape::new(flat.quad(), 21);
    let grain = grain(3);
    let clean = |x: usize, y: usize| {
        let step = (flat.place(x as f64 + 0.5, y as f64 + 0.5).0 * 21.0).floor().clamp(0.0, 20.0);
        step_density(step) + 0.1 + 0.015 * grain[y * WIDTH + x]
    };
    // Specks of 2 to 5 pixels over about 2 % of the area, half of them dark, half of them holes; one long scratch.
    let mut chance = Stream::new(11, 2);
    let mut dirt = vec![0.0; WIDTH * HEIGHT];
    for speck in 0..250 {
        let (cx, cy) = (chance.uniform() * WIDTH as f64, chance.uniform() * HEIGHT as f64);
        let radius = 1.0 + 1.5 * chance.uniform();
        for (i, place) in dirt.iter_mut().enumerate() {
            let (dx, dy) = ((i % WIDTH) as f64 - cx, (i / WIDTH) as f64 - cy);
            if dx * dx + dy * dy < radius * radius {
                *place = if speck % 2 == 0 { 0.6 } else { -0.12 };
            }
        }
    }
    for x in 0..WIDTH {
        dirt[(145 + x / 60) * WIDTH + x] = -0.15;
    }
    let before = read(&scan(clean), &shape);
    let after = read(&scan(|x, y| clean(x, y) + dirt[y * WIDTH + x]), &shape);
    let mut plain = 0.0_f64;
    for (before, after) in before.iter().zip(&after) {
        let moved = after.density.value.0 - before.density.value.0;
        assert!(moved.abs() < 0.002, "step {}: {moved}", after.step);
        plain = plain.max(after.left_out as f64 / (after.left_out + after.used) as f64);
    }
    assert!(plain > 0.01, "there was dirt to leave out: {plain}");
    assert!(after.iter().any(|step| step.flags().contains(Flags::DEFECTS_LEFT_OUT)));
    assert!(before.iter().all(|step| step.left_out * 1000 < step.used), "clean areas stay whole");
}

#[test]
fn flags_tell_what_is_doubtful() {
    let white = scan(|x, _| if x < 480 { 0.0 } else { 1.0 });
    let (plane, table) = (white.plane(Channel::Green), ToneTable::uncalibrated(&white));
    let spot = |x: f64, r: f64| sample_disc(plane, &table, Point::new(x, 150.0), r).expect("inside");
    assert!(spot(100.0, 10.0).flags().contains(Flags::CLIPPED));
    assert!(!spot(700.0, 10.0).flags().contains(Flags::CLIPPED));
    assert!(spot(700.0, 3.0).flags().contains(Flags::FEW_SAMPLES));
    assert!(spot(480.0, 40.0).flags().contains(Flags::UNEVEN));
    assert!(spot(700.0, 10.0).flags().contains(Flags::UNCALIBRATED));
    let trusted = ToneTable { trusted: (0.1, 0.9), flags: Flags::empty(), ..table.clone() };
    let dark = sample_disc(plane, &trusted, Point::new(700.0, 150.0), 10.0).expect("inside");
    assert_eq!(dark.flags(), Flags::OUTSIDE_CALIBRATION);
}

#[test]
fn what_cannot_be_sampled_says_why() {
    let grey = scan(|_, _| 0.5);
    let (plane, table) = (grey.plane(Channel::Green), ToneTable::uncalibrated(&grey));
    let upright = |x0, y0, x1, y1| Quad::upright(Rect::between(Point::new(x0, y0), Point::new(x1, y1)));
    let quad = |quad: Quad| sample_quad(plane, &table, &quad).expect_err("no reading").cause.to_string();
    assert!(quad(upright(900.0, 10.0, 1000.0, 60.0)).contains("outside the scan"));
    assert!(quad(upright(10.0, 10.0, 12.0, 12.0)).contains("4 pixels"));
    let mut crossed = upright(10.0, 10.0, 100.0, 60.0);
    crossed.corners.swap(0, 1);
    assert!(quad(crossed).contains("cross"));
    let strip = StripShape { inner: 0.0, ..StripShape::new(upright(10.0, 10.0, 900.0, 60.0), 21) };
    assert!(sample_strip(plane, &table, &strip).is_err());
    let other = ToneTable { light: vec![1.0; 256], ..table.clone() };
    let wrong = sample_quad(plane, &other, &upright(10.0, 10.0, 100.0, 60.0)).expect_err("8-bit table");
    assert!(wrong.cause.contains("256 codes"), "{wrong}");
}

#[test]
fn patches_read_their_own_densities_and_can_be_carried() {
    let layout = default_layout();
    let density = |row: f64, column: f64| 0.1 + 0.07 * (row * 6.0 + column);
    let cell = |x: usize, y: usize| (((y as f64 - 20.0) / 60.0).floor(), ((x as f64 - 60.0) / 140.0).floor());
    let print = scan(|x, y| {
        let (row, column) = cell(x, y);
        density(row.clamp(0.0, 3.0), column.clamp(0.0, 5.0))
    });
    let quad = Quad::upright(Rect::between(Point::new(60.0, 20.0), Point::new(900.0, 260.0)));
    let shape = GridShape::new(quad);
    let table = ToneTable::uncalibrated(&print);
    let patches = sample_patches(print.plane(Channel::Green), &table, &layout, &shape).expect("a good grid");
    for (i, patch) in patches.iter().enumerate() {
        let truth = density((i / 6) as f64, (i % 6) as f64);
        assert!(
            (patch.sample.density.value.0 - truth).abs() < 1e-4,
            "{}: {:?}",
            patch.name,
            patch.sample.density
        );
        assert_eq!(patch.name, layout.patches[i].name);
    }
    let moved =
        carry_grid(&shape, &Similarity { scale: 2.0, angle: 0.0, shift: Point::new(5.0, -3.0) }.into());
    let (from, to) = (patch_areas(&layout, &shape), patch_areas(&layout, &moved));
    assert!((to[9].corners[2].x - (2.0 * from[9].corners[2].x + 5.0)).abs() < 1e-9);
}
