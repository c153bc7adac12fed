//! Crops of films at one physical scale, linked in zoom and pan: both films side by side, one place through all films, or
//! a contact sheet of the whole series.

mod controls;
mod piece;
mod sheet;
mod true_size;

use egui::{Align2, Rect, Stroke, Ui, UiBuilder, pos2, vec2};
use twinwedge_workbench::core::document::Film;
use twinwedge_workbench::core::drawing::Role;
use twinwedge_workbench::core::geometry::Point;
use twinwedge_workbench::engine::ask::ScreenTones;

use super::Grain;
use crate::actions::Action;
use crate::appearance::{Tokens, over, widgets};
use crate::canvas::{self, Picture, Placement, ZoomPan};
use crate::outbox::{Command, Outbox};
use crate::pages::View;
use piece::Piece;

pub(super) use controls::viewing;
pub(super) use piece::dpi;

/// What a crop shows at first: the side of a square in micrometres of the film. On negatives it is grain that is looked at,
/// on prints a piece of the subject.
const FIRST: [usize; 2] = [1600, 6000];

/// What crops are cut from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
enum Source {
    #[default]
    Negatives,
    Prints,
}

/// How they are laid out.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
enum Arrangement {
    #[default]
    Beside,
    InPlace,
    AllFilms,
}

/// What is kept of the crops.
#[derive(Debug)]
pub(super) struct Crops {
    source: Source,
    arrangement: Arrangement,
    /// Where one looks in negatives and in prints, in micrometres of the film.
    sights: [ZoomPan; 2],
    one_mean: bool,
    one_contrast: bool,
    positive: bool,
    contrast: i16,
    /// In place, the reference is shown and not the candidate.
    swapped: bool,
}

impl Default for Crops {
    fn default() -> Self {
        Self {
            source: Source::default(),
            arrangement: Arrangement::default(),
            sights: [ZoomPan::default(); 2],
            one_mean: true,
            one_contrast: false,
            positive: false,
            contrast: 0,
            swapped: false,
        }
    }
}

impl Crops {
    /// The whole that the camera looks at, in micrometres.
    fn whole(&self) -> (usize, usize) {
        let side = FIRST[self.source as usize];
        (side, side)
    }

    fn sight(&mut self) -> &mut ZoomPan {
        &mut self.sights[self.source as usize]
    }

    pub(super) fn act(&mut self, action: Action) -> bool {
        match action {
            Action::NextArrangement => {
                self.arrangement = match self.arrangement {
                    Arrangement::Beside => Arrangement::InPlace,
                    Arrangement::InPlace => Arrangement::AllFilms,
                    Arrangement::AllFilms => Arrangement::Beside,
                };
            }
            Action::SwapInPlace if self.arrangement == Arrangement::InPlace => self.swapped = !self.swapped,
            _ => return self.sight().act(action),
        }
        true
    }

    /// How densities of a piece become tones beside those of the reference's.
    fn look(&self, piece: &Piece<'_>, reference: Option<&Piece<'_>>, view: &View<'_>) -> ScreenTones {
        let thousandths = |density: f64| (density * 1000.0).round() as i32;
        let offset = match (self.one_mean, piece.mean, reference.and_then(|piece| piece.mean)) {
            (true, Some(mine), Some(wanted)) => mine - wanted,
            _ => 0.0,
        };
        let ratio =
            if self.one_contrast { piece::contrast_ratio(view, piece.film).unwrap_or(1.0) } else { 1.0 };
        let raised = (1.0 + f64::from(self.contrast) / 100.0) * ratio;
        let mean = piece.mean.map_or(0.0, |mean| mean - offset - 1.0);
        ScreenTones {
            density_offset: thousandths(offset),
            inverted: self.positive && self.source == Source::Negatives,
            contrast: (100.0 * (raised - 1.0)).round() as i16,
            about: thousandths(if self.positive && self.source == Source::Negatives { -mean } else { mean }),
        }
    }
}

impl Grain {
    /// Both films' uniform areas above, their crops below; or crops alone.
    pub(super) fn crops(&mut self, ui: &mut Ui, view: &View<'_>, outbox: &mut Outbox) {
        self.crops.controls(ui, view, outbox);
        ui.add_space(4.0);
        match self.crops.arrangement {
            Arrangement::Beside => self.beside(ui, view, outbox),
            Arrangement::InPlace => self.in_place(ui, view, outbox),
            Arrangement::AllFilms => self.sheet(ui, view, outbox),
        }
    }

    fn beside(&mut self, ui: &mut Ui, view: &View<'_>, outbox: &mut Outbox) {
        let mut whole = ui.available_rect_before_wrap();
        let width = ((whole.width() - 8.0) / 2.0).floor();
        let further: Vec<&Film> = view.others().collect();
        if !further.is_empty() {
            let (above, below) = whole.split_top_bottom_at_fraction(0.6);
            whole = above.with_max_y(above.bottom() - 4.0);
            self.further(ui, below.with_min_y(below.top() + 4.0), &further, view);
        }
        let films = [(Role::Reference, view.reference), (Role::Candidate, view.candidate)];
        for (i, (role, film)) in films.into_iter().enumerate() {
            let left = whole.left() + i as f32 * (width + 8.0);
            let place = Rect::from_min_size(pos2(left, whole.top()), vec2(width, whole.height()));
            ui.scope_builder(UiBuilder::new().max_rect(place).id_salt(i), |ui| match film {
                Some(film) if self.crops.source == Source::Negatives => {
                    self.half(ui, film, role, view, outbox);
                }
                Some(film) => {
                    ui.horizontal(|ui| super::film_head(ui, film, role));
                    let rect = ui.available_rect_before_wrap();
                    self.crop(ui, rect, film, view);
                }
                None => no_film(ui, outbox),
            });
        }
    }

    /// Crops of further films, in a row of their own.
    fn further(&mut self, ui: &mut Ui, rect: Rect, films: &[&Film], view: &View<'_>) {
        let width = ((rect.width() - 8.0) / 2.0).floor();
        for (i, film) in films.iter().enumerate() {
            let corner = pos2(rect.left() + i as f32 * (width + 8.0), rect.top());
            let place = Rect::from_min_size(corner, vec2(width, rect.height()));
            ui.scope_builder(UiBuilder::new().max_rect(place).id_salt(("further", i)), |ui| {
                ui.horizontal(|ui| super::film_head(ui, film, Role::Other));
                let rect = ui.available_rect_before_wrap();
                self.crop(ui, rect, film, view);
            });
        }
    }

    /// One large crop: the candidate's, or the reference's in the same place.
    fn in_place(&mut self, ui: &mut Ui, view: &View<'_>, outbox: &mut Outbox) {
        let Some((role, film)) = self.shown_in_place(view) else { return no_film(ui, outbox) };
        ui.horizontal(|ui| super::film_head(ui, film, role));
        let rect = ui.available_rect_before_wrap();
        self.crop(ui, rect, film, view);
    }

    fn shown_in_place<'a>(&self, view: &View<'a>) -> Option<(Role, &'a Film)> {
        let candidate = view.candidate.map(|film| (Role::Candidate, film));
        let reference = view.reference.map(|film| (Role::Reference, film));
        if self.crops.swapped { reference.or(candidate) } else { candidate.or(reference) }
    }

    /// One film's crop in a part of the window, moved together with all others.
    pub(super) fn crop(&mut self, ui: &mut Ui, rect: Rect, film: &Film, view: &View<'_>) {
        ui.painter().rect_filled(rect, 2.0, Tokens::get(ui).raised);
        let source = self.crops.source;
        let piece = match Piece::of(source, film, view) {
            Ok(piece) => piece,
            Err(note) => return canvas::note(ui, rect, &note),
        };
        let reference = view.reference.and_then(|film| Piece::of(source, film, view).ok());
        let look = self.crops.look(&piece, reference.as_ref(), view);
        let name = format!("Crop of {}", film.label);
        // The camera of all crops looks at micrometres of the film from one place of each.
        let whole = self.crops.whole();
        let (_, seen) = canvas::interact(ui, rect, &mut self.crops.sight().camera, whole, &name);
        self.crops.sight().shown(seen, ui.pixels_per_point());
        let placement = in_pixels(&seen, whole, &piece);
        let picture = Picture { tiles: piece.tiles.clone(), size: piece.size, look, name: &name };
        canvas::draw(ui, rect, &picture, &placement, &mut self.tiles, view.session);
        scale(ui, rect, seen.zoom);
    }
}

/// A placement in micrometres, as one in pixels of the picture.
fn in_pixels(seen: &Placement, whole: (usize, usize), piece: &Piece<'_>) -> Placement {
    let away = |um: f64, whole: usize| (um - whole as f64 / 2.0) / piece.pitch;
    Placement {
        rect: seen.rect,
        zoom: seen.zoom * piece.pitch,
        middle: Point::new(
            piece.centre.x + away(seen.middle.x, whole.0),
            piece.centre.y + away(seen.middle.y, whole.1),
        ),
    }
}

fn no_film(ui: &mut Ui, outbox: &mut Outbox) {
    let why = "A film is added to the series; the first one is the reference.";
    if widgets::empty(ui, "No film here yet", why, "Add a film") {
        outbox.send(Command::Do(Action::AddFilm));
    }
}

/// A line of a round length, with its length.
fn scale(ui: &Ui, rect: Rect, points_per_um: f64) {
    let lengths = [10.0, 20.0, 50.0, 100.0, 200.0, 500.0, 1000.0, 2000.0, 5000.0, 10_000.0, 20_000.0];
    let wanted = f64::from(rect.width()) / 3.0;
    let Some(length) = lengths.into_iter().rev().find(|length| length * points_per_um <= wanted) else {
        return;
    };
    let width = (length * points_per_um) as f32;
    let end = rect.right_bottom() + vec2(-8.0, -8.0);
    let painter = ui.painter_at(rect);
    let line = [pos2(end.x - width, end.y), end];
    painter.line_segment(line, Stroke::new(4.0, over::UNDER));
    painter.line_segment(line, Stroke::new(2.0, over::LIGHT));
    let words = if length < 1000.0 { format!("{length} µm") } else { format!("{} mm", length / 1000.0) };
    canvas::label(&painter, end + vec2(0.0, -6.0), Align2::RIGHT_BOTTOM, &words);
}

#[cfg(test)]
mod tests {
    use super::*;
    use twinwedge_workbench::core::document::FilmId;
    use twinwedge_workbench::engine::ask::TilePicture;

    /// 4000 dpi is 6.35 µm a sample, 2000 dpi 12.7: by arithmetic, one inch being 25 400 µm.
    #[test]
    fn crops_of_different_resolution_have_one_scale() {
        let film = Film::named(FilmId("Tern 160".to_owned()), "Tern 160");
        let rect = Rect::from_min_size(pos2(0.0, 0.0), vec2(400.0, 200.0));
        let whole = Crops::default().whole();
        let seen = canvas::Camera::default().place(rect, whole);
        for pitch in [6.35, 12.7] {
            let piece = Piece {
                film: &film,
                tiles: TilePicture::Scan("any".into()),
                size: (1000, 1000),
                centre: Point::new(200.0, 200.0),
                pitch,
                mean: None,
            };
            let placement = in_pixels(&seen, whole, &piece);
            let middle = placement.screen(Point::new(200.0, 200.0));
            assert!((middle - rect.center()).length() < 1e-3);
            let millimetre = placement.screen(Point::new(200.0 + 1000.0 / pitch, 200.0));
            // The square of 1600 µm fills the height of 200 points: a millimetre is 125.
            assert!((millimetre.x - middle.x - 125.0).abs() < 1e-3);
        }
    }
}
