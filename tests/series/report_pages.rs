//! A report of many films: a first page, and a page for each film in a folder beside it.

use std::collections::BTreeSet;
use std::fs;
use std::path::{Path, PathBuf};

use twinwedge_core::document::FilmId;
use twinwedge_workbench::engine::Kind;
use twinwedge_workbench::session::Session;

use crate::support::{session, to_file, typed_series};

fn opened(films: usize) -> Session {
    session(typed_series(films), Path::new(""))
}

fn names(folder: &Path) -> BTreeSet<String> {
    fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().file_name().into_string().unwrap()).collect()
}

/// What the links of a page lead to, without places within a page.
fn links(page: &Path) -> Vec<PathBuf> {
    let text = fs::read_to_string(page).unwrap();
    let parts = text.split("href=\"").skip(1).filter_map(|rest| rest.split('"').next());
    let plain = |address: &str| address.replace("%20", " ");
    parts.filter(|to| !to.starts_with('#')).map(|to| page.parent().unwrap().join(plain(to))).collect()
}

#[test]
fn a_report_of_many_films_has_a_page_for_each_linked_both_ways() {
    let folder = tempfile::tempdir().unwrap();
    let first = folder.path().join("house films.html");
    let session = opened(40);
    let problems = to_file(&session, None, &first).unwrap();
    assert!(problems.len() >= 40, "each film says that it has no print");
    assert_eq!(session.computations(Kind::CurveOf), 40);
    let pages = folder.path().join("house films-films");
    assert_eq!(
        names(folder.path()),
        BTreeSet::from(["house films.html", "house films-films"].map(str::to_owned))
    );
    let of_films = names(&pages);
    assert_eq!(of_films.len(), 39);
    assert!(of_films.contains("01-plover-1.html") && of_films.contains("39-plover-39.html"), "{of_films:?}");
    // The first page leads to all of them and nowhere else.
    let to: BTreeSet<PathBuf> = links(&first).into_iter().collect();
    assert_eq!(to, of_films.iter().map(|name| pages.join(name)).collect());
    let text = fs::read_to_string(&first).unwrap();
    assert!(text.contains("39 films against Tern 160") && text.contains("<svg"));
    assert!(text.len() < 300_000, "{} bytes", text.len());
    for name in &of_films {
        let page = pages.join(name);
        let text = fs::read_to_string(&page).unwrap();
        for fetch in ["http:", "https:", "src=", "url(", "<script ", "<link", "@import"] {
            assert!(!text.contains(fetch), "{name}: {fetch}");
        }
        assert!(text.len() < 500_000, "{name}: {} bytes", text.len());
        let to = links(&page);
        assert!(to.iter().all(|to| to.is_file()), "{name}: {to:?}");
        let back = to.iter().filter(|to| fs::canonicalize(to).unwrap() == fs::canonicalize(&first).unwrap());
        assert!(back.count() >= 2, "{name} leads back, at its top and at its end");
    }
    let between = links(&pages.join("02-plover-2.html"));
    for next in ["01-plover-1.html", "03-plover-3.html"] {
        assert!(between.contains(&pages.join(next)), "{between:?}");
    }
}

#[test]
fn few_films_or_one_stay_on_one_page() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("report.html");
    to_file(&opened(13), None, &path).unwrap();
    to_file(&opened(40), Some(&FilmId::from("Plover 7")), &path).unwrap();
    assert_eq!(names(folder.path()), BTreeSet::from(["report.html".to_owned()]));
    assert!(fs::read_to_string(&path).unwrap().contains("Plover 7</span> against Tern 160"));
}

#[test]
fn a_report_that_is_written_again_leaves_no_page_of_the_old_one() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("report.html");
    to_file(&opened(20), None, &path).unwrap();
    to_file(&opened(15), None, &path).unwrap();
    assert_eq!(names(folder.path()), BTreeSet::from(["report-films", "report.html"].map(str::to_owned)));
    assert_eq!(names(&folder.path().join("report-films")).len(), 14);
}

#[test]
fn a_folder_with_anything_else_in_it_is_kept_and_nothing_is_written() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("report.html");
    // A report of few films, as one page.
    to_file(&opened(3), None, &path).unwrap();
    let before = fs::read_to_string(&path).unwrap();
    let pages = folder.path().join("report-films");
    let refused = |what: &str| {
        let problem = to_file(&opened(15), None, &path).unwrap_err();
        assert!(problem.cause.contains("kept"), "{what}: {problem}");
        assert_eq!(fs::read_to_string(&path).unwrap(), before, "{what}");
        assert_eq!(names(folder.path()).len(), 2, "{what}: nothing is left beside");
    };
    fs::write(&pages, "a file").unwrap();
    refused("a file of the folder's name");
    fs::remove_file(&pages).unwrap();
    fs::create_dir(&pages).unwrap();
    fs::write(pages.join("01-plover-1.html"), "<!DOCTYPE html>\n<p>Somebody's own page.</p>").unwrap();
    refused("a page of another program");
    fs::remove_dir_all(&pages).unwrap();
    // Pages of another report, although this program wrote them.
    to_file(&opened(15), None, &folder.path().join("other.html")).unwrap();
    fs::rename(folder.path().join("other-films"), &pages).unwrap();
    fs::remove_file(folder.path().join("other.html")).unwrap();
    refused("pages of another report");
    assert_eq!(names(&pages).len(), 14);
}

#[test]
fn a_first_page_that_cannot_be_written_leaves_the_old_report() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("report.html");
    to_file(&opened(20), None, &path).unwrap();
    let pages = folder.path().join("report-films");
    let before = names(&pages);
    fs::remove_file(&path).unwrap();
    fs::create_dir(&path).unwrap();
    assert!(to_file(&opened(15), None, &path).is_err());
    assert_eq!(names(&pages), before);
    assert_eq!(names(folder.path()).len(), 2, "{:?}", names(folder.path()));
}
