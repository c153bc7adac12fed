//! The bracket of a film: its frames, what was typed of each, and the shadow patch on a scanned one.

use twinwedge_core::document::{BracketFrame, Film, FilmId};
use twinwedge_core::figures::speed::iso_rounded;
use twinwedge_core::geometry::Quad;
use twinwedge_core::problem::Problem;

use super::{OfFilm, OnFilm, lacks};

/// What can be done to a bracket.
#[derive(Debug, Clone, PartialEq)]
pub enum BracketChange {
    /// A frame of which nothing is known yet but its number.
    Add,
    /// These take the place of all that are there.
    Replace(Vec<BracketFrame>),
    /// Exposure indices of so many frames from the first on, each so many stops above the one before; frames that are not
    /// there yet are added. Nothing else of a frame changes.
    Indices {
        /// Of the first frame.
        first: f64,
        /// From frame to frame; below 0 for more light.
        stops: f64,
        /// The number of frames that are filled.
        frames: usize,
    },
    /// A frame, by its number from 0, goes.
    Remove(usize),
    /// A frame, by its number from 0.
    Frame(usize, FrameChange),
}

/// What can be done to one frame.
#[derive(Debug, Clone, PartialEq)]
pub enum FrameChange {
    /// What it is called.
    Name(String),
    /// The index that it was metered at; none is not known.
    ExposureIndex(Option<f64>),
    /// The density of its shadow; none is not known.
    ShadowDensity(Option<f64>),
    /// The shadow patch is laid on its scan.
    LayPatch(Quad),
    /// The patch is moved.
    MovePatch(Quad),
    /// The patch is found by another frame's again.
    FindPatch,
    /// Its scan is taken away, and the patch with it.
    NoScan,
}

impl BracketChange {
    /// The change of that film's bracket.
    #[must_use]
    pub fn of(self, film: &FilmId) -> OfFilm<Self> {
        OfFilm { film: film.clone(), change: self }
    }
}

impl OnFilm for BracketChange {
    fn label(&self, film: &Film) -> String {
        let of = &film.label;
        match self {
            Self::Add => format!("add a frame to {of}"),
            Self::Replace(frames) => format!("enter {} frames of {of}", frames.len()),
            Self::Indices { frames, .. } => format!("enter exposure indices of {frames} frames of {of}"),
            Self::Remove(_) => format!("remove a frame of {of}"),
            Self::Frame(number, change) => {
                let frame = film.bracket.as_ref().and_then(|bracket| bracket.frames.get(*number));
                let name = frame.map_or_else(|| (number + 1).to_string(), |frame| frame.name.clone());
                match change {
                    FrameChange::Name(_) => format!("change the name of a frame of {of}"),
                    FrameChange::ExposureIndex(_) => {
                        format!("change the exposure index of a frame of {of}")
                    }
                    FrameChange::ShadowDensity(_) => {
                        format!("change the shadow density of a frame of {of}")
                    }
                    FrameChange::LayPatch(_) => format!("lay the shadow patch on frame {name} of {of}"),
                    FrameChange::MovePatch(_) => format!("move the shadow patch of frame {name} of {of}"),
                    FrameChange::NoScan => format!("take the scan of frame {name} of {of} away"),
                    FrameChange::FindPatch => format!("find the shadow patch of frame {name} of {of}"),
                }
            }
        }
    }

    fn apply(self, film: &mut Film) -> Result<(), Problem> {
        match self {
            Self::Add => add_frame(film, None, None, None),
            Self::Replace(frames) => film.bracket.get_or_insert_default().frames = frames,
            Self::Indices { first, stops, frames } => {
                while film.bracket.get_or_insert_default().frames.len() < frames {
                    add_frame(film, None, None, None);
                }
                let there = &mut film.bracket.get_or_insert_default().frames;
                for (number, frame) in there.iter_mut().take(frames).enumerate() {
                    frame.exposure_index = Some(setting(first * (stops * number as f64).exp2()));
                }
            }
            Self::Remove(number) => {
                frame_of(film, number)?;
                film.bracket.get_or_insert_default().frames.remove(number);
            }
            Self::Frame(number, change) => {
                let no_scan = lacks(film, "That frame of it was not scanned.");
                let frame = frame_of(film, number)?;
                match change {
                    FrameChange::Name(name) => frame.name = name,
                    FrameChange::ExposureIndex(index) => frame.exposure_index = index,
                    FrameChange::ShadowDensity(density) => frame.shadow_density = density,
                    FrameChange::LayPatch(_) | FrameChange::MovePatch(_) if frame.scan.is_none() => {
                        return Err(no_scan);
                    }
                    FrameChange::LayPatch(quad) | FrameChange::MovePatch(quad) => frame.patch = Some(quad),
                    FrameChange::FindPatch => frame.patch = None,
                    FrameChange::NoScan => (frame.scan, frame.patch) = (None, None),
                }
            }
        }
        Ok(())
    }
}

/// An exposure index as a meter shows it: the standard's where it is one, else three digits of it.
fn setting(exact: f64) -> f64 {
    let standard = iso_rounded(exact).map(|(speed, _)| speed);
    standard.filter(|speed| (speed / exact).log2().abs() < 0.05).unwrap_or_else(|| {
        let unit = 10.0_f64.powf(exact.log10().floor() - 2.0);
        (exact / unit).round() * unit
    })
}

/// The frame of that number, from 0; refused where there is none.
pub(super) fn frame_of(film: &mut Film, number: usize) -> Result<&mut BracketFrame, Problem> {
    let none = lacks(film, format!("Its bracket has no frame number {}.", number + 1));
    film.bracket.as_mut().and_then(|bracket| bracket.frames.get_mut(number)).ok_or(none)
}

/// Puts a frame behind the others, called by its number.
pub(super) fn add_frame(
    film: &mut Film,
    exposure_index: Option<f64>,
    scan: Option<twinwedge_core::document::ScanId>,
    patch: Option<Quad>,
) {
    let frames = &mut film.bracket.get_or_insert_default().frames;
    let name = (frames.len() + 1).to_string();
    frames.push(BracketFrame { name, exposure_index, shadow_density: None, scan, patch });
}

#[cfg(test)]
mod tests {
    use twinwedge_core::document::{ScanEntry, ScanKind, Series};
    use twinwedge_core::geometry::{Point, Rect};

    use super::super::tests::{cause, done, two_films};
    use super::*;

    fn of(change: BracketChange) -> OfFilm<BracketChange> {
        change.of(&"Plover 640".into())
    }

    fn frames(series: &Series) -> &[BracketFrame] {
        series.films[1].bracket.as_ref().map_or(&[], |bracket| &bracket.frames)
    }

    fn quad() -> Quad {
        Quad::upright(Rect { min: Point::new(1.0, 2.0), max: Point::new(30.0, 20.0) })
    }

    #[test]
    fn an_added_frame_holds_nothing_that_nobody_entered() {
        let (one, label) = done(&two_films(), of(BracketChange::Add)).unwrap();
        let (two, _) = done(&one, of(BracketChange::Add)).unwrap();
        assert_eq!(label, "add a frame to Plover 640");
        for (frame, name) in frames(&two).iter().zip(["1", "2"]) {
            assert_eq!(frame.name, name);
            assert_eq!((frame.exposure_index, frame.shadow_density), (None, None));
        }
        let (left, _) = done(&two, of(BracketChange::Remove(0))).unwrap();
        assert_eq!((frames(&left).len(), frames(&left)[0].name.as_str()), (1, "2"));
        assert!(cause(&left, of(BracketChange::Remove(1))).contains("no frame number 2"));
    }

    #[test]
    fn frames_are_replaced_and_their_fields_filled_and_emptied() {
        let typed = vec![BracketFrame::typed("12A", 640.0, 0.31), BracketFrame::typed("13", 800.0, 0.27)];
        let (series, label) = done(&two_films(), of(BracketChange::Replace(typed.clone()))).unwrap();
        assert_eq!((frames(&series), label.as_str()), (&*typed, "enter 2 frames of Plover 640"));
        let change = |change| of(BracketChange::Frame(1, change));
        let (after, _) = done(&series, change(FrameChange::Name("14".to_owned()))).unwrap();
        assert_eq!(frames(&after)[1].name, "14");
        let (after, _) = done(&series, change(FrameChange::ExposureIndex(None))).unwrap();
        assert_eq!((frames(&after)[1].exposure_index, &frames(&after)[0]), (None, &typed[0]));
        let (after, _) = done(&series, change(FrameChange::ShadowDensity(Some(0.4)))).unwrap();
        assert_eq!(frames(&after)[1].shadow_density, Some(0.4));
        assert!(cause(&series, change(FrameChange::ExposureIndex(Some(0.0)))).contains("out of range"));
        assert!(cause(&series, change(FrameChange::ShadowDensity(Some(7.0)))).contains("out of range"));
        assert!(cause(&series, change(FrameChange::LayPatch(quad()))).contains("not scanned"));
        let absent = BracketChange::Frame(2, FrameChange::FindPatch);
        assert!(cause(&series, of(absent)).contains("no frame number 3"));
    }

    #[test]
    fn a_patch_is_laid_moved_and_found_again() {
        let mut series = two_films();
        series.scans.insert("frame".into(), ScanEntry::new("frame.tif".to_owned(), None, ScanKind::Film));
        add_frame(&mut series.films[1], Some(640.0), Some("frame".into()), None);
        let change = |change| of(BracketChange::Frame(0, change));
        let (laid, label) = done(&series, change(FrameChange::LayPatch(quad()))).unwrap();
        assert_eq!(
            (frames(&laid)[0].patch, label.as_str()),
            (Some(quad()), "lay the shadow patch on frame 1 of Plover 640")
        );
        let (back, label) = done(&laid, change(FrameChange::FindPatch)).unwrap();
        assert_eq!((back, label.as_str()), (series, "find the shadow patch of frame 1 of Plover 640"));
        assert_eq!(done(&laid, change(FrameChange::MovePatch(quad()))).unwrap().0, laid);
    }

    /// Settings of meters in thirds of a stop (ISO 2720:1974, 3.3).
    #[test]
    fn indices_of_a_bracket_are_filled_in_at_once_and_densities_stay() {
        let typed = BracketFrame { shadow_density: Some(0.31), ..BracketFrame::typed("12A", 1.0, 0.31) };
        let (series, _) = done(&two_films(), of(BracketChange::Replace(vec![typed]))).unwrap();
        let fill = BracketChange::Indices { first: 80.0, stops: 1.0 / 3.0, frames: 5 };
        let (after, label) = done(&series, of(fill)).unwrap();
        assert_eq!(label, "enter exposure indices of 5 frames of Plover 640");
        let indices: Vec<_> = frames(&after).iter().filter_map(|frame| frame.exposure_index).collect();
        assert_eq!(indices, [80.0, 100.0, 125.0, 160.0, 200.0]);
        assert_eq!((frames(&after)[0].name.as_str(), frames(&after)[0].shadow_density), ("12A", Some(0.31)));
        assert!(frames(&after)[1..].iter().all(|frame| frame.shadow_density.is_none()));
        assert!(
            !cause(&series, of(BracketChange::Indices { first: -1.0, stops: 1.0, frames: 1 })).is_empty()
        );
    }
}
