//! Patches as greys: halves touching, and beside them the difference with its interval on one axis for all.

use std::fmt::Write;

use twinwedge_core::compare::format;
use twinwedge_core::drawing::{GreyRow, GreysPicture};
use twinwedge_core::greys::rendering::Rendered;

use super::{FONTS, INK, PALE, TEXT, labels, mm};
use crate::export::markup::escape_plain;

/// Height of a row, millimetres.
const ROW: f64 = 6.4;
/// Room for names, and for one half of a patch.
const NAME: f64 = 32.0;
const HALF: f64 = 14.0;
/// Room for words at the right.
const WORDS: f64 = 40.0;
const TOP: f64 = 8.0;
/// Letters of a name that have room.
const LETTERS: usize = 21;

/// The picture of two films' greys, `width_mm` wide, as part of an HTML page.
pub(in crate::export) fn greys(picture: &GreysPicture, labels: [&str; 2], width_mm: f64) -> String {
    let height = TOP + ROW * picture.rows.len() as f64 + 9.0;
    let (left, right) = (NAME + 2.0 * HALF + 6.0, width_mm - WORDS);
    let at = |stops: f64| {
        let share = (stops.clamp(-picture.reach, picture.reach) / picture.reach + 1.0) / 2.0;
        left + share * (right - left)
    };
    let bottom = TOP + ROW * picture.rows.len() as f64;
    let mut out = String::new();
    // Writing to a String cannot fail.
    let _ = write!(
        out,
        r#"<svg width="{w}mm" height="{h}mm" viewBox="0 0 {w} {h}" role="img" aria-label="{title}" font-family="{FONTS}" font-size="{TEXT}" fill="{INK}"><title>{title}</title>"#,
        w = mm(width_mm),
        h = mm(height),
        title = escape_plain(&format!("Patches as greys: {} against {}", labels[1], labels[0])),
    );
    // Patches are seen against mid grey, as prints are.
    let _ = write!(
        out,
        r##"<rect x="{}" y="{}" width="{}" height="{}" fill="#777777"/>"##,
        mm(NAME),
        mm(TOP),
        mm(2.0 * HALF),
        mm(bottom - TOP)
    );
    for (film, anchor) in [(0, "end"), (1, "start")] {
        let x = NAME + HALF + if film == 0 { -0.8 } else { 0.8 };
        let _ = write!(
            out,
            r#"<text x="{}" y="{}" text-anchor="{anchor}">{}</text>"#,
            mm(x),
            mm(TOP - 2.0),
            escape_plain(&labels::clipped(labels[film], 10))
        );
    }
    axis(&mut out, picture.reach, bottom, &at);
    for (number, row) in picture.rows.iter().enumerate() {
        one(&mut out, row, TOP + ROW * number as f64, right, &at);
    }
    out.push_str("</svg>");
    out
}

fn axis(out: &mut String, reach: f64, bottom: f64, at: &dyn Fn(f64) -> f64) {
    let step = if reach > 4.0 {
        2.0
    } else if reach > 1.5 {
        1.0
    } else {
        0.5
    };
    let count = (reach / step + 1e-6).floor() as i32;
    for i in -count..=count {
        let stops = step * f64::from(i);
        let (tone, width) = if i == 0 { ("#6f6f6f", 0.3) } else { ("#c4c4c4", 0.16) };
        let _ = write!(
            out,
            r##"<path d="M{x} {}V{}" stroke="{tone}" stroke-width="{width}"/><text x="{x}" y="{}" text-anchor="middle" fill="#4a4a4a">{}</text>"##,
            mm(TOP),
            mm(bottom),
            mm(bottom + 3.4),
            format::signed(stops, 1),
            x = mm(at(stops)),
        );
    }
    let _ = write!(
        out,
        r#"<text x="{}" y="{y}" text-anchor="end">darker on the candidate</text><text x="{}" y="{y}">lighter, stops</text>"#,
        mm(at(0.0) - 1.2),
        mm(at(0.0) + 1.2),
        y = mm(bottom + 7.2),
    );
}

fn one(out: &mut String, row: &GreyRow, top: f64, right: f64, at: &dyn Fn(f64) -> f64) {
    let middle = top + ROW / 2.0;
    let base = mm(middle + TEXT * 0.36);
    let told = matches!(row.rendered, Rendered::Lighter | Rendered::Darker);
    let tone = if told { INK } else { "#6a6a6a" };
    let _ = write!(
        out,
        r#"<text x="{}" y="{base}" text-anchor="end">{}</text>"#,
        mm(NAME - 1.6),
        escape_plain(&labels::clipped(&row.name, LETTERS))
    );
    for (film, code) in row.tones.iter().enumerate() {
        if let Some(code) = code {
            let _ = write!(
                out,
                r#"<rect x="{}" y="{}" width="{}" height="{}" fill="rgb({code},{code},{code})"/>"#,
                mm(NAME + HALF * film as f64 + if film == 0 { 0.7 } else { 0.0 }),
                mm(top + 0.35),
                mm(HALF - 0.7),
                mm(ROW - 0.7)
            );
        }
    }
    let mut text = row.words.clone();
    if let Some(difference) = &row.difference {
        let (x, low, high) = (at(difference.number()), at(difference.low), at(difference.high));
        let _ = write!(
            out,
            r#"<path d="M{l} {y}H{h}M{l} {a}V{b}M{h} {a}V{b}" stroke="{tone}" stroke-width="0.3" fill="none"/>"#,
            l = mm(low),
            h = mm(high),
            y = mm(middle),
            a = mm(middle - 0.8),
            b = mm(middle + 0.8),
        );
        let fill = if told { INK } else { "#ffffff" };
        let _ = write!(
            out,
            r#"<circle cx="{}" cy="{}" r="1" fill="{fill}" stroke="{tone}" stroke-width="0.3"/>"#,
            mm(x),
            mm(middle)
        );
        if told {
            text = format!("{} {}", format::signed(difference.number(), 2), row.words);
        }
    }
    let grey = if told { INK } else { PALE };
    let grey = if row.difference.is_some() && !told { "#6a6a6a" } else { grey };
    let _ = write!(
        out,
        r#"<text x="{}" y="{base}" fill="{grey}">{}</text>"#,
        mm(right + 2.0),
        escape_plain(&labels::clipped(&text, 27))
    );
}
