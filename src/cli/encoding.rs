//! What the codes of scans stand for: the option that says it, and what is told where nothing says it.

use clap::Args;
use serde_json::{Value, json};
use twinwedge_workbench::core::document::{Encoding, ScanId};
use twinwedge_workbench::core::problem::{Problem, Subject};
use twinwedge_workbench::core::scan::Judged;
use twinwedge_workbench::core::scan::encoding::density;
use twinwedge_workbench::engine::ask::EncodingOf;
use twinwedge_workbench::export;
use twinwedge_workbench::session::{Edit, Session, guess_in_words, under_each};
use twinwedge_workbench::words::Rule;

/// What the codes stand for.
#[derive(Debug, Clone, Default, Args)]
pub(super) struct EncodingArguments {
    /// What the codes of the scans stand for: 'linear' (light), 'srgb', 'power:EXPONENT' (power:2.2), 'density:FIRST..LAST' (the
    /// densities of code 0 and of the highest code: density:0..4) or 'profile'. Without it and without a calibration the file
    /// says it, or it is guessed, and the verb ends with code 1 where the guess matters and is not sure.
    #[arg(long, value_parser = Encoding::parse, conflicts_with = "calibration")]
    pub(super) encoding: Option<Encoding>,
}

/// A figure that rests on what codes stand for: what it is called in JSON and in a sentence, to how many digits it is told, and
/// how it is had.
pub(super) struct Figure<'a> {
    pub(super) key: &'a str,
    pub(super) words: &'a str,
    pub(super) digits: usize,
    pub(super) of: &'a dyn Fn(&Session) -> Result<f64, Problem>,
}

/// What the codes of these scans are read as, into the answer, and a doubt for each that is read by a guess: which encodings are
/// possible, and what the figure would be under each.
pub(super) fn tell_of(
    answer: &mut Value,
    session: &mut Session,
    scans: &[ScanId],
    figure: Option<&Figure<'_>>,
) -> Result<Vec<Problem>, Problem> {
    let mut read: Vec<(ScanId, Judged)> = Vec::new();
    for scan in scans {
        let calibrated = session.series().scans.get(scan).is_some_and(|entry| entry.calibration.is_some());
        if !calibrated {
            let judged = session.wait(&EncodingOf { scan: scan.clone() })?;
            read.push((scan.clone(), (*judged).clone()));
        }
    }
    let told = read.iter().map(|(scan, judged)| {
        let mut told = export::encoding_json(judged);
        told["scan"] = json!(scan.0);
        told
    });
    answer["encodings"] = told.collect();
    let guessed: Vec<&(ScanId, Judged)> =
        read.iter().filter(|(_, judged)| judged.certainty.is_guess()).collect();
    let Some((_, first)) = guessed.first() else { return Ok(Vec::new()) };
    let mut under: Vec<(Encoding, Option<f64>)> = Vec::new();
    if let Some(figure) = figure {
        for possible in &first.possible {
            let ids: Vec<ScanId> = guessed.iter().map(|(scan, _)| scan.clone()).collect();
            let encoding = possible.encoding;
            session.apply(Edit::new("read it otherwise", move |series| {
                for id in &ids {
                    if let Some(entry) = series.scans.get_mut(id) {
                        entry.encoding = Some(encoding);
                    }
                }
            }))?;
            under.push((encoding, (figure.of)(session).ok()));
        }
        answer["under_each_encoding"] = under
            .iter()
            .map(|(encoding, value)| json!({ "encoding": encoding.key(), "of": figure.key, "would_be": value }))
            .collect();
    }
    let doubts = guessed.iter().map(|(scan, judged)| {
        let values = match figure {
            Some(figure) => {
                let say = |encoding: Encoding| {
                    let value = under.iter().find(|(of, _)| *of == encoding)?.1?;
                    Some(format!("{value:.*}", figure.digits))
                };
                format!(" {}: {}.", figure.words, under_each(judged, say))
            }
            None => judged.darkest.map_or_else(String::new, |code| {
                let say = |encoding: Encoding| Some(format!("{:.2}", density(encoding, code)));
                format!(" Density of its darkest tones: {}.", under_each(judged, say))
            }),
        };
        Problem::doubt(
            Subject::File { path: scan.0.clone(), place: None },
            Rule::CodesGuessed { guess: guess_in_words(judged), under: values },
            "Say it with --encoding linear, srgb, power:EXPONENT or density:FIRST..LAST, or give a --calibration.",
        )
    });
    Ok(doubts.collect())
}

/// The same for all scans that a verb's films are measured on.
pub(super) fn tell(
    answer: &mut Value,
    session: &mut Session,
    figure: Option<&Figure<'_>>,
) -> Result<Vec<Problem>, Problem> {
    let scans: Vec<ScanId> = session.series().measured_scans().into_iter().cloned().collect();
    tell_of(answer, session, &scans, figure)
}
