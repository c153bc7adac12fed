//! Every colour and measure of the window. No other file names a colour.
//!
//! Surfaces are neutral greys, red = green = blue, so that no hue beside a print shifts how its tones are seen. One warm
//! accent marks the candidate and what is selected, nothing else.

use egui::Color32;

use twinwedge_workbench::core::drawing::Role;

/// Spacing goes in steps of this many points.
pub const STEP: f32 = 4.0;
/// Height of every control in a row.
pub const CONTROL: f32 = 28.0;
/// Height of a table row.
pub const ROW: f32 = 24.0;

/// The colours of one appearance.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Tokens {
    /// The background of pages.
    pub surface: Color32,
    /// Side panels, table heads, popups.
    pub raised: Color32,
    /// Plots, fields: what is written on.
    pub paper: Color32,
    /// Thin lines between things.
    pub line: Color32,
    /// Edges of controls.
    pub edge: Color32,
    /// Text, and the reference film.
    pub ink: Color32,
    /// Secondary text, and what is not distinguishable.
    pub muted: Color32,
    /// Lines of films beside the pair.
    pub pale: Color32,
    /// Fine lines of graph paper.
    pub grid_fine: Color32,
    /// Heavy lines of graph paper.
    pub grid_heavy: Color32,
    /// The candidate film, and what is selected.
    pub accent: Color32,
    /// Behind what is selected.
    pub accent_fill: Color32,
    /// Behind a control under the pointer.
    pub hover: Color32,
}

const LIGHT: Tokens = Tokens {
    surface: Color32::from_gray(233),
    raised: Color32::from_gray(222),
    paper: Color32::from_gray(248),
    line: Color32::from_gray(200),
    edge: Color32::from_gray(168),
    ink: Color32::from_gray(22),
    muted: Color32::from_gray(92),
    pale: Color32::from_gray(150),
    grid_fine: Color32::from_gray(236),
    grid_heavy: Color32::from_gray(214),
    accent: Color32::from_rgb(152, 64, 4),
    accent_fill: Color32::from_rgb(240, 214, 190),
    hover: Color32::from_gray(208),
};

const DARK: Tokens = Tokens {
    surface: Color32::from_gray(40),
    raised: Color32::from_gray(50),
    paper: Color32::from_gray(28),
    line: Color32::from_gray(68),
    edge: Color32::from_gray(98),
    ink: Color32::from_gray(232),
    muted: Color32::from_gray(166),
    pale: Color32::from_gray(112),
    grid_fine: Color32::from_gray(38),
    grid_heavy: Color32::from_gray(60),
    accent: Color32::from_rgb(242, 160, 72),
    accent_fill: Color32::from_rgb(76, 58, 40),
    hover: Color32::from_gray(66),
};

/// Black on white, for eyes that need it.
const LIGHT_HIGH: Tokens = Tokens {
    surface: Color32::from_gray(255),
    raised: Color32::from_gray(244),
    paper: Color32::from_gray(254),
    line: Color32::from_gray(110),
    edge: Color32::from_gray(0),
    ink: Color32::from_gray(0),
    muted: Color32::from_gray(48),
    pale: Color32::from_gray(96),
    grid_fine: Color32::from_gray(228),
    grid_heavy: Color32::from_gray(176),
    accent: Color32::from_rgb(132, 44, 0),
    accent_fill: Color32::from_rgb(255, 222, 190),
    hover: Color32::from_gray(216),
};

/// White on black, for eyes that need it.
const DARK_HIGH: Tokens = Tokens {
    surface: Color32::from_gray(0),
    raised: Color32::from_gray(18),
    paper: Color32::from_gray(2),
    line: Color32::from_gray(150),
    edge: Color32::from_gray(255),
    ink: Color32::from_gray(255),
    muted: Color32::from_gray(214),
    pale: Color32::from_gray(166),
    grid_fine: Color32::from_gray(34),
    grid_heavy: Color32::from_gray(84),
    accent: Color32::from_rgb(255, 184, 96),
    accent_fill: Color32::from_rgb(88, 52, 16),
    hover: Color32::from_gray(72),
};

impl Tokens {
    /// The colours of the light or dark appearance, of usual or of high contrast.
    #[must_use]
    pub const fn of(dark: bool, high_contrast: bool) -> &'static Self {
        match (dark, high_contrast) {
            (false, false) => &LIGHT,
            (true, false) => &DARK,
            (false, true) => &LIGHT_HIGH,
            (true, true) => &DARK_HIGH,
        }
    }

    /// The colours that a window was dressed in.
    #[must_use]
    pub fn of_visuals(visuals: &egui::Visuals) -> &'static Self {
        let high = Self::of(visuals.dark_mode, true);
        if visuals.panel_fill == high.surface { high } else { Self::of(visuals.dark_mode, false) }
    }

    /// The colours that a part of the window is drawn in.
    #[must_use]
    pub fn get(ui: &egui::Ui) -> &'static Self {
        Self::of_visuals(ui.visuals())
    }

    /// The tone of a film. Line and mark tell films apart as well, never the tone alone.
    #[must_use]
    pub const fn role(&self, role: Role) -> Color32 {
        match role {
            Role::Reference => self.ink,
            Role::Candidate => self.accent,
            Role::Other => self.pale,
            Role::Guide => self.muted,
        }
    }

    /// The tone of a film's uncertainty band.
    #[must_use]
    pub fn band(&self, role: Role) -> Color32 {
        self.role(role).gamma_multiply(0.16)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Relative luminance, WCAG 2.2.
    fn luminance(color: Color32) -> f64 {
        let linear = |c: u8| {
            let c = f64::from(c) / 255.0;
            if c <= 0.04045 { c / 12.92 } else { ((c + 0.055) / 1.055).powf(2.4) }
        };
        0.2126 * linear(color.r()) + 0.7152 * linear(color.g()) + 0.0722 * linear(color.b())
    }

    fn contrast(a: Color32, b: Color32) -> f64 {
        let (a, b) = (luminance(a), luminance(b));
        (a.max(b) + 0.05) / (a.min(b) + 0.05)
    }

    #[test]
    fn surfaces_are_neutral() {
        for tokens in [&LIGHT, &DARK, &LIGHT_HIGH, &DARK_HIGH] {
            let greys = [
                tokens.surface,
                tokens.raised,
                tokens.paper,
                tokens.line,
                tokens.edge,
                tokens.ink,
                tokens.muted,
                tokens.pale,
                tokens.grid_fine,
                tokens.grid_heavy,
                tokens.hover,
            ];
            assert!(greys.iter().all(|grey| grey.r() == grey.g() && grey.g() == grey.b()));
        }
    }

    /// WCAG 2.2, 1.4.3: text has a contrast of at least 4.5; 1.4.11: lines and marks of at least 3.
    #[test]
    fn text_and_marks_stand_out() {
        for tokens in [&LIGHT, &DARK] {
            for ground in [tokens.surface, tokens.raised, tokens.paper] {
                for text in [tokens.ink, tokens.muted, tokens.accent] {
                    assert!(contrast(text, ground) >= 4.5, "{text:?} on {ground:?}");
                }
            }
            assert!(contrast(tokens.ink, tokens.accent_fill) >= 4.5);
            assert!(contrast(tokens.ink, tokens.accent) >= 1.5, "films differ in tone, too");
        }
    }

    /// WCAG 2.2, 1.4.6: text of high contrast has at least 7; 1.4.11 and 2.4.13: edges of controls and the focus mark at least 3.
    #[test]
    fn high_contrast_is_high() {
        for tokens in [&LIGHT_HIGH, &DARK_HIGH] {
            for ground in [tokens.surface, tokens.raised, tokens.paper] {
                for text in [tokens.ink, tokens.muted, tokens.accent] {
                    assert!(contrast(text, ground) >= 7.0, "{text:?} on {ground:?}");
                }
                assert!(contrast(tokens.edge, ground) >= 3.0 && contrast(tokens.line, ground) >= 3.0);
            }
        }
        for tokens in [&LIGHT, &DARK, &LIGHT_HIGH, &DARK_HIGH] {
            assert!(contrast(tokens.ink, tokens.paper) >= 3.0, "the focus mark and its rim");
        }
    }
}
