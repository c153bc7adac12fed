//! The patch chart: what each patch reflects.

use twinwedge_core::document::{PatchLayout, PatchName, PatchRole};

use super::spectra::Reflectance;

/// One patch.
pub(super) struct Patch {
    pub(super) name: &'static str,
    role: PatchRole,
    pub(super) reflectance: Reflectance,
}

const fn grey(name: &'static str, role: PatchRole, floor: f64) -> Patch {
    Patch { name, role, reflectance: Reflectance::flat(floor) }
}

const fn skin(name: &'static str, floor: f64, red: f64) -> Patch {
    let bells = [(red, 650.0, 60.0), (0.35 * red, 560.0, 35.0)];
    Patch { name, role: PatchRole::Skin, reflectance: Reflectance::bells(floor, bells) }
}

const fn colour(name: &'static str, floor: f64, bells: [(f64, f64, f64); 2]) -> Patch {
    Patch { name, role: PatchRole::Colour, reflectance: Reflectance::bells(floor, bells) }
}

const NONE: (f64, f64, f64) = (0.0, 550.0, 50.0);

/// The patches, row by row from the upper left.
pub(super) const PATCHES: [Patch; 24] = [
    grey("white", PatchRole::White, 0.88),
    grey("grey 2", PatchRole::Grey, 0.58),
    grey("grey 3", PatchRole::Grey, 0.36),
    grey("grey 4", PatchRole::Grey, 0.20),
    grey("grey 5", PatchRole::Grey, 0.09),
    grey("black", PatchRole::Grey, 0.035),
    grey("grey card", PatchRole::GreyCard, 0.18),
    grey("shadow", PatchRole::Shadow, 0.028),
    skin("skin, fair", 0.30, 0.40),
    skin("skin, olive", 0.20, 0.27),
    skin("skin, brown", 0.11, 0.17),
    skin("skin, dark", 0.06, 0.09),
    colour("red", 0.05, [(0.62, 655.0, 38.0), NONE]),
    colour("orange", 0.06, [(0.66, 640.0, 48.0), (0.12, 580.0, 25.0)]),
    colour("yellow", 0.08, [(0.72, 620.0, 62.0), (0.36, 545.0, 28.0)]),
    colour("green", 0.06, [(0.30, 535.0, 30.0), NONE]),
    colour("cyan", 0.06, [(0.42, 490.0, 38.0), NONE]),
    colour("blue", 0.05, [(0.40, 445.0, 30.0), NONE]),
    colour("brick", 0.07, [(0.30, 640.0, 52.0), NONE]),
    colour("ochre", 0.09, [(0.38, 610.0, 55.0), NONE]),
    colour("leaf", 0.06, [(0.16, 552.0, 28.0), (0.06, 690.0, 25.0)]),
    colour("sky", 0.15, [(0.40, 460.0, 45.0), (0.06, 530.0, 30.0)]),
    colour("violet", 0.06, [(0.30, 430.0, 28.0), (0.14, 670.0, 32.0)]),
    colour("magenta", 0.08, [(0.36, 440.0, 32.0), (0.52, 650.0, 40.0)]),
];

/// The layout as the series document holds it.
pub(super) fn layout() -> PatchLayout {
    PatchLayout {
        rows: super::scene::ROWS,
        columns: super::scene::COLUMNS,
        patches: PATCHES
            .iter()
            .map(|patch| PatchName { name: patch.name.to_owned(), role: patch.role })
            .collect(),
    }
}
