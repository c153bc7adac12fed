//! The scans that a report rests on, and what was found about each.

use std::fmt::Write;

use twinwedge_core::compare::format;

use crate::export::gather::{Gathered, ScanPart};
use crate::export::markup::escape;

/// A table of the scans, and in sentences what speaks against them.
pub(super) fn scans(out: &mut String, gathered: &Gathered) {
    if gathered.scans.is_empty() {
        return;
    }
    out.push_str(
        "<h2>Scans</h2>\n<table>\n<thead><tr><th>Scan</th><th>Pixels</th><th>Bits</th><th>dpi</th><th>Channel</th>\
         <th>Calibration</th><th>Corrected</th><th>Examined</th></tr></thead>\n<tbody>\n",
    );
    for part in &gathered.scans {
        row(out, part);
    }
    out.push_str("</tbody>\n</table>\n");
    let notes: Vec<String> = gathered.scans.iter().flat_map(sentences).collect();
    if notes.is_empty() {
        out.push_str(
            "<p class=\"small\">Each scan was looked through for tones cut off or stretched, missing codes, sharpening, removed \
             noise, JPEG blocks and enlargement, as far as its pixels tell.</p>\n",
        );
    } else {
        out.push_str("<ul class=\"problems\">\n");
        for note in notes {
            let _ = writeln!(out, "<li>{}</li>", escape(&note));
        }
        out.push_str("</ul>\n");
    }
}

fn row(out: &mut String, part: &ScanPart) {
    let (pixels, bits, dpi) = part.size.map_or_else(Default::default, |size| {
        let dpi = part.entry.dpi.or(size.dpi);
        (
            format!("{} x {}", size.width, size.height),
            size.bits.to_string(),
            dpi.map_or_else(|| "–".to_owned(), |dpi| format::number(dpi, 0)),
        )
    });
    let grey = part.size.is_some_and(|size| size.grey);
    let channel = if grey { "grey".to_owned() } else { part.entry.channel.words() };
    let calibration = part.entry.calibration.as_ref().map_or_else(|| without(part), |id| id.0.clone());
    let examined = part.examined.as_ref().map_or_else(|| "–".to_owned(), |examined| examined.line());
    let _ = writeln!(
        out,
        "<tr><td>{}</td><td>{pixels}</td><td>{bits}</td><td>{dpi}</td><td>{}</td><td>{}</td><td>{}</td><td>{}</td></tr>",
        escape(&part.name),
        escape(&channel),
        escape(&calibration),
        escape(&corrected(part)),
        escape(&examined)
    );
}

/// What the codes of a scan without a calibration were read as.
fn without(part: &ScanPart) -> String {
    part.encoding.as_ref().map_or_else(
        || "none".to_owned(),
        |judged| {
            let guess = if judged.certainty.is_guess() { ", a guess" } else { "" };
            format!("none: codes read as {}{guess}", judged.encoding.words())
        },
    )
}

/// What was taken out of the densities of a scan.
fn corrected(part: &ScanPart) -> String {
    let mut words = Vec::new();
    if let Some(flat) = &part.flat {
        words.push(format!(
            "falloff, corner {} to {}",
            format::signed(flat.corner.0, 3),
            format::signed(flat.corner.1, 3)
        ));
    }
    if part.entry.flare_corrected {
        words.push("stray light".to_owned());
    }
    if let Some(drift) = part.drift.as_ref().filter(|drift| drift.applied) {
        words.push(format!("shifted by {}", format::signed(-drift.difference.number(), 3)));
    }
    if words.is_empty() { "–".to_owned() } else { words.join("; ") }
}

fn sentences(part: &ScanPart) -> Vec<String> {
    let Some(examined) = &part.examined else { return Vec::new() };
    let found = examined
        .pixels
        .found()
        .map(|test| format!("{}: {} This spoils {}.", part.name, test.sentence, test.fault.spoils()));
    let settings =
        examined.settings.iter().map(|difference| format!("{}: {}", part.name, difference.sentence));
    found.chain(settings).collect()
}
