//! Each verb once, on real files, as quick as it can be.

use std::path::{Path, PathBuf};

use twinwedge_workbench::core::document::{
    Exposure, Film, FilmId, ReadingsSource, Series, Tablet, TabletExposure, TabletId, TypedReading,
};
use twinwedge_workbench::core::patch::default_layout;
use twinwedge_workbench::store;

use crate::{sample, twinwedge};

/// A verb with its arguments, and the file it writes where it writes one.
#[derive(Debug, Clone)]
pub(crate) struct Call {
    pub(crate) arguments: Vec<String>,
    pub(crate) out: Option<PathBuf>,
    /// It prints what was asked for.
    pub(crate) prints: bool,
}

impl Call {
    pub(crate) fn verb(&self) -> &str {
        &self.arguments[0]
    }
}

/// Two films whose densities were typed, and a list of their readings.
pub(crate) fn series(folder: &Path) -> PathBuf {
    let tablet = TabletId::from("wedge");
    let mut series = Series { layout: Some(default_layout()), ..Series::default() };
    series.settings.resamplings = 50;
    series.tablets.insert(tablet.clone(), Tablet::nominal(21).expect("a tablet"));
    for (label, slope, toe) in [("Tern 160", 0.62, -2.0), ("Plover 640", 0.70, -2.5)] {
        // A toe and a straight line through a tablet of steps of 0.15.
        let density = |step: i32| {
            0.25 + slope / 2.0 * (1.0 + 10.0_f64.powf(2.0 * (-0.15 * f64::from(step) - toe))).log10()
        };
        let reading = |step| TypedReading {
            density: (100.0 * density(step)).round() / 100.0,
            u: None,
            set_aside: false,
            missing: false,
        };
        let mut film = Film::named(FilmId::from(label), label);
        film.strips.push(ReadingsSource::Typed((0..21).map(reading).collect()).into());
        let exposure = Exposure::Absolute { log_h: 0.2, u: 0.01 };
        film.tablet_exposure = Some(TabletExposure::new(tablet.clone(), exposure));
        film.box_speed = Some(160.0);
        series.films.push(film);
    }
    series.reference = series.films.first().map(|film| film.id.clone());
    let path = folder.join("films.twinwedge");
    store::save(&path, store::write(&series).as_bytes()).expect("a series");
    path
}

/// A call of each verb; what they write goes to `folder`.
pub(crate) fn calls(folder: &Path) -> Vec<Call> {
    let shown = |path: &Path| path.display().to_string();
    let series = shown(&series(folder));
    let readings = shown(&sample("readings/tern-160.csv"));
    let tablet = shown(&sample("step-tablet.csv"));
    let scan = |name: &str| shown(&sample(&format!("scans/{name}.tif")));
    let list = folder.join("list.csv");
    std::fs::copy(&readings, folder.join("tern.csv")).expect("readings");
    std::fs::write(&list, "file,kind,film,role,tablet\ntern.csv,readings,Tern 160,reference,nominal 21\n")
        .expect("a list");
    let layout = folder.join("target.ron");
    std::fs::write(
        &layout,
        "(rows: 1, columns: 2, corners: ((716.43, 65.93), (1123.44, 74.79), (1119.38, 345.37), (711.12, 336.96)), \
         patches: [\"light\", \"dark\"])",
    )
    .expect("a layout");
    let (report, gathered, saved) =
        (folder.join("report.html"), folder.join("new.twinwedge"), folder.join("saved.patches"));
    let (scanner, manual) = (folder.join("scanner.ron"), folder.join("manual"));
    std::fs::create_dir(&manual).expect("a folder");
    let graph = folder.join("graph.pdf");
    let patches = shown(&crate::greys::table(folder));
    let (reflectances, light) =
        (shown(&sample("target/reflectances.csv")), shown(&sample("target/light.csv")));
    let (first, second) = (scan("tern-160-print"), scan("plover-640-print"));
    let call = |arguments: &[&str]| Call {
        arguments: arguments.iter().map(|&word| word.to_owned()).collect(),
        out: None,
        prints: true,
    };
    let writes = |out: &Path, arguments: &[&str]| Call { out: Some(out.to_owned()), ..call(arguments) };
    vec![
        writes(&report, &["report", &series, "--out", &shown(&report)]),
        writes(
            &folder.join("talk-curves.svg"),
            &["slides", &series, "--only", "curves", "--out", &shown(&folder.join("talk.svg"))],
        ),
        writes(&graph, &["graph", &series, "--out", &shown(&graph)]),
        call(&["figures", &series]),
        call(&["tones", &series]),
        call(&["conclusions", &series]),
        call(&["check", &series]),
        call(&["development", &series, "--film", "Plover 640"]),
        writes(&gathered, &["gather", &shown(&list), "--out", &shown(&gathered)]),
        call(&["curve", &readings, "--tablet", &tablet, "--base-fog", "0.27 0.003"]),
        call(&["strip", &scan("tern-160-strip"), "--steps", "21", "--encoding", "srgb"]),
        writes(
            &scanner,
            &["calibrate", &scan("film-scanner-tablet"), "--tablet", &tablet, "--out", &shown(&scanner)],
        ),
        call(&["scan", &scan("tern-160-grain")]),
        call(&["patches", &first, &second, "--layout", &shown(&layout), "--encoding", "srgb"]),
        Call { prints: false, ..writes(&saved, &["layout", &series, "--save", &shown(&saved)]) },
        call(&["register", &first, &second]),
        call(&["detail", &first, &second, "--area", "200,400 700,900", "--encoding", "srgb"]),
        call(&["grain", &scan("tern-160-grain"), "--area", "16,16 300,300", "--encoding", "srgb"]),
        call(&["spectrum", &scan("tern-160-grain"), "--area", "16,16 300,300", "--encoding", "srgb"]),
        call(&["greys", &patches]),
        call(&["sensitivity", &patches, "--reflectances", &reflectances, "--light", &light]),
        call(&["filters", &light, "--light", &light]),
        call(&["edge", &scan("tern-160-edge"), "--encoding", "srgb"]),
        Call { prints: false, ..writes(&manual.join("twinwedge.1"), &["manual", "--out", &shown(&manual)]) },
        call(&["schema"]),
    ]
}

/// A verb that comes in later comes into these tests, too.
#[test]
fn each_verb_of_the_help_is_called() {
    let folder = tempfile::tempdir().expect("a folder");
    let help = String::from_utf8(twinwedge(&["--help"]).stdout).expect("text");
    let (_, list) = help.split_once("Commands:\n").expect("a list of verbs");
    let listed = list.lines().take_while(|line| !line.trim().is_empty());
    let verbs = listed.filter(|line| line.starts_with("  ") && !line.starts_with("   "));
    let mut verbs: Vec<&str> =
        verbs.filter_map(|line| line.split_whitespace().next()).filter(|verb| *verb != "help").collect();
    verbs.sort_unstable();
    let calls = calls(folder.path());
    let mut called: Vec<&str> = calls.iter().map(Call::verb).collect();
    called.sort_unstable();
    assert_eq!(called, verbs);
}

/// Runs `test` for every call, several at a time; each call has a folder of its own.
pub(crate) fn each(test: impl Fn(&Path, &Call) + Sync) {
    let count = calls(tempfile::tempdir().expect("a folder").path()).len();
    let next = std::sync::atomic::AtomicUsize::new(0);
    std::thread::scope(|scope| {
        for _ in 0..3 {
            scope.spawn(|| {
                loop {
                    let at = next.fetch_add(1, std::sync::atomic::Ordering::Relaxed);
                    if at >= count {
                        break;
                    }
                    let folder = tempfile::tempdir().expect("a folder");
                    test(folder.path(), &calls(folder.path())[at]);
                }
            });
        }
    });
}
