//! What a scan and its calibration say of themselves, and where that differs.

use serde::Serialize;

use super::{Scan, ScanMeta};
use crate::words::{self, Sentence};

/// Resolutions that differ by more than this share are two settings. Common practice, no source.
const RESOLUTION: f64 = 0.01;
/// Days after which lamp and sensor are taken to have drifted: a quarter of a year. Common practice, no source.
const DAYS: i64 = 92;

/// What is compared of a scan.
#[derive(Debug, Clone, Copy)]
pub struct Settings<'a> {
    /// What its file says.
    pub meta: &'a ScanMeta,
    /// Number of its codes.
    pub levels: usize,
    /// Number of its channels.
    pub channels: usize,
}

impl<'a> Settings<'a> {
    /// Those of a scan.
    #[must_use]
    pub fn of(scan: &'a Scan) -> Self {
        Self { meta: &scan.meta, levels: scan.levels(), channels: scan.channels }
    }
}

/// One difference between a calibration and a scan that is read through it.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Difference {
    /// In a sentence, of the scan.
    pub sentence: Sentence,
    /// Whether it puts densities in doubt, or is only worth knowing.
    pub doubt: bool,
}

/// Where the settings of a calibration and of a scan differ, as far as both files tell.
#[must_use]
pub fn differences(calibration: Settings<'_>, scan: Settings<'_>) -> Vec<Difference> {
    let mut found = Vec::new();
    let mut tell = |doubt: bool, sentence: Sentence| found.push(Difference { sentence, doubt });
    if calibration.channels != scan.channels {
        let word = |channels: usize| if channels == 1 { "grey" } else { "colour" };
        let (a, b) = (word(calibration.channels), word(scan.channels));
        tell(true, words::Settings::OtherChannel { b: b.to_owned(), a: a.to_owned() }.into());
    }
    if let (Some(a), Some(b)) = (calibration.meta.dpi, scan.meta.dpi)
        && (b.0 / a.0 - 1.0).abs() > RESOLUTION
    {
        let sentence = words::Settings::OtherResolution { scan: b.0, calibration: a.0 }.into();
        tell(false, sentence);
    }
    let encoding = |meta: &ScanMeta| meta.stated.map(|stated| stated.encoding.words());
    let encodings = (encoding(calibration.meta), encoding(scan.meta));
    let named = [
        ("colour profile", &calibration.meta.profile, &scan.meta.profile, true),
        ("stated encoding", &encodings.0, &encodings.1, true),
        ("scanning program", &calibration.meta.software, &scan.meta.software, true),
        ("scanner", &calibration.meta.device, &scan.meta.device, true),
    ];
    for (what, a, b, doubt) in named {
        let says_much = what == "colour profile" || what == "stated encoding";
        if a != b && (a.is_some() && b.is_some() || says_much) {
            let word =
                |text: &Option<String>| text.as_ref().map_or("none".to_owned(), |text| format!("'{text}'"));
            tell(doubt, words::Settings::Other { what, scan: word(b), calibration: word(a) }.into());
        }
    }
    let days = |meta: &ScanMeta| meta.taken.as_deref().and_then(day);
    if let (Some(a), Some(b)) = (days(calibration.meta), days(scan.meta))
        && (b - a).abs() > DAYS
    {
        let sentence = words::Settings::DaysApart { days: (b - a).abs() }.into();
        tell(true, sentence);
    }
    found
}

/// Days since a fixed one of a date that begins with year, month and day (H. F. Fliegel and T. C. Van Flandern, *Comm. ACM*
/// 11 (1968), 657). `None` where there is no such date.
///
/// ```
/// # use twinwedge_core::scan::day;
/// assert_eq!(day("2026:03:01 10:00:00").unwrap() - day("2026-02-28").unwrap(), 1);
/// ```
#[must_use]
pub fn day(text: &str) -> Option<i64> {
    let mut parts = text.split(|c: char| !c.is_ascii_digit()).map(str::parse::<i64>);
    let (year, month, day) = (parts.next()?.ok()?, parts.next()?.ok()?, parts.next()?.ok()?);
    if !((1900..3000).contains(&year) && (1..=12).contains(&month) && (1..=31).contains(&day)) {
        return None;
    }
    let shift = (month - 14) / 12;
    Some(
        day - 32_075 + 1461 * (year + 4800 + shift) / 4 + 367 * (month - 2 - shift * 12) / 12
            - 3 * ((year + 4900 + shift) / 100) / 4,
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    fn meta(dpi: f64, taken: &str, software: &str) -> ScanMeta {
        ScanMeta {
            dpi: Some((dpi, dpi)),
            taken: Some(taken.to_owned()),
            software: Some(software.to_owned()),
            ..ScanMeta::default()
        }
    }

    #[test]
    fn what_differs_is_told() {
        let (a, b) = (meta(1200.0, "2026:01:10 09:00:00", "x"), meta(600.0, "2026:06:10 09:00:00", "y"));
        let settings = |meta, channels| Settings { meta, levels: 65_536, channels };
        assert!(differences(settings(&a, 1), settings(&a, 1)).is_empty());
        let told = differences(settings(&a, 1), settings(&b, 3));
        let all: String = told.iter().map(|d| d.sentence.to_string()).collect();
        assert_eq!(told.len(), 4, "{all}");
        // Counted on a calendar: 21 days of January, then 28, 31, 30, 31 and 10.
        assert!(all.contains("151 days") && all.contains("600 dpi") && all.contains("colour"), "{all}");
    }
}
