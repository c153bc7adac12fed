//! Results against general-purpose libraries of another language: numpy, scipy, `OpenCV`, colour-science and readers of PDF, pinned in
//! `tests/outside/requirements.txt`. The expected numbers are computed there, at test time, from the same files.

#![allow(clippy::print_stdout, reason = "a comparison prints its table")]
#![allow(clippy::unwrap_used, reason = "what a test prepares itself is there")]

#[path = "outside/browser.rs"]
mod browser;
#[path = "outside/detail.rs"]
mod detail;
#[path = "outside/greys.rs"]
mod greys;
#[path = "outside/paper.rs"]
mod paper;
#[path = "outside/registration.rs"]
mod registration;
#[path = "outside/scans.rs"]
mod scans;
#[path = "shared/mod.rs"]
#[allow(dead_code, reason = "shared by several test crates, of which none needs all of it")]
mod shared;

use std::io::Write;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

use serde_json::{Value, json};
use twinwedge_core::curve::{FitSettings, Reading, Readings, Sources, fit};
use twinwedge_core::development::kinetics::{self, Model, Point};
use twinwedge_core::document::{CalibrationId, Channel, FilmId, ScanId, Series, Settings};
use twinwedge_core::figures::registry;
use twinwedge_core::geometry::{self, Rect};
use twinwedge_core::grain::spectrum::{SpectrumSettings, spectrum};
use twinwedge_core::measured::Flags;
use twinwedge_core::numeric::interpolate::{MonotoneCubic, SlopeRule};
use twinwedge_core::numeric::quantiles;
use twinwedge_core::scan::ToneTable;
use twinwedge_core::sharpness::EdgeSpace;
use twinwedge_core::units::Micrometres;
use twinwedge_workbench::engine::ask::{ApertureLawOf, EdgeOf, GrainOf, RegistrationOf, SpectrumOf, ToneOf};
use twinwedge_workbench::load;
use twinwedge_workbench::session::{Edit, Session};

fn top() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

fn sample() -> PathBuf {
    top().join("sample-projects/saltmarsh")
}

/// The pinned Python, or what to do about its absence.
fn python() -> PathBuf {
    let python = std::env::var_os("TWINWEDGE_PYTHON")
        .map_or_else(|| top().join("target/outside/bin/python"), PathBuf::from);
    assert!(
        python.exists(),
        "{} is missing. Install it: python3 -m venv target/outside && \
         target/outside/bin/pip install -r tests/outside/requirements.txt (or point TWINWEDGE_PYTHON to a Python \
         that has these packages)",
        python.display()
    );
    python
}

/// Asks `tests/outside/peers.py`.
fn peer(task: &str, question: &Value) -> Value {
    let mut child = Command::new(python())
        .arg(top().join("tests/outside/peers.py"))
        .arg(task)
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .spawn()
        .expect("Python starts");
    child
        .stdin
        .take()
        .expect("a pipe")
        .write_all(question.to_string().as_bytes())
        .expect("the question is taken");
    let output = child.wait_with_output().expect("Python ends");
    assert!(output.status.success(), "peers.py {task} failed; its message stands above");
    serde_json::from_slice(&output.stdout).expect("an answer in JSON")
}

fn numbers(value: &Value) -> Vec<f64> {
    value.as_array().expect("an array").iter().map(|v| v.as_f64().expect("a number")).collect()
}

fn close(ours: f64, theirs: f64, tolerance: f64, what: &str) {
    assert!((ours - theirs).abs() <= tolerance, "{what}: ours {ours}, theirs {theirs}");
}

fn expected() -> Value {
    let bytes = std::fs::read(sample().join("expected.json")).expect("the truth is there");
    serde_json::from_slice(&bytes).expect("the truth is JSON")
}

#[test]
fn monotone_interpolation_is_scipys() {
    let x = [-3.0, -2.4, -2.3, -1.7, -1.0, -0.2, 0.3];
    let y = [0.21, 0.21, 0.24, 0.55, 1.02, 1.44, 1.46];
    let curve = MonotoneCubic::new(&x, &y, SlopeRule::FritschButland).unwrap();
    let at: Vec<f64> = (0..=330).map(|i| (-3.0 + 0.01 * f64::from(i)).min(0.3)).collect();
    let theirs = peer("pchip", &json!({ "x": x, "y": y, "at": at }));
    for ((at, value), slope) in at.iter().zip(numbers(&theirs["value"])).zip(numbers(&theirs["slope"])) {
        close(curve.value(*at).unwrap(), value, 1e-12, &format!("value at {at}"));
        close(curve.slope(*at).unwrap(), slope, 1e-9, &format!("slope at {at}"));
    }
}

#[test]
fn quantiles_are_scipys() {
    let p = [0.005, 0.025, 0.5, 0.95, 0.975, 0.999];
    for (degrees, second) in [(3.0, 7.0), (40.0, 12.5), (9_000.0, 5_000.0)] {
        let theirs = peer("quantiles", &json!({ "p": p, "degrees": degrees, "second": second }));
        for (i, p) in p.iter().enumerate() {
            let relative = |ours: f64, key: &str| {
                let theirs = numbers(&theirs[key])[i];
                close(ours, theirs, 1e-6 * (1.0 + theirs.abs()), &format!("{key} {p} {degrees}"));
            };
            relative(quantiles::chi_square(*p, degrees), "chi_square");
            relative(quantiles::student_t(*p, degrees), "student_t");
            relative(quantiles::f_ratio(*p, degrees, second), "f_ratio");
        }
    }
}

/// Toe, line and shoulder on a film with both ends and errors, against scipy's least squares of the same formula.
#[test]
fn toe_line_and_shoulder_are_scipys() {
    let errors = [4, -7, 2, 9, -3, -8, 5, 1, -6, 3, 7, -2, -9, 6, 0, -4, 8, -1, -5, 2, 5, -3, 4, -6, 1];
    let log_h: Vec<f64> = (0..25).map(|i| -3.0 + 0.15 * f64::from(i)).collect();
    // A cumulated logistic of another kind than the model, with errors of a hundredth and less.
    let truth = |x: f64| 0.2 + 2.1 / (1.0 + (-(x + 1.2) * 1.5).exp()).powf(1.4);
    let density: Vec<f64> =
        log_h.iter().zip(errors).map(|(x, error)| truth(*x) + 0.001 * f64::from(error)).collect();
    let point = |(i, (x, d)): (usize, (&f64, &f64))| Reading {
        strip: 0,
        step: 25 - i as u32,
        log_h: *x,
        log_h_u: 0.0,
        density: *d,
        density_u: 0.008,
        set_aside: false,
        flags: Flags::empty(),
    };
    let readings = Readings {
        points: log_h.iter().zip(&density).enumerate().map(point).collect(),
        absolute: true,
        log_h_shared_u: 0.0,
        sources: Sources::default(),
        base_fog: None,
        flags: Flags::empty(),
    };
    let ours = fit(readings, FitSettings { resamplings: 50, seed: 1 }).unwrap().model.unwrap();
    let start = [0.2, 0.8, -2.2, 1.5, 2.0, 1.5];
    let u = vec![0.008; log_h.len()];
    let question = json!({ "log_h": log_h, "density": density, "u": u, "start": start });
    let theirs = peer("toe_line_shoulder", &question);
    let scale = (ours.goodness.chi_square / ours.goodness.degrees).max(1.0).sqrt();
    for (i, parameter) in ours.parameters.iter().enumerate() {
        let (value, u) = (numbers(&theirs["parameters"])[i], numbers(&theirs["u"])[i]);
        close(parameter.value, value, 1e-3 * u, parameter.name);
        close(parameter.u / scale, u, 1e-2 * u, &format!("u of {}", parameter.name));
    }
    close(ours.goodness.chi_square, theirs["chi_square"].as_f64().unwrap(), 1e-6, "chi-square");
    let question = json!({ "value": ours.goodness.chi_square, "degrees": ours.goodness.degrees });
    close(ours.goodness.p.unwrap(), peer("chi_square_tail", &question)["p"].as_f64().unwrap(), 1e-9, "p");
}

/// A film as the verb 'curve' is asked about it.
struct Typed {
    name: String,
    /// Tablet densities and readings, step by step.
    steps: Vec<(f64, f64)>,
    light: f64,
    base_fog: Option<f64>,
}

/// The films of the sample as its simulator knows them, read without base+fog too; and one film with a shoulder.
fn typed_films() -> Vec<Typed> {
    let truth = expected();
    let tablet = numbers(&truth["film_tablet_densities"]);
    let mut films = Vec::new();
    for (name, film) in truth["films"].as_object().expect("films by name") {
        let light = numbers(&film["tested_log_h"])[1] + tablet[0];
        let steps: Vec<(f64, f64)> = tablet.iter().copied().zip(numbers(&film["strip_densities"])).collect();
        for base_fog in [film["base_fog"].as_f64(), None] {
            films.push(Typed { name: name.clone(), steps: steps.clone(), light, base_fog });
        }
    }
    // A toe and a line bent under 1.0, with the errors of a densitometer: a fixed list of thousandths.
    const ERRORS: [i32; 21] = [4, -9, 7, 0, 12, -6, 3, -11, 8, -2, 5, -7, 10, -4, 1, -12, 6, 9, -5, 2, -8];
    let step = |(i, error): (usize, &i32)| {
        let (density, log_h) = (0.05 + 0.15 * i as f64, 1.75 - 0.05 - 0.15 * i as f64);
        let line = 0.35 * (1.0 + 10.0_f64.powf(2.0 * (log_h + 0.35))).log10();
        let read = 0.22 + line / (1.0 + (line / 0.8).powi(4)).powf(0.25) + f64::from(*error) / 1000.0;
        (density, (read * 100.0).round() / 100.0)
    };
    films.push(Typed {
        name: "shouldered".to_owned(),
        steps: ERRORS.iter().enumerate().map(step).collect(),
        light: 1.75,
        base_fog: Some(0.22),
    });
    films
}

/// The answer of 'twinwedge curve' with its curve at 3001 places.
fn curve_of(film: &Typed) -> Value {
    let folder = tempfile::tempdir().expect("a folder");
    let file = |name: &str, column: &dyn Fn(&(f64, f64)) -> f64| {
        let path = folder.path().join(name);
        let rows = (1..).zip(&film.steps).map(|(step, row)| format!("{step},{}\n", column(row)));
        std::fs::write(&path, format!("step,density\n{}", rows.collect::<String>())).expect("written");
        path.display().to_string()
    };
    let (readings, tablet) = (file("readings.csv", &|row| row.1), file("tablet.csv", &|row| row.0));
    let exposure = format!("absolute {}", film.light);
    let base_fog = film.base_fog.map(|density| density.to_string());
    let mut arguments =
        vec!["curve", &readings, "--tablet", &tablet, "--exposure", &exposure, "--points", "3001"];
    arguments.extend(base_fog.iter().flat_map(|density| ["--base-fog", density]));
    let output = Command::new(env!("CARGO_BIN_EXE_twinwedge"))
        .args(&arguments)
        .env("XDG_DATA_HOME", folder.path())
        .output()
        .expect("the program runs");
    // 1 where something of it is known from one side alone.
    let said = String::from_utf8_lossy(&output.stderr);
    assert!(matches!(output.status.code(), Some(0 | 1)), "{said}");
    serde_json::from_slice(&output.stdout).expect("JSON")
}

/// Figures that have nothing to do with the curve of one film.
const OTHERS: [&str; 9] = [
    "shadow_match_index",
    "shadow_match_other",
    "box_distance",
    "index_box_distance",
    "granularity",
    "granularity_density",
    "granularity_net_one",
    "mtf50",
    "mtf10",
];

/// The readings of a curve, column by column, as scripts like them.
fn columns(curve: &Value) -> Value {
    let readings = curve["readings"].as_array().expect("readings");
    let column = |key: &str| readings.iter().map(|reading| reading[key].clone()).collect::<Value>();
    let density =
        |key: &str| readings.iter().map(|reading| reading["density"][key].clone()).collect::<Value>();
    json!({
        "log_h": column("log_h"),
        "log_h_u": column("log_h_u"),
        "density": density("value"),
        "u": density("u"),
    })
}

/// What numpy and scipy make of a curve.
fn recomputed(log_h: &Value, density: &Value, base_fog: Option<f64>) -> Value {
    let settings = Settings::default();
    let question = json!({
        "log_h": log_h,
        "density": density,
        "base": base_fog,
        "gradient_range": settings.gradient_range,
        "usable": [settings.usable_toe_gradient, settings.usable_shoulder_gradient],
    });
    peer("figures", &question)
}

/// Every figure of a curve, recomputed from the curve that the program exports point by point: to 0.001 in density and
/// log H, lengths in stops and speeds accordingly. A figure that is missing on one side only must be a bound.
#[test]
fn figures_of_a_curve_are_scipys() {
    let mut held = std::collections::BTreeMap::<String, u32>::new();
    for film in typed_films() {
        let answer = curve_of(&film);
        let curve = &answer["curve"];
        let along = |key: &str| {
            let rows = curve["grid"].as_array().expect("the curve at its places");
            rows.iter().map(|row| row[key].clone()).collect::<Value>()
        };
        let theirs = recomputed(&along("log_h"), &along("fitted_density"), film.base_fog);
        for (key, ours) in answer["figures"].as_object().unwrap() {
            let what = format!("{} {key}", film.name);
            let bound = ours.get("bound").is_some();
            let (ours, theirs) = (ours["value"].as_f64(), theirs[key].as_f64());
            match (ours, theirs) {
                _ if OTHERS.contains(&key.as_str()) => {}
                (Some(ours), Some(theirs)) => {
                    let tolerance = match definition(key).1 {
                        "stops" => 0.001 / 2.0_f64.log10(),
                        _ if key.ends_with("_speed") => 0.001 * 10.0_f64.ln() * theirs,
                        _ => 0.001,
                    };
                    // Changes of gradient hold density over log H squared.
                    let tolerance = if key.ends_with("_curvature") { 0.01 } else { tolerance };
                    close(ours, theirs, tolerance, &what);
                    *held.entry(key.clone()).or_default() += 1;
                }
                (Some(_), None) => assert!(bound, "{what}: ours alone has it, and it is no bound"),
                // A contrast condition, or a toe that the test did not reach, may withhold it.
                (None, _) => {}
            }
        }
    }
    for spec in registry() {
        assert!(
            OTHERS.contains(&spec.key) || held.get(spec.key).is_some_and(|films| *films > 0),
            "{} was recomputed on no film",
            spec.key
        );
    }
}

/// The same figures by a plain method, scipy's monotone interpolant through the raw readings: within twice their stated
/// uncertainty. Slopes at a place are left out, since an interpolant through errors has none to speak of.
#[test]
fn figures_of_raw_readings_agree_within_their_uncertainty() {
    for film in typed_films() {
        let answer = curve_of(&film);
        let curve = &answer["curve"];
        let readings = columns(curve);
        let theirs = recomputed(&readings["log_h"], &readings["density"], film.base_fog);
        for key in [
            "speed_point",
            "fixed_density_speed",
            "iso_contrast",
            "average_gradient",
            "average_gradient_130",
            "average_gradient_150",
            "contrast_index",
            "delta_x_point",
            "d_max",
            "tested_range",
        ] {
            let ours = &answer["figures"][key];
            let bound = ours.get("bound").is_some();
            if let (Some(value), Some(theirs), false) = (ours["value"].as_f64(), theirs[key].as_f64(), bound)
            {
                let u = ours["u"].as_f64().unwrap();
                close(value, theirs, 2.0 * u + 1e-9, &format!("{} {key}", film.name));
            }
        }
    }
}

/// Key and unit of a figure.
fn definition(key: &str) -> (&'static str, &'static str) {
    let spec = registry().iter().find(|spec| spec.key == key).expect("a figure of the registry");
    (spec.key, spec.unit)
}

/// Rolls of one film over time: limit, rate, their covariance and chi-square.
#[test]
fn the_law_of_development_is_fitted_as_scipy_does() {
    let families = [
        (vec![4.0, 6.0, 9.0, 13.0], vec![0.36, 0.47, 0.60, 0.73], vec![0.01, 0.008, 0.012, 0.01]),
        (vec![5.0, 8.0, 12.0], vec![0.42, 0.55, 0.66], vec![0.005, 0.02, 0.007]),
        (vec![3.0, 5.0, 7.0, 9.0, 12.0, 18.0], vec![0.3, 0.52, 0.61, 0.76, 0.84, 0.99], vec![0.02; 6]),
    ];
    for (minutes, gradients, u) in families {
        let points: Vec<Point> = minutes
            .iter()
            .zip(&gradients)
            .zip(&u)
            .map(|((minutes, gradient), u)| Point {
                minutes: *minutes,
                celsius: 20.0,
                gradient: *gradient,
                u: *u,
            })
            .collect();
        let model = Model { induction: Some(0.0), coefficient: Some(2.5), reference_c: 20.0 };
        let ours = kinetics::fit(&points, model).unwrap();
        let question =
            json!({ "minutes": minutes, "gradient": gradients, "u": u, "limit": 0.9, "rate": 0.1 });
        let theirs = peer("kinetics", &question);
        let best = numbers(&theirs["best"]);
        close(ours.law.limit(), best[0], 1e-5 * best[0], "limit");
        close(ours.law.rate, best[1], 1e-5 * best[1], "rate");
        close(ours.chi_square, theirs["chi_square"].as_f64().unwrap(), 1e-6, "chi-square");
        let covariance = ours.covariance.unwrap();
        for (row, (ours, theirs)) in
            covariance.iter().zip(theirs["covariance"].as_array().unwrap()).enumerate()
        {
            for (ours, theirs) in ours.iter().zip(numbers(theirs)) {
                close(*ours, theirs, 2e-3 * theirs.abs(), &format!("covariance, row {row}"));
            }
        }
    }
}

fn series(session: &Session) -> &Series {
    session.series()
}

/// The same fields through numpy and scipy: two densities of every film at the stated aperture, and others for one.
#[test]
fn granularity_is_scipys() {
    let session = Session::open(&sample().join("saltmarsh.twinwedge")).unwrap();
    let marked = series(&session).films.iter().filter(|film| !film.uniform_areas.is_empty());
    for (index, (film, area)) in marked.flat_map(|film| [0, 2].map(move |area| (film, area))).enumerate() {
        let apertures: &[f64] = if index == 0 { &[24.0, 48.0, 96.0] } else { &[48.0] };
        let ours = session.wait(&GrainOf { film: film.id.clone(), area }).unwrap();
        let law = session.wait(&ApertureLawOf { film: film.id.clone(), area }).unwrap();
        let grain = &film.uniform_areas[area];
        let table = session.wait(&ToneOf { scan: grain.scan.clone() }).unwrap();
        let path = sample().join(&series(&session).scans[&grain.scan].path);
        let rect = ours.area;
        let through = law.points.iter().filter(|point| apertures.contains(&point.aperture.0));
        for point in through {
            let question = json!({
                "path": path,
                "table": table.light,
                "area": [rect.min.x as u32, rect.min.y as u32, rect.max.x as u32, rect.max.y as u32],
                "pitch_um": ours.pitch.0,
                "aperture_um": point.aperture.0,
            });
            let theirs = peer("granularity", &question);
            let rms = theirs["rms"].as_f64().unwrap();
            // Dust is left out by two different rules and shading by two surfaces; both weigh more where few apertures fit.
            let allowed = if point.aperture.0 > 48.0 { 0.06 } else { 0.02 };
            let what = format!("{} {area} through {} µm", film.label, point.aperture.0);
            close(point.rms.number(), rms, allowed * rms, &what);
            let density = theirs["mean_density"].as_f64().unwrap();
            close(ours.mean_density.number(), density, 0.003, &format!("{} density", film.label));
        }
    }
}

/// The same blocks and window by numpy, on a field without dust that both read from one file: rings and autocorrelation to half
/// a per cent, for the shading is fitted by other functions; and on the sample's dusty fields, where other blocks are left out,
/// the mean over all rings to 4 %.
#[test]
fn noise_power_is_numpys() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("field.tif");
    let (width, height) = (720_u32, 660_u32);
    let codes = correlated_codes(width as usize, height as usize);
    shared::scans::write_grey16(&path, width, height, &codes);
    let scan = load::scan(&path, load::Limits::default(), &|_| true).unwrap();
    let table = ToneTable::uncalibrated(&scan);
    let all =
        Rect::between(geometry::Point::default(), geometry::Point::new(f64::from(width), f64::from(height)));
    let settings = SpectrumSettings { pitch: Micrometres(5.0), block: Some(128), quick: false };
    let unknown = Err("It is not known.".into());
    let ours = spectrum(scan.plane(Channel::Green), &table, all, settings, unknown, &|| false).unwrap();
    let question = json!({
        "path": path, "table": table.light, "area": [0, 0, width, height], "pitch_um": 5.0, "side": 128,
    });
    let theirs = peer("noise_power", &question);
    assert_eq!(theirs["used"], ours.blocks.used, "no dust on either side");
    for (k, ring) in numbers(&theirs["rings"]).into_iter().enumerate() {
        close(ours.radial[k + 1].power.value, ring, 5e-3 * ring, &format!("ring {}", k + 3));
    }
    close(ours.variance.1, theirs["sum"].as_f64().unwrap(), 5e-3 * ours.variance.1, "sum over frequencies");
    close(ours.autocorrelation.lags[1].value, theirs["next"].as_f64().unwrap(), 5e-3, "next pixels");

    let session = Session::open(&sample().join("saltmarsh.twinwedge")).unwrap();
    for film in series(&session).films.iter().filter(|film| !film.uniform_areas.is_empty()) {
        let ours = session.wait(&SpectrumOf { film: film.id.clone(), area: 0, quick: false }).unwrap();
        let grain = &film.uniform_areas[0];
        let table = session.wait(&ToneOf { scan: grain.scan.clone() }).unwrap();
        let area = ours.area;
        let question = json!({
            "path": sample().join(&series(&session).scans[&grain.scan].path),
            "table": table.light,
            "area": [area.min.x as u32, area.min.y as u32, area.max.x as u32, area.max.y as u32],
            "pitch_um": ours.pitch.0,
            "side": ours.blocks.side,
        });
        let theirs = numbers(&peer("noise_power", &question)["rings"]);
        let taken = ours.noise.as_ref().map_or(0.0, |noise| noise.power);
        // Every other ring or so is independent; power falls with frequency, so ratios are averaged.
        let ratios: Vec<f64> = ours
            .radial
            .iter()
            .skip(1)
            .zip(&theirs)
            .map(|(bin, ring)| (bin.power.value + taken) / ring)
            .collect();
        let mean = ratios.iter().sum::<f64>() / ratios.len() as f64;
        println!("{}: {:?}, mean ratio of the rings {mean:.4}", film.label, ours.blocks);
        close(mean, 1.0, 0.04, &format!("{}: mean ratio of the rings", film.label));
    }
}

/// Codes of a field whose neighbours are correlated: sums of pseudo-random numbers of a linear congruence.
fn correlated_codes(width: usize, height: usize) -> Vec<u16> {
    let mut state = 12_345_u32;
    let mut random = || {
        state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        i64::from(state >> 18)
    };
    let wide = width + 2;
    let white: Vec<i64> = (0..wide * (height + 2)).map(|_| random()).collect();
    let sum = |x: usize, y: usize| {
        let weights = [[1, 2, 1], [2, 4, 2], [1, 2, 1]];
        let term = |k: usize| weights[k / 3][k % 3] * white[(y + k / 3) * wide + x + k % 3];
        (0..9).map(term).sum::<i64>()
    };
    let code = |k: usize| u16::try_from(20_000 + sum(k % width, k / width) / 12).unwrap_or(u16::MAX);
    (0..width * height).map(code).collect()
}

/// The steps of ISO 12233 by numpy, the edge located by scipy's least squares, on the same pixels in light. The power of the
/// grain stays in it: 4 % of frequency; places agree to a few hundredths of a degree.
#[test]
fn sharpness_is_numpys() {
    let mut session = Session::open(&sample().join("saltmarsh.twinwedge")).unwrap();
    let light = |series: &mut Series| series.sharpness.space = EdgeSpace::Light;
    session.apply(Edit::new("measure edges in light", light)).unwrap();
    let films: Vec<_> =
        series(&session).films.iter().filter(|film| !film.edges.is_empty()).cloned().collect();
    assert_eq!(films.len(), 3);
    for film in films {
        let ours = session.wait(&EdgeOf { film: film.id.clone(), edge: 0, quick: false }).unwrap();
        let scan = &film.edges[0].scan;
        let table = session.wait(&ToneOf { scan: scan.clone() }).unwrap();
        let area = ours.line.area;
        let [first, .., last] = &*ours.line.places else { panic!("a line has ends") };
        let pitch = ours.method.pitch;
        let question = json!({
            "path": sample().join(&series(&session).scans[scan].path),
            "table": table.light,
            "area": [area.min.x as u32, area.min.y as u32, area.max.x as u32, area.max.y as u32],
            "across": (last.x - first.x).abs() > (last.y - first.y).abs(),
            "flat_px": ours.method.window.0 / pitch,
            "end_px": ours.method.window.1 / pitch,
        });
        let theirs = peer("slanted_edge", &question);
        close(ours.line.angle, theirs["angle"].as_f64().unwrap(), 0.03, &format!("{} angle", film.label));
        let mtf50 = theirs["mtf50"].as_f64().unwrap() * 1000.0 / pitch;
        let found = ours.mtf50.known().unwrap().value;
        println!("{}: 50 % at {found:.2}, by numpy {mtf50:.2} c/mm", film.label);
        close(found, mtf50, 0.04 * mtf50, &format!("{} 50 %", film.label));
    }
}

/// `OpenCV`'s enhanced correlation finds an affine map of its own; ours is to agree where the pictures are.
#[test]
fn registration_agrees_with_opencv() {
    let session = Session::open(&sample().join("saltmarsh.twinwedge")).unwrap();
    let series = series(&session);
    let print = |film: &FilmId| -> ScanId { series.film(film).unwrap().print.as_ref().unwrap().scan.clone() };
    let reference = print(series.reference.as_ref().unwrap());
    assert_eq!(series.scans[&reference].calibration, Some(CalibrationId::from("print scanner")));
    let table = session.wait(&ToneOf { scan: reference.clone() }).unwrap();
    for film in series.candidates().filter(|film| film.print.is_some()) {
        let ours = session.wait(&RegistrationOf { film: film.id.clone() }).unwrap().transform;
        let path = |scan: &ScanId| sample().join(&series.scans[scan].path);
        let theirs = peer(
            "register",
            &json!({
                "first": path(&reference),
                "second": path(&print(&film.id)),
                "first_table": table.light,
                "second_table": session.wait(&ToneOf { scan: print(&film.id) }).unwrap().light,
            }),
        );
        let (row, shift) = (|i: usize| numbers(&theirs["linear"][i]), numbers(&theirs["shift"]));
        for (x, y) in [(60.0, 60.0), (1_140.0, 60.0), (600.0, 450.0), (60.0, 840.0), (1_140.0, 840.0)] {
            let mapped = ours.map(geometry::Point::new(x, y));
            let what = format!("{} at {x}, {y}", film.label);
            close(mapped.x, row(0)[0] * x + row(0)[1] * y + shift[0], 0.3, &what);
            close(mapped.y, row(1)[0] * x + row(1)[1] * y + shift[1], 0.3, &what);
        }
    }
}
