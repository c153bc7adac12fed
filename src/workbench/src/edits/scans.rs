//! How a scan is read: its calibration, channel and resolution, what its light is corrected by, the known patch in it; and
//! where its file is.

use std::collections::BTreeMap;

use twinwedge_core::document::{
    CalibrationId, Channel, Encoding, FileDigest, FlatSource, KnownPatch, ScanEntry, ScanId, ScanKind, Series,
};
use twinwedge_core::geometry::Rect;
use twinwedge_core::problem::{Problem, Subject};

use super::{Change, gone};

/// Standard uncertainty of the known patch of a scan until another is typed. Common practice, no source.
const KNOWN_U: f64 = 0.01;

/// A change of scans.
#[derive(Debug, Clone, PartialEq)]
pub enum ScanEdit {
    /// How one of them is read.
    Read(ScanId, ScanChange),
    /// A missing scan was found again, and with it others that moved alike.
    FoundAgain {
        /// The one that was looked for.
        scan: ScanId,
        /// Paths relative to the series, and what the files hold.
        files: BTreeMap<ScanId, (String, FileDigest)>,
    },
}

/// What can be chosen about a scan.
#[derive(Debug, Clone, PartialEq)]
pub enum ScanChange {
    /// What turns its codes into densities; none is its profile or the sRGB curve.
    Calibration(Option<CalibrationId>),
    /// What its codes stand for where no calibration tells; none leaves it to the file, or a guess.
    Encoding(Option<Encoding>),
    /// Which channel is measured.
    Channel(Channel),
    /// Where the falloff of its light is taken from.
    Falloff(FlatSource),
    /// Whether stray light is taken out.
    StrayLight(bool),
    /// Dots per inch, where the file does not say.
    Resolution(Option<f64>),
    /// Seen through or seen by reflection.
    Kind(ScanKind),
    /// The place of known density in it.
    Known(KnownChange),
}

/// What can be said of the known patch of a scan.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum KnownChange {
    /// There is one here.
    Name(Rect),
    /// The density that the known patch has.
    Density(f64),
    /// Standard uncertainty of that.
    Uncertainty(f64),
    /// Where it is.
    Place(Rect),
    /// Whether all densities of the scan are shifted by what it is off.
    Shift(bool),
    /// It is no longer looked at.
    Forget,
}

impl ScanChange {
    /// The change of that scan.
    #[must_use]
    pub fn of(self, scan: &ScanId) -> ScanEdit {
        ScanEdit::Read(scan.clone(), self)
    }

    fn words(&self, now: Option<&ScanEntry>) -> &'static str {
        let now_mixed = now.is_some_and(|entry| matches!(entry.channel, Channel::Mix { .. }));
        let now_border = now.is_some_and(|entry| matches!(entry.flat, FlatSource::Border(_)));
        match self {
            Self::Calibration(_) => "choose the calibration of",
            Self::Encoding(_) => "say the codes of",
            Self::Channel(Channel::Mix { .. }) if now_mixed => "weigh the channels of",
            Self::Channel(_) => "choose the channel of",
            Self::Falloff(FlatSource::Border(_)) if now_border => "set the border of",
            Self::Falloff(_) => "choose the falloff of",
            Self::StrayLight(_) => "set the stray light of",
            Self::Resolution(_) => "set the resolution of",
            Self::Kind(_) => "say what is shown by",
            Self::Known(KnownChange::Name(_)) => "name the known patch of",
            Self::Known(KnownChange::Shift(_)) => "shift by the known patch of",
            Self::Known(KnownChange::Forget) => "forget the known patch of",
            Self::Known(_) => "set the known patch of",
        }
    }
}

impl Change for ScanEdit {
    fn label(&self, series: &Series) -> String {
        match self {
            Self::Read(scan, ScanChange::Encoding(_)) => {
                format!("say what the codes of {} stand for", scan.0)
            }
            Self::Read(scan, change) => format!("{} {}", change.words(series.scans.get(scan)), scan.0),
            Self::FoundAgain { scan, .. } => format!("find {} again", scan.0),
        }
    }

    fn apply(self, series: &mut Series) -> Result<(), Problem> {
        match self {
            Self::Read(scan, change) => read(entry_of(series, &scan)?, &scan, change),
            Self::FoundAgain { files, .. } => {
                for (scan, (path, digest)) in files {
                    let entry = entry_of(series, &scan)?;
                    (entry.path, entry.digest) = (path, Some(digest));
                }
                Ok(())
            }
        }
    }
}

pub(super) fn entry_of<'a>(series: &'a mut Series, scan: &ScanId) -> Result<&'a mut ScanEntry, Problem> {
    let absent = || gone(Subject::Scan(scan.clone()), "It is no longer in the series.");
    series.scans.get_mut(scan).ok_or_else(absent)
}

fn read(entry: &mut ScanEntry, scan: &ScanId, change: ScanChange) -> Result<(), Problem> {
    match change {
        ScanChange::Calibration(calibration) => entry.calibration = calibration,
        ScanChange::Encoding(encoding) => entry.encoding = encoding,
        ScanChange::Channel(channel) => entry.channel = channel,
        ScanChange::Falloff(flat) => entry.flat = flat,
        ScanChange::StrayLight(corrected) => entry.flare_corrected = corrected,
        ScanChange::Resolution(dpi) => entry.dpi = dpi,
        ScanChange::Kind(kind) => entry.kind = kind,
        ScanChange::Known(KnownChange::Name(area)) => {
            entry.known = Some(KnownPatch { area, density: 0.0, u: KNOWN_U, applied: false });
        }
        ScanChange::Known(KnownChange::Forget) => entry.known = None,
        ScanChange::Known(change) => {
            let none = || gone(Subject::Scan(scan.clone()), "No known patch is named in it.");
            let patch = entry.known.as_mut().ok_or_else(none)?;
            match change {
                KnownChange::Density(density) => patch.density = density,
                KnownChange::Uncertainty(u) => patch.u = u,
                KnownChange::Place(area) => patch.area = area,
                KnownChange::Shift(applied) => patch.applied = applied,
                KnownChange::Name(_) | KnownChange::Forget => {}
            }
        }
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use twinwedge_core::geometry::Point;

    use super::super::tests::{cause, done, two_films};
    use super::*;

    fn series() -> Series {
        let mut series = two_films();
        for scan in ["a", "b"] {
            let entry = ScanEntry::new(format!("{scan}.tif"), None, ScanKind::Film);
            series.scans.insert(scan.into(), entry);
        }
        series
    }

    fn entry(series: &Series) -> &ScanEntry {
        &series.scans[&ScanId::from("a")]
    }

    fn of(change: ScanChange) -> ScanEdit {
        change.of(&"a".into())
    }

    #[test]
    fn how_a_scan_is_read_is_chosen_field_by_field() {
        let series = series();
        let (after, label) = done(&series, of(ScanChange::Channel(Channel::LUMINANCE))).unwrap();
        assert_eq!((entry(&after).channel, label.as_str()), (Channel::LUMINANCE, "choose the channel of a"));
        let mix = Channel::Mix { red: 1, green: 2, blue: 1 };
        assert_eq!(done(&after, of(ScanChange::Channel(mix))).unwrap().1, "weigh the channels of a");
        let (after, label) = done(&series, of(ScanChange::Falloff(FlatSource::Border(20.0)))).unwrap();
        assert_eq!(
            (&entry(&after).flat, label.as_str()),
            (&FlatSource::Border(20.0), "choose the falloff of a")
        );
        let (_, label) = done(&after, of(ScanChange::Falloff(FlatSource::Border(24.0)))).unwrap();
        assert_eq!(label, "set the border of a");
        assert!(entry(&done(&series, of(ScanChange::StrayLight(true))).unwrap().0).flare_corrected);
        let (after, _) = done(&series, of(ScanChange::Resolution(Some(2400.0)))).unwrap();
        assert_eq!(entry(&after).dpi, Some(2400.0));
        let (after, _) = done(&series, of(ScanChange::Kind(ScanKind::Print))).unwrap();
        assert_eq!(entry(&after).kind, ScanKind::Print);
        assert!(cause(&series, of(ScanChange::Resolution(Some(0.0)))).contains("out of range"));
        assert!(cause(&series, of(ScanChange::Calibration(Some("c".into())))).contains("no calibration"));
        assert!(cause(&series, of(ScanChange::Falloff(FlatSource::Blank("c".into())))).contains("no scan"));
        assert!(cause(&series, ScanChange::StrayLight(true).of(&"c".into())).contains("no longer"));
    }

    #[test]
    fn a_known_patch_is_named_changed_and_forgotten() {
        let known = |change| of(ScanChange::Known(change));
        let area = |left: f64| Rect::between(Point::new(left, 0.0), Point::new(left + 10.0, 10.0));
        let series = series();
        assert!(cause(&series, known(KnownChange::Density(0.7))).contains("No known patch"));
        let (mut now, label) = done(&series, known(KnownChange::Name(area(0.0)))).unwrap();
        assert_eq!(label, "name the known patch of a");
        for change in [
            KnownChange::Density(0.7),
            KnownChange::Uncertainty(0.02),
            KnownChange::Place(area(5.0)),
            KnownChange::Shift(true),
        ] {
            now = done(&now, known(change)).unwrap().0;
        }
        let patch = KnownPatch { area: area(5.0), density: 0.7, u: 0.02, applied: true };
        assert_eq!(entry(&now).known, Some(patch));
        assert!(cause(&now, known(KnownChange::Uncertainty(-1.0))).contains("out of range"));
        assert_eq!(done(&now, known(KnownChange::Forget)).unwrap().0, series);
    }

    #[test]
    fn scans_that_are_found_again_are_found_together() {
        let digest = || FileDigest { bytes: 3, blake3: "00".repeat(32) };
        let files = |names: &[&str]| {
            let file = |name: &&str| (ScanId::from(*name), (format!("new/{name}.tif"), digest()));
            names.iter().map(file).collect()
        };
        let edit = |names: &[&str]| ScanEdit::FoundAgain { scan: "a".into(), files: files(names) };
        let (after, label) = done(&series(), edit(&["a", "b"])).unwrap();
        assert_eq!(label, "find a again");
        for (scan, entry) in &after.scans {
            assert_eq!((&entry.path, &entry.digest), (&format!("new/{}.tif", scan.0), &Some(digest())));
        }
        assert!(cause(&series(), edit(&["a", "c"])).contains("no longer"));
    }
}
