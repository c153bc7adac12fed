//! Modulation transfer against closed forms: `mtf.*` of the check values. The edge is rendered here, by the midpoint rule over
//! each pixel.

use twinwedge_core::document::Channel;
use twinwedge_core::geometry::{Point, Rect};
use twinwedge_core::measured::Flags;
use twinwedge_core::scan::{Samples, Scan, ScanMeta, ToneSource, ToneTable};
use twinwedge_core::sharpness::{EdgeMeasure, EdgeSettings, box_response, difference_response, measure_edge};
use twinwedge_core::units::Micrometres;

use crate::check_values::check;

/// Share of the normal distribution below `z`, by Simpson's rule from its middle.
fn normal(z: f64) -> f64 {
    const PARTS: i32 = 64;
    let end = z.clamp(-8.0, 8.0);
    let density = |t: f64| (-0.5 * t * t).exp() / (2.0 * std::f64::consts::PI).sqrt();
    let step = end / f64::from(PARTS);
    let sum: f64 = (0..=PARTS)
        .map(|k| {
            let weight = match k {
                0 | PARTS => 1.0,
                k if k % 2 == 1 => 4.0,
                _ => 2.0,
            };
            weight * density(step * f64::from(k))
        })
        .sum();
    0.5 + sum * step / 3.0
}

/// An edge `degrees` from upright whose blur has a standard deviation of `sigma` pixels.
fn edge((width, height): (usize, usize), degrees: f64, sigma: f64, pitch: f64) -> EdgeMeasure {
    let (sin, cos) = degrees.to_radians().sin_cos();
    let light: Vec<f64> = (0..width * height)
        .map(|i| {
            let parts = (0..64).map(|k| {
                let x = (i % width) as f64 + (f64::from(k % 8) + 0.5) / 8.0 - width as f64 / 2.0 - 0.31;
                let y = (i / width) as f64 + (f64::from(k / 8) + 0.5) / 8.0 - height as f64 / 2.0;
                normal((x * cos - y * sin) / sigma)
            });
            0.3 + 0.3 * parts.sum::<f64>() / 64.0
        })
        .collect();
    let codes = light.iter().map(|light| (light * 65_535.0).round() as u16).collect();
    let scan = Scan { width, height, channels: 1, samples: Samples::U16(codes), meta: ScanMeta::default() };
    let light: Vec<f64> = (0..65_536_u32).map(|code| f64::from(code.max(1)) / 65_535.0).collect();
    let table = ToneTable {
        density: light.iter().map(|light| -light.log10()).collect(),
        density_u: vec![0.0; light.len()],
        errors: twinwedge_core::scan::ScaleErrors::default(),
        light,
        trusted: (0.0, 4.0),
        source: ToneSource::Calibration("exact".to_owned()),
        flags: Flags::empty(),
    };
    let settings = EdgeSettings {
        pitch: Micrometres(pitch),
        response: None,
        scanner: None,
        knife_edge: false,
        quick: false,
    };
    let area = Rect::between(Point::default(), Point::new(width as f64, height as f64));
    measure_edge(scan.plane(Channel::Green), &table, area, settings, &|| false).unwrap()
}

#[test]
fn responses_of_difference_and_pixel() {
    let derivative = check("mtf.fd_correction");
    let d = derivative.inputs("d_px")[0];
    derivative
        .holds(&derivative.inputs("f_c_px").iter().map(|f| difference_response(*f, d)).collect::<Vec<_>>());
    let pixel = check("mtf.pixel_box");
    pixel.holds(&pixel.inputs("f_c_px").iter().map(|f| box_response(*f)).collect::<Vec<_>>());
}

#[test]
fn a_slanted_edge_has_the_transfer_of_its_blur_and_pixel() {
    let check_edge = check("mtf.slanted_edge");
    let (degrees, sigma) = (check_edge.inputs("theta_deg")[0], check_edge.inputs("sigma_px")[0]);
    let size = check_edge.inputs("size");
    let found = edge((size[1] as usize, size[0] as usize), degrees, sigma, 1000.0);
    // A pitch of a millimetre makes cycles per millimetre those per pixel.
    check_edge.holds(&[found.mtf50.known().unwrap().value]);
}

/// `mtf.gaussian`, `mtf.gaussian_mtf50`, `mtf.rise_10_90`: blur of 5 µm on pixels of 2 µm. Bounds beside the check's own: the
/// pixel's box, known in closed form, is taken out here; bins and window leave 0.005 of modulation and half a per cent.
#[test]
fn a_gaussian_edge_has_its_closed_form() {
    let gaussian = check("mtf.gaussian");
    let sigma = gaussian.inputs("sigma_mm")[0] * 1000.0;
    let pitch = 2.0;
    let found = edge((160, 260), 5.0, sigma / pitch, pitch);
    let (sin, cos) = 5.0_f64.to_radians().sin_cos();
    let pixel = |f: f64| box_response(f * pitch / 1000.0 * cos) * box_response(f * pitch / 1000.0 * sin);
    let expected: Vec<f64> =
        gaussian.expected.as_array().unwrap().iter().filter_map(serde_json::Value::as_f64).collect();
    for (f, want) in gaussian.inputs("f_c_mm").into_iter().zip(expected) {
        let point = found.mtf.iter().find(|point| (point.frequency - f).abs() < 0.01);
        let point = point.unwrap_or_else(|| panic!("no point at {f} c/mm"));
        assert!((point.value / pixel(f) - want).abs() < 0.005, "{f} c/mm: {} for {want}", point.value);
    }
    let ends = check("mtf.gaussian_mtf50");
    for (value, key, level) in [(&found.mtf50, "MTF50_c_mm", 0.5), (&found.mtf10, "MTF10_c_mm", 0.1)] {
        let want = ends.expected[key].as_f64().unwrap();
        // Where blur and pixel together have come down to the level, by halving.
        let both = |f: f64| (-2.0 * (std::f64::consts::PI * sigma / 1000.0 * f).powi(2)).exp() * pixel(f);
        let (mut low, mut high) = (0.0, want);
        for _ in 0..60 {
            let middle = 0.5 * (low + high);
            if both(middle) > level { low = middle } else { high = middle }
        }
        let value = value.known().unwrap().value;
        assert!((value / low - 1.0).abs() < 0.005, "{key}: {value} for {low}");
        assert!(low < want && low > 0.97 * want);
    }
    let rise = check("mtf.rise_10_90").expected.as_f64().unwrap();
    // A box of one pixel adds its variance, a twelfth, to the blur's.
    let widened = rise * (1.0 + pitch * pitch / 12.0 / (sigma * sigma)).sqrt();
    let width = found.width.known().unwrap().value;
    assert!((width / widened - 1.0).abs() < 0.005, "{width} for {widened}");
}
