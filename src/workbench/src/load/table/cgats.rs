//! Densities from CGATS text (ISO 28178, earlier ANSI CGATS.17): as they stand there, or computed from spectra.

use std::borrow::Cow;

use twinwedge_core::problem::Problem;
use twinwedge_core::shown::Quoted;
use twinwedge_core::spectra::density::{DensityKind, NoDensity};
use twinwedge_core::spectra::spectrum::{Carries, Spectrum};

use super::super::spectra::{SCALES, Scale, cell_number, sentence, wavelength_field};
use super::at;
use crate::words::{Remedy, Table as Known};

/// CGATS text as a table that is read like any other.
#[derive(Debug)]
pub(super) struct AsTable<'a> {
    /// The table, with its rows on the lines that they stand on; any other text as it is.
    pub(super) text: Cow<'a, str>,
    /// Which density it holds, where that is known.
    pub(super) density: Option<DensityKind>,
    /// What was made of its spectra.
    pub(super) told: Option<Known>,
}

/// CGATS text as a table of step, density and, where it has it, uncertainty; any other text as it is. Of several tables in it the
/// first is taken. Samples that are not numbered are steps in their order. Without visual densities these are computed from the
/// spectra; where `wanted` names a density, that one is.
///
/// # Errors
/// It has neither visual densities nor spectra, or a row that does not fit its format; no spectra where they are wanted.
pub(super) fn as_table<'a>(
    text: &'a str,
    name: &str,
    wanted: Option<DensityKind>,
) -> Result<AsTable<'a>, Problem> {
    if !text.lines().any(|line| line.trim() == "BEGIN_DATA_FORMAT") {
        return match wanted {
            None => Ok(AsTable { text: Cow::Borrowed(text), density: None, told: None }),
            Some(wanted) => Err(no_spectra(name, wanted)),
        };
    }
    let mut out: Vec<String> = Vec::new();
    let mut columns: Option<Columns> = None;
    let mut spectra: Vec<SpectralRow> = Vec::new();
    let (mut fields, mut part, mut row) = (Vec::new(), Part::Before, 0);
    for (line, number) in text.lines().zip(1..) {
        let mut written = String::new();
        match (part, line.trim()) {
            (Part::Before, "BEGIN_DATA_FORMAT") => part = Part::Format,
            (Part::Format, "END_DATA_FORMAT") => {
                let found = Columns::of(&fields, wanted, name, number)?;
                written = found.head().to_owned();
                columns = Some(found);
                part = Part::Between;
            }
            (Part::Format, words) => fields.extend(split(words)),
            (Part::Between, "BEGIN_DATA") => part = Part::Data,
            (Part::Data, "END_DATA") => part = Part::After,
            (Part::Data, words) if !words.is_empty() && !words.starts_with('#') => {
                let columns = columns.as_ref().ok_or_else(|| no_density(name, number))?;
                row += 1;
                let words = split(words);
                let step = columns.step_of(&words, fields.len(), row, name, number)?;
                match &columns.taken {
                    Taken::Densities { density, u, .. } => {
                        written = format!("{step};{}", words[*density]);
                        if let Some(u) = u {
                            written.push(';');
                            written.push_str(&words[*u]);
                        }
                    }
                    Taken::Spectra { places, .. } => {
                        spectra.push(SpectralRow::of(&words, step, places, name, number)?);
                    }
                }
            }
            // What it says beside the table, in the form in which tables say it.
            (Part::Before, words) => {
                if let Some(label) = words.strip_prefix("DESCRIPTOR ") {
                    written = format!("# {}", label.trim_matches('"'));
                }
            }
            _ => {}
        }
        out.push(written);
    }
    if part == Part::Data {
        return Err(at(name, None, Known::NotWhole, Remedy::WriteAgain));
    }
    let Some(columns) = columns else { return Err(no_density(name, 1)) };
    let (density, told) = match columns.taken {
        Taken::Densities { kind, .. } => (kind, None),
        Taken::Spectra { kind, scale, .. } => {
            let scale = scale.unwrap_or_else(|| scale_of(&spectra));
            for row in &spectra {
                out[row.line - 1] = row.density(kind, scale, name)?;
            }
            let told = Known::FromSpectra { density: kind.words(), scale: scale.words() };
            (Some(kind), Some(told))
        }
    };
    out.push(String::new());
    Ok(AsTable { text: Cow::Owned(out.join("\n")), density, told })
}

#[derive(Debug, Clone, Copy, PartialEq)]
enum Part {
    Before,
    Format,
    Between,
    Data,
    After,
}

/// Which fields are taken.
struct Columns {
    step: Option<usize>,
    taken: Taken,
}

enum Taken {
    Densities { kind: Option<DensityKind>, density: usize, u: Option<usize> },
    Spectra { kind: DensityKind, places: Vec<(usize, f64)>, scale: Option<Scale> },
}

impl Columns {
    fn of(fields: &[String], wanted: Option<DensityKind>, name: &str, line: usize) -> Result<Self, Problem> {
        let field = |wanted: &str| fields.iter().position(|field| field.eq_ignore_ascii_case(wanted));
        let step = field("SAMPLE_ID");
        let places: Vec<(usize, f64)> = fields
            .iter()
            .enumerate()
            .filter_map(|(place, field)| Some((place, wavelength_field(field)?)))
            .collect();
        let named = |starts: &[&str]| {
            let fields = places.iter().map(|(place, _)| fields[*place].to_ascii_lowercase());
            let mut fields = fields.peekable();
            fields.peek().is_some() && fields.all(|field| starts.iter().any(|start| field.starts_with(start)))
        };
        let scale = SCALES.into_iter().find(|(start, _)| named(&[start])).map(|(_, scale)| scale);
        let spectra = |kind| Self { step, taken: Taken::Spectra { kind, places: places.clone(), scale } };
        match wanted {
            Some(wanted) if places.is_empty() => return Err(no_spectra(name, wanted)),
            Some(wanted) => return Ok(spectra(wanted)),
            None => {}
        }
        if let Some(density) = field("D_VIS") {
            let kind = Some(DensityKind::Visual);
            return Ok(Self { step, taken: Taken::Densities { kind, density, u: field("U_D_VIS") } });
        }
        if !places.is_empty() {
            return Ok(spectra(DensityKind::Visual));
        }
        // Where one density alone stands there, that is meant.
        let mut densities = (0..fields.len()).filter(|at| fields[*at].to_ascii_uppercase().starts_with("D_"));
        let density = densities.next().filter(|_| densities.next().is_none());
        let density = density.ok_or_else(|| no_density(name, line))?;
        Ok(Self { step, taken: Taken::Densities { kind: None, density, u: None } })
    }

    /// The head row of the table.
    fn head(&self) -> &'static str {
        match self.taken {
            Taken::Densities { u: Some(_), .. } => "step;density;uncertainty",
            _ => "step;density",
        }
    }

    /// The step of a row.
    fn step_of(
        &self,
        words: &[String],
        fields: usize,
        row: u32,
        name: &str,
        line: usize,
    ) -> Result<u32, Problem> {
        if words.len() != fields {
            return Err(at(
                name,
                Some(format!("line {line}")),
                Known::RowOfFields { fields: words.len(), named: fields },
                Remedy::OneRowEach,
            ));
        }
        // A tablet's steps are numbers; other samples come in the order of the tablet.
        Ok(self.step.and_then(|at| words[at].parse::<u32>().ok()).unwrap_or(row))
    }
}

/// A step's spectrum as it stands in its row.
struct SpectralRow {
    /// Its line, from 1.
    line: usize,
    step: u32,
    nm: Vec<f64>,
    values: Vec<f64>,
}

impl SpectralRow {
    fn of(
        words: &[String],
        step: u32,
        places: &[(usize, f64)],
        name: &str,
        line: usize,
    ) -> Result<Self, Problem> {
        let mut rows = Vec::with_capacity(places.len());
        for (place, nm) in places {
            let value = cell_number(&words[*place], false).ok_or_else(|| {
                at(
                    name,
                    Some(format!("line {line}")),
                    Known::NoNumberAtWavelength { cell: Quoted(&words[*place]).to_string(), nm: *nm },
                    Remedy::CorrectThere,
                )
            })?;
            rows.push((*nm, value));
        }
        rows.sort_by(|a, b| a.0.total_cmp(&b.0));
        let (nm, values) = rows.into_iter().unzip();
        Ok(Self { line, step, nm, values })
    }

    /// Its row in the table of densities; without a density where it lets nothing through.
    fn density(&self, kind: DensityKind, scale: Scale, name: &str) -> Result<String, Problem> {
        let place = || Some(format!("line {}", self.line));
        let values = self.values.iter().map(|value| value * scale.unit()).collect();
        let spectrum = Spectrum::new(Carries::Transmittance, self.nm.clone(), values).map_err(|fault| {
            let cause = sentence(fault, &format!("step {}", self.step));
            at(name, place(), cause, Remedy::CorrectSpectrum)
        })?;
        match kind.of(&spectrum) {
            Ok(density) => Ok(format!("{};{density:.4}", self.step)),
            Err(NoDensity::Dark) => Ok(format!("{};", self.step)),
            Err(NoDensity::Beyond { share }) => Err(at(
                name,
                place(),
                Known::SpectraTooShort { density: kind.words(), percent: 100.0 * share },
                Remedy::WiderSpectra,
            )),
        }
    }
}

/// Whether spectra are shares of light or per cent: by all of a file, for a dark step alone does not tell.
fn scale_of(rows: &[SpectralRow]) -> Scale {
    let most = rows.iter().flat_map(|row| &row.values).fold(0.0_f64, |most, value| most.max(*value));
    if most > 1.5 { Scale::PerCent } else { Scale::Share }
}

fn no_density(name: &str, line: usize) -> Problem {
    at(name, Some(format!("line {line}")), Known::NoVisualDensity, Remedy::NameVisual)
}

fn no_spectra(name: &str, wanted: DensityKind) -> Problem {
    at(name, None, Known::NoSpectraFor { density: wanted.words() }, Remedy::GiveSpectra)
}

/// Words apart by blanks or tabs; one between quotation marks may hold blanks.
fn split(line: &str) -> Vec<String> {
    let mut words = Vec::new();
    let mut rest = line.trim_start();
    while !rest.is_empty() {
        let (word, after) = match rest.strip_prefix('"') {
            Some(inside) => inside.split_once('"').unwrap_or((inside, "")),
            None => rest.split_once(char::is_whitespace).unwrap_or((rest, "")),
        };
        words.push(word.to_owned());
        rest = after.trim_start();
    }
    words
}

#[cfg(test)]
mod tests {
    use super::super::{table, table_from_spectra};
    use super::DensityKind;

    /// As the keywords of ISO 28178 ask; invented densities.
    const TEXT: &str = "CGATS.17\nORIGINATOR \"a densitometer\"\nNUMBER_OF_FIELDS 4\nBEGIN_DATA_FORMAT\nSAMPLE_ID SAMPLE_NAME D_RED D_VIS\n\
        END_DATA_FORMAT\nNUMBER_OF_SETS 3\nBEGIN_DATA\n1 \"step one\" 1.52 1.50\n2 \"step two\" 1.22 1.20\n4 b 0.82 0.80\nEND_DATA\n";

    #[test]
    fn visual_densities_are_taken_by_their_samples() {
        let read = table(TEXT, "a.txt").expect("a table");
        let densities: Vec<(bool, f64)> =
            read.readings.iter().map(|reading| (reading.missing, reading.density)).collect();
        assert_eq!(densities.len(), 4);
        assert!(
            densities[2].0 && (densities[1].1 - 1.2).abs() < 1e-12 && (densities[3].1 - 0.8).abs() < 1e-12
        );
    }

    #[test]
    fn what_does_not_fit_is_told_with_its_line() {
        for (wrong, place) in [
            (TEXT.replace("D_VIS", "LAB_L").replace("D_RED", "LAB_A"), "line 6"),
            (TEXT.replace("2 \"step two\" 1.22 1.20", "2 \"step two\" 1.20"), "line 10"),
            (TEXT.replace("1.20\n", "black\n"), "line 10"),
            (TEXT.replace("END_DATA\n", ""), "whole"),
        ] {
            let problem = table(&wrong, "a.txt").expect_err(place);
            assert!(problem.to_string().contains(place), "{problem}");
        }
    }

    /// Steps whose transmittance is even, one with a spectrum that lets only red through.
    fn spectral(scale: f64, field: &str) -> String {
        let nm: Vec<u32> = (380..=730).step_by(10).collect();
        let fields: Vec<String> = nm.iter().map(|nm| format!("{field}{nm}")).collect();
        let row = |step: u32, at: &dyn Fn(u32) -> f64| {
            let values: Vec<String> = nm.iter().map(|nm| format!("{:.6}", scale * at(*nm))).collect();
            format!("{step} {}\n", values.join(" "))
        };
        let even = |density: f64| move |_| 10f64.powf(-density);
        let rows = [
            row(1, &even(1.5)),
            row(2, &even(1.2)),
            row(3, &even(0.3)),
            row(4, &|nm| if nm >= 600 { 0.5 } else { 0.005 }),
        ];
        format!(
            "CGATS.17\nBEGIN_DATA_FORMAT\nSAMPLE_ID {}\nEND_DATA_FORMAT\nBEGIN_DATA\n{}END_DATA\n",
            fields.join(" "),
            rows.concat()
        )
    }

    /// By definition of an even spectrum; through status A red nearly the whole weight lies above 600 nm, through blue none.
    #[test]
    fn densities_are_computed_from_spectra() {
        for (scale, field) in
            [(1.0, "SPECTRAL_NM_"), (100.0, "SPECTRAL_NM"), (100.0, "SPECTRAL_PCT_"), (1.0, "nm")]
        {
            let text = spectral(scale, field);
            let read = table(&text, "a.txt").expect("a table");
            for (reading, density) in read.readings.iter().zip([1.5, 1.2, 0.3]) {
                assert!((reading.density - density).abs() < 2e-4, "{field}: {reading:?}");
            }
            assert_eq!((read.stated.density, read.from_spectra), (Some(DensityKind::Visual), true));
            assert!(read.notes.iter().any(|note| note.cause.contains("visual densities were computed")));
            let of = |kind| table_from_spectra(&text, "a.txt", kind).expect("a table").readings[3].density;
            assert!((of(DensityKind::StatusARed) - 0.301).abs() < 0.002, "{}", of(DensityKind::StatusARed));
            assert!((of(DensityKind::StatusABlue) - 2.301).abs() < 2e-4);
        }
        let problem = table_from_spectra(TEXT, "a.txt", DensityKind::Visual).expect_err("no spectra");
        assert!(problem.to_string().contains("no spectra"), "{problem}");
        assert_eq!(table(TEXT, "a.txt").expect("a table").stated.density, Some(DensityKind::Visual));
    }

    #[test]
    fn spectra_that_give_no_density_are_told_with_their_line() {
        let text = spectral(1.0, "SPECTRAL_NM_");
        for (wrong, told) in [
            (
                text.replace("\n2 0.063096", "\n2 grey"),
                "'grey' stands where the spectrum has its value at 380 nm",
            ),
            (text.replace("\n2 0.063096", "\n2 -0.5"), "below zero at 380 nm"),
            (text.replace("SPECTRAL_NM_5", "OTHER_5"), "no row between 490 and 600 nm"),
        ] {
            let problem = table(&wrong, "a.txt").expect_err(told).to_string();
            assert!(
                problem.contains(told) && (problem.contains("line 7") || problem.contains("line 6")),
                "{problem}"
            );
        }
        let short: String = text
            .lines()
            .map(|line| {
                let cells: Vec<&str> = line.split(' ').collect();
                let kept = if cells.len() > 20 { &cells[..14] } else { &cells[..] };
                kept.join(" ") + "\n"
            })
            .collect();
        let problem = table(&short, "a.txt").expect_err("too short").to_string();
        assert!(problem.contains("end too early for visual densities"), "{problem}");
    }
}
