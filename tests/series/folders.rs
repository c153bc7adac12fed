//! A folder into a series: hostile names, lists that are wrong, files that cannot be read. The scans are those of the sample's
//! simulator under other names.

use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicUsize, Ordering};

use twinwedge_core::document::{FilmId, ReadingsSource, Series};
use twinwedge_core::problem::Problem;
use twinwedge_workbench::folder::{Asked, Kind, Plan, survey, take};
use twinwedge_workbench::import::series_from_list_while;

use crate::support::{session, typed_film};

fn sample(file: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-projects/saltmarsh").join(file)
}

/// A folder of files: each a name and the file of the sample that it is a copy of, or its text.
fn folder(files: &[(&str, &str)]) -> tempfile::TempDir {
    let folder = tempfile::tempdir().unwrap();
    for (name, of) in files {
        let path = folder.path().join(name);
        std::fs::create_dir_all(path.parent().unwrap()).unwrap();
        match of.strip_prefix("text:") {
            Some(text) => std::fs::write(path, text).unwrap(),
            None => drop(std::fs::copy(sample(of), path).unwrap()),
        }
    }
    folder
}

const STRIP: &str = "scans/tern-160-strip.tif";
const PRINT: &str = "scans/tern-160-print.tif";
const GRAIN: &str = "scans/tern-160-grain.tif";
const TABLET: &str = "scans/film-scanner-tablet.tif";
/// Its densities: without them nothing says how many steps a strip has whose thinnest are lost in base+fog.
const DENSITIES: (&str, &str) = ("step tablet.csv", "step-tablet.csv");

fn look(folder: &Path, series: &Series) -> Plan {
    survey(folder, series, folder, &|_| true).unwrap()
}

/// Film and kind of a file, and whether that is sure.
fn of(plan: &Plan, name: &str) -> (Option<String>, Kind, bool) {
    let file = plan.files.iter().find(|file| file.shown == name).unwrap_or_else(|| panic!("{name} is found"));
    (file.film.value.clone(), file.kind.value, !file.doubtful())
}

fn take_in(plan: &Plan, series: &Series, folder: &Path) -> Series {
    let mut session = session(series.clone(), folder);
    let prepared = take::prepare(plan, series, folder, &|_| true).unwrap();
    session.carry_out(prepared).unwrap();
    assert!(session.undo_label().is_some_and(|label| label.starts_with("take in ")));
    let made = Series::clone(session.series());
    session.undo();
    assert_eq!(**session.series(), *series, "one step there and back");
    made
}

#[test]
fn hostile_names_are_grouped() {
    let folder = folder(&[
        DENSITIES,
        ("TERN 160 strip.TIF", STRIP),
        ("tern-160_PRINT_0003.tif", PRINT),
        ("Tern160Grain.tif", GRAIN),
        ("Küstenläufer 50/roll 1/strip.tif", STRIP),
        ("Küstenläufer 50/roll 2/strip.tif", STRIP),
        ("Ku\u{308}stenla\u{308}ufer 50/print.tif", PRINT),
        ("prints/scan of plover 0640.tif", PRINT),
        ("strips/plover-640.tif", STRIP),
        ("2026-04-12 film scanner tablet 4000dpi.tif", TABLET),
    ]);
    let plan = look(folder.path(), &Series::default());
    let film = |name: &str| of(&plan, name).0;
    for name in ["TERN 160 strip.TIF", "tern-160_PRINT_0003.tif", "Tern160Grain.tif"] {
        assert_eq!(film(name).as_deref(), Some("Tern 160"), "{name}");
        assert!(of(&plan, name).2, "{name} is sure");
    }
    assert_eq!(film("Küstenläufer 50/roll 1/strip.tif").as_deref(), Some("Küstenläufer 50"));
    assert_eq!(film("Küstenläufer 50/roll 2/strip.tif").as_deref(), Some("Küstenläufer 50, roll 2"));
    assert_eq!(film("Ku\u{308}stenla\u{308}ufer 50/print.tif").as_deref(), Some("Küstenläufer 50"));
    assert_eq!(film("strips/plover-640.tif").as_deref(), Some("Plover 640"));
    assert_eq!(of(&plan, "2026-04-12 film scanner tablet 4000dpi.tif").1, Kind::CalibrationFilm);
    let series = take_in(&plan, &Series::default(), folder.path());
    let roll = series.films.iter().find(|film| film.label == "Küstenläufer 50, roll 2").unwrap();
    assert_eq!(
        roll.roll_of,
        series.films.iter().find(|film| film.label == "Küstenläufer 50").map(|film| film.id.clone())
    );
    assert_eq!(series.calibrations.len(), 1);
    let tern = series.films.iter().find(|film| film.label == "Tern 160").unwrap();
    let ReadingsSource::Strip { scan, .. } = &tern.strips[0].readings else { panic!("{tern:?}") };
    assert_eq!(series.scans[scan].path, "TERN 160 strip.TIF", "kept relative to the series");
    assert!(series.scans[scan].calibration.is_some(), "the one calibration serves it");
}

#[test]
fn frames_that_name_their_exposure_index_make_a_bracket() {
    let folder = folder(&[
        DENSITIES,
        ("tern 160 strip.tif", STRIP),
        ("tern 160 print.tif", PRINT),
        ("tern-160-frame-1-EI-125.tif", PRINT),
        ("tern-160-frame-2-EI-160.tif", PRINT),
        ("Tern 160 bracket/EI200.tif", PRINT),
        ("tern 160 frame 4.tif", PRINT),
        ("plover 640 ei 500.tif", STRIP),
    ]);
    let mut plan = look(folder.path(), &Series::default());
    for name in ["tern-160-frame-1-EI-125.tif", "tern-160-frame-2-EI-160.tif", "Tern 160 bracket/EI200.tif"] {
        assert_eq!(of(&plan, name), (Some("Tern 160".to_owned()), Kind::Frame, true), "{name}");
    }
    assert_eq!(of(&plan, "tern 160 print.tif").1, Kind::Print);
    let (_, kind, sure) = of(&plan, "tern 160 frame 4.tif");
    assert!(kind == Kind::Frame && !sure, "its index is asked for");
    let asked: Vec<Asked> = plan.groups().iter().map(|group| group.asked).collect();
    assert!(asked.contains(&Asked::Index), "{asked:?}");
    assert!(!of(&plan, "plover 640 ei 500.tif").2, "its name says frame, its pixels say steps");
    let series = take_in(&plan, &Series::default(), folder.path());
    let film = series.films.iter().find(|film| film.label == "Tern 160").unwrap();
    let frames = &film.bracket.as_ref().unwrap().frames;
    let indices: Vec<f64> = frames.iter().filter_map(|frame| frame.exposure_index).collect();
    assert_eq!(indices.len(), 3);
    assert!([125.0, 160.0, 200.0].iter().all(|index| indices.contains(index)), "{indices:?}");
    assert!(frames.iter().all(|frame| frame.scan.is_some()));
    // Typed it is taken; what is no index is none, and saying that it is right does not make one.
    let unknown = plan.files.iter().position(|file| file.shown == "tern 160 frame 4.tif").unwrap();
    for wrong in [None, Some(0.0), Some(-100.0), Some(f64::NAN)] {
        plan.set_exposure_index(unknown, wrong);
        plan.confirm(&[unknown]);
        assert!(plan.files[unknown].doubtful(), "{wrong:?}");
    }
    plan.set_exposure_index(unknown, Some(125.0));
    plan.files[unknown].settled = false;
    let doubts: Vec<String> = plan.files[unknown].doubts().collect();
    assert!(doubts.iter().any(|doubt| doubt.contains("at the same exposure index")), "{doubts:?}");
    plan.set_exposure_index(unknown, Some(250.0));
    assert!(!plan.files[unknown].doubtful());
    let series = take_in(&plan, &Series::default(), folder.path());
    let film = series.films.iter().find(|film| film.label == "Tern 160").unwrap();
    let indices: Vec<f64> =
        film.bracket.as_ref().unwrap().frames.iter().filter_map(|frame| frame.exposure_index).collect();
    assert!(indices.contains(&250.0), "{indices:?}");
}

#[test]
fn an_index_typed_for_a_listed_frame_keeps_the_rest_of_its_row() {
    let list =
        "text:file,kind,film,role,exposure_index,resolution\na.tif,frame,Tern 160,reference,125,1200\n";
    let folder = folder(&[("a.tif", PRINT), ("list.csv", list)]);
    let mut plan = look(folder.path(), &Series::default());
    let file = plan.files.iter().position(|file| file.shown == "a.tif").unwrap();
    assert_eq!(plan.files[file].exposure_index, Some(125.0));
    plan.set_exposure_index(file, Some(160.0));
    let series = take_in(&plan, &Series::default(), folder.path());
    let frame = &series.films[0].bracket.as_ref().unwrap().frames[0];
    assert_eq!(frame.exposure_index, Some(160.0));
    assert_eq!(series.scans[frame.scan.as_ref().unwrap()].dpi, Some(1200.0));
}

#[test]
fn a_film_of_the_series_is_known_by_its_label() {
    let folder = folder(&[("x 2026 dunlin_40-b strip 12.tif", STRIP), ("unknown strip.tif", STRIP)]);
    let mut series = Series::default();
    series.films.push(typed_film("Dunlin 40", 0.6, -2.2));
    series.tablets.insert("tablet".into(), twinwedge_core::document::Tablet::nominal(21).unwrap());
    let plan = look(folder.path(), &series);
    let (film, kind, sure) = of(&plan, "x 2026 dunlin_40-b strip 12.tif");
    assert_eq!((film.as_deref(), kind), (Some("Dunlin 40"), Kind::Strip));
    assert!(!sure, "it has readings already: an additional strip of the roll is asked about");
    let made = take_in(&plan, &series, folder.path());
    assert_eq!(made.film(&FilmId::from("Dunlin 40")).unwrap().strips.len(), 2);
}

#[test]
fn what_is_nearly_the_same_is_asked_about() {
    let folder = folder(&[
        ("plover 640 strip.tif", STRIP),
        ("plovre 640 print.tif", PRINT),
        ("avocet strip.tif", STRIP),
        ("avocet 250 print.tif", PRINT),
        ("godwit 1000 strip.tif", STRIP),
        ("godwit 1000 print.tif", STRIP),
        ("scan0001.tif", PRINT),
        ("dunlin 40 readings.csv", "readings/dunlin-40.csv"),
        ("dunlin 40 strip.tif", STRIP),
    ]);
    let plan = look(folder.path(), &Series::default());
    assert!(!of(&plan, "plovre 640 print.tif").2, "a letter turned round");
    let (film, _, sure) = of(&plan, "avocet strip.tif");
    assert_eq!((film.as_deref(), sure), (Some("Avocet 250"), false), "one has what the other lacks");
    assert!(!of(&plan, "godwit 1000 print.tif").2, "its name says print, its pixels say steps");
    let (film, kind, sure) = of(&plan, "scan0001.tif");
    assert_eq!((kind, sure), (Kind::Print, false), "{film:?}");
    assert!(of(&plan, "dunlin 40 readings.csv").2, "kept beside the scan of the same strip");
    assert!(plan.notes.iter().any(|note| note.cause.contains("both scanned and read")), "{:?}", plan.notes);
    let made = take_in(&plan, &Series::default(), folder.path());
    assert!(made.films.iter().all(|film| film.strips.len() < 2), "nothing is counted twice");
}

#[test]
fn a_folder_tells_what_a_name_has_too_much_of() {
    let folder = folder(&[
        DENSITIES,
        ("Dunlin 640/dunlin_640_strip.tif", STRIP),
        ("Dunlin 640/dunlin640prnt.tif", PRINT),
        ("Stilt 50/stilt_50_strip.tif", STRIP),
        ("Stilt 50/stilt_50_print.tif", PRINT),
    ]);
    let plan = look(folder.path(), &Series::default());
    let (film, _, sure) = of(&plan, "Dunlin 640/dunlin640prnt.tif");
    assert_eq!((film.as_deref(), sure), (Some("Dunlin 640"), false));
    assert_eq!(
        of(&plan, "Dunlin 640/dunlin_640_strip.tif"),
        (Some("Dunlin 640".to_owned()), Kind::Strip, true)
    );
}

#[test]
fn a_list_goes_before_and_a_wrong_one_is_told() {
    let list = "text:file,kind,film,role\na.tif,strip,Tern 160,reference\nb.tif,print,Tern 160,\ngone.tif,grain,Tern 160,\n";
    let files = |list: &'static str| {
        folder(&[DENSITIES, ("a.tif", STRIP), ("b.tif", PRINT), ("c.tif", PRINT), ("list.csv", list)])
    };
    let listed = files(list);
    let plan = look(listed.path(), &Series::default());
    assert_eq!(of(&plan, "a.tif"), (Some("Tern 160".to_owned()), Kind::Strip, true));
    assert_eq!(of(&plan, "b.tif"), (Some("Tern 160".to_owned()), Kind::Print, true));
    assert_eq!(of(&plan, "c.tif").1, Kind::Other, "the list does not name it");
    assert!(plan.notes.iter().any(|note| note.cause.contains("gone.tif")));
    assert_eq!(plan.reference.value.as_deref(), Some("Tern 160"));
    let series = take_in(&plan, &Series::default(), listed.path());
    assert_eq!(series.reference, Some(FilmId::from("Tern 160")));

    let wrong = files("text:file,kind,film\na.tif,stripe,Tern 160\n");
    let plan = look(wrong.path(), &Series::default());
    let list = plan.files.iter().find(|file| file.shown == "list.csv").unwrap();
    let problem: &Problem = list.problem.as_ref().expect("the list is wrong");
    assert!(problem.to_string().contains("line 2, column 'kind'"), "{problem}");
    assert_eq!(plan.groups()[0].asked, Asked::Unreadable);
    assert_eq!(of(&plan, "a.tif").1, Kind::Strip, "the files are told without it");
}

#[test]
fn what_cannot_be_read_is_told_and_hinders_nothing() {
    let folder = folder(&[
        ("tern strip.tif", STRIP),
        ("broken print.tif", "text:II*\0 no more of it"),
        ("empty grain.png", "text:"),
        ("tern readings of something.csv", "text:step,density\n1,dark\n"),
        ("notes.txt", "text:Developed on a Tuesday; the second strip was fogged."),
        (".hidden.tif", STRIP),
    ]);
    let plan = look(folder.path(), &Series::default());
    assert_eq!(plan.files.len(), 5, "hidden files are passed over");
    let unreadable = &plan.groups()[0];
    assert_eq!((unreadable.asked, unreadable.files.len()), (Asked::Unreadable, 3));
    assert_eq!(of(&plan, "notes.txt"), (None, Kind::Other, true));
    let series = take_in(&plan, &Series::default(), folder.path());
    assert_eq!(series.films.len(), 1);
    let nothing = tempfile::tempdir().unwrap();
    let problem = survey(nothing.path(), &Series::default(), nothing.path(), &|_| true).unwrap_err();
    assert!(problem.cause.contains("holds no TIFF"), "{problem}");
}

#[test]
fn a_survey_can_be_stopped_and_choices_settle_it() {
    let folder =
        folder(&[DENSITIES, ("alpha 1.tif", PRINT), ("alpha 2.tif", GRAIN), ("beta strip.tif", STRIP)]);
    let problem = survey(folder.path(), &Series::default(), folder.path(), &|_| false).unwrap_err();
    assert!(problem.cause.contains("cancelled"), "{problem}");
    let mut plan = look(folder.path(), &Series::default());
    let index = |plan: &Plan, name: &str| plan.files.iter().position(|file| file.shown == name).unwrap();
    let doubtful = |plan: &Plan| plan.groups().iter().map(|group| group.files.len()).sum::<usize>();
    assert_eq!(doubtful(&plan), 2);
    let print = index(&plan, "alpha 1.tif");
    plan.set_film(print, "Beta");
    plan.set_kind(print, Kind::Print);
    let grain = index(&plan, "alpha 2.tif");
    assert_eq!(plan.files[grain].film.value.as_deref(), Some("Beta"), "the same doubt has the same answer");
    plan.confirm(&[grain]);
    assert_eq!(doubtful(&plan), 0);
    let series = take_in(&plan, &Series::default(), folder.path());
    let film = &series.films[0];
    assert!(film.print.is_some() && !film.uniform_areas.is_empty() && !film.strips.is_empty(), "{film:?}");
    let again = survey(folder.path(), &series, folder.path(), &|_| true).unwrap();
    assert_eq!(again.taken(), 0, "what is in the series is not taken twice");
}

#[test]
fn two_thousand_files_are_grouped_quickly() {
    // Names alone: the files are tables, which are read in no time. Truth by construction.
    let folder = tempfile::tempdir().unwrap();
    let readings: String =
        (1..=21).map(|step| format!("{step},{:.2}\n", 2.4 - 0.1 * f64::from(step))).collect();
    for film in 0..500 {
        for roll in 1..=4 {
            let name = format!("knot {} roll {roll} readings.csv", 1000 + film);
            std::fs::write(folder.path().join(name), &readings).unwrap();
        }
    }
    let begun = std::time::Instant::now();
    let plan = look(folder.path(), &Series::default());
    assert_eq!(plan.films().len(), 2000, "four rolls each of 500 films");
    assert_eq!(plan.sure().len(), 2000);
    let took = begun.elapsed();
    println!("2000 files looked at and grouped in {took:?}");
    assert!(took.as_secs_f64() < 30.0, "{took:?}");
}

/// A scan of the sample, turned by so many degrees, in the middle of a larger one with its first pixel's tone around it.
fn turned(of: &str, degrees: f64, path: &Path) {
    let scan = image::open(sample(of)).unwrap().into_luma16();
    let (width, height) = (f64::from(scan.width()), f64::from(scan.height()));
    let (sin, cos) = degrees.to_radians().sin_cos();
    let (wide, high) =
        ((width * cos + height * sin).ceil() + 80.0, (width * sin + height * cos).ceil() + 80.0);
    let ground = f64::from(scan.get_pixel(0, 0).0[0]);
    let at = |x: f64, y: f64| {
        let inside = x >= 0.0 && y >= 0.0 && x < width && y < height;
        if inside { f64::from(scan.get_pixel(x as u32, y as u32).0[0]) } else { ground }
    };
    let made = image::ImageBuffer::from_fn(wide as u32, high as u32, |x, y| {
        let (dx, dy) = (f64::from(x) + 0.5 - 0.5 * wide, f64::from(y) + 0.5 - 0.5 * high);
        let (x, y) = (cos * dx + sin * dy + 0.5 * width - 0.5, cos * dy - sin * dx + 0.5 * height - 0.5);
        let (left, top) = (x.floor(), y.floor());
        let (u, v) = (x - left, y - top);
        let upper = (1.0 - u) * at(left, top) + u * at(left + 1.0, top);
        let lower = (1.0 - u) * at(left, top + 1.0) + u * at(left + 1.0, top + 1.0);
        image::Luma([((1.0 - v) * upper + v * lower).round() as u16])
    });
    made.save(path).unwrap();
}

/// Where a place of the scan lies after that.
fn turned_place((x, y): (f64, f64), (width, height): (f64, f64), degrees: f64) -> (f64, f64) {
    let (sin, cos) = degrees.to_radians().sin_cos();
    let (wide, high) =
        ((width * cos + height * sin).ceil() + 80.0, (width * sin + height * cos).ceil() + 80.0);
    let (x, y) = (x - 0.5 * width, y - 0.5 * height);
    (cos * x - sin * y + 0.5 * wide, sin * x + cos * y + 0.5 * high)
}

/// A folder whose list names a strip that lies too crooked for its small copy to show steps, and does not say where it lies.
fn crooked() -> tempfile::TempDir {
    let list = "text:file,kind,film,role,tablet\na.tif,strip,Tern 160,reference,nominal 21\n";
    let folder = folder(&[("list.csv", list)]);
    turned(STRIP, 12.0, &folder.path().join("a.tif"));
    folder
}

#[test]
fn a_strip_that_nothing_places_is_found_before_the_edit() {
    let folder = crooked();
    let plan = look(folder.path(), &Series::default());
    let file = plan.files.iter().find(|file| file.shown == "a.tif").unwrap();
    assert_eq!((file.kind.value, file.steps), (Kind::Strip, Some(21)), "the list says how many");
    let prepared = take::prepare(&plan, &Series::default(), folder.path(), &|_| true).unwrap();
    std::fs::remove_file(folder.path().join("a.tif")).unwrap();
    let mut session = session(Series::default(), folder.path());
    session.carry_out(prepared).unwrap();
    let series = session.series();
    let Some(ReadingsSource::Strip { shape, .. }) = series.films[0].strip_readings(0) else {
        panic!("a strip")
    };
    assert_eq!(shape.steps, 21);
    // As the tester marked the strip (list.csv of the sample, off by up to a pixel each way), turned alike.
    let marked = [(54.18, 57.19), (1712.12, 84.42), (1709.69, 241.42), (51.81, 215.89)];
    for (corner, place) in shape.quad.corners.iter().zip(marked) {
        let (x, y) = turned_place(place, (1760.0, 300.0), 12.0);
        assert!((corner.x - x).hypot(corner.y - y) < 3.0, "{corner:?} for {x:.2}, {y:.2}");
    }
}

#[test]
fn looking_and_taking_in_stop_while_they_read_decode_and_find() {
    type GoOn<'a> = &'a (dyn Fn() -> bool + Sync);
    type Way<'a> = &'a dyn Fn(GoOn<'_>) -> Result<(), Problem>;
    let folder = crooked();
    let list = folder.path().join("list.csv");
    let look_through =
        |go_on: GoOn<'_>| survey(folder.path(), &Series::default(), folder.path(), &|_| go_on()).map(drop);
    let plan = look(folder.path(), &Series::default());
    let prepare = |go_on: GoOn<'_>| {
        take::prepare(&plan, &Series::default(), folder.path(), &|_: f32| go_on()).map(drop)
    };
    let listed = |go_on: GoOn<'_>| series_from_list_while(&list, &|_: f32| go_on()).map(drop);
    // Looking and the list decode the strip and look for its steps row by row; what was found by looking is only taken in.
    let ways: [(&str, Way<'_>, usize); 3] =
        [("look", &look_through, 50), ("take in", &prepare, 1), ("list", &listed, 50)];
    for (way, take, least) in ways {
        let count = AtomicUsize::new(0);
        take(&|| count.fetch_add(1, Ordering::Relaxed) < usize::MAX).unwrap();
        let all = count.into_inner();
        assert!(all >= least, "{way}: it is asked at least {least} times, not {all}");
        for part in [0, all / 4, all / 2, (all - 1) - all / 10] {
            let count = AtomicUsize::new(0);
            let problem = take(&|| count.fetch_add(1, Ordering::Relaxed) < part)
                .expect_err(&format!("{way}: stopped at question {part} of {all}"));
            assert!(problem.cause.contains("cancelled"), "{way}, question {part} of {all}: {problem}");
        }
    }
}
