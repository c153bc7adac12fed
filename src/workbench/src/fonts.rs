//! The bundled typeface in its two weights, for the window and for paper.

/// The regular weight, for running text.
pub const REGULAR: &[u8] = include_bytes!("../fonts/text-regular.otf");
/// Headings and what is emphasised.
pub const STRONG: &[u8] = include_bytes!("../fonts/text-strong.otf");
