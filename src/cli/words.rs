//! How verbs speak: remedies name an option, not what a hand does in the window.

use clap::CommandFactory;
use twinwedge_workbench::core::problem::Problem;

use super::Arguments;

/// Whether a verb has an option.
pub(super) fn has(verb: &str, option: &str) -> bool {
    let command = Arguments::command();
    let verb = command.find_subcommand(verb);
    verb.is_some_and(|verb| verb.get_arguments().any(|argument| argument.get_long() == Some(option)))
}

/// What a hand does in the window, the option that does it for a verb, and how that is said.
const GESTURES: &[(&str, &str, &str)] = &[
    ("Drag the four corners onto the steps", "corners", "Give the four corners of its steps with --corners"),
    ("Drag it inside the picture", "corners", "Give --corners inside the picture"),
    ("Type the scan's resolution in dots per inch", "dpi", "Give the scan's resolution with --dpi"),
    ("Look at their registration on the Prints page", "", "See what 'twinwedge register' says of them"),
    ("Draw ", "area", "Give with --area "),
    ("Mark ", "area", "Give with --area "),
    ("Look at both prints in the window, and set two pairs of points by hand", "", "Look at both prints"),
    ("Draw ", "", "Choose "),
    ("Mark ", "", "Choose "),
    ("Drag ", "", "Move "),
];

/// A problem with a remedy that fits a verb on files.
pub(super) fn in_words_of(verb: &str, mut problem: Problem) -> Problem {
    for (gesture, option, words) in GESTURES {
        if option.is_empty() || has(verb, option) {
            problem.remedy = problem.remedy.to_string().replace(gesture, words).into();
        }
    }
    problem
}

/// Several things in a sentence: 'Density of steps 1, 2 and 3, gamma' from 'density of step 1', ... and 'gamma'.
pub(super) fn listed(whats: &[String]) -> String {
    let mut groups: Vec<(String, Vec<&str>)> = Vec::new();
    for what in whats {
        // 'density of step 7' is one of several; 'gamma' stands alone.
        let (stem, last) = what
            .rsplit_once(' ')
            .filter(|(stem, last)| stem.contains(" of ") && last.chars().all(|c| c.is_ascii_digit()))
            .unwrap_or((what, ""));
        match groups.iter_mut().find(|(known, _)| known == stem) {
            Some((_, lasts)) => lasts.push(last),
            None => groups.push((stem.to_owned(), vec![last])),
        }
    }
    let said = groups.iter().map(|(stem, lasts)| match lasts.as_slice() {
        [""] => stem.clone(),
        [one] => format!("{stem} {one}"),
        [first @ .., last] => format!("{stem}s {} and {last}", first.join(", ")),
        [] => String::new(),
    });
    let said = said.collect::<Vec<String>>().join(", ");
    let mut letters = said.chars();
    letters.next().map_or(String::new(), |first| first.to_uppercase().chain(letters).collect())
}
