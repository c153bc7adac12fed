//! What every refusal has to be: one problem in plain words.

use twinwedge_workbench::core::problem::{Problem, Severity};

use super::Finding;

/// Words that no message may hold unless the input itself does: a system's numbers, places in sources, debug text.
const NEVER: [&str; 10] = [
    "os error",
    ".rs:",
    "src/",
    "panick",
    "fault of the program",
    "unwrap",
    "Some(",
    "Err(",
    "/dev/shm/.",
    "Custom {",
];

/// Longest message that a person reads.
const LONGEST: usize = 1200;

/// Looks at a refusal.
pub(super) fn refusal(problem: &Problem, input: &[u8]) -> Result<(), Finding> {
    if problem.severity == Severity::Doubt {
        return Err(format!("severity: a refusal is no doubt: {problem}"));
    }
    words(problem, input)
}

/// Looks at the words of a problem.
pub(super) fn words(problem: &Problem, input: &[u8]) -> Result<(), Finding> {
    let text = problem.to_string();
    if let Some(control) = text.chars().find(|letter| letter.is_control()) {
        return Err(format!("words: a control character: {control:?} in: {}", text.escape_debug()));
    }
    if text.chars().count() > LONGEST {
        return Err(format!("words: a message of {} letters", text.chars().count()));
    }
    let input = String::from_utf8_lossy(input);
    for never in NEVER {
        if text.contains(never) && !input.contains(never) {
            return Err(format!("words: '{never}' in: {text}"));
        }
    }
    // The place is a name that somebody gave, whatever it looks like.
    let said = format!("{} {}", problem.cause, problem.remedy);
    if let Some(debug) = debugged(&said)
        && !input.contains(debug)
    {
        return Err(format!("words: debug text '{debug}' in: {text}"));
    }
    for (part, sentence) in [("cause", problem.cause.to_string()), ("remedy", problem.remedy.to_string())] {
        if sentence.trim().len() < 5 || !sentence.ends_with(['.', '!', '?']) {
            return Err(format!("words: the {part} is no sentence: {text}"));
        }
    }
    Ok(())
}

/// The name of a type followed at once by what it holds, as `{:?}` writes it.
fn debugged(text: &str) -> Option<&str> {
    text.match_indices(['(', '{']).find_map(|(at, _)| {
        let before = text[..at].trim_end_matches(' ');
        // `Name(` and `Name {`, but not `word (`.
        if text[..at].ends_with(' ') && text[at..].starts_with('(') {
            return None;
        }
        let word = before.rsplit(|letter: char| !letter.is_ascii_alphanumeric()).next().unwrap_or_default();
        let mut letters = word.chars();
        let name = letters.next().is_some_and(|first| first.is_ascii_uppercase())
            && letters.any(|letter| letter.is_ascii_lowercase());
        name.then_some(word)
    })
}
