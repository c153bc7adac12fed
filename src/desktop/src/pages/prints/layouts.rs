//! What the layout of a target says beyond its names: gaps, and the known densities of its patches.

use egui::Ui;
use twinwedge_workbench::core::document::{Gaps, PatchLayout, PatchName, Series};

use crate::appearance::widgets;
use crate::outbox::Outbox;

/// Most of a gap, in per cent of a patch.
const WIDEST: f64 = 500.0;

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
                    *value = percent.clamp(0.0, WIDEST) / 100.0;
                }
            }
            widgets::muted_inline(ui, "%");
        });
    }
    if wanted != layout.gaps {
        set(wanted, outbox);
    }
}

fn set(wanted: Gaps, outbox: &mut Outbox) {
    outbox.edit("change the gaps of the patch grid", move |series: &mut Series| {
        if let Some(layout) = &mut series.layout {
            layout.gaps = wanted;
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
    let wanted = wanted.map(|density| density.clamp(-0.1, 6.0));
    if wanted != patch.density {
        outbox.edit(format!("set the known density of {}", patch.name), move |series: &mut Series| {
            if let Some(patch) = series.layout.as_mut().and_then(|layout| layout.patches.get_mut(i)) {
                patch.density = wanted;
            }
        });
    }
}
