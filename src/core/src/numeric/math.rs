//! Elementary functions with the same bits on every platform (from `libm`), used all over the core.

pub use libm::{
    atan, atan2, cbrt, cos, erf, erfc, exp, expm1, hypot, j0, j1, log as ln, log1p, log2, log10, pow, sin,
    sincos, sqrt, tan, tanh,
};
