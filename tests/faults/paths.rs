//! Names, links, permissions and folders that saving meets.
#![cfg(unix)]

use std::ffi::OsStr;
use std::fs;
use std::os::unix::ffi::OsStrExt;
use std::os::unix::fs::{MetadataExt, PermissionsExt, symlink};
use std::path::Path;
use std::process::Command;

use twinwedge_core::document::{ScanId, ScanKind, Series};
use twinwedge_workbench::export;
use twinwedge_workbench::session::Session;
use twinwedge_workbench::store::{self, NotWritten, Replace, Why};

use crate::support::{names, put, retitle, series, title};

fn quiet(path: &Path) -> Session {
    let mut session = Session::open(path).unwrap();
    session.set_recovery_folder(None);
    session
}

fn way(done: Result<(), NotWritten>) -> Box<store::InTheWay> {
    match done {
        Err(NotWritten::InTheWay(way)) => way,
        other => panic!("{other:?}"),
    }
}

#[test]
fn a_name_of_250_letters_is_saved_again_and_again() {
    let folder = tempfile::tempdir().unwrap();
    for letter in ["a", "\u{e9}"] {
        let stem = letter.repeat((250 - ".twinwedge".len()) / letter.len());
        let path = folder.path().join(format!("{stem}.twinwedge"));
        put(&path, &series("old", 2));
        let mut session = quiet(&path);
        retitle(&mut session, "new");
        session.save().unwrap();
        assert_eq!(title(&path), "new");
        fs::remove_file(path).unwrap();
    }
    assert!(names(folder.path()).is_empty());
}

#[test]
fn paths_that_are_no_text_are_kept() {
    let home = tempfile::tempdir().unwrap();
    let folder = home.path().join(OsStr::from_bytes(b"caf\xe9"));
    fs::create_dir_all(folder.join("scans")).unwrap();
    let scan = folder.join("scans").join(OsStr::from_bytes(b"a\xff.tif"));
    fs::write(&scan, "a scan").unwrap();
    let mut made = series("odd", 2);
    let entry = store::scan_entry(&scan, ScanKind::Film, home.path()).unwrap();
    made.scans.insert(ScanId::from("a"), entry);
    let mut session = Session::of(made, home.path().to_owned());
    session.set_recovery_folder(None);
    let path = folder.join(OsStr::from_bytes(b"s\xe9rie.twinwedge"));
    session.save_as(&path).unwrap();
    let place = |session: &Session| {
        let kept = &session.series().scans[&ScanId::from("a")].path;
        store::paths::absolute(session.folder(), kept)
    };
    assert_eq!(place(&quiet(&path)), scan);
    // The folder moves, and is opened by a name without words for folders.
    let moved = home.path().join(OsStr::from_bytes(b"mov\xe9d"));
    fs::rename(&folder, &moved).unwrap();
    let opened = quiet(&moved.join(path.file_name().unwrap()));
    assert!(place(&opened).starts_with(&moved) && place(&opened).exists());
    // Also in what is kept for a crash.
    let recoveries = home.path().join("recovery");
    let mut session = quiet(&moved.join(path.file_name().unwrap()));
    session.set_recovery_folder(Some(recoveries.clone()));
    retitle(&mut session, "changed");
    session.keep_now().unwrap();
    drop(session);
    let offer = store::recovery::list(&recoveries).pop().unwrap();
    assert_eq!(offer.saved, store::recovery::Saved::Unchanged);
    assert!(place(&Session::recovered(offer.recovery)).exists());
}

#[test]
fn permissions_owner_and_links_stay() {
    let folder = tempfile::tempdir().unwrap();
    let real = folder.path().join("real");
    fs::create_dir(&real).unwrap();
    let (file, link, hard) =
        (real.join("a.twinwedge"), folder.path().join("link.twinwedge"), real.join("hard.twinwedge"));
    put(&file, &series("old", 2));
    fs::set_permissions(&file, fs::Permissions::from_mode(0o640)).unwrap();
    // Files can be given away by the administrator alone: where the test is that, owner and group are others'.
    let given = std::os::unix::fs::chown(&file, Some(1234), Some(4321)).is_ok();
    let before = fs::metadata(&file).unwrap();
    symlink("real/a.twinwedge", &link).unwrap();
    fs::hard_link(&file, &hard).unwrap();
    let mut session = quiet(&link);
    retitle(&mut session, "new");
    session.save().unwrap();
    assert!(fs::symlink_metadata(&link).unwrap().is_symlink());
    assert_eq!(title(&file), "new");
    let after = fs::metadata(&file).unwrap();
    assert_eq!(after.mode() & 0o7777, 0o640);
    assert_eq!((after.uid(), after.gid()), (before.uid(), before.gid()), "given away: {given}");
    assert_eq!(title(&hard), "old", "further hard links keep the old contents");
    assert_eq!(names(&real), ["a.twinwedge", "hard.twinwedge"]);
    assert_eq!(
        session.folder(),
        real.canonicalize().unwrap_or(real.clone()),
        "scans lie where the file does"
    );
}

#[test]
fn a_link_to_nothing_is_followed_and_not_replaced() {
    let folder = tempfile::tempdir().unwrap();
    fs::create_dir(folder.path().join("real")).unwrap();
    let link = folder.path().join("link.twinwedge");
    symlink("real/a.twinwedge", &link).unwrap();
    let mut session = Session::of(series("new", 1), folder.path().to_owned());
    session.set_recovery_folder(None);
    session.save_as(&link).unwrap();
    assert!(fs::symlink_metadata(&link).unwrap().is_symlink());
    assert_eq!(title(&folder.path().join("real/a.twinwedge")), "new");
    let circle = folder.path().join("circle.twinwedge");
    symlink("circle.twinwedge", &circle).unwrap();
    let NotWritten::Failed(problem) = session.save_as(&circle).unwrap_err() else { panic!("a circle") };
    assert!(problem.cause.contains("round in a circle"), "{problem}");
}

#[test]
fn a_protected_file_is_asked_about() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("a.twinwedge");
    put(&path, &series("old", 2));
    fs::set_permissions(&path, fs::Permissions::from_mode(0o444)).unwrap();
    let mut session = quiet(&path);
    retitle(&mut session, "new");
    let way = way(session.save());
    assert_eq!(way.why, Why::ReadOnly);
    assert!(way.problem().cause.contains("protected from writing"), "{}", way.problem());
    assert_eq!(title(&path), "old");
    session.save_replacing(Replace::Seen(&way)).unwrap();
    assert_eq!(title(&path), "new");
    assert_eq!(fs::metadata(&path).unwrap().mode() & 0o777, 0o444, "it stays protected");
}

#[test]
fn nothing_goes_over_what_was_read_or_what_is_of_another_kind() {
    let folder = tempfile::tempdir().unwrap();
    let at = |name: &str| folder.path().join(name);
    let scan = at("a.html");
    fs::write(&scan, "really a scan").unwrap();
    let mut made: Series = series("read", 2);
    made.scans.insert(ScanId::from("a"), store::scan_entry(&scan, ScanKind::Film, folder.path()).unwrap());
    put(&at("a.twinwedge"), &made);
    symlink("a.twinwedge", at("link.json")).unwrap();
    fs::hard_link(&scan, at("hard.html")).unwrap();
    fs::write(at("readings.csv"), "1,2\n").unwrap();
    fs::write(at("page.html"), "<!DOCTYPE html><title>mine</title>").unwrap();
    fs::write(at("mine.pdf"), "%PDF-1.4\n%%EOF\n").unwrap();
    fs::create_dir(at("folder.html")).unwrap();
    fs::create_dir(at("sub")).unwrap();
    let session = quiet(&at("a.twinwedge"));
    let report = |name: &str, replace: Replace<'_>| {
        export::to_file(&session, None, &at(name), &session.sources(), replace).map(drop)
    };
    for (name, words) in [
        ("a.html", "the scan 'a' of the series"),
        ("sub/../a.html", "the scan 'a' of the series"),
        ("hard.html", "the scan 'a' of the series"),
        ("link.json", "the series that is read"),
        ("readings.csv", "a file of text"),
        ("page.html", "a page of HTML"),
        ("mine.pdf", "a PDF document"),
    ] {
        let way = way(report(name, Replace::Unasked));
        assert!(way.problem().cause.contains(words), "{name}: {}", way.problem());
        let verb = way.problem_of_verb(Some("--force"));
        assert!(verb.remedy.contains("--force") && verb.remedy.contains(words), "{name}: {verb}");
    }
    let NotWritten::Failed(problem) = report("folder.html", Replace::Anything).unwrap_err() else { panic!() };
    assert!(problem.cause.contains("it is a folder, not a file"), "{problem}");
    symlink("/dev/null", at("device.html")).unwrap();
    let NotWritten::Failed(problem) = report("device.html", Replace::Anything).unwrap_err() else { panic!() };
    assert!(problem.cause.contains("it is a device, not a file"), "{problem}");
    assert_eq!(title(&at("a.twinwedge")), "read");
    assert_eq!(fs::read(&scan).unwrap(), b"really a scan");

    // Reports go over older reports, of the same kind only, and over what is named when that is told to go.
    for ending in ["html", "json", "csv", "pdf"] {
        let name = format!("report.{ending}");
        report(&name, Replace::Unasked).unwrap();
        report(&name, Replace::Unasked).unwrap();
        fs::copy(at(&name), at(&format!("other-{ending}.html"))).unwrap();
        if ending != "html" {
            way(report(&format!("other-{ending}.html"), Replace::Unasked));
        }
    }
    report("page.html", Replace::Anything).unwrap();
    report("page.html", Replace::Unasked).unwrap();
}

/// A process of its own, for the folder that one is in is one for all threads.
#[test]
fn scans_are_found_from_whichever_folder() {
    if std::env::var_os("TWINWEDGE_TEST_HERE").is_some() {
        let scan = Path::new("scans/a.tif");
        let mut made = series("bare", 1);
        made.scans.insert(ScanId::from("a"), store::scan_entry(scan, ScanKind::Film, Path::new("")).unwrap());
        let mut session = Session::of(made, "".into());
        session.set_recovery_folder(None);
        session.save_as(Path::new("bare.twinwedge")).unwrap();
        return;
    }
    let home = tempfile::tempdir().unwrap();
    let here = home.path().join("here");
    fs::create_dir_all(here.join("scans")).unwrap();
    fs::write(here.join("scans/a.tif"), "a scan").unwrap();
    let status = Command::new(std::env::current_exe().unwrap())
        .args(["--exact", "paths::scans_are_found_from_whichever_folder"])
        .env("TWINWEDGE_TEST_HERE", "1")
        .current_dir(&here)
        .output()
        .unwrap();
    assert!(status.status.success(), "{}", String::from_utf8_lossy(&status.stdout));
    let there = home.path().join("there");
    fs::rename(&here, &there).unwrap();
    let session = quiet(&there.join("bare.twinwedge"));
    let kept = &session.series().scans[&ScanId::from("a")].path;
    assert_eq!(kept, "scans/a.tif");
    assert!(store::paths::absolute(session.folder(), kept).exists());
}
