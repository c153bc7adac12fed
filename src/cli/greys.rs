//! Patches to stops, a film's sensitivity, and the factors of filters: on tables alone.

use std::path::{Path, PathBuf};

use clap::Args;
use serde_json::{Value, json};
use twinwedge_workbench::core::compare::greys as words;
use twinwedge_workbench::core::curve::{ErrorKey, FitSettings};
use twinwedge_workbench::core::document::{Settings, SubjectLight, ranges};
use twinwedge_workbench::core::greys::colour::{Family, Shows, lab};
use twinwedge_workbench::core::greys::filters::{Filter, Numbered, factor};
use twinwedge_workbench::core::greys::light::Standard;
use twinwedge_workbench::core::greys::pair::GreysPair;
use twinwedge_workbench::core::greys::rendering::rendering;
use twinwedge_workbench::core::greys::sensitivity::{Asked, EDGES, NoSensitivity, Seen, sensitivity};
use twinwedge_workbench::core::greys::spectrum::{Carries, Spectrum};
use twinwedge_workbench::core::greys::stops::{
    Found, Frame, Grey, Medium, Neutral, NoRoute, Patch, Route, Target, greys as read_greys,
};
use twinwedge_workbench::core::measured::Flags;
use twinwedge_workbench::core::problem::{Problem, Subject};
use twinwedge_workbench::core::shown::Quoted;
use twinwedge_workbench::export;
use twinwedge_workbench::load::{self, PatchRead};

use super::{Done, print_json, within};

/// Standard uncertainty of a reading where the table has none.
const READING_U: f64 = 0.01;

/// A table of patches, and which of them is the grey card.
#[derive(Debug, Args)]
pub(crate) struct TableArguments {
    /// A table whose first line names the columns: patch, known (density of the neutral patches on the target itself), reference
    /// and candidate (densities in their prints), u.
    patches: PathBuf,
    /// The patch that stops are counted from.
    #[arg(long, default_value = "grey card")]
    grey_card: String,
    /// Standard uncertainty of known densities and reflectances, in density.
    #[arg(long, default_value_t = 0.01, value_parser = within(&ranges::DENSITY_U))]
    known_u: f64,
    /// The densities are those of negatives, where lighter patches have more.
    #[arg(long)]
    negative: bool,
}

/// Patches to stops.
#[derive(Debug, Args)]
pub(crate) struct GreysArguments {
    #[command(flatten)]
    table: TableArguments,
    /// Reflectances of the patches (CSV or CGATS), which tell their families of colours.
    #[arg(long)]
    reflectances: Option<PathBuf>,
}

/// A film's sensitivity.
#[derive(Debug, Args)]
pub(crate) struct SensitivityArguments {
    #[command(flatten)]
    table: TableArguments,
    /// Reflectances of the patches: wavelengths in nanometres, and a column for each patch, called as in the table; or CGATS.
    #[arg(long)]
    reflectances: PathBuf,
    /// The light on the target: 'daylight 5500', 'incandescent 3200', 'photographic daylight', 'studio tungsten', or a file
    /// of wavelengths and power.
    #[arg(long)]
    light: String,
}

/// Factors of filters.
#[derive(Debug, Args)]
pub(crate) struct FiltersArguments {
    /// A film's sensitivity: wavelengths in nanometres and sensitivity.
    sensitivity: PathBuf,
    /// The light: 'daylight 5500', 'incandescent 3200', 'photographic daylight', 'studio tungsten', or a file of wavelengths
    /// and power.
    #[arg(long)]
    light: String,
    /// A filter of your own: wavelengths and transmittance. Without it all numbered filters.
    #[arg(long)]
    filter: Option<PathBuf>,
}

fn file(path: &Path) -> Subject {
    Subject::File { path: path.display().to_string(), place: None }
}

/// The table as it is read.
struct Table {
    patches: Vec<PatchRead>,
    names: Vec<String>,
    card: usize,
}

impl TableArguments {
    fn read(&self) -> Result<Table, Problem> {
        let path = self.patches.display().to_string();
        let patches = load::patches(&load::text(&self.patches)?, &path)?;
        let names: Vec<String> = patches.iter().map(|patch| patch.name.clone()).collect();
        let card = names.iter().position(|name| *name == self.grey_card).ok_or_else(|| {
            let cause = format!("No patch is called '{}'.", Quoted(&self.grey_card));
            Problem::error(file(&self.patches), cause, "Name the grey card with --grey-card.")
        })?;
        Ok(Table { patches, names, card })
    }

    fn settings() -> FitSettings {
        let Settings { resamplings, seed, .. } = Settings::default();
        FitSettings { resamplings, seed }
    }

    /// The greys of one of the two prints.
    fn greys(&self, table: &Table, which: usize) -> Result<Found, Problem> {
        let patch = |patch: &PatchRead| {
            let density = patch.densities[which]?;
            Some(Patch { density, u: patch.u.unwrap_or(READING_U), flags: Flags::empty() })
        };
        let patches: Vec<Option<Patch>> = table.patches.iter().map(patch).collect();
        let numbers = patches.iter().flatten().flat_map(|patch| [patch.density, patch.u]);
        let frame = Frame {
            key: ErrorKey::by("patches", numbers),
            medium: if self.negative { Medium::Negative } else { Medium::Print },
            patches: &patches,
            card: table.card,
        };
        let known = |(patch, read): (usize, &PatchRead)| {
            Some(Neutral { patch, density: read.known?, u: self.known_u })
        };
        let neutrals: Vec<Neutral> = table.patches.iter().enumerate().filter_map(known).collect();
        let key = ErrorKey::by("target", neutrals.iter().map(|neutral| neutral.density));
        let target = Target { key, neutrals: &neutrals };
        read_greys(&frame, Some(&target), None, Self::settings()).map_err(|why| self.closed(why))
    }

    fn closed(&self, why: NoRoute) -> Problem {
        let remedy = "Give the grey card a density, and known densities to four neutral patches or more.";
        Problem::error(file(&self.patches), words::closed(Route::Neutrals, why), remedy)
    }

    /// What is missing or doubtful in one print's greys.
    fn doubts(&self, found: &Found, names: &[String]) -> Vec<Problem> {
        let doubt = |cause: String, remedy: &str| Problem::doubt(file(&self.patches), cause, remedy);
        let mut doubts = Vec::new();
        if found.greys.route == Route::Bare {
            for (way, why) in &found.closed {
                let remedy = "Give known densities to four neutral patches or more; without them densities are not corrected for \
                              contrast and tell nothing of colours.";
                doubts.push(doubt(words::closed(*way, *why), remedy));
            }
        }
        for (name, grey) in names.iter().zip(&found.greys.patches) {
            if let Grey::Unread(why) = grey {
                let cause = format!("The patch '{}' has no stops: {}.", Quoted(name), words::unread(*why));
                doubts.push(doubt(cause, "Add neutral patches beyond it, or leave it out."));
            }
        }
        let told = words::doubts(found, names);
        doubts.extend(
            told.into_iter().map(|cause| doubt(cause, "Look at that patch and at its known density.")),
        );
        doubts
    }
}

/// Reflectances by the names of the table's patches.
fn reflectances(path: &Path, table: &Table) -> Result<(Vec<Option<Spectrum>>, Vec<Problem>), Problem> {
    let name = path.display().to_string();
    let load::Spectra { named, notes } = load::spectra(&load::text(path)?, &name, Carries::Reflectance)?;
    let of =
        |name: &String| named.iter().find(|(other, _)| other == name).map(|(_, spectrum)| spectrum.clone());
    let found: Vec<Option<Spectrum>> = table.names.iter().map(of).collect();
    if found.iter().all(Option::is_none) {
        let cause = "None of its spectra is called like a patch of the table.";
        return Err(Problem::error(file(path), cause, "Call its columns as the patches are called."));
    }
    Ok((found, notes))
}

/// Patches to stops; beside each other where the table has two prints.
pub(crate) fn greys(arguments: &GreysArguments) -> Done {
    let table = arguments.table.read()?;
    let mut problems = Vec::new();
    let spectra = match &arguments.reflectances {
        None => vec![None; table.names.len()],
        Some(path) => {
            let (spectra, notes) = reflectances(path, &table)?;
            problems.extend(notes);
            spectra
        }
    };
    let reference = arguments.table.greys(&table, 0)?;
    problems.extend(arguments.table.doubts(&reference, &table.names));
    if table.patches.iter().all(|patch| patch.densities[1].is_none()) {
        print_json("greys", export::greys_json(&reference, &table.names));
        return Ok(problems);
    }
    let candidate = arguments.table.greys(&table, 1)?;
    problems.extend(arguments.table.doubts(&candidate, &table.names));
    let family = |(patch, spectrum): (&PatchRead, &Option<Spectrum>)| {
        let shows = if patch.known.is_some() { Shows::Grey } else { Shows::Colour };
        Family::of(shows, spectrum.as_ref().and_then(lab))
    };
    let families: Vec<Option<Family>> = table.patches.iter().zip(&spectra).map(family).collect();
    let rendered = rendering(&reference.greys, &candidate.greys, &families).map_err(|_| {
        let cause = "One print is read by its neutral patches and the other is not.";
        Problem::error(
            file(&arguments.table.patches),
            cause,
            "Give both prints' densities of the same neutral patches.",
        )
    })?;
    let pair = GreysPair { names: table.names.clone(), reference, candidate, rendering: rendered };
    print_json("greys", export::rendering_json(&pair));
    Ok(problems)
}

/// A light by its words, or from a file.
fn light(words: &str) -> Result<(Spectrum, Vec<Problem>), Problem> {
    let option = || Subject::File { path: "--light".to_owned(), place: None };
    let mut parts = words.split_whitespace();
    let named = match (parts.next(), parts.next(), parts.next()) {
        (Some("daylight"), Some(kelvin), None) => {
            Some((kelvin, &ranges::DAYLIGHT, SubjectLight::Daylight as fn(f64) -> _))
        }
        (Some("incandescent"), Some(kelvin), None) => {
            Some((kelvin, &ranges::INCANDESCENT, SubjectLight::Incandescent as fn(f64) -> _))
        }
        _ => None,
    };
    let standard =
        Standard::ALL.into_iter().find(|one| one.words().trim_end_matches(" of ISO 7589") == words);
    let light = match (named, standard, words) {
        (Some((kelvin, range, made)), ..) => {
            let kelvin = range.parse(kelvin);
            Some(made(kelvin.map_err(|cause| Problem::error(option(), cause, "Give it in kelvin."))?))
        }
        (None, Some(standard), _) => Some(SubjectLight::Standard(standard)),
        (None, None, "studio tungsten") => Some(SubjectLight::Standard(Standard::StudioTungsten)),
        _ => None,
    };
    if let Some(spectrum) = light.as_ref().and_then(SubjectLight::spectrum) {
        return Ok((spectrum, Vec::new()));
    }
    let path = Path::new(words);
    load::spectrum(&load::text(path)?, &path.display().to_string(), Carries::Light)
}

/// A film's sensitivity from its patches.
pub(crate) fn film_sensitivity(arguments: &SensitivityArguments) -> Done {
    let table = arguments.table.read()?;
    let (spectra, mut problems) = reflectances(&arguments.reflectances, &table)?;
    let (light, notes) = light(&arguments.light)?;
    problems.extend(notes);
    let flat = |density: f64| {
        Spectrum::regular(Carries::Reflectance, 350.0, 10.0, vec![10_f64.powf(-density).min(1.0); 44]).ok()
    };
    let card = spectra[table.card].clone().or_else(|| flat(table.patches[table.card].known?));
    let card = card.ok_or_else(|| {
        let cause = "Neither density nor reflectance of the grey card is known.";
        Problem::error(file(&arguments.table.patches), cause, "Give its known density in the table.")
    })?;
    // Stops that were found before stand as they are; else they are found from the densities.
    let given = table.patches.iter().any(|patch| patch.stops.is_some());
    let found = if given { None } else { Some(arguments.table.greys(&table, 0)?) };
    if let Some(found) = &found {
        problems.extend(arguments.table.doubts(found, &table.names));
    }
    let seen = |(number, patch): (usize, &PatchRead)| {
        let reflectance =
            spectra[number].as_ref().filter(|_| patch.known.is_none() && number != table.card)?;
        Some(match &found {
            None => Seen {
                patch: number,
                reflectance,
                stops: patch.stops?,
                u: patch.u.unwrap_or(0.03),
                draws: &[],
            },
            Some(found) => {
                let read = found.greys.patches[number].in_stops()?;
                Seen {
                    patch: number,
                    reflectance,
                    stops: read.stops.number(),
                    u: read.stops.u,
                    draws: &read.draws,
                }
            }
        })
    };
    let patches: Vec<Seen<'_>> = table.patches.iter().enumerate().filter_map(seen).collect();
    let numbers = patches.iter().flat_map(|patch| [patch.stops, patch.u]);
    let asked = Asked {
        light: &light,
        card: &card,
        patches: &patches,
        edges: &EDGES,
        reflectance_u: arguments.table.known_u,
        target: ErrorKey::of("target", "reflectances"),
        film: ErrorKey::by("sensitivity", numbers),
        settings: TableArguments::settings(),
    };
    let answer = sensitivity(&asked).map_err(|why| {
        let (cause, remedy) = match why {
            NoSensitivity::TooFewPatches(count) => (
                format!("{count} coloured patches have stops and a reflectance; at least six are needed."),
                "Give more patches, and call the columns of the reflectances as they are called.",
            ),
            NoSensitivity::Range(from, to) => (
                format!("Light and reflectances have in common only {from} to {to} nm; 420 to 660 nm must be there."),
                "Give spectra that reach from 400 to 700 nm.",
            ),
            NoSensitivity::Edges | NoSensitivity::NotFinite => {
                ("The spectra give no exposure.".to_owned(), "Look at the light and at the reflectances.")
            }
        };
        Problem::error(file(&arguments.table.patches), cause, remedy)
    })?;
    let untold = answer.told_apart().iter().filter(|told| !**told).count();
    if untold > 0 {
        let cause =
            format!("These patches do not tell {untold} of {} bands from the others.", answer.bands.len());
        let remedy = "Take 'possible' as what is known of them, or add patches of other colours.";
        problems.push(Problem::doubt(file(&arguments.table.patches), cause, remedy));
    }
    print_json("sensitivity", export::sensitivity_json(&answer));
    Ok(problems)
}

/// Factors of filters for a film under a light.
pub(crate) fn filters(arguments: &FiltersArguments) -> Done {
    let spectrum =
        |path: &Path, carries| load::spectrum(&load::text(path)?, &path.display().to_string(), carries);
    let (film, mut problems) = spectrum(&arguments.sensitivity, Carries::Sensitivity)?;
    let (light, notes) = light(&arguments.light)?;
    problems.extend(notes);
    let list: Vec<(Value, Filter)> = match &arguments.filter {
        Some(path) => {
            let (own, notes) = spectrum(path, Carries::Transmittance)?;
            problems.extend(notes);
            vec![(json!(path.display().to_string()), Filter::Measured(own))]
        }
        None => Numbered::ALL.map(|one| (json!(one.words().0), Filter::Numbered(one))).to_vec(),
    };
    let mut answer = Vec::new();
    for (name, filter) in list {
        let found = factor(&light, &film, &filter);
        if found.is_none() {
            let cause = format!("The film sees nothing through the filter {}.", words::filter(&filter));
            problems.push(Problem::doubt(file(&arguments.sensitivity), cause, "Choose another filter."));
        }
        answer.push(json!({
            "filter": name,
            "words": words::filter(&filter),
            "filter_factor": found.as_ref().map(export::factor_json),
        }));
    }
    print_json("filters", json!({ "filters": answer }));
    Ok(problems)
}
