//! Scans for other programs: what a file says of itself, and what was found about it.

use serde_json::{Value as Json, json};
use twinwedge_core::measured::Measured;
use twinwedge_core::scan::encoding::density;
use twinwedge_core::scan::examine::{Test, Verdict};
use twinwedge_core::scan::{Certainty, FlatField, Judged, Scan};
use twinwedge_core::units::Density;

use super::written::{DENSITY, measured_json};
use crate::engine::ask::{Drift, Examined};

/// What a scan file says of itself.
#[must_use]
pub fn scan_json(scan: &Scan) -> Json {
    let meta = &scan.meta;
    json!({
        "width": scan.width,
        "height": scan.height,
        "channels": scan.channels,
        "bits": if scan.levels() == 256 { 8 } else { 16 },
        "dpi": meta.dpi.map(|(across, down)| json!({ "across": across, "down": down })),
        "profile": meta.profile,
        "states_encoding": scan.stated().map(|(encoding, _)| encoding.key()),
        "taken": meta.taken,
        "software": meta.software,
        "device": meta.device,
        "notes": meta.notes,
    })
}

/// What the codes of a scan are read as, how surely, and what speaks for what.
#[must_use]
pub fn encoding_json(judged: &Judged) -> Json {
    let possible = judged.possible.iter().map(|possible| {
        json!({
            "encoding": possible.encoding.key(),
            "likelihood": possible.likelihood,
            "density_of_darkest_tones": judged.darkest.map(|code| density(possible.encoding, code)),
        })
    });
    let evidence = judged.evidence.iter().map(|evidence| {
        json!({
            "what": evidence.sort,
            "sentence": evidence.sentence(),
            "favours": evidence.favours.key(),
            "likelihood_ratio": evidence.times,
        })
    });
    json!({
        "encoding": judged.encoding.key(),
        "certainty": judged.certainty.key(),
        "stated_by": match judged.certainty {
            Certainty::File(by) => Some(by.words()),
            _ => None,
        },
        "assumed": judged.certainty.is_guess(),
        "possible": possible.collect::<Vec<Json>>(),
        "grounds": evidence.collect::<Vec<Json>>(),
    })
}

/// What was found about a scan.
#[must_use]
pub fn examined_json(examined: &Examined) -> Json {
    json!({
        "faults": examined.pixels.found().map(|test| test.fault.key()).collect::<Vec<_>>(),
        "tests": examined.pixels.tests.iter().map(test_json).collect::<Vec<_>>(),
        "noise_in_codes": examined.pixels.noise,
        "lowest_code": examined.pixels.codes.0,
        "highest_code": examined.pixels.codes.1,
        "settings": examined.settings.iter().map(|difference| &difference.sentence).collect::<Vec<_>>(),
        "calibration_of_other_kind": examined.other_kind,
    })
}

fn test_json(test: &Test) -> Json {
    json!({
        "fault": test.fault.key(),
        "verdict": match test.verdict {
            Verdict::Recognised => "recognised",
            Verdict::NotSeen => "not seen",
            Verdict::NotTestable => "not testable",
        },
        "measure": test.evidence,
        "limit": test.limit,
        "sentence": test.sentence,
        "spoils": test.fault.spoils(),
        "remedy": test.fault.remedy(),
    })
}

/// The falloff of light over a scan.
#[must_use]
pub fn flat_json(flat: &FlatField) -> Json {
    json!({
        "unit": DENSITY,
        "corner_before": flat.corner.0,
        "corner_after": flat.corner.1,
        "lowest": flat.range.0,
        "highest": flat.range.1,
        "u": flat.u,
        "residual_rms": flat.residual,
        "left_out_share": flat.left_out,
    })
}

/// What a known patch says of drift.
#[must_use]
pub fn drift_json(drift: &Drift) -> Json {
    let density = |measured: &Measured<Density>| measured_json(&measured.plain(), DENSITY);
    json!({
        "measured": density(&drift.measured),
        "known": density(&drift.known),
        "difference": density(&drift.difference),
        "distinguishable": drift.difference.excludes_zero(),
    })
}
