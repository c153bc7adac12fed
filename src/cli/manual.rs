//! The manual pages and the completions of shells, made from the verbs' own declarations.

use std::path::{Path, PathBuf};

use clap::{Args, CommandFactory};
use clap_complete::Shell;
use twinwedge_workbench::core::problem::{Problem, Subject};
use twinwedge_workbench::disk;
use twinwedge_workbench::store::{self, Sort, Writing};

use super::{Arguments, Done, output};

#[derive(Debug, Args)]
pub(crate) struct ManualArguments {
    /// Folder for them; it is made where it is not there.
    #[arg(long)]
    out: PathBuf,
    /// Replace whatever files of these names are there.
    #[arg(long)]
    force: bool,
}

static PAGE: Sort = Sort { words: "a manual page", is: is_page, derived: true };
static COMPLETIONS: Sort = Sort { words: "completions of a shell", is: is_completions, derived: true };

/// How pages made here begin: as generated, before their title.
fn is_page(head: &[u8]) -> bool {
    head.starts_with(b".ie \\n(.g") && contains(head, b".TH twinwedge")
}

fn is_completions(head: &[u8]) -> bool {
    contains(head, b"_twinwedge") || contains(head, b"__fish_twinwedge")
}

fn contains(bytes: &[u8], part: &[u8]) -> bool {
    bytes.windows(part.len()).any(|window| window == part)
}

/// Writes one page for the program, one for each verb, and completions for bash, zsh and fish.
pub(super) fn manual(arguments: &ManualArguments) -> Done {
    let folder = &arguments.out;
    std::fs::create_dir_all(folder).map_err(|error| not_written(folder, &error))?;
    // Names of the verbs' pages, `twinwedge-curve`, come with the finished command.
    let mut command = Arguments::command().disable_help_subcommand(true);
    command.build();
    for page in std::iter::once(&command).chain(command.get_subcommands()) {
        let mut text = Vec::new();
        let name = page.get_display_name().unwrap_or(page.get_name()).to_owned();
        let made = clap_mangen::Man::new(page.clone()).title(&name).render(&mut text);
        made.map_err(|error| not_written(folder, &error))?;
        write(&folder.join(format!("{name}.1")), &text, &PAGE, arguments.force)?;
    }
    for (shell, file) in
        [(Shell::Bash, "twinwedge.bash"), (Shell::Zsh, "_twinwedge"), (Shell::Fish, "twinwedge.fish")]
    {
        let mut text = Vec::new();
        clap_complete::generate(shell, &mut command, "twinwedge", &mut text);
        write(&folder.join(file), &text, &COMPLETIONS, arguments.force)?;
    }
    Ok(Vec::new())
}

fn write(path: &Path, text: &[u8], sort: &'static Sort, force: bool) -> Result<(), Problem> {
    let writing = Writing { sort, sources: &[], replace: output::replace(force) };
    output::written(path, force, || store::write_file(path, text, writing))
}

fn not_written(folder: &Path, error: &std::io::Error) -> Problem {
    Problem::error(
        Subject::File { path: folder.display().to_string(), place: None },
        format!("The folder could not be made: {}.", disk::cause(error)),
        "Give another folder with --out.",
    )
}
