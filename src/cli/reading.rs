//! How scans are read: the options that all verbs on scans share.

use std::path::{Path, PathBuf};

use clap::{Args, ValueEnum};
use twinwedge_workbench::core::document::{Aperture, ScanKind, ranges};
use twinwedge_workbench::core::problem::Problem;
use twinwedge_workbench::core::shown::Quoted;
use twinwedge_workbench::core::words::Sentence;

use super::bench::usage;
use super::encoding::EncodingArguments;
use super::within;

/// How the scans of a verb are read.
#[derive(Debug, Clone, Default, Args)]
pub(super) struct ScanReading {
    /// Resolution of the scans in dots per inch, in place of what the files say.
    #[arg(long, value_parser = within(&ranges::DPI))]
    pub(super) dpi: Option<f64>,
    /// A calibration file that 'twinwedge calibrate' made; without it densities are those of --encoding, and are marked
    /// uncalibrated.
    #[arg(long)]
    pub(super) calibration: Option<PathBuf>,
    #[command(flatten)]
    pub(super) encoding: EncodingArguments,
}

/// What scans show.
#[derive(Debug, Clone, Copy, Default, ValueEnum)]
pub(super) enum Seen {
    /// Film, by transmitted light.
    #[default]
    Film,
    /// A print, by reflected light.
    Print,
}

impl From<Seen> for ScanKind {
    fn from(seen: Seen) -> Self {
        match seen {
            Seen::Film => Self::Film,
            Seen::Print => Self::Print,
        }
    }
}

/// Whether a file is a scan, by its ending; it is a table otherwise.
pub(super) fn is_scan(path: &Path) -> bool {
    let ending = path.extension().unwrap_or_default().to_string_lossy().to_lowercase();
    matches!(ending.as_str(), "tif" | "tiff" | "btf" | "png" | "jpg" | "jpeg")
}

const SYNTAX: &str = "Write its size in micrometres or with its unit, after 'circle' or 'square': 48, 'circle 48um', 'square 2mm'.";

/// An aperture: 'SIZE', 'circle SIZE' or 'square SIZE'; sizes in micrometres, or with 'um' or 'mm' after them.
pub(super) fn aperture(text: &str) -> Result<Aperture, Problem> {
    let wrong = |cause: Sentence| usage("--aperture", cause, SYNTAX);
    let words: Vec<&str> = text.split_whitespace().collect();
    let (shape, size) = match words.split_first() {
        Some((first @ (&"circle" | &"square"), rest)) => (*first, rest.concat()),
        Some((first, rest)) if first.starts_with(|c: char| c.is_ascii_digit() || c == '.') => {
            ("circle", [&[*first], rest].concat().concat())
        }
        _ => return Err(wrong(format!("'{}' is no aperture.", Quoted(text)).into())),
    };
    let (number, per_mm) = match size.strip_suffix("mm") {
        Some(number) => (number, 1.0),
        None => (size.strip_suffix("um").or_else(|| size.strip_suffix("µm")).unwrap_or(&size), 1000.0),
    };
    let number: f64 = number
        .trim()
        .parse()
        .map_err(|_| wrong(format!("'{}' has no size that could be read.", Quoted(text)).into()))?;
    let mm = number / per_mm;
    ranges::APERTURE_MM.check(mm).map_err(wrong)?;
    Ok(if shape == "square" { Aperture::Square(mm) } else { Aperture::Circle(mm) })
}

/// The same where a circle alone serves: its diameter in micrometres.
pub(super) fn circle_um(text: &str) -> Result<f64, Problem> {
    match aperture(text)? {
        Aperture::Circle(mm) => {
            let wrong = |cause: Sentence| usage("--aperture", cause, SYNTAX);
            ranges::APERTURE_UM.check((1000.0 * mm * 1e6).round() / 1e6).map_err(wrong)
        }
        Aperture::Square(_) | Aperture::Share => {
            let cause = "Granularity is measured through a circle.".to_owned();
            Err(usage("--aperture", cause, "Write 'circle SIZE', or its size alone."))
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_aperture_is_written_in_one_way_whatever_it_is_for() {
        for (text, aperture_mm) in [
            ("48", Aperture::Circle(0.048)),
            ("48um", Aperture::Circle(0.048)),
            ("circle 48 µm", Aperture::Circle(0.048)),
            ("circle 2mm", Aperture::Circle(2.0)),
            ("square 2 mm", Aperture::Square(2.0)),
            ("2000", Aperture::Circle(2.0)),
        ] {
            assert_eq!(aperture(text).expect("an aperture"), aperture_mm, "{text}");
        }
        assert!((circle_um("0.048mm").expect("a circle") - 48.0).abs() < 1e-9);
        for wrong in ["", "triangle 2", "circle", "circle big", "square 2m m m", "-3", "1e9mm"] {
            let problem = aperture(wrong).expect_err(wrong);
            assert!(problem.to_string().contains("--aperture"), "{problem}");
        }
        assert!(circle_um("square 48").is_err());
    }
}
