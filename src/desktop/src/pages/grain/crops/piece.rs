//! What a film has to show: its negative around the uniform area, or its print.

use twinwedge_workbench::core::document::{Film, ScanId, ScanKind};
use twinwedge_workbench::core::figures::FigureId;
use twinwedge_workbench::core::geometry::Point;
use twinwedge_workbench::core::measured::Measured;
use twinwedge_workbench::core::units::Micrometres;
use twinwedge_workbench::engine::Slot;
use twinwedge_workbench::engine::ask::{FiguresOf, GrainOf, RegistrationOf, ScanOf, TilePicture};

use super::Source;
use crate::canvas;
use crate::pages::{Selected, View, sampling};

/// Radius in pixels of the disc whose density is the mean of a crop of a print.
const MEAN_RADIUS: f64 = 40.0;

/// A picture with its physical scale.
#[derive(Debug, Clone)]
pub(super) struct Piece<'a> {
    pub(super) film: &'a Film,
    pub(super) tiles: TilePicture,
    /// Of the picture, in pixels.
    pub(super) size: (usize, usize),
    /// The pixel that the crop is about.
    pub(super) centre: Point,
    /// Micrometres from pixel to pixel: on the film, or on the paper where the enlargement is not known.
    pub(super) pitch: f64,
    /// Mean density about the centre, where it is known yet.
    pub(super) mean: Option<f64>,
}

impl<'a> Piece<'a> {
    /// What a film has to show.
    ///
    /// # Errors
    /// What is missing, in words.
    pub(super) fn of(source: Source, film: &'a Film, view: &View<'_>) -> Result<Self, String> {
        match source {
            Source::Negatives => Self::of_negative(film, view),
            Source::Prints => Self::of_print(film, view),
        }
    }

    fn of_negative(film: &'a Film, view: &View<'_>) -> Result<Self, String> {
        let grain = film.uniform_areas.first().ok_or("No scan of a uniform area of this film was opened.")?;
        let size = canvas::size_of(view.session, &grain.scan)?;
        let dpi = dpi(view, &grain.scan)
            .ok_or("The scan does not tell its resolution: type it above, in dots per inch.")?;
        let print = view.series.scans.get(&grain.scan).is_some_and(|entry| entry.kind == ScanKind::Print);
        let enlargement = if print { enlargement(view) } else { Some(1.0) };
        let area = grain.area;
        let measured = view.session.peek(&GrainOf { film: film.id.clone(), area: 0 });
        Ok(Self {
            film,
            tiles: TilePicture::Scan(grain.scan.clone()),
            size,
            centre: Point::new((area.min.x + area.max.x) / 2.0, (area.min.y + area.max.y) / 2.0),
            pitch: Micrometres::per_sample(dpi).0 / enlargement.unwrap_or(1.0),
            mean: measured.value().map(|grain| grain.mean_density.number()),
        })
    }

    /// The print in the pixels of the reference's print, so that all show one place of the subject.
    fn of_print(film: &'a Film, view: &View<'_>) -> Result<Self, String> {
        let print = film.print.as_ref().ok_or("No print of this film was opened.")?;
        let first = view.reference.and_then(|film| Some((film, film.print.as_ref()?)));
        let (first, scan) = first.map_or((film, &print.scan), |(film, print)| (film, &print.scan));
        let size = canvas::size_of(view.session, scan)?;
        let tiles = if first.id == film.id {
            TilePicture::Scan(print.scan.clone())
        } else {
            match view.session.peek(&RegistrationOf { film: film.id.clone() }) {
                Slot::Failed(problem) => return Err(format!("{} {}", problem.cause, problem.remedy)),
                Slot::Pending(_) => return Err("Laying the print on the reference's".to_owned()),
                Slot::Ready(_) | Slot::Stale(..) => TilePicture::Registered(film.id.clone()),
            }
        };
        let dpi = dpi(view, scan).ok_or("The scan of the print does not tell its resolution.")?;
        let spot = match view.selected {
            Selected::Spot(index) => view.series.spots.get(index).map(|spot| spot.at),
            _ => None,
        };
        let centre = spot.unwrap_or_else(|| Point::new(size.0 as f64 / 2.0, size.1 as f64 / 2.0));
        let enlargement = enlargement(view);
        Ok(Self {
            film,
            tiles,
            size,
            centre,
            pitch: Micrometres::per_sample(dpi).0 / enlargement.unwrap_or(1.0),
            mean: sampling::print_density(view, film, centre, MEAN_RADIUS).map(|read| read.density.number()),
        })
    }
}

fn enlargement(view: &View<'_>) -> Option<f64> {
    view.series.conditions.enlargement.filter(|enlargement| *enlargement > 0.0)
}

/// Average gradient of the reference over that of a film: by how much its densities are spread when both are printed to
/// one contrast. `None` while one of the two is not known.
pub(super) fn contrast_ratio(view: &View<'_>, film: &Film) -> Option<f64> {
    let gradient = |film: &Film| {
        let figures = view.session.peek(&FiguresOf { film: film.id.clone() });
        figures.value()?.figures.get(&FigureId::AverageGradient)?.known().map(Measured::number)
    };
    let ratio = gradient(view.reference?)? / gradient(film)?;
    ratio.is_finite().then(|| ratio.clamp(0.25, 4.0))
}

/// Dots per inch of a scan: as typed, else as its file says.
pub(in crate::pages::grain) fn dpi(view: &View<'_>, scan: &ScanId) -> Option<f64> {
    let typed = view.series.scans.get(scan)?.dpi;
    typed.or_else(|| {
        let pixels = view.session.peek(&ScanOf { scan: scan.clone() });
        pixels.value()?.meta.dpi.map(|(across, _)| across)
    })
}
