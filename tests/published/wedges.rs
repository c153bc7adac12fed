//! Scanner wedges that somebody else measured: mean codes of a film scanner against the densities of a wedge (University of
//! Illinois, Imaging Technology Group, technical reports 98-006 and 98-007).

use twinwedge_core::measured::Flags;
use twinwedge_core::scan::{CalibrationPoint, calibrate};

/// 8 bits, codes inverted: code and density.
const EIGHT_BITS: [(f64, f64); 20] = [
    (13.51, 0.04),
    (34.89, 0.14),
    (56.21, 0.24),
    (76.97, 0.34),
    (96.33, 0.44),
    (113.2, 0.54),
    (129.19, 0.63),
    (146.65, 0.74),
    (160.68, 0.84),
    (174.0, 0.94),
    (186.33, 1.04),
    (198.04, 1.14),
    (208.7, 1.24),
    (217.13, 1.35),
    (225.26, 1.44),
    (232.95, 1.54),
    (239.59, 1.65),
    (245.27, 1.75),
    (249.87, 1.86),
    (253.52, 1.96),
];
/// 16 bits.
const SIXTEEN_BITS: [(f64, f64); 12] = [
    (53_988.92, 0.04),
    (39_777.25, 0.14),
    (29_026.15, 0.24),
    (21_050.88, 0.34),
    (15_321.55, 0.44),
    (11_453.41, 0.54),
    (8_532.39, 0.63),
    (6_165.75, 0.74),
    (4_654.62, 0.84),
    (3_466.13, 0.94),
    (2_626.01, 1.04),
    (2_011.48, 1.14),
];

/// Densities are printed to two decimals: a standard uncertainty of 0.01 / sqrt 12.
fn points(wedge: &[(f64, f64)], code_u: f64) -> Vec<CalibrationPoint> {
    let point = |(step, (code, density)): (u32, &(f64, f64))| CalibrationPoint {
        step,
        code: *code,
        code_u,
        density: *density,
        density_u: 0.01 / 12.0_f64.sqrt(),
        flags: Flags::empty(),
    };
    (1..).zip(wedge).map(point).collect()
}

/// Their own model is `D = lg(60000 / (code - 275)) / 1.3525`, with a largest error of 0.013: the fitted table lies within that of it
/// at every code between the steps, and of every printed density.
#[test]
fn a_wedge_at_16_bits_is_read_as_its_own_model_reads_it() {
    let found = calibrate(&points(&SIXTEEN_BITS, 10.0), 65_536, "wedge").unwrap();
    let worst = found.residuals.iter().map(|residual| residual.unwrap().abs()).fold(0.0, f64::max);
    assert!(worst < 0.013, "{worst}");
    for code in (2_050..53_900).step_by(50) {
        let model = (60_000.0 / (f64::from(code) - 275.0)).log10() / 1.3525;
        let read = found.table.density[code as usize];
        assert!((read - model).abs() < 0.013, "{code}: {read} for {model}");
    }
}

/// Right to 0.02 up to D 1.86. Beyond that a code is worth 0.03 in density and more, and the last step lies 0.07 from where the others
/// lead: the table carries an uncertainty there that says so.
#[test]
fn a_wedge_at_8_bits_is_right_as_far_as_it_may_be_trusted() {
    let found = calibrate(&points(&EIGHT_BITS, 0.1), 256, "wedge").unwrap();
    for (residual, (code, density)) in found.residuals.iter().zip(&EIGHT_BITS) {
        println!("{code} {density}: {residual:.4?} u {:.4}", found.table.density_u[*code as usize]);
    }
    println!("trusted {:?} {:?}", found.table.trusted, found.notes);
    for (residual, (_, density)) in found.residuals.iter().zip(&EIGHT_BITS).take(19) {
        assert!(residual.unwrap().abs() < 0.02, "{density}: {residual:?}");
    }
    let without: Vec<(f64, f64)> = EIGHT_BITS.iter().copied().take(19).collect();
    let found = calibrate(&points(&without, 0.1), 256, "wedge").unwrap();
    println!(
        "without the last: {:?} density at 253 {} u {}",
        found.table.trusted, found.table.density[253], found.table.density_u[253]
    );
    // Without it no density beyond 1.86 is trusted, and the code of the last step stands beyond.
    assert!(found.table.trusted.1 < 1.90 && found.table.density[253] > found.table.trusted.1);
}
