//! What the layout of a target says beyond its names: gaps, borders, what is read of a patch, and the known densities of its
//! patches.

use egui::Ui;
use twinwedge_workbench::core::document::{Aperture, GridShape, PatchLayout, PatchName};
use twinwedge_workbench::edits::{LayoutEdit, PatchChange};

use crate::appearance::widgets;
use crate::outbox::Outbox;
use crate::pages::aperture;

/// Gaps between patches and margins around them.
pub(super) fn gaps(ui: &mut Ui, layout: &PatchLayout, outbox: &mut Outbox) {
    let mut wanted = layout.gaps;
    let rows = [
        (
            "Gaps",
            [
                ("across", &mut wanted.across, "Gap between patches in a row, per cent of a patch's width"),
                ("down", &mut wanted.down, "Gap between rows, per cent of a patch's height"),
            ],
        ),
        (
            "Margins",
            [
                (
                    "across",
                    &mut wanted.margin_across,
                    "From the grid's corners to the outer patches, left and right, per cent of a patch's width",
                ),
                (
                    "down",
                    &mut wanted.margin_down,
                    "From the grid's corners to the outer patches, above and below, per cent of a patch's height",
                ),
            ],
        ),
    ];
    for (word, fields) in rows {
        ui.horizontal(|ui| {
            ui.label(word);
            for (way, value, hover) in fields {
                let name = format!("{word} {way}, per cent");
                widgets::muted_inline(ui, way);
                let id = ui.scope_id().with(&name);
                let entered = widgets::number_field(ui, id, &name, Some(100.0 * *value), hover, 40.0);
                if let Some(Some(percent)) = entered {
                    *value = percent / 100.0;
                }
            }
            widgets::muted_inline(ui, "%");
        });
    }
    if wanted != layout.gaps {
        outbox.change(LayoutEdit::Gaps(wanted));
    }
}

/// Whether patches are placed by their own borders.
pub(super) fn borders(ui: &mut Ui, layout: &PatchLayout, outbox: &mut Outbox) {
    let mut follows = !layout.fixed;
    let hover = "Each patch is read where its own borders show it, up to an eighth of a patch from its place in the grid; where \
                 none show it stays in the grid's place";
    if widgets::switch(ui, &mut follows, "Follow the borders of patches", hover) {
        outbox.change(LayoutEdit::Fixed(!follows));
    }
}

/// What is read of each patch, on all prints alike.
pub(super) fn read(ui: &mut Ui, shape: &GridShape, outbox: &mut Outbox) {
    ui.horizontal_wrapped(|ui| {
        if let Some(aperture) = aperture::choice(ui, "the patches", "patch", shape.aperture) {
            outbox.change(LayoutEdit::Aperture(aperture));
        }
        if shape.aperture == Aperture::Share {
            let id = ui.scope_id().with("share of the patch");
            let hover =
                "Side of the area in the middle of each patch that is read, per cent of the patch's side";
            let now = (1000.0 * shape.inner).round() / 10.0;
            let entered =
                widgets::number_field(ui, id, "Share of the patch, per cent", Some(now), hover, 40.0);
            ui.label("%");
            if let Some(Some(percent)) = entered {
                outbox.change(LayoutEdit::Share(percent / 100.0));
            }
        }
    });
}

/// The known density of a patch on the target, or its reflectance.
pub(super) fn density(ui: &mut Ui, i: usize, patch: &PatchName, outbox: &mut Outbox) {
    let mut wanted = patch.density;
    ui.horizontal(|ui| {
        ui.label("Known density");
        let hover = "Density of the patch on the target itself, by its maker or a densitometer; empty where not known";
        let id = ui.scope_id().with(("known density", i));
        if let Some(entered) = widgets::number_field(ui, id, "Known density of the patch", patch.density, hover, 48.0) {
            wanted = entered;
        }
        ui.label("or reflectance %");
        let percent = patch.density.map(|density| 100.0 * 10_f64.powf(-density));
        let rounded = percent.map(|percent| (percent * 100.0).round() / 100.0);
        let hover = "The same as reflectance in per cent: 18 is a density of 0.74";
        let id = ui.scope_id().with(("known reflectance", i));
        if let Some(entered) =
            widgets::number_field(ui, id, "Known reflectance of the patch, per cent", rounded, hover, 48.0)
        {
            wanted = entered.filter(|percent| *percent > 0.0).map(|percent| -(percent / 100.0).log10());
        }
    });
    if wanted != patch.density {
        outbox.change(LayoutEdit::Patch(i, PatchChange::Density(wanted)));
    }
}
