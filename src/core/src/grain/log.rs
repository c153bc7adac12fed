//! A fast decimal logarithm for the millions of aperture averages.

/// lg x for finite normal `x` above zero, in single precision: absolute error below 1e-7 near 1 and below 2e-7 times
/// `1 + |lg x|` elsewhere, far under one part in ten thousand of any granularity.
///
/// The exponent is split off so that the rest lies in `sqrt(1/2)..sqrt(2)`; there `ln(1 + f) = f - f^2/2 + f^3 p(f)`
/// with the polynomial of the Cephes library's `logf` (S. L. Moshier, *Methods and Programs for Mathematical
/// Functions*, 1989). Straight-line code: inlined, the compiler does
/// several at once.
#[inline(always)]
pub(super) fn log10(x: f32) -> f32 {
    const SQRT_HALF: u32 = 0x3f35_04f3;
    let bits = x.to_bits();
    let exponent = bits.wrapping_sub(SQRT_HALF) as i32 >> 23;
    let f = f32::from_bits(bits.wrapping_sub((exponent << 23) as u32)) - 1.0;
    let mut p = 7.037_683_6e-2_f32;
    for c in [
        -1.151_461e-1,
        1.167_699_9e-1,
        -1.242_014_1e-1,
        1.424_932_3e-1,
        -1.666_805_8e-1,
        2.000_071_4e-1,
        -2.499_999_4e-1,
        3.333_333e-1,
    ] {
        p = p * f + c;
    }
    let square = f * f;
    let ln = f + (f * square * p - 0.5 * square);
    exponent as f32 * core::f32::consts::LOG10_2 + ln * core::f32::consts::LOG10_E
}

#[cfg(test)]
mod tests {
    use crate::numeric::math;

    #[test]
    fn agrees_with_the_double_precision_logarithm() {
        for step in -60_000..60_000_i32 {
            let x = math::pow(10.0, f64::from(step) / 10_000.0) as f32;
            let exact = math::log10(f64::from(x));
            let allowed = if exact.abs() < 0.15 { 1e-7 } else { 2e-7 * (1.0 + exact.abs()) };
            assert!((f64::from(super::log10(x)) - exact).abs() < allowed, "{x}");
        }
    }
}
