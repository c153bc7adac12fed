//! Slides: their sizes, their safe margins, where they are written, and what they never replace.

use std::fs;
use std::path::Path;

use twinwedge_core::document::FilmId;
use twinwedge_workbench::edits::FindingEdit;
use twinwedge_workbench::export::{Slide, SlideSize, SlidesOf, slide_svg, slides_to_files};
use twinwedge_workbench::session::Session;
use twinwedge_workbench::store::Replace;

fn sample() -> Session {
    let top = Path::new(env!("CARGO_MANIFEST_DIR"));
    let mut session = Session::open(&top.join("sample-projects/saltmarsh/saltmarsh.twinwedge")).unwrap();
    session.set_recovery_folder(None);
    session
}

fn written(session: &Session, size: SlideSize, only: &[Slide], path: &Path) -> Vec<String> {
    let film = FilmId::from("Plover 640");
    let of = SlidesOf { film: Some(&film), size, only };
    let (files, _) = slides_to_files(session, of, path, &[], Replace::Unasked).unwrap();
    files.iter().map(|file| file.file_name().unwrap().to_string_lossy().into_owned()).collect()
}

/// The image crate reads the pictures; what screens may cover (EBU R 95: 5 % at each edge) holds nothing, and what lies within is no
/// empty sheet.
#[test]
fn slides_have_their_size_and_safe_margins() {
    let mut session = sample();
    let film = FilmId::from("Plover 640");
    let long = "Fast enough for dusk on the marsh, and coarse enough to be seen. ".repeat(6);
    session.carry_out(FindingEdit::Verdict(film.clone(), long.clone())).unwrap();
    session.carry_out(FindingEdit::Recommendation(film, long)).unwrap();
    let folder = tempfile::tempdir().unwrap();
    for size in SlideSize::ALL {
        let only = if size == SlideSize::Fine { &[Slide::Curves][..] } else { &[] };
        let files = written(&session, size, only, &folder.path().join(format!("{}.png", size.word())));
        let wanted = if only.is_empty() { Slide::ALL.to_vec() } else { only.to_vec() };
        let names: Vec<String> =
            wanted.iter().map(|slide| format!("{}-{}.png", size.word(), slide.word())).collect();
        assert_eq!(files, names, "the sample has something to show on each");
        for name in files {
            let picture = image::open(folder.path().join(&name)).unwrap().into_rgb8();
            let [width, height] = size.pixels();
            assert_eq!((picture.width(), picture.height()), (width, height), "{name}");
            let (left, top) = (width / 20 - 1, height / 20 - 1);
            let within =
                |x: u32, y: u32| (left..width - left).contains(&x) && (top..height - top).contains(&y);
            let ink = picture.enumerate_pixels().filter(|(.., pixel)| pixel.0 != [255; 3]);
            let (inside, outside) = ink.fold((0_u64, 0_u64), |(inside, outside), (x, y, _)| {
                if within(x, y) { (inside + 1, outside) } else { (inside, outside + 1) }
            });
            assert_eq!(outside, 0, "{name} has something in its margins");
            assert!(inside * 100 > u64::from(width) * u64::from(height), "{name} is nearly empty");
        }
    }
}

#[test]
fn a_slide_is_the_report_s_own_drawing() {
    let session = sample();
    let film = FilmId::from("Plover 640");
    let slide = slide_svg(&session, &film, Slide::Curves, SlideSize::Wide).unwrap().unwrap();
    let report = twinwedge_workbench::export::report_html(&session, Some(&film)).unwrap();
    // Both come from one description of the plot: it says what the findings say, and its axes are the same.
    let title = "Plover 640 is";
    assert!(slide.contains(title) && report.contains(title), "it says what its findings say");
    for word in ["lg H", "log H"] {
        assert_eq!(slide.contains(word), report.contains(word), "{word}");
    }
    assert!(slide.starts_with("<svg xmlns=") && !slide.contains("<script"));
}

#[test]
fn older_slides_are_replaced_and_other_pictures_are_not() {
    let session = sample();
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("talk.png");
    for _ in 0..2 {
        assert_eq!(written(&session, SlideSize::Wide, &[Slide::Cost], &path), ["talk-cost.png"]);
    }
    let svg = folder.path().join("talk.svg");
    for _ in 0..2 {
        assert_eq!(written(&session, SlideSize::Wide, &[Slide::Grain], &svg), ["talk-grain.svg"]);
    }
    let other = folder.path().join("talk-grain.png");
    image::GrayImage::new(2, 2).save(&other).unwrap();
    let before = fs::read(&other).unwrap();
    let film = FilmId::from("Plover 640");
    let of = SlidesOf { film: Some(&film), size: SlideSize::Wide, only: &[Slide::Grain] };
    let problem = slides_to_files(&session, of, &path, &[], Replace::Unasked).unwrap_err().problem();
    assert!(problem.remedy.contains("another name"), "{problem}");
    assert_eq!(fs::read(&other).unwrap(), before);
    let unknown = slides_to_files(&session, of, &folder.path().join("talk.gif"), &[], Replace::Unasked);
    assert!(unknown.unwrap_err().problem().remedy.contains(".png"));
}

#[test]
fn films_without_scans_have_the_slides_that_they_can_have() {
    let mut session = sample();
    let mut series = (**session.series()).clone();
    for film in &mut series.films {
        (film.print, film.uniform_areas, film.edges) = (None, Vec::new(), Vec::new());
    }
    session = Session::of(series, session.folder().to_path_buf());
    let folder = tempfile::tempdir().unwrap();
    let files = written(&session, SlideSize::Upright, &[], &folder.path().join("talk.svg"));
    assert!(files.contains(&"talk-curves.svg".to_owned()), "{files:?}");
    assert!(!files.iter().any(|file| file.contains("prints") || file.contains("grain")), "{files:?}");
    let film = FilmId::from("Plover 640");
    assert!(slide_svg(&session, &film, Slide::Prints, SlideSize::Wide).unwrap().is_none());
}
