//! Edits of every kind of field of a series.

use twinwedge_core::document::{
    Aperture, CalibrationId, Channel, CompareAs, Encoding, EnteredSpectrum, Exposure, Film, FlatSource,
    FollowedGradient, GrainArea, GrainNoise, GridShape, Induction, KnownPatch, PatchRole, PrintChoice,
    ReadingsSource, ScanEntry, ScanId, ScanKind, Series, ShadowDensity, Spot, StripLevel, StripShape,
    SubjectLight, TabletId, TypedReading,
};
use twinwedge_core::geometry::{Model, Point, Quad};
use twinwedge_core::sharpness::EdgeSpace;

use super::document::{id, rect};
use crate::support::typed_film;

/// Changes a series: which of its films, and a number that says how.
type Change = fn(&mut Series, usize, u8);

/// The edits by name; the first is that of a label.
pub(super) const EDITS: &[(&str, Change)] = &[
    ("rename a film", |series, film, how| film_at(series, film).label = format!("Godwit {how}")),
    ("choose the reference", |series, film, how| {
        series.reference = (how != 0).then(|| id((film + 1) % series.films.len()));
    }),
    ("remove a film", |series, film, _| {
        let id = id(film);
        series.films.retain(|film| film.id != id);
        if series.films.is_empty() {
            series.films.push(typed_film("Tern 160", 0.6, -2.0));
        }
    }),
    ("a note", |series, film, how| film_at(series, film).notes = format!("note {how}")),
    ("box speed", |series, film, how| {
        film_at(series, film).box_speed = (how > 9).then(|| 20.0 * f64::from(how)).or(Some(50.0));
    }),
    ("a typed reading", |series, film, how| {
        if let Some(ReadingsSource::Typed(readings)) = first_readings(series, film.max(2)) {
            readings[usize::from(how) % 21].density += 0.01;
        }
    }),
    ("set a reading aside", |series, film, how| {
        if let Some(ReadingsSource::Typed(readings)) = first_readings(series, film.max(2)) {
            readings[usize::from(how) % 21].set_aside ^= true;
        }
    }),
    ("one reading too many", |series, film, _| {
        if let Some(ReadingsSource::Typed(readings)) = first_readings(series, film.max(2)) {
            let last = *readings.last().unwrap();
            readings.push(last);
        }
    }),
    ("readings from the strip", |series, film, how| {
        let shape = strip(how);
        let read = ReadingsSource::Strip { scan: ScanId::from("strip"), shape };
        match film_at(series, film).strips.first_mut() {
            Some(first) => first.readings = read,
            None => film_at(series, film).strips.push(read.into()),
        }
    }),
    ("move the strip", |series, _, how| {
        if let Some(ReadingsSource::Strip { shape, .. }) = first_readings(series, 1) {
            *shape = strip(how % 20 + 1);
        }
    }),
    ("no strips", |series, film, _| film_at(series, film).strips.clear()),
    ("set steps aside", |series, _, how| {
        if let Some(first) = film_at(series, 1).strips.first_mut() {
            first.steps_set_aside = vec![u32::from(how % 11)];
        }
    }),
    ("base+fog", |series, film, how| {
        film_at(series, film).base_fog = Some(reading(0.15 + f64::from(how) / 2000.0));
    }),
    ("light on the tablet", |series, film, how| {
        if let Some(exposed) = &mut film_at(series, film).tablet_exposure {
            exposed.exposure = match how % 3 {
                0 => Exposure::Absolute { log_h: f64::from(how) / 100.0, u: 0.02 },
                1 => Exposure::NotSaid,
                _ => Exposure::Relative { stops_less: f64::from(how % 5 + 1) / 2.0 },
            };
        }
    }),
    ("another tablet", |series, film, how| {
        let tablet = ["tablet", "short"][usize::from(how) % 2];
        if let Some(exposed) = &mut film_at(series, film).tablet_exposure {
            exposed.tablet = TabletId::from(tablet);
        }
    }),
    ("no exposure", |series, film, _| film_at(series, film).tablet_exposure = None),
    ("rename the tablet", |series, _, how| tablet(series).label = format!("tablet {how}")),
    ("densities of the tablet", |series, _, how| {
        tablet(series).steps[3].density += f64::from(how % 9 + 1) / 1000.0;
    }),
    ("what the tablet's densities are", |series, _, _| tablet(series).nominal ^= true),
    ("an additional strip's level", |series, _, how| {
        for strip in series.films.iter_mut().flat_map(|film| film.strips.iter_mut().skip(1)) {
            strip.level = match how % 3 {
                0 => StripLevel::FromOverlap,
                _ => StripLevel::StopsLess { stops: f64::from(how % 4), u: 0.1 },
            };
        }
    }),
    ("a strip's name", |series, _, how| {
        for strip in series.films.iter_mut().flat_map(|film| &mut film.strips) {
            strip.name = format!("strip {how}");
        }
    }),
    ("development", |series, film, how| {
        film_at(series, film).process.minutes = Some(f64::from(how % 20 + 1));
    }),
    ("another roll", |series, film, how| {
        film_at(series, film).roll_of = Some(id(usize::from(how) % series.films.len().max(1)));
    }),
    ("a print", |series, film, how| {
        let name = ["print a", "print b", "print c"][usize::from(how) % 3];
        film_at(series, film).print = Some(PrintChoice::new(ScanId::from(name)));
    }),
    ("no print", |series, film, _| film_at(series, [0, 1, 3][film % 3]).print = None),
    ("print exposure", |series, film, how| {
        print(series, film, |print| print.exposure_s = Some(f64::from(how) + 1.0));
    }),
    ("the patch grid", |series, film, how| {
        let (left, bottom) = (40.0 + f64::from(how % 32), 150.0);
        print(series, film, |print| {
            print.grid = Some(GridShape::new(Quad::upright(rect(left, 30.0, 200.0, bottom))));
        });
    }),
    ("pairs of points", |series, film, how| {
        let moved = |x: f64, y: f64| (Point::new(x, y), Point::new(x + f64::from(how % 8), y));
        print(series, film, |print| print.pairs = Some([moved(20.0, 20.0), moved(200.0, 150.0)]));
    }),
    ("what the registration may do", |series, film, _| {
        print(series, film, |print| print.model = Some(Model::Affine));
    }),
    ("the layout", |series, _, how| {
        if let Some(layout) = &mut series.layout {
            layout.patches[usize::from(how) % 4].name = format!("grey {how}");
        }
    }),
    ("what is known of a patch", |series, _, how| {
        if let Some(layout) = &mut series.layout {
            layout.patches[usize::from(how) % 6].density = Some(0.1 + f64::from(how) / 400.0);
        }
    }),
    ("what a patch is for", |series, _, how| {
        if let Some(layout) = &mut series.layout {
            let roles = [PatchRole::Sky, PatchRole::Foliage, PatchRole::Grey];
            layout.patches[6 + usize::from(how) % 8].role = roles[usize::from(how) % 3];
        }
    }),
    ("what a patch reflects", |series, _, how| {
        if let Some(layout) = &mut series.layout {
            layout.patches[6 + usize::from(how) % 8].reflectance = Some(reflects(how));
        }
    }),
    ("the light on the target", |series, _, how| {
        series.target.light = (how % 4 > 0).then(|| SubjectLight::Daylight(5_000.0 + f64::from(how)));
    }),
    ("how well patches are known", |series, _, how| series.target.known_u = 0.002 + f64::from(how) / 9000.0),
    ("a spot", |series, _, how| {
        series.spots.push(Spot {
            name: format!("spot {how}"),
            at: Point::new(60.0 + f64::from(how % 50), 60.0),
            radius: 5.0,
        });
    }),
    ("a frame's name", |series, film, how| frame(series, film, |frame| frame.name = format!("frame {how}"))),
    ("a frame's index", |series, film, how| {
        frame(series, film, |frame| frame.exposure_index = (how % 5 > 0).then(|| f64::from(how) + 10.0));
    }),
    ("a frame's density", |series, film, how| {
        frame(series, film, |frame| {
            frame.shadow_density = (how % 5 > 0).then(|| 0.3 + f64::from(how) / 500.0);
        });
    }),
    ("a frame's scan", |series, film, how| {
        frame(series, film, |frame| frame.scan = (how % 2 == 0).then(|| ScanId::from("print b")));
    }),
    ("a frame's patch", |series, film, how| {
        let right = 130.0 + f64::from(how % 32);
        frame(series, film, |frame| frame.patch = Some(Quad::upright(rect(90.0, 70.0, right, 110.0))));
    }),
    ("uncertainty of a bracket", |series, film, how| {
        if let Some(bracket) = &mut film_at(series, film % 2).bracket {
            bracket.u = Some(f64::from(how) / 2000.0 + 0.001);
        }
    }),
    ("no bracket", |series, film, _| film_at(series, film % 2).bracket = None),
    ("a uniform area", |series, film, how| {
        let area = rect(8.0, 8.0, 80.0 + f64::from(how % 50), 100.0);
        mark(series, film, GrainArea::new(ScanId::from("film"), area));
    }),
    ("a uniform area on the print", |series, film, how| {
        let area = rect(10.0, 10.0, 100.0 + f64::from(how % 50), 90.0);
        mark(series, film, GrainArea::new(ScanId::from("print a"), area));
    }),
    ("where noise is known from", |series, film, how| {
        let of = [
            GrainNoise::LeftIn,
            GrainNoise::Repeat(ScanId::from("film again")),
            GrainNoise::Blank { scan: ScanId::from("film"), area: rect(245.0, 10.0, 315.0, 150.0) },
            GrainNoise::Calibration,
        ];
        if let Some(grain) = film_at(series, film % 2).uniform_areas.first_mut() {
            grain.noise = of[usize::from(how) % 4].clone();
        }
    }),
    ("an edge", |series, film, how| {
        for edge in &mut film_at(series, film % 2).edges {
            edge.area.max.y = 125.0 - f64::from(how % 32);
        }
    }),
    ("no edge", |series, film, _| film_at(series, film % 2).edges.clear()),
    ("the scanner's edge", |series, _, how| match &mut series.sharpness.scanner_edge {
        Some(edge) if how % 3 != 0 => edge.area.max.y = 139.0 - f64::from(how % 32),
        edge => *edge = None,
    }),
    ("what edges are measured in", |series, _, _| series.sharpness.space = EdgeSpace::Light),
    ("resolution", |series, _, how| scan(series, how, |scan| scan.dpi = Some(1200.0 + f64::from(how)))),
    ("no resolution", |series, _, how| scan(series, how, |scan| scan.dpi = None)),
    ("channel", |series, _, how| {
        scan(series, how, |scan| scan.channel = [Channel::Blue, Channel::LUMINANCE][usize::from(how) % 2]);
    }),
    ("kind of scan", |series, _, how| {
        scan(series, how, |scan| {
            scan.kind = if scan.kind == ScanKind::Film { ScanKind::Print } else { ScanKind::Film };
        });
    }),
    ("calibration", |series, _, how| {
        scan(series, how, |scan| {
            scan.calibration = scan.calibration.is_none().then(|| CalibrationId::from("scanner"));
        });
    }),
    ("falloff", |series, _, how| scan(series, how, |scan| scan.flat = FlatSource::Border(8.0))),
    ("a blank", |series, _, how| {
        scan(series, how, |scan| scan.flat = FlatSource::Blank(ScanId::from("film")));
    }),
    ("a known patch", |series, _, how| {
        let area = rect(20.0, 10.0, 40.0 + f64::from(how % 9), 40.0);
        scan(series, how, |scan| {
            scan.known = Some(KnownPatch { area, density: 0.4, u: 0.01, applied: how % 2 == 0 });
        });
    }),
    ("stray light", |series, _, how| scan(series, how, |scan| scan.flare_corrected ^= true)),
    ("rename the calibration", |series, _, how| {
        calibration(series, |made| made.label = format!("scanner {how}"));
    }),
    ("repeat of the calibration", |series, _, _| {
        calibration(series, |made| made.repeat = Some(ScanId::from("strip")));
    }),
    ("aperture of the calibration", |series, _, how| {
        calibration(series, |made| made.shape.aperture = Aperture::Circle(0.1 + f64::from(how % 9) / 100.0));
    }),
    ("no calibration", |series, _, _| {
        series.calibrations.clear();
        series.scans.values_mut().for_each(|scan| scan.calibration = None);
    }),
    ("uncertainty of a reading", |series, _, how| {
        series.settings.reading_u = 0.005 + f64::from(how) / 9000.0;
    }),
    ("gradient range", |series, _, how| series.settings.gradient_range = 1.05 + f64::from(how % 10) / 10.0),
    ("net or gross", |series, _, _| series.settings.shadow_match = ShadowDensity::Gross),
    ("aperture", |series, _, how| series.settings.aperture_um = 24.0 + f64::from(how % 32)),
    ("resamplings", |series, _, how| series.settings.resamplings = 51 + u32::from(how % 9)),
    ("seed", |series, _, how| series.settings.seed = u64::from(how) + 100),
    ("enlargement of the prints", |series, _, how| {
        series.conditions.enlargement = (how % 3 != 0).then(|| 5.0 + f64::from(how % 9)).filter(|_| how != 8);
    }),
    ("how prints are looked at", |series, _, how| series.viewing.distance_mm = 300.0 + f64::from(how)),
    ("detail area", |series, _, how| {
        series.detail_area = Some(rect(30.0, 30.0, 150.0 + f64::from(how % 64), 150.0));
    }),
    ("third film", |series, film, _| series.tones.third = Some(id(film))),
    ("exposure index", |series, _, how| series.tones.exposure_index = Some(50.0 + f64::from(how))),
    ("print exposure of the tones", |series, _, how| series.tones.print_stops = Some(f64::from(how % 5))),
    ("compare at matched contrast", |series, _, _| {
        series.development.compare_as = CompareAs::MatchedContrast;
    }),
    ("wanted gradient", |series, _, how| series.development.wanted = Some(0.5 + f64::from(how) / 1000.0)),
    ("followed gradient", |series, _, _| series.development.follow = FollowedGradient::Gamma),
    ("induction", |series, _, how| {
        series.development.induction = Induction::Minutes(f64::from(how % 3 + 1) / 10.0);
    }),
    ("the paper", |series, _, how| {
        if let Some(paper) = &mut series.paper {
            paper.seconds = Some(f64::from(how) + 1.0);
            paper.white = Some(reading(0.05));
        }
    }),
    ("the paper's readings", |series, _, how| {
        if let Some(paper) = &mut series.paper {
            paper.readings = Some(ReadingsSource::Strip { scan: ScanId::from("strip"), shape: strip(how) });
            paper.tablet = TabletId::from("short");
        }
    }),
    ("no paper", |series, _, _| series.paper = None),
    ("title", |series, _, how| series.title = format!("title {how}")),
    ("keep steps", |series, film, how| {
        if let Some(first) = film_at(series, film).strips.first_mut() {
            first.steps_kept = vec![u32::from(how % 11)];
        }
    }),
    ("what the codes of a scan stand for", |series, _, how| {
        scan(series, how, |entry| entry.encoding = encoding(how / 4));
    }),
    ("what codes stand for", |series, _, how| series.settings.encoding = encoding(how)),
];

/// A film by its place, counted around: films may have gone.
fn film_at(series: &mut Series, place: usize) -> &mut Film {
    let films = series.films.len();
    &mut series.films[place % films]
}

fn first_readings(series: &mut Series, place: usize) -> Option<&mut ReadingsSource> {
    film_at(series, place).strips.first_mut().map(|strip| &mut strip.readings)
}

/// Marks an area in the place of a film's first.
fn mark(series: &mut Series, place: usize, area: GrainArea) {
    let areas = &mut film_at(series, place).uniform_areas;
    match areas.first_mut() {
        Some(first) => *first = area,
        None => areas.push(area),
    }
}

fn encoding(how: u8) -> Option<Encoding> {
    [None, Some(Encoding::Linear), Some(Encoding::Srgb), Some(Encoding::Power(2.2))][usize::from(how) % 4]
}

/// Red more than blue.
pub(super) fn reflects(how: u8) -> EnteredSpectrum {
    let value = |i: u32| 0.1 + f64::from(how % 7 + 1) * 0.05 * (1.0 + f64::from(i) / 15.0) / 3.0;
    EnteredSpectrum { from_nm: 400.0, step_nm: 10.0, values: (0..31).map(value).collect() }
}

fn reading(density: f64) -> TypedReading {
    TypedReading::new(density)
}

fn strip(how: u8) -> StripShape {
    StripShape::new(Quad::upright(rect(10.0, 5.0 + f64::from(how % 20), 340.0, 45.0)), 11)
}

fn tablet(series: &mut Series) -> &mut twinwedge_core::document::Tablet {
    series.tablets.get_mut(&TabletId::from("tablet")).unwrap()
}

fn print(series: &mut Series, film: usize, change: impl FnOnce(&mut PrintChoice)) {
    let of = [0, 1, 3][film % 3];
    if let Some(print) = series.films.get_mut(of).and_then(|film: &mut Film| film.print.as_mut()) {
        change(print);
    }
}

fn frame(series: &mut Series, film: usize, change: impl FnOnce(&mut twinwedge_core::document::BracketFrame)) {
    let bracket = series.films.get_mut(film % 2).and_then(|film| film.bracket.as_mut());
    if let Some(frame) = bracket.and_then(|bracket| bracket.frames.get_mut(film % 3)) {
        change(frame);
    }
}

fn scan(series: &mut Series, how: u8, change: impl FnOnce(&mut ScanEntry)) {
    let scans = series.scans.len();
    if let Some(entry) = series.scans.values_mut().nth(usize::from(how) % scans) {
        change(entry);
    }
}

fn calibration(series: &mut Series, change: impl FnMut(&mut twinwedge_core::document::Calibration)) {
    series.calibrations.values_mut().for_each(change);
}
