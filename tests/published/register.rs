use twinwedge_core::geometry::{Point, Similarity};
use twinwedge_core::register::{Picture, from_pairs, register};

use crate::check_values::check;

/// `register.similarity` (Umeyama 1991): four points under a known transform.
#[test]
fn similarity_of_points_and_back_from_two_of_them() {
    let check = check("register.similarity");
    let shift = check.inputs("t");
    let truth = Similarity {
        scale: check.inputs("scale")[0],
        angle: check.inputs("rot_deg")[0].to_radians(),
        shift: Point::new(shift[0], shift[1]),
    };
    let points: Vec<Point> =
        check.inputs("points").chunks_exact(2).map(|xy| Point::new(xy[0], xy[1])).collect();
    let mapped: Vec<Point> = points.iter().map(|p| truth.map(*p)).collect();
    // Printed to eight figures, which for places beyond 100 is five decimals.
    let rounded = |v: f64| if v.abs() >= 100.0 { (v * 1e5).round() / 1e5 } else { v };
    check.holds(&mapped.iter().flat_map(|p| [rounded(p.x), rounded(p.y)]).collect::<Vec<_>>());

    // The published places of two of the points give the transform back, to their last printed figure.
    let printed: Vec<f64> = check
        .expected
        .as_array()
        .unwrap()
        .iter()
        .flat_map(|p| [p[0].as_f64().unwrap(), p[1].as_f64().unwrap()])
        .collect();
    let place = |k: usize| Point::new(printed[2 * k], printed[2 * k + 1]);
    let found = from_pairs(&[(points[0], place(0)), (points[3], place(3))]).unwrap();
    assert!((found.scale - truth.scale).abs() < 1e-7 && (found.angle - truth.angle).abs() < 1e-7);
    assert!((found.shift.x - 10.0).abs() < 1e-6 && (found.shift.y + 4.0).abs() < 1e-6);
}

#[test]
fn inverse_and_chain_agree_with_mapping() {
    let first = Similarity { scale: 1.02, angle: 1.5_f64.to_radians(), shift: Point::new(10.0, -4.0) };
    let next = Similarity { scale: 0.8, angle: 3.0, shift: Point::new(-7.0, 300.0) };
    for p in [Point::new(0.0, 0.0), Point::new(1234.5, -6.7)] {
        let back = first.then(&first.inverse()).map(p);
        assert!((back.x - p.x).hypot(back.y - p.y) < 1e-9);
        let (chained, stepped) = (first.then(&next).map(p), next.map(first.map(p)));
        assert!((chained.x - stepped.x).hypot(chained.y - stepped.y) < 1e-9);
    }
    assert_eq!(Similarity::IDENTITY.map(Point::new(3.0, 4.0)), Point::new(3.0, 4.0));
}

/// `register.phase_corr`: a picture rolled by whole pixels, and the shift that brings it back. Phase correlation (Kuglin & Hines
/// 1975) gives it exactly; what is registered here by windows need not be rolled all round and lies within a fiftieth of a
/// pixel.
#[test]
fn a_rolled_picture_is_brought_back() {
    let check = check("register.phase_corr");
    let applied = check.inputs("shift_applied_rows_cols");
    let (rows, columns) = (applied[0], applied[1]);
    let size = 240_usize;
    let tone = |x: f64, y: f64| {
        let wave = |u: f64, v: f64, w: f64| (u * x + v * y + w).cos();
        wave(0.31, 0.12, 0.4) + wave(-0.17, 0.23, 1.9) + wave(0.05, -0.09, 2.5) + wave(0.45, -0.38, 0.1)
    };
    let picture = |dx: f64, dy: f64| {
        let tones = (0..size * size).map(|n| tone((n % size) as f64 - dx, (n / size) as f64 - dy) as f32);
        Picture { width: size, height: size, tones: tones.collect(), scale: 1.0 }
    };
    let found = register(&picture(0.0, 0.0), &picture(columns, rows), None, &|| false).unwrap();
    let correction: Vec<f64> =
        check.expected["correction"].as_array().unwrap().iter().map(|v| v.as_f64().unwrap()).collect();
    for p in [Point::new(60.0, 60.0), Point::new(180.0, 120.0)] {
        let at = found.transform.map(p);
        let back = [p.y - at.y, p.x - at.x];
        assert!((back[0] - correction[0]).hypot(back[1] - correction[1]) < 0.02, "{back:?}");
    }
}
