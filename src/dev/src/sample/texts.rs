//! The small text files: certificates, readings typed from a densitometer, the list of all files, the readme.

use std::fmt::Write;

use twinwedge_core::document::{EnteredSpectrum, Tablet};
use twinwedge_core::geometry::Point;

use super::chance::Chance;
use super::film::FilmTruth;
use super::series::{
    FILM_CALIBRATION, PRINT_CALIBRATION, TABLET_POSES, base_reading, edge_area, further_areas, grain_area,
    marked_chart, marked_strip,
};
use super::{ABOUT, chart, spectra, tablets};

/// A certificate: step, density, uncertainty.
pub(super) fn certificate(tablet: &Tablet) -> String {
    let mut text = String::from("step,density,uncertainty\n");
    for (index, step) in tablet.steps.iter().enumerate() {
        line(&mut text, format_args!("{},{:.3},{:.3}", index + 1, step.density, step.u.unwrap_or_default()));
    }
    text
}

/// Readings of a film's strip by a densitometer with two decimals, each in another hand: the second film's with decimal
/// commas and semicolons, the third's as a bare column.
pub(super) fn readings(film: &FilmTruth, hand: usize) -> String {
    let mut chance = Chance::of(&format!("{} readings", film.slug));
    let mut text = String::from(match hand {
        0 => "step,density\n",
        1 => "Step;Density\n",
        _ => "",
    });
    for (index, tablet) in tablets::film().densities.iter().enumerate() {
        let density = film.curve.density(film.tablet_light - tablet) + 0.005 * chance.normal();
        let number = format!("{density:.2}");
        match hand {
            0 => line(&mut text, format_args!("{},{number}", index + 1)),
            1 => line(&mut text, format_args!("{};{}", index + 1, number.replace('.', ","))),
            _ => line(&mut text, format_args!("{number}")),
        }
    }
    text
}

/// What each file is, for making the series from its folder.
pub(super) fn list(films: &[FilmTruth]) -> String {
    let mut text =
        String::from("file,kind,film,role,tablet,exposure,calibration,place,seen,box_speed,base_fog\n");
    let (film_tablet, print_tablet) = ("step-tablet.csv", "reflection-tablet.csv");
    let (film_scan, print_scan) = ("scans/film-scanner-tablet.tif", "scans/print-scanner-tablet.tif");
    for tablet in [film_tablet, print_tablet] {
        line(&mut text, format_args!("{tablet},tablet,,,,,,,,,"));
    }
    line(&mut text, format_args!("target/chart.patches,layout,,,,,,,,,"));
    line(&mut text, format_args!("target/light.csv,light,,,,,,,,,"));
    for (scan, tablet, name, seen, pose) in [
        (film_scan, film_tablet, FILM_CALIBRATION, "film", TABLET_POSES[0]),
        (print_scan, print_tablet, PRINT_CALIBRATION, "print", TABLET_POSES[1]),
    ] {
        let place = places(&marked_strip(name, pose).quad.corners);
        line(&mut text, format_args!("{scan},calibration,,,{tablet},,,\"{place}\",{seen},,"));
    }
    for (index, film) in films.iter().enumerate() {
        let (label, slug) = (film.label, film.slug);
        let role = if index == 0 { "reference" } else { "candidate" };
        let corners = places(&marked_strip(slug, film.strip_pose).quad.corners);
        line(
            &mut text,
            format_args!(
                "scans/{slug}-strip.tif,strip,{label},{role},{film_tablet},absolute {} 0.01,{film_scan},\"{corners}\",,{},{}",
                film.tablet_light,
                film.box_speed,
                base_reading(film).map(|density| format!("{density} 0.003")).unwrap_or_default()
            ),
        );
        let chart = if index == 0 { places(&marked_chart().corners) } else { String::new() };
        line(&mut text, format_args!("scans/{slug}-print.tif,print,{label},,,,{print_scan},\"{chart}\",,,"));
        let area = grain_area();
        let area = places(&[area.min, area.max]);
        line(&mut text, format_args!("scans/{slug}-grain.tif,grain,{label},,,,{film_scan},\"{area}\",,,"));
        for area in further_areas() {
            let area = places(&[area.min, area.max]);
            line(
                &mut text,
                format_args!("scans/{slug}-fields.tif,grain,{label},,,,{film_scan},\"{area}\",,,"),
            );
        }
        let area = edge_area(film);
        let area = places(&[area.min, area.max]);
        line(&mut text, format_args!("scans/{slug}-edge.tif,edge,{label},,,,{film_scan},\"{area}\",,,"));
    }
    text
}

/// Reflectances of the patches.
pub(super) fn reflectances() -> String {
    let named: Vec<(&str, EnteredSpectrum)> =
        chart::PATCHES.iter().map(|patch| (patch.name, patch.reflectance.told())).collect();
    let mut text = String::from("nm");
    for (name, _) in &named {
        text += &if name.contains(',') { format!(",\"{name}\"") } else { format!(",{name}") };
    }
    text.push('\n');
    for number in 0..named[0].1.values.len() {
        let told = &named[0].1;
        text += &format!("{}", told.from_nm + told.step_nm * number as f64);
        for (_, told) in &named {
            text += &format!(",{}", told.values[number]);
        }
        text.push('\n');
    }
    text
}

/// The light on the target.
pub(super) fn light() -> String {
    let told = spectra::told_light();
    let mut text = String::from("nm,power\n");
    for (number, value) in told.values.iter().enumerate() {
        line(&mut text, format_args!("{},{value}", told.from_nm + told.step_nm * number as f64));
    }
    text
}

fn places(points: &[Point]) -> String {
    points.iter().map(|p| format!("{:.2},{:.2}", p.x, p.y)).collect::<Vec<_>>().join(" ")
}

fn line(text: &mut String, what: std::fmt::Arguments<'_>) {
    // Writing into a string cannot fail.
    let _ = writeln!(text, "{what}");
}

/// The folder's readme.
pub(super) fn readme() -> String {
    format!(
        "# Saltmarsh\n\n{ABOUT}\n\n\
         The cooperative knows Tern 160 well and looks for a new house film: Plover 640 for winter, or Dunlin 40 for \
         large prints? Each film was given the same step tablet under a calibrated lamp and the same still life, was \
         developed as its box says, printed on one paper at one grade, and scanned.\n\n\
         | file | what it is |\n|---|---|\n\
         | `saltmarsh.twinwedge` | the series: open this |\n\
         | `scans/*-strip.tif` | the exposed step tablet on each film, 400 dpi, 16 bit, turned and dusty |\n\
         | `scans/*-print.tif` | the print of the still life from each film, 150 dpi, each lying differently |\n\
         | `scans/*-grain.tif` | a uniform area of each film, 4000 dpi |\n\
         | `scans/*-fields.tif` | three more of other densities, side by side |\n\
         | `scans/*-edge.tif` | a knife edge exposed onto each film in contact, slanted, 4000 dpi |\n\
         | `scans/film-scanner-tablet.tif`, `scans/print-scanner-tablet.tif` | tablets of known density, to calibrate the scanner |\n\
         | `step-tablet.csv`, `reflection-tablet.csv` | what their certificates say |\n\
         | `readings/*.csv` | the same strips read with a densitometer, by three people with three habits |\n\
         | `target/chart.patches` | the layout of the chart: what its patches are called, their known densities and reflectances |\n\
         | `target/reflectances.csv`, `target/light.csv` | the reflectances once more as a table, and the light on the chart |\n\
         | `list.csv` | what each file is, to make the series anew from the folder |\n\
         | `expected.json` | the truth that the simulator knows, and how near a measurement should come |\n\n\
         `cargo dev sample` writes all of it again, byte for byte: exposing, developing, printing and scanning are \
         simulated by formulas of their own, seeded, in `src/dev/src/sample`. What is simulated: curves with toe and \
         shoulder, spectral sensitivity, camera flare, grain that grows with density, paper, scanner flare, tone curve \
         and noise, dust, hairs and scratches; on the edges also blur by the emulsion and, on Dunlin 40, development at the edges of tones. \
         What is not: blur by lens, or by the emulsion elsewhere, reciprocity.\n"
    )
}
