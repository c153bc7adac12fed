//! Tones of what is drawn over pictures: they must stand out on any tone of a print, so each light line has a dark one under
//! it; and what the prints lie on.

use egui::Color32;

/// Lines and words over a picture.
pub const LIGHT: Color32 = Color32::WHITE;
/// Under them, wider.
pub const UNDER: Color32 = Color32::from_black_alpha(176);

/// Pictures are shown as they are.
pub const UNTINTED: Color32 = Color32::WHITE;

/// What prints lie on, from black (0) to white (1), in equal steps of the screen's own scale.
#[must_use]
pub fn surround(share: f32) -> Color32 {
    Color32::from_gray((share.clamp(0.0, 1.0) * 255.0).round() as u8)
}

/// A grey of the screen by its 8-bit code.
#[must_use]
pub fn grey(code: u8) -> Color32 {
    Color32::from_gray(code)
}

/// Over an area of a print that is blank, or blocked: the print shows through.
#[must_use]
pub fn end(blank: bool) -> Color32 {
    if blank { Color32::from_black_alpha(70) } else { Color32::from_white_alpha(70) }
}

/// A slanting line over such an area.
#[must_use]
pub fn slant(blank: bool) -> Color32 {
    if blank { Color32::BLACK } else { Color32::WHITE }
}

/// A share on a map that lies over a print: white is all, black is none, and the print shows through a little.
#[must_use]
pub fn share(share: f32) -> Color32 {
    let tone = (share.clamp(0.0, 1.0) * 255.0).round() as u8;
    Color32::from_rgba_unmultiplied(tone, tone, tone, 208)
}
