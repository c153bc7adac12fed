//! What measures: the sample series, the benchmarks, the studies.

use std::path::Path;

use crate::{Failure, HELP, bench, sample, say, study, top};

/// Does what one of these commands says.
///
/// # Errors
/// What failed, or how the commands are called.
pub(crate) fn run(words: &[&str]) -> Result<(), Failure> {
    match words {
        ["sample"] => {
            sample::write_fifty(&top().join("sample-projects/fifty"))?;
            sample::write(&top().join("sample-projects/saltmarsh"))
        }
        ["bench"] => bench::run(&top()),
        // One workload in a process of its own, for its peak memory; the benchmark starts it.
        ["bench", workload, folder] => bench::ours::run(workload, Path::new(folder)),
        ["study", options @ ..] => studied(options),
        _ => Err(HELP.into()),
    }
}

/// Runs the study of intervals and prints its table.
fn studied(options: &[&str]) -> Result<(), Failure> {
    let (mut series, mut seed, mut by) = (1_000, 1, study::By::Nothing);
    for option in options.chunks(2) {
        match option {
            ["--series", number] => series = number.parse()?,
            ["--seed", number] => seed = number.parse()?,
            ["--by", "base-fog"] => by = study::By::BaseFog,
            ["--claims", pairs] => {
                say(format_args!("{}", study::claims::of_curves(pairs.parse()?, seed)?.table()));
                return Ok(());
            }
            _ => return Err(HELP.into()),
        }
    }
    let tally = study::run(series, seed)?;
    say(format_args!("{}", tally.table(by)));
    let lines = study::widths::run(&tally, series, seed)?;
    say(format_args!("{}", study::widths::table(&lines)));
    let missed = tally.promised().iter().filter(|verdict| !verdict.passes()).count();
    if missed == 0 { Ok(()) } else { Err(format!("{missed} promised figures miss 93 to 97 %").into()) }
}
