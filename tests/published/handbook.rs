//! Worked examples of handbooks in the public domain, each with its place.
//!
//! Of the US Navy's training manual *Photography (Advanced)*, NAVEDTRA 14208 (April 1995), chapter 2, the pages on
//! transmission, opacity and density hold worked numbers (seen in a copy on the web, pages 43 and 54 of the file). Its
//! gamma of 0.82 is read off a drawn plot whose readings are not printed, so nothing can be recomputed from it; no worked
//! example of speed, average gradient or log exposure tables could be found in the parts of it that were at hand, nor in
//! other handbooks in the public domain.

use twinwedge_core::units::Density;

/// NAVEDTRA 14208, 'Opacity': of 10 metre-candles 5 are transmitted, opacity 10/5 = 2; of 10, 2: opacity 1/0.20 = 5.
/// 'Density': the common logarithm of opacity; 'when opacity is 2.0, the density is log 2 = 0.30'.
#[test]
fn transmission_opacity_and_density() {
    for (incident, transmitted, opacity) in [(10.0, 5.0, 2.0_f64), (10.0, 2.0, 5.0)] {
        let density = Density::from_light(transmitted / incident);
        assert!((density.0 - opacity.log10()).abs() < 1e-12);
        assert!((1.0 / density.light() - opacity).abs() < 1e-12);
    }
    // As printed, to two decimals.
    assert!((Density::from_light(0.5).0 - 0.30).abs() < 0.005);
}
