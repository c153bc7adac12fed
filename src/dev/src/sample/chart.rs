//! The patch chart: what each patch reflects.

use twinwedge_core::document::{Gaps, PatchLayout, PatchName, PatchRole};
use twinwedge_core::numeric::math;

use super::spectra::Reflectance;

/// A patch of the invented target: its name and its reflectances.
pub(super) struct Patch {
    pub(super) name: &'static str,
    role: PatchRole,
    pub(super) reflectance: Reflectance,
    grey: bool,
}

impl Patch {
    /// What its maker tells of it: of greys the density too, to a thousandth.
    fn known(&self) -> PatchName {
        let density = self.grey.then(|| (-1e3 * math::log10(self.reflectance.floor())).round() / 1e3);
        PatchName {
            density,
            reflectance: Some(self.reflectance.told()),
            ..PatchName::new(self.name, self.role)
        }
    }
}

const fn grey(name: &'static str, role: PatchRole, floor: f64) -> Patch {
    Patch { name, role, reflectance: Reflectance::flat(floor), grey: true }
}

const fn skin(name: &'static str, floor: f64, red: f64) -> Patch {
    let bells = [(red, 650.0, 60.0), (0.35 * red, 560.0, 35.0)];
    Patch { name, role: PatchRole::Skin, reflectance: Reflectance::bells(floor, bells), grey: false }
}

const fn colour(name: &'static str, floor: f64, bells: [(f64, f64, f64); 2]) -> Patch {
    Patch { name, role: PatchRole::Colour, reflectance: Reflectance::bells(floor, bells), grey: false }
}

const NONE: (f64, f64, f64) = (0.0, 550.0, 50.0);

/// The patches, row by row from the upper left: those of the layout that a new series is offered.
pub(super) const PATCHES: [Patch; 24] = [
    grey("white", PatchRole::White, 0.88),
    colour("brick", 0.06, [(0.32, 640.0, 50.0), NONE]),
    colour("rust", 0.05, [(0.50, 650.0, 44.0), (0.08, 590.0, 25.0)]),
    colour("straw", 0.12, [(0.62, 615.0, 66.0), (0.30, 545.0, 30.0)]),
    skin("skin, pale", 0.30, 0.40),
    grey("deep grey", PatchRole::Grey, 0.11),
    grey("pale grey", PatchRole::Grey, 0.58),
    colour("moss", 0.05, [(0.16, 552.0, 28.0), (0.06, 690.0, 25.0)]),
    colour("lime", 0.07, [(0.52, 545.0, 32.0), (0.22, 600.0, 40.0)]),
    colour("sea green", 0.06, [(0.30, 515.0, 34.0), NONE]),
    skin("skin, tan", 0.20, 0.27),
    grey("charcoal", PatchRole::Grey, 0.06),
    grey("light grey", PatchRole::Grey, 0.36),
    colour("teal", 0.06, [(0.36, 490.0, 38.0), NONE]),
    colour("cornflower", 0.12, [(0.42, 455.0, 42.0), (0.05, 690.0, 30.0)]),
    colour("navy", 0.04, [(0.22, 440.0, 28.0), NONE]),
    skin("skin, brown", 0.11, 0.17),
    SHADOW,
    grey("grey card", PatchRole::GreyCard, 0.18),
    colour("violet", 0.06, [(0.30, 430.0, 28.0), (0.14, 670.0, 32.0)]),
    colour("plum", 0.05, [(0.12, 425.0, 26.0), (0.20, 660.0, 36.0)]),
    colour("rose", 0.16, [(0.28, 440.0, 40.0), (0.56, 645.0, 42.0)]),
    skin("skin, deep", 0.06, 0.09),
    grey("black", PatchRole::Grey, 0.022),
];

/// The patch that frames are matched by.
pub(super) const SHADOW: Patch = grey("shadow", PatchRole::Shadow, 0.033);

/// The layout as the series document holds it.
pub(super) fn layout() -> PatchLayout {
    PatchLayout {
        rows: super::scene::ROWS,
        columns: super::scene::COLUMNS,
        patches: PATCHES.iter().map(Patch::known).collect(),
        gaps: Gaps::default(),
        fixed: false,
    }
}

#[cfg(test)]
mod tests {
    /// The chart is laid out as the program's own default, so that a series made anew from the folder finds it so.
    #[test]
    fn the_chart_is_the_default_layout() {
        assert_eq!(super::layout().without_colours(), twinwedge_core::patch::default_layout());
    }
}
