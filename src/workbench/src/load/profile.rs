//! Name and tone curve of an embedded colour profile.

use moxcms::{ColorProfile, DataColorSpace, ParsingOptions, ProfileText, ToneReprCurve};
use twinwedge_core::scan::ScanMeta;

use super::budget::ASIDE;

/// What is taken from a profile at most: its tone curves are lists of a few thousand numbers, its tables are not used.
const LIMITS: ParsingOptions = ParsingOptions {
    max_profile_size: ASIDE as usize,
    max_allowed_clut_size: ASIDE as usize,
    max_allowed_trc_size: 1 << 16,
};

/// Said of a profile that cannot be read.
pub(super) const UNREADABLE: &str = "The embedded colour profile cannot be read and is ignored.";

/// Most bytes of Exif that are looked into: what is asked for stands at its beginning.
const EXIF: usize = 1 << 20;

/// Notes what the profile says; a profile that cannot be read is noted and otherwise ignored.
pub(super) fn note(meta: &mut ScanMeta, icc: &[u8], channels: usize, levels: usize) {
    let Ok(profile) = ColorProfile::new_from_slice_with_options(icc, LIMITS) else {
        meta.notes.push(UNREADABLE.to_owned());
        return;
    };
    let name = profile.description.as_ref().and_then(text).unwrap_or_else(|| "unnamed profile".to_owned());
    let curve = curve(&profile, channels).and_then(|curve| sampled(curve, levels));
    if curve.is_none() {
        meta.notes.push(format!(
            "The embedded profile '{name}' has no tone curve of its own; the sRGB curve stands in for it."
        ));
    }
    let same = profile.red_trc == profile.green_trc && profile.blue_trc == profile.green_trc;
    if channels == 3 && curve.is_some() && !same {
        meta.notes.push(format!("The tone curves of '{name}' differ by channel; that of green is used."));
    }
    meta.profile = Some(name);
    meta.profile_curve = curve;
}

/// The curve of the grey or green channel. A grey profile whose curve leads to lightness instead of light has none that
/// can be used.
fn curve(profile: &ColorProfile, channels: usize) -> Option<&ToneReprCurve> {
    let grey = profile.gray_trc.as_ref().filter(|_| profile.pcs == DataColorSpace::Xyz);
    if channels == 1 { grey.or(profile.green_trc.as_ref()) } else { profile.green_trc.as_ref() }
}

/// Linear light of every code. Evaluated in floating point: transforms built for pictures round too coarsely to measure by.
fn sampled(curve: &ToneReprCurve, levels: usize) -> Option<Vec<f32>> {
    let evaluator = curve.make_linear_evaluator().ok()?;
    let top = (levels - 1) as f32;
    let values: Vec<f32> =
        (0..levels).map(|code| evaluator.evaluate_value(code as f32 / top).clamp(0.0, 1.0)).collect();
    let (first, last) = (*values.first()?, *values.last()?);
    (values.iter().all(|v| v.is_finite()) && first < last).then_some(values)
}

/// Power-law light of every code, as a PNG file may state without a profile.
pub(super) fn power(levels: usize, exponent: f64) -> Vec<f32> {
    let top = (levels - 1) as f64;
    (0..levels).map(|code| (code as f64 / top).powf(exponent) as f32).collect()
}

fn text(text: &ProfileText) -> Option<String> {
    let found = match text {
        ProfileText::PlainString(text) => text,
        ProfileText::Localizable(all) => {
            &all.iter().find(|one| one.language == "en").or_else(|| all.first())?.value
        }
        ProfileText::Description(text) if text.ascii_string.is_empty() => &text.unicode_string,
        ProfileText::Description(text) => &text.ascii_string,
    };
    plain_text(found)
}

/// A text of a file's header as it can be shown: without the zeros and blanks around it; `None` where nothing is left.
pub(super) fn plain_text(text: &str) -> Option<String> {
    let shown: String = text.chars().filter(|c| !c.is_control()).take(200).collect();
    let shown = shown.trim();
    (!shown.is_empty()).then(|| shown.to_owned())
}

/// Maker and model as one name.
pub(super) fn device(maker: Option<String>, model: Option<String>) -> Option<String> {
    match (maker, model) {
        (Some(maker), Some(model)) if !model.starts_with(&maker) => Some(format!("{maker} {model}")),
        (maker, model) => model.or(maker),
    }
}

/// What Exif says of when, by what and with what a picture was made.
pub(super) fn note_exif(meta: &mut ScanMeta, bytes: &[u8]) {
    let bytes = &bytes[..bytes.len().min(EXIF)];
    let Ok(read) = exif::Reader::new().read_raw(bytes.to_vec()) else { return };
    let text = |tag| {
        let field = read.get_field(tag, exif::In::PRIMARY)?;
        let exif::Value::Ascii(list) = &field.value else { return None };
        plain_text(&String::from_utf8_lossy(list.first()?))
    };
    meta.taken = text(exif::Tag::DateTimeDigitized).or_else(|| text(exif::Tag::DateTime));
    meta.software = text(exif::Tag::Software);
    meta.device = device(text(exif::Tag::Make), text(exif::Tag::Model));
}
