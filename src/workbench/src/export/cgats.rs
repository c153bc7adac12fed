//! Densities as CGATS text (ISO 28178, earlier ANSI CGATS.17), for spreadsheets and colour programs.

use std::fmt::Write;

use twinwedge_core::measured::Measured;
use twinwedge_core::patch::PatchSample;
use twinwedge_core::tablet::StepSample;
use twinwedge_core::units::Density;

/// The steps of a strip, a row each: their numbers, visual densities, and standard uncertainties.
#[must_use]
pub fn cgats_steps(steps: &[StepSample]) -> String {
    let rows = steps.iter().map(|step| (step.step.to_string(), format!("step {}", step.step), &step.density));
    cgats("Densities of the steps of a strip", &rows.collect::<Vec<_>>())
}

/// The patches of prints, a row each, named after the print and the patch.
#[must_use]
pub fn cgats_patches(prints: &[(&str, &[PatchSample])]) -> String {
    let all = prints.iter().flat_map(|(print, patches)| patches.iter().map(move |patch| (print, patch)));
    let rows = all.enumerate().map(|(number, (print, patch))| {
        ((number + 1).to_string(), format!("{print}: {}", patch.name), &patch.sample.density)
    });
    cgats("Densities of the patches of prints", &rows.collect::<Vec<_>>())
}

/// The keyword of a standard uncertainty is the file's own, and declared in it as the format asks.
fn cgats(about: &str, rows: &[(String, String, &Measured<Density>)]) -> String {
    let mut out = format!(
        "CGATS.17\nORIGINATOR \"twinwedge {}\"\nFILE_DESCRIPTOR \"{about}\"\nKEYWORD \"U_D_VIS\"\n\nNUMBER_OF_FIELDS 4\n\
         BEGIN_DATA_FORMAT\nSAMPLE_ID\tSAMPLE_NAME\tD_VIS\tU_D_VIS\nEND_DATA_FORMAT\n\nNUMBER_OF_SETS {}\nBEGIN_DATA\n",
        env!("CARGO_PKG_VERSION"),
        rows.len()
    );
    for (id, name, density) in rows {
        // Writing to a String cannot fail.
        let _ = writeln!(out, "{id}\t\"{}\"\t{:.4}\t{:.4}", quoted(name), density.number(), density.u);
    }
    out.push_str("END_DATA\n");
    out
}

/// A text between quotation marks: none of its own, and on one line.
fn quoted(text: &str) -> String {
    text.replace('"', "'").replace(|c: char| c.is_control(), " ")
}
