//! Results against general-purpose libraries of another language: numpy, scipy and `OpenCV`, pinned in
//! `tests/outside/requirements.txt`. The expected numbers are computed there, at test time, from the same files.

use std::io::Write;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

use serde_json::{Value, json};
use twinwedge_core::curve::{FitSettings, Reading, Readings, Sources, fit};
use twinwedge_core::development::kinetics::{self, Model, Point};
use twinwedge_core::document::{CalibrationId, FilmId, ScanId, Series, Settings};
use twinwedge_core::figures::{FigureId, of_curve};
use twinwedge_core::geometry;
use twinwedge_core::measured::Flags;
use twinwedge_core::numeric::interpolate::{MonotoneCubic, SlopeRule};
use twinwedge_core::numeric::quantiles;
use twinwedge_workbench::engine::ask::{GrainOf, RegistrationOf, ToneOf};
use twinwedge_workbench::session::Session;

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

/// Our figures from our curve against scipy's root finding on the same curve, exported point by point.
#[test]
fn figures_of_a_curve_are_scipys() {
    let truth = expected();
    for (film, truth) in truth["films"].as_object().unwrap() {
        let range = numbers(&truth["tested_log_h"]);
        let densities = numbers(&truth["strip_densities"]);
        let tablet = numbers(&expected()["film_tablet_densities"]);
        let reading = |(i, density): (usize, &f64)| Reading {
            strip: 0,
            step: i as u32 + 1,
            log_h: range[1] + tablet[0] - tablet[i],
            log_h_u: 0.004,
            density: *density,
            density_u: 0.005,
            set_aside: false,
            flags: Flags::empty(),
        };
        let base = truth["base_fog"].as_f64().unwrap();
        let readings = Readings {
            points: densities.iter().enumerate().map(reading).collect(),
            absolute: true,
            log_h_shared_u: 0.01,
            sources: Sources::default(),
            base_fog: Some((base, 0.003)),
            flags: Flags::empty(),
        };
        let curve = fit(readings, FitSettings { resamplings: 50, seed: 1 }).unwrap();
        let figures = of_curve(&curve, &Settings::default()).figures;
        let (from, to) = curve.range();
        let log_h: Vec<f64> =
            (0..=2_000).map(|i| (from + (to - from) * f64::from(i) / 2_000.0).min(to)).collect();
        let density: Vec<f64> = log_h.iter().map(|x| curve.best.density(*x).unwrap()).collect();
        let ours = |id: FigureId| figures[&id].known().expect("a figure that these data define").number();
        let base = ours(FigureId::BaseFog);
        let theirs = peer("figures", &json!({ "log_h": log_h, "density": density, "base": base }));
        for (id, key, tolerance) in [
            (FigureId::SpeedPoint, "speed_point", 2e-4),
            (FigureId::IsoContrast, "iso_contrast", 2e-4),
            (FigureId::AverageGradient, "average_gradient", 2e-4),
            (FigureId::MaximumGradient, "maximum_gradient", 2e-3),
        ] {
            close(ours(id), theirs[key].as_f64().unwrap(), tolerance, &format!("{film} {key}"));
        }
    }
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

#[test]
fn granularity_is_scipys() {
    let session = Session::open(&sample().join("saltmarsh.twinwedge")).unwrap();
    for film in &series(&session).films {
        let ours = session.wait(&GrainOf { film: film.id.clone() }).unwrap();
        let grain = film.grain.as_ref().unwrap();
        let table = session.wait(&ToneOf { scan: grain.scan.clone() }).unwrap();
        let path = sample().join(&series(&session).scans[&grain.scan].path);
        let area = ours.area;
        let question = json!({
            "path": path,
            "table": table.light,
            "area": [area.min.x as u32, area.min.y as u32, area.max.x as u32, area.max.y as u32],
            "pitch_um": ours.pitch.0,
            "aperture_um": ours.aperture.0,
        });
        let theirs = peer("granularity", &question);
        let rms = theirs["rms"].as_f64().unwrap();
        // Dust is left out by two different rules; what remains may differ by little more than a per cent.
        close(ours.rms.number(), rms, 0.02 * rms, &format!("{} granularity", film.label));
        let density = theirs["mean_density"].as_f64().unwrap();
        close(ours.mean_density.number(), density, 0.003, &format!("{} density", film.label));
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
