//! The bundled font: one family in two weights, with figures of equal width; egui's own fonts stand behind it.

use std::sync::Arc;

use egui::{FontData, FontDefinitions, FontFamily, FontId, RichText, TextStyle};
use twinwedge_workbench::fonts::{REGULAR, STRONG};

/// The three sizes of text, in points.
pub const SMALL: f32 = 11.0;
/// Size of running text, tables and controls.
pub const BODY: f32 = 13.0;
/// Size of headings.
pub const HEADING: f32 = 17.0;

fn strong_family() -> FontFamily {
    FontFamily::Name("strong".into())
}

/// The fonts of the window.
#[must_use]
pub fn definitions() -> FontDefinitions {
    let mut fonts = FontDefinitions::default();
    for (name, bytes) in [("text", REGULAR), ("strong", STRONG)] {
        fonts.font_data.insert(name.to_owned(), Arc::new(FontData::from_static(bytes)));
    }
    let fallback = fonts.families.get(&FontFamily::Proportional).cloned().unwrap_or_default();
    let with = |first: &str| -> Vec<String> {
        std::iter::once(first.to_owned()).chain(fallback.iter().cloned()).collect()
    };
    fonts.families.insert(FontFamily::Proportional, with("text"));
    fonts.families.insert(FontFamily::Monospace, with("text"));
    fonts.families.insert(strong_family(), with("strong"));
    fonts
}

/// Which font each style of text uses.
#[must_use]
pub fn text_styles() -> std::collections::BTreeMap<TextStyle, FontId> {
    [
        (TextStyle::Small, FontId::new(SMALL, FontFamily::Proportional)),
        (TextStyle::Body, FontId::new(BODY, FontFamily::Proportional)),
        (TextStyle::Button, FontId::new(BODY, FontFamily::Proportional)),
        (TextStyle::Monospace, FontId::new(BODY, FontFamily::Monospace)),
        (TextStyle::Heading, FontId::new(HEADING, strong_family())),
    ]
    .into()
}

/// The font of running text.
#[must_use]
pub fn body() -> FontId {
    FontId::new(BODY, FontFamily::Proportional)
}

/// The font of running text with emphasis.
#[must_use]
pub fn body_strong() -> FontId {
    FontId::new(BODY, strong_family())
}

/// The font of axis figures, units and footnotes.
#[must_use]
pub fn small() -> FontId {
    FontId::new(SMALL, FontFamily::Proportional)
}

/// Text with the one emphasis.
#[must_use]
pub fn strong(text: impl Into<String>) -> RichText {
    RichText::new(text).font(body_strong())
}
