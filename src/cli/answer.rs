//! A verb's answer on its way out: printed with its head, and judged by what the verb was asked for.
//!
//! What each verb is asked for stands in one registry, [`WANTED`]: a path into its JSON, and what that is called in a sentence. A
//! wanted figure that is missing, only a bound, not sure, or marked with a flag that makes it doubtful is told on stderr with its
//! reason, and the verb ends with code 1. No verb judges its own figures.

use std::collections::BTreeSet;
use std::path::Path;

use serde_json::Value;
use twinwedge_workbench::core::measured::Flags;
use twinwedge_workbench::core::problem::{Problem, Severity, Subject};
use twinwedge_workbench::export;
use twinwedge_workbench::words::Rule;

use super::words;
use super::{Done, say};

/// A figure that a verb is asked for.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Wanted {
    /// Where it stands: members apart by '/', '*' for each item of a list. Nothing is missing where a member that begins with '?'
    /// is not there.
    path: String,
    /// What it is called, small letters first where it is one of many.
    words: String,
    /// A value of which one side alone is known answers the question, too.
    bound_serves: bool,
}

impl Wanted {
    fn new(path: &str, words: &str) -> Self {
        Self { path: path.to_owned(), words: words.to_owned(), bound_serves: false }
    }
}

/// What each verb is asked for: the verb, the path, what it is called.
pub(super) const WANTED: &[(&str, &str, &str)] = &[
    ("curve", "figures/base_fog", "base+fog"),
    ("curve", "figures/speed_point", "speed point"),
    ("curve", "figures/average_gradient", "average gradient"),
    ("curve", "figures/contrast_index", "contrast index"),
    ("curve", "figures/gamma", "gamma"),
    ("curve", "figures/maximum_gradient", "maximum gradient"),
    ("curve", "?strips/*/found", "place of the strip"),
    ("strip", "steps/*/density", "density of step"),
    ("strip", "?found", "place of the strip"),
    ("calibrate", "steps/*/code", "code of step"),
    ("calibrate", "?found", "place of the tablet"),
    ("scan", "?drift/difference", "drift"),
    ("register", "", "registration"),
    ("patches", "registration", "registration"),
    ("patches", "films/*/patches/*/density", "density of patch"),
    ("patches", "patch_differences/*/difference", "difference of patch"),
    ("detail", "limit_of_agreement", "limit of agreement"),
    ("grain", "areas/*/granularity", "granularity of area"),
    ("grain", "areas/*/density", "density of area"),
    ("spectrum", "spectrum/at_zero", "power at frequency zero"),
    ("spectrum", "spectrum/granularity_48_um", "granularity through 48 µm"),
    ("spectrum", "?against/at_zero", "power at frequency zero of the other film"),
    ("spectrum", "?against/granularity_48_um", "granularity through 48 µm of the other film"),
    ("edge", "mtf50", "frequency at half modulation"),
    ("edge", "width_10_90", "width from 10 to 90 %"),
    ("development", "films/*/time/minutes", "time of"),
    ("figures", "figures/base_fog", "base+fog"),
    ("figures", "figures/speed_point", "speed point"),
    ("figures", "figures/average_gradient", "average gradient"),
    ("figures", "figures/contrast_index", "contrast index"),
    ("figures", "figures/gamma", "gamma"),
    ("figures", "?grain/areas/*/granularity", "granularity of area"),
    ("figures", "?patches/*/density", "density of patch"),
];

/// Paths at which a value that is only a bound answers the question: up to where detail is carried is often no less than the scan
/// shows.
const BOUND_SERVES: &[&str] = &["limit_of_agreement", "limits/reference", "limits/candidate"];

/// A flag that makes a wanted figure doubtful, and what to do: the first remedy whose option the verb has, or that needs none.
pub(super) const DOUBTFUL: &[(Flags, &[(&str, &str)])] = &[
    (Flags::CLIPPED, &[("", "Scan again with an exposure that cuts no tone off.")]),
    (
        Flags::OUTSIDE_CALIBRATION,
        &[("calibration", "Give a --calibration made from a tablet that reaches these densities.")],
    ),
    (
        Flags::FEW_SAMPLES,
        &[
            ("area", "Give a larger --area, or scan at a higher resolution."),
            ("", "Scan at a higher resolution."),
        ],
    ),
    (
        Flags::UNEVEN,
        &[
            ("area", "Give an --area that is evenly exposed and without detail."),
            ("", "Scan it again, evenly lit."),
        ],
    ),
    (
        Flags::ALTERED_SCAN,
        &[(
            "",
            "Scan again without sharpening, noise reduction, resizing and lossy compression; the notes say which it was.",
        )],
    ),
    (
        Flags::MOSTLY_NOISE,
        &[("", "Scan again with less noise: slower, with several passes, or on another scanner.")],
    ),
    (Flags::BEYOND_HALF_CYCLE, &[("", "Scan at a higher resolution.")]),
    (
        Flags::ENCODING_ASSUMED,
        &[("encoding", "Say with --encoding what the codes stand for, or give a --calibration.")],
    ),
    (
        Flags::TOE_NOT_REACHED,
        &[
            (
                "strip",
                "Expose an additional strip with less light (--strip), or read an unexposed area (--base-fog).",
            ),
            ("", "Expose an additional strip with less light, or read an unexposed area."),
        ],
    ),
];

/// The remedy where none of the table fits.
const NOTES: &str = "The notes in the answer say more.";

/// What an answer is about, and what is wanted of it.
#[derive(Debug)]
pub(super) struct Answer {
    verb: &'static str,
    subject: Subject,
    wanted: Vec<Wanted>,
}

impl Answer {
    /// The answer of a verb about a file, with what that verb is asked for.
    pub(super) fn about(verb: &'static str, file: &Path) -> Self {
        Self::of(verb, Subject::File { path: file.display().to_string(), place: None })
    }

    /// The same about anything.
    pub(super) fn of(verb: &'static str, subject: Subject) -> Self {
        let wanted = WANTED.iter().filter(|(of, ..)| *of == verb).map(|(_, path, words)| Wanted {
            bound_serves: BOUND_SERVES.contains(path),
            ..Wanted::new(path, words)
        });
        Self { verb, subject, wanted: wanted.collect() }
    }

    /// One more that was asked for.
    pub(super) fn also(mut self, path: &str, words: &str) -> Self {
        let bound_serves = BOUND_SERVES.contains(&path);
        self.wanted.push(Wanted { bound_serves, ..Wanted::new(path, words) });
        self
    }

    /// These figures in the place of all others.
    pub(super) fn only_figures(mut self, keys: &[String]) -> Self {
        if !keys.is_empty() {
            self.wanted.retain(|wanted| !wanted.path.starts_with("figures/"));
            let named = keys.iter().map(|key| Wanted::new(&format!("figures/{key}"), &key.replace('_', " ")));
            self.wanted.extend(named);
        }
        self
    }

    /// The same where there are no readings that figures of a curve could come from.
    pub(super) fn without_figures(mut self) -> Self {
        self.wanted.retain(|wanted| !wanted.path.starts_with("figures/"));
        self
    }

    /// Prints it, and gives what is to be told beside it: `told` by the verb, and what is missing or doubtful of the wanted.
    pub(super) fn tell(self, body: Value, told: Vec<Problem>) -> Done {
        let whole = export::document(self.verb, body);
        let problems = self.judge(&whole, told);
        say(export::json_text(&whole));
        Ok(problems)
    }

    /// What is missing or doubtful of the wanted, beside what the verb told: each reason once.
    pub(super) fn judge(&self, whole: &Value, told: Vec<Problem>) -> Vec<Problem> {
        // What codes stand for is told with what the figure would be otherwise.
        let guessed = |problem: &Problem| matches!(problem.cause.row(), Some(Rule::CodesGuessed { .. }));
        let asked = told.iter().any(guessed);
        let mut against: Vec<(Against, Vec<String>)> = Vec::new();
        for wanted in &self.wanted {
            for (name, value) in places(whole, &wanted.path) {
                for reason in speaks_against(value, wanted.bound_serves) {
                    if reason == Against::Flag(Flags::ENCODING_ASSUMED) && asked {
                        continue;
                    }
                    let what = if name.is_empty() {
                        wanted.words.clone()
                    } else {
                        format!("{} {name}", wanted.words)
                    };
                    match against.iter_mut().find(|(known, _)| *known == reason) {
                        Some((_, whats)) => whats.push(what),
                        None => against.push((reason, vec![what])),
                    }
                }
            }
        }
        let known: BTreeSet<String> = told.iter().map(|problem| problem.cause.to_string()).collect();
        let found = against.into_iter().map(|(reason, whats)| self.problem(&reason, &whats));
        let mut all: Vec<Problem> = told;
        for problem in found {
            let said = known.iter().any(|cause| problem.cause.contains(cause.as_str()));
            match all.iter_mut().find(|told| said && problem.cause.contains(&told.cause.to_string())) {
                // Told already as something worth knowing: it stands in the way of what was asked for.
                Some(told) => told.severity = told.severity.max(problem.severity),
                None => all.push(problem),
            }
        }
        all
    }

    fn problem(&self, reason: &Against, whats: &[String]) -> Problem {
        let what = words::listed(whats);
        match reason {
            Against::Missing(why) => {
                Problem::error(self.subject.clone(), format!("{what}: {why}"), "It is null in the answer.")
            }
            Against::Bound(bound) => {
                let of_curve = matches!(self.verb, "curve" | "figures");
                let remedy = if of_curve { self.remedy(Flags::TOE_NOT_REACHED) } else { NOTES };
                let cause = format!("{what}: only a bound is known, {bound}.");
                Problem::doubt(self.subject.clone(), cause, remedy)
            }
            Against::Doubt(doubt) => {
                let placed = whats.iter().any(|what| what.starts_with("place "));
                let remedy = if placed {
                    "Give its --corners."
                } else {
                    "Look at both where they should lie on each other."
                };
                Problem::doubt(self.subject.clone(), doubt.clone(), remedy)
            }
            Against::Flag(flag) => {
                let words = flag.words().join(", ");
                Problem::doubt(self.subject.clone(), format!("{what}: {words}."), self.remedy(*flag))
            }
        }
    }

    fn remedy(&self, flag: Flags) -> &'static str {
        let remedies = DOUBTFUL.iter().find(|(of, _)| *of == flag).map_or(&[][..], |(_, remedies)| *remedies);
        let fits = |(option, _): &&(&str, &str)| option.is_empty() || words::has(self.verb, option);
        remedies.iter().find(fits).map_or(NOTES, |(_, remedy)| *remedy)
    }
}

/// What speaks against a wanted figure.
#[derive(Debug, Clone, PartialEq)]
enum Against {
    /// It could not be had.
    Missing(String),
    /// One side alone is known: which, and its limit.
    Bound(String),
    /// It was found without help, and is not sure.
    Doubt(String),
    /// A flag that makes it doubtful.
    Flag(Flags),
}

fn speaks_against(value: &Value, bound_serves: bool) -> Vec<Against> {
    let text = |key: &str| value.get(key).and_then(Value::as_str).map(str::to_owned);
    if value.is_null() || value.get("value").is_some_and(Value::is_null) {
        let why = text("reason").unwrap_or_else(|| "It was not measured.".to_owned());
        return vec![Against::Missing(why)];
    }
    let mut against = Vec::new();
    if let Some(side) = text("bound").filter(|_| !bound_serves) {
        let limit = value.get("limit").and_then(Value::as_f64).unwrap_or_default();
        against.push(Against::Bound(format!("{side} {limit:.3}")));
    }
    if value.get("sure") == Some(&Value::Bool(false)) {
        let doubts = value.get("doubts").and_then(Value::as_array);
        let doubts = doubts.into_iter().flatten().filter_map(Value::as_str);
        against.extend(doubts.map(|doubt| Against::Doubt(doubt.to_owned())));
    }
    let flags = value.get("flags").and_then(Value::as_array);
    let words: Vec<&str> = flags.into_iter().flatten().filter_map(Value::as_str).collect();
    let marked = DOUBTFUL.iter().filter(|(flag, _)| flag.words().iter().any(|word| words.contains(word)));
    // A bound because the toe was not reached is told as that.
    let marked = marked.filter(|(flag, _)| *flag != Flags::TOE_NOT_REACHED || against.is_empty());
    let marked: Vec<Against> = marked.map(|(flag, _)| Against::Flag(*flag)).collect();
    against.extend(marked);
    against
}

/// The values at a path, each with the names of the items it lies in. A value that is not there is null; where a part that holds it
/// could not be had, it is that part with its reason.
fn places<'a>(whole: &'a Value, path: &str) -> Vec<(String, &'a Value)> {
    static NOTHING: Value = Value::Null;
    let (optional, path) = path.strip_prefix('?').map_or((false, path), |path| (true, path));
    let mut found: Vec<(String, &Value)> = vec![(String::new(), whole)];
    for (depth, member) in path.split('/').filter(|member| !member.is_empty()).enumerate() {
        let mut next = Vec::new();
        for (name, value) in found {
            let failed = value.get("value").is_some_and(Value::is_null) && value.get("reason").is_some();
            if failed {
                next.push((name, value));
            } else if member == "*" {
                let items = value.as_array().map_or(&[][..], Vec::as_slice);
                let named = |(at, item): (usize, &'a Value)| (joined(&name, &item_name(item, at)), item);
                next.extend(items.iter().enumerate().map(named));
            } else {
                match value.get(member) {
                    Some(value) => next.push((name, value)),
                    None if optional && depth == 0 => {}
                    None => next.push((name, &NOTHING)),
                }
            }
        }
        found = next;
    }
    found
}

fn joined(first: &str, second: &str) -> String {
    if first.is_empty() { second.to_owned() } else { format!("{second} ({first})") }
}

/// What an item of a list is called: its own name, else its number from 1.
fn item_name(item: &Value, at: usize) -> String {
    let named = ["name", "step", "role", "label", "film", "scan"].iter().find_map(|key| item.get(*key));
    match named {
        Some(Value::String(name)) => name.clone(),
        Some(Value::Number(number)) => number.to_string(),
        _ => (at + 1).to_string(),
    }
}

/// Whether anything but notes was told.
pub(super) fn doubtful(problems: &[Problem]) -> bool {
    problems.iter().any(|problem| problem.severity != Severity::Note)
}

#[cfg(test)]
mod tests {
    use serde_json::json;

    use super::*;

    /// An answer in which `leaf` stands at a path, and nothing else.
    fn whole(path: &str, leaf: &Value) -> Value {
        let path = path.trim_start_matches('?');
        path.split('/').filter(|member| !member.is_empty()).rev().fold(leaf.clone(), |inside, member| {
            match member {
                "*" => json!([inside]),
                member => json!({ member: inside }),
            }
        })
    }

    /// One verb's one wanted figure, and no other.
    fn asked(verb: &'static str, path: &str) -> Answer {
        let mut answer = Answer::about(verb, Path::new("tern.tif"));
        answer.wanted.retain(|wanted| wanted.path == path);
        answer
    }

    fn good() -> Value {
        json!({ "value": 1.0, "u": 0.1, "low": 0.8, "high": 1.2, "unit": "D", "flags": ["uncalibrated"] })
    }

    /// Every wanted figure of every verb, in every way in which it can be missing, unsure, clipped or doubtful.
    #[test]
    fn each_way_in_which_a_wanted_figure_fails_is_told_once_with_its_reason_and_an_option_that_is_there() {
        for (verb, path, words) in WANTED {
            let told = |leaf: Value| asked(verb, path).judge(&whole(path, &leaf), Vec::new());
            let mut sure = good();
            sure["sure"] = json!(true);
            assert!(told(sure).is_empty(), "{verb} {path}");
            let mut ways = vec![
                (json!({ "value": null, "reason": "The film is blank." }), "The film is blank."),
                (json!({ "sure": false, "doubts": ["Step 4 is scratched."] }), "Step 4 is scratched."),
            ];
            if !BOUND_SERVES.contains(path) {
                let bound =
                    json!({ "value": 1.0, "high": 1.2, "flags": [], "bound": "at most", "limit": 1.2 });
                ways.push((bound, "at most"));
            }
            for (flag, _) in DOUBTFUL {
                let mut leaf = good();
                leaf["flags"] = json!(flag.words());
                ways.push((leaf, flag.words()[0]));
            }
            for (leaf, reason) in ways {
                let problems = told(leaf.clone());
                assert_eq!(problems.len(), 1, "{verb} {path} {leaf}: {problems:?}");
                let problem = &problems[0];
                assert!(doubtful(&problems) && problem.cause.contains(reason), "{verb} {path}: {problem}");
                let named = leaf["sure"] == false
                    || problem.cause.to_string().to_lowercase().contains(&words.to_lowercase());
                assert!(named, "{verb} {path}: {problem}");
                for option in
                    problem.remedy.to_string().split_whitespace().filter_map(|word| word.strip_prefix("--"))
                {
                    let option = option.trim_end_matches(|c: char| !c.is_alphanumeric());
                    assert!(words::has(verb, option), "{verb} has no --{option}: {problem}");
                }
            }
        }
    }

    /// What is not there at all, or null without a reason, is missing too; what is optional is not.
    #[test]
    fn what_is_not_there_is_missing() {
        for (verb, path, _) in WANTED.iter().filter(|(_, path, _)| !path.is_empty()) {
            let problems = asked(verb, path).judge(&json!({}), Vec::new());
            let missing = !path.starts_with('?') && !path.contains('*');
            assert!(!missing || problems.len() == 1, "{verb} {path}: {problems:?}");
            assert!(!path.starts_with('?') || problems.is_empty(), "{verb} {path}: {problems:?}");
            let whole = whole(path, &Value::Null);
            assert_eq!(asked(verb, path).judge(&whole, Vec::new()).len(), 1, "{verb} {path}");
        }
    }

    /// The same reason of several figures is one sentence, and what the verb told already is not told again.
    #[test]
    fn each_reason_is_told_once() {
        let flagged = |step: u32| json!({ "step": step, "density": { "value": 2.0, "flags": ["clipped in the scan"] } });
        let whole = json!({ "steps": [flagged(1), flagged(2), flagged(3)] });
        let problems = Answer::about("strip", Path::new("tern.tif")).judge(&whole, Vec::new());
        assert_eq!(problems.len(), 1);
        assert!(problems[0].cause.contains("Density of steps 1, 2 and 3: clipped"), "{}", problems[0]);
        let told = Problem::note(Subject::Series, "The film is blank.", "Scan another.");
        let whole =
            json!({ "mtf50": { "value": null, "reason": "The film is blank." }, "width_10_90": good() });
        let problems = Answer::about("edge", Path::new("edge.tif")).judge(&whole, vec![told]);
        assert_eq!(problems.len(), 1);
        assert!(doubtful(&problems), "what stands in the way of a wanted figure is no mere note");
    }

    /// A verb that comes in later is asked for something, or is named here.
    #[test]
    fn each_verb_is_asked_for_something() {
        use clap::CommandFactory;
        let told_otherwise = [
            "report",
            "graph",
            "slides",
            "tones",
            "conclusions",
            "check",
            "gather",
            "layout",
            "greys",
            "sensitivity",
            "filters",
            "manual",
            "schema",
            "help",
        ];
        for verb in crate::cli::Arguments::command().get_subcommands() {
            let name = verb.get_name();
            assert!(told_otherwise.contains(&name) || WANTED.iter().any(|(of, ..)| *of == name), "{name}");
        }
    }

    /// Sentences of the window that reach verbs: each gets the option of the verb that has it.
    #[test]
    fn remedies_name_an_option_and_not_what_a_hand_does() {
        for (verb, remedy, option) in [
            ("grain", "Mark a larger area.", "--area"),
            ("spectrum", "Mark at least 256 x 256 pixels; 512 x 512 are good.", "--area"),
            ("edge", "Draw the box around one straight edge.", "--area"),
            ("detail", "Draw a box of at least 64 x 64 pixels.", "--area"),
            ("strip", "Drag the four corners onto the steps, or scan the strip whole.", "--corners"),
            ("strip", "Drag it inside the picture.", "--corners"),
            ("grain", "Type the scan's resolution in dots per inch.", "--dpi"),
        ] {
            let problem = words::in_words_of(verb, Problem::error(Subject::Series, "It is small.", remedy));
            assert!(problem.remedy.contains(option) && words::has(verb, &option[2..]), "{problem}");
            for hand in ["Mark", "Draw", "Drag", "Type", "page", "window"] {
                assert!(!problem.remedy.contains(hand), "{problem}");
            }
        }
    }
}
