//! Name and tone curve of an embedded colour profile.

use moxcms::{ColorProfile, DataColorSpace, ParsingOptions, ProfileText, ToneReprCurve};
use twinwedge_core::document::Encoding;
use twinwedge_core::scan::{ScanMeta, StatedBy, Statement};

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
    let curve = curve(&profile, channels).and_then(|curve| sampled(curve, levels, meta.square_root));
    if curve.is_none() {
        meta.notes.push(format!(
            "The embedded profile '{name}' has no tone curve of its own and does not say what the codes stand for."
        ));
    }
    let same = profile.red_trc == profile.green_trc && profile.blue_trc == profile.green_trc;
    if channels == 3 && curve.is_some() && !same {
        meta.notes.push(format!("The tone curves of '{name}' differ by channel; that of green is used."));
    }
    if curve.is_some() {
        meta.stated = None;
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

/// Linear light of every code, which is that of the square root of a sample where these are floating point numbers. Evaluated
/// in floating point: transforms built for pictures round too coarsely to measure by.
fn sampled(curve: &ToneReprCurve, levels: usize, square_root: bool) -> Option<Vec<f32>> {
    let evaluator = curve.make_linear_evaluator().ok()?;
    let top = (levels - 1) as f32;
    let value = |code: usize| {
        let v = code as f32 / top;
        if square_root { v * v } else { v }
    };
    let values: Vec<f32> =
        (0..levels).map(|code| evaluator.evaluate_value(value(code)).clamp(0.0, 1.0)).collect();
    let (first, last) = (*values.first()?, *values.last()?);
    (values.iter().all(|v| v.is_finite()) && first < last).then_some(values)
}

/// What a transfer function says: light of 0 to 65535 for each code of the file (TIFF 6.0, section 20). One table for all
/// channels, or one for each, of which that of green is used. A table of another length, or one that turns back, says nothing.
pub(super) fn note_transfer(meta: &mut ScanMeta, table: &[u64], channels: usize, levels: usize) {
    let whole = table.len() == levels || table.len() == 3 * levels;
    let from = if channels == 3 && table.len() == 3 * levels { levels } else { 0 };
    let curve: Vec<f32> =
        table.iter().skip(from).take(levels).map(|light| *light as f32 / 65_535.0).collect();
    let rises = curve.first() < curve.last() && curve.windows(2).all(|pair| pair[0] <= pair[1]);
    if !whole || !rises {
        meta.notes.push("The transfer function in the file cannot be read and is ignored.".to_owned());
        return;
    }
    meta.profile_curve = Some(curve);
    meta.stated = Some(Statement { encoding: Encoding::Profile, by: StatedBy::TransferFunction });
}

/// What the number of an Exif colour space says (CIPA DC-008, 4.6.6): 1 is sRGB; 65535 says that it is none of those that have
/// a number.
pub(super) fn note_colour_space(meta: &mut ScanMeta, number: u64) {
    if number == 1 && meta.stated.is_none() && meta.profile_curve.is_none() {
        meta.stated = Some(Statement { encoding: Encoding::Srgb, by: StatedBy::ExifColourSpace });
    }
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
    if let Some(number) =
        read.get_field(exif::Tag::ColorSpace, exif::In::PRIMARY).and_then(|field| field.value.get_uint(0))
    {
        note_colour_space(meta, u64::from(number));
    }
    meta.taken = text(exif::Tag::DateTimeDigitized).or_else(|| text(exif::Tag::DateTime));
    meta.software = text(exif::Tag::Software);
    meta.device = device(text(exif::Tag::Make), text(exif::Tag::Model));
}
