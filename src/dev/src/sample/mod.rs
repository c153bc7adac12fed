//! The sample series: a simulation of exposing, developing, printing and scanning three invented films. It shares
//! nothing with the measuring code but the document's types and the elementary functions, so its truth can judge them.

mod chance;
mod chart;
mod curve;
mod edge;
mod expected;
mod fifty;
mod film;
mod grain;
mod paper;
mod print;
mod rolls;
mod scanner;
mod scene;
mod series;
mod spectra;
mod strip;
mod tablets;
mod texts;
mod texture;

use std::collections::BTreeMap;
use std::path::Path;

use rayon::prelude::*;
use twinwedge_core::document::FileDigest;
use twinwedge_core::numeric::math;
use twinwedge_workbench::store;

use self::chance::Chance;
use self::film::FilmTruth;
use self::print::Print;
use self::scanner::{Dirt, Scanner};
use self::strip::Strip;
use crate::Failure;
use crate::tiff::{Packing, grey16};

/// What the sample says of itself.
const ABOUT: &str = "Everything in this series is invented: the cooperative, its films, papers, developers, prices and \
                     every picture. A program simulated the exposing, developing, printing and scanning; no such film \
                     can be bought.";

/// Light that the scanner's holder lets through.
const HOLDER: f64 = 0.0002;

/// Writes the sample of fifty films into `folder`, over what is there.
///
/// # Errors
/// The file cannot be written.
pub(crate) fn write_fifty(folder: &Path) -> Result<(), Failure> {
    std::fs::create_dir_all(folder)?;
    Ok(std::fs::write(folder.join(fifty_name()), store::write(&fifty::document()))?)
}

fn fifty_name() -> String {
    format!("fifty.{}", store::EXTENSION)
}

/// Writes the whole sample into `folder`, over what is there.
///
/// # Errors
/// A file cannot be written.
pub(crate) fn write(folder: &Path) -> Result<(), Failure> {
    let films = film::films();
    let scans = scan_names(&films);
    let made: Vec<(String, Vec<u8>)> = scans
        .into_par_iter()
        .map(|name| Ok((name.clone(), scan(&films, &name)?)))
        .collect::<Result<_, Failure>>()?;
    let digest = |(name, bytes): &(String, Vec<u8>)| (name.clone(), digest(bytes));
    let digests = made.iter().map(digest).collect();
    let texts = texts(&films, &digests)?;
    for part in ["scans", "readings", "target"] {
        std::fs::create_dir_all(folder.join(part))?;
    }
    for (name, bytes) in &made {
        std::fs::write(folder.join(name), bytes)?;
    }
    for (name, text) in &texts {
        std::fs::write(folder.join(name), text)?;
    }
    Ok(())
}

fn digest(bytes: &[u8]) -> FileDigest {
    FileDigest { bytes: bytes.len() as u64, blake3: blake3::hash(bytes).to_hex().to_string() }
}

/// Every text file by its path, from the films and the digests of the scans.
fn texts(
    films: &[FilmTruth],
    digests: &BTreeMap<String, FileDigest>,
) -> Result<BTreeMap<String, String>, Failure> {
    let prints = Print::of_all(films);
    let expected = expected::truth(films, &prints);
    let mut texts = BTreeMap::from([
        ("README.md".to_owned(), texts::readme()),
        ("expected.json".to_owned(), serde_json::to_string_pretty(&expected)? + "\n"),
        ("target/chart.patches".to_owned(), store::write_layout(&chart::layout())),
        ("target/reflectances.csv".to_owned(), texts::reflectances()),
        ("target/light.csv".to_owned(), texts::light()),
        ("list.csv".to_owned(), texts::list(films)),
        ("step-tablet.csv".to_owned(), texts::certificate(&tablets::film().certificate)),
        ("reflection-tablet.csv".to_owned(), texts::certificate(&tablets::reflection().certificate)),
        (format!("saltmarsh.{}", store::EXTENSION), store::write(&series::document(films, &prints, digests))),
    ]);
    for (hand, film) in films.iter().enumerate() {
        texts.insert(format!("readings/{}.csv", film.slug), texts::readings(film, hand));
    }
    Ok(texts)
}

const FILM_TABLET_SCAN: &str = "scans/film-scanner-tablet.tif";
const PRINT_TABLET_SCAN: &str = "scans/print-scanner-tablet.tif";

fn scan_names(films: &[FilmTruth]) -> Vec<String> {
    let of_film = |film: &FilmTruth| {
        ["print", "strip", "grain", "fields", "edge"].map(|what| format!("scans/{}-{what}.tif", film.slug))
    };
    let mut names: Vec<String> = films.iter().flat_map(of_film).collect();
    names.extend([FILM_TABLET_SCAN, PRINT_TABLET_SCAN].map(str::to_owned));
    names
}

/// The bytes of one scan by its path.
fn scan(films: &[FilmTruth], name: &str) -> Result<Vec<u8>, Failure> {
    let mut chance = Chance::of(name);
    let (scanner, picture, dpi): (Scanner, _, _) = match name {
        FILM_TABLET_SCAN => (scanner::FILM, film_tablet().picture(&mut chance), strip::DPI),
        PRINT_TABLET_SCAN => (scanner::PRINT, reflection_tablet().picture(&mut chance), strip::DPI),
        _ => {
            let (index, film) = films
                .iter()
                .enumerate()
                .find(|(_, film)| name.contains(film.slug))
                .ok_or_else(|| format!("no film makes {name}"))?;
            if name.ends_with("-strip.tif") {
                (scanner::FILM, film_strip(film).picture(&mut chance), strip::DPI)
            } else if name.ends_with("-fields.tif") {
                (scanner::FILM, grain::further_picture(&film.further(), &mut chance), grain::DPI)
            } else if name.ends_with("-grain.tif") {
                (scanner::FILM, film.field.picture(&mut chance), grain::DPI)
            } else if name.ends_with("-edge.tif") {
                let grain = film.field.grain(film.curve.base);
                (scanner::FILM, film.edge.picture(&film.curve, &grain, &mut chance), grain::DPI)
            } else {
                (scanner::PRINT, Print::of_all(films)[index].picture(), print::DPI)
            }
        }
    };
    let codes = scanner.codes(&picture, &mut chance);
    Ok(grey16(picture.width as u32, picture.height as u32, &codes, dpi, Packing::Deflate)?)
}

fn film_tablet() -> Strip {
    let (degrees, perspective) = series::TABLET_POSES[0];
    Strip {
        densities: tablets::film().densities,
        around: math::pow(10.0, -0.045),
        beyond: HOLDER,
        grain: 0.002,
        base: 0.04,
        corners: strip::corners(degrees, perspective),
        dirt: Dirt { specks: 25, hairs: 2, scratches: 1, dust_light: 0.0 },
    }
}

fn reflection_tablet() -> Strip {
    let (degrees, perspective) = series::TABLET_POSES[1];
    Strip {
        densities: tablets::reflection().densities,
        around: math::pow(10.0, -0.06),
        beyond: 0.02,
        grain: 0.003,
        base: 0.04,
        corners: strip::corners(degrees, perspective),
        dirt: Dirt { specks: 15, hairs: 1, scratches: 0, dust_light: 0.0 },
    }
}

fn film_strip(film: &FilmTruth) -> Strip {
    let (degrees, perspective) = film.strip_pose;
    let pixel_um = 25_400.0 / f64::from(strip::DPI);
    let aperture = core::f64::consts::PI * grain::APERTURE_UM * grain::APERTURE_UM / 4.0;
    let net = film.field.density - film.curve.base;
    Strip {
        densities: tablets::film()
            .densities
            .iter()
            .map(|density| film.curve.density(film.tablet_light - density))
            .collect(),
        around: math::pow(10.0, -film.curve.base),
        beyond: HOLDER,
        // Selwyn's law from the aperture to this scan's larger pixel.
        grain: film.field.granularity / 1000.0 * math::sqrt(aperture / net) / pixel_um,
        base: film.curve.base,
        corners: strip::corners(degrees, perspective),
        dirt: Dirt { specks: 40, hairs: 3, scratches: 2, dust_light: 0.0 },
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn folder() -> std::path::PathBuf {
        Path::new(env!("CARGO_MANIFEST_DIR")).join("../../sample-projects/saltmarsh")
    }

    /// The cheap parts again: every text, and one scan. Source: the files that the repository holds.
    #[test]
    fn the_sample_is_what_the_simulator_writes() {
        let films = film::films();
        let read = |name: &String| std::fs::read(folder().join(name)).unwrap();
        let digests = scan_names(&films)
            .into_iter()
            .map(|name| {
                let bytes = read(&name);
                (name, digest(&bytes))
            })
            .collect();
        for (name, text) in texts(&films, &digests).unwrap() {
            assert!(read(&name) == text.as_bytes(), "{name} differs: run cargo dev sample");
        }
        let name = "scans/dunlin-40-strip.tif".to_owned();
        assert!(scan(&films, &name).unwrap() == read(&name), "{name} differs: run cargo dev sample");
    }

    /// Source: the file that the repository holds.
    #[test]
    fn the_fifty_films_are_what_is_written() {
        let path = folder().join("../fifty").join(fifty_name());
        assert!(
            std::fs::read_to_string(&path).unwrap() == store::write(&fifty::document()),
            "run cargo dev sample"
        );
        assert_eq!(fifty::document().films.len(), 50);
        assert!(std::fs::metadata(&path).unwrap().len() < 1_000_000);
    }

    #[test]
    fn the_sample_stays_small() {
        let total: u64 = scan_names(&film::films())
            .iter()
            .map(|name| std::fs::metadata(folder().join(name)).unwrap().len())
            .sum();
        assert!(total < 16_000_000, "{total} bytes");
    }
}
