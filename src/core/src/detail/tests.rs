use super::*;
use crate::geometry::Transform;
use crate::numeric::random::Stream;

/// Two noisy copies of white noise, `d` pixels of the picture apart in nothing: coherence is that of the ratios.
fn sheets(side: usize, ratios: [f64; 3], seed: u64) -> [Sheet; 3] {
    let mut stream = Stream::new(seed, 1);
    let scene: Vec<f64> = (0..side * side).map(|_| stream.normal()).collect();
    ratios.map(|ratio| {
        let noise = (1.0 / ratio).sqrt();
        let tones = scene.iter().map(|s| (0.05 * (s + noise * stream.normal())) as f32).collect();
        Sheet { picture: Picture { width: side, height: side, tones, scale: 1.0 }, origin: Point::default() }
    })
}

fn asked() -> Asked {
    Asked { area: None, per_mm: 10.0, enlargement: Some(5.0), plain: [None, None], quick: false }
}

fn exact() -> Registration {
    Registration { transform: Transform::IDENTITY, ..Registration::exact() }
}

/// Source: `C = s1 s2 / ((1 + s1)(1 + s2))`; white records have the same at every frequency.
#[test]
fn white_records_have_the_coherence_of_their_ratios() {
    let [one, two, three] = sheets(512, [4.0, 1.0, 2.0], 5);
    let registration = exact();
    let other = |sheet| Other { sheet, registration: &registration };
    let found = detail(&one, other(&two), Some(other(&three)), &asked(), &|| false).unwrap();
    assert_eq!(found.separation, Separation::ThirdFilm);
    let truth = of_ratios(4.0, 1.0);
    let inside =
        found.rows.iter().filter(|row| row.coherence.low <= truth && truth <= row.coherence.high).count();
    assert!(inside * 10 >= 8 * found.rows.len(), "{inside} of {}", found.rows.len());
    let mean = found.rows.iter().map(|row| row.coherence.value).sum::<f64>() / found.rows.len() as f64;
    assert!((mean - truth).abs() < 0.02, "{mean} {truth}");
    for (film, ratio) in [4.0, 1.0].into_iter().enumerate() {
        let inside = found.rows.iter().filter_map(|row| row.signal_to_grain[film]);
        let inside = inside.filter(|s| s.low <= ratio && ratio <= s.high).count();
        assert!(inside * 10 >= 8 * found.rows.len(), "film {film}: {inside} of {}", found.rows.len());
    }
    assert!(found.differing.is_empty(), "{:?}", found.differing);
    assert_eq!(found.statement.loss, Loss::Grain);
}

#[test]
fn what_cannot_be_measured_is_refused_with_a_remedy() {
    let [one, two, _] = sheets(96, [4.0, 1.0, 2.0], 5);
    let registration = exact();
    let other = Other { sheet: &two, registration: &registration };
    let small = Rect { min: Point::new(0.0, 0.0), max: Point::new(40.0, 40.0) };
    let problem = detail(&one, other, None, &Asked { area: Some(small), ..asked() }, &|| false).unwrap_err();
    assert!(problem.cause.contains("too small"), "{problem}");
    let problem = detail(&one, other, None, &Asked { per_mm: 0.0, ..asked() }, &|| false).unwrap_err();
    assert!(problem.remedy.contains("dots per inch"), "{problem}");
    let problem = detail(&one, other, None, &asked(), &|| true).unwrap_err();
    assert!(problem.cause.contains("stopped"), "{problem}");
}
