//! The other process: this test program run again, with words on its input.

use std::io::{BufRead, BufReader, Write};
use std::path::{Path, PathBuf};
use std::process::{Child, ChildStdin, ChildStdout, Command, Stdio};

use twinwedge_workbench::session::{Edit, Session};
use twinwedge_workbench::store::{self, NotWritten};

use crate::support::{opened, retitle, series};

/// What the other process does: set for it alone.
const ROLE: &str = "TWINWEDGE_TEST_ROLE";
/// Before each line that it says, for the test program prints lines of its own.
const SAYS: &str = "says ";

/// A process that is this program again.
pub(crate) struct Other {
    child: Child,
    input: ChildStdin,
    output: BufReader<ChildStdout>,
}

impl Other {
    /// Starts one: `role` is the word and its paths.
    pub(crate) fn start(role: &str, folder: &Path) -> Self {
        let mut child = Command::new(std::env::current_exe().unwrap())
            .args(["--exact", "child::acts_its_role", "--nocapture", "--test-threads=1"])
            .env(ROLE, role)
            .env("TWINWEDGE_TEST_FOLDER", folder)
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .unwrap();
        let (input, output) = (child.stdin.take().unwrap(), child.stdout.take().unwrap());
        Self { child, input, output: BufReader::new(output) }
    }

    /// Gives it a line.
    pub(crate) fn tell(&mut self, words: &str) {
        writeln!(self.input, "{words}").unwrap();
        self.input.flush().unwrap();
    }

    /// The next line that it says; `None` when it has ended.
    pub(crate) fn hear(&mut self) -> Option<String> {
        let mut line = String::new();
        loop {
            line.clear();
            if self.output.read_line(&mut line).ok()? == 0 {
                return None;
            }
            // A line that the kill cut off says nothing.
            if let Some((_, words)) = line.strip_suffix('\n').and_then(|line| line.split_once(SAYS)) {
                return Some(words.to_owned());
            }
        }
    }

    /// Tells and hears.
    pub(crate) fn ask(&mut self, words: &str) -> String {
        self.tell(words);
        self.hear().unwrap_or_else(|| panic!("it ended at '{words}'"))
    }

    /// Kills it, as the system would; what it said before that was not heard yet.
    pub(crate) fn kill(mut self) -> Vec<String> {
        self.child.kill().unwrap();
        self.child.wait().unwrap();
        std::iter::from_fn(|| self.hear()).collect()
    }
}

fn say(words: &str) {
    let mut out = std::io::stdout().lock();
    writeln!(out, "{SAYS}{words}").unwrap();
    out.flush().unwrap();
}

/// Run as a process of its own by the other tests; without a role it does nothing.
#[test]
fn acts_its_role() {
    let Ok(role) = std::env::var(ROLE) else { return };
    let folder = PathBuf::from(std::env::var_os("TWINWEDGE_TEST_FOLDER").unwrap());
    match role.as_str() {
        "saves" => saves(&folder),
        "works" => works(&folder),
        "obeys" => obeys(&folder),
        other => panic!("no role is called {other}"),
    }
}

/// Saves one of two series over and over.
fn saves(folder: &Path) {
    let texts = [("forty", 40), ("ninety", 90)].map(|(title, films)| store::write(&series(title, films)));
    say("begins");
    for text in texts.iter().cycle() {
        store::save(&folder.join("a.twinwedge"), text.as_bytes()).unwrap();
    }
}

/// Edits, keeps and saves; says the number of each edit that is kept or saved.
fn works(folder: &Path) {
    let mut session = opened(&folder.join("a.twinwedge"), &folder.join("recovery"));
    let first: u64 = session.series().title.parse().unwrap();
    say("begins");
    for number in first + 1.. {
        retitle(&mut session, &number.to_string());
        if number.is_multiple_of(5) {
            session.save().unwrap();
            say(&format!("saved {number}"));
        } else if !number.is_multiple_of(3) {
            session.keep_now().unwrap();
            say(&format!("kept {number}"));
        }
    }
}

/// Does what it is told: `open`, `edit WORD`, `save`, `close`.
fn obeys(folder: &Path) {
    let path = folder.join("a.twinwedge");
    let mut session: Option<Session> = None;
    for line in std::io::stdin().lines() {
        let line = line.unwrap();
        let (verb, word) = line.split_once(' ').unwrap_or((&line, ""));
        let answer = match (verb, &mut session) {
            ("open", session) => {
                let new = opened(&path, &folder.join("recovery"));
                let held = new.series().about.clone();
                *session = Some(new);
                held
            }
            ("close", session) => {
                *session = None;
                "closed".to_owned()
            }
            ("edit", Some(session)) => {
                let word = word.to_owned();
                session.apply(Edit::new("add", move |series| series.about += &format!("{word} "))).unwrap();
                "edited".to_owned()
            }
            // Somebody else's file stays: this one goes beside it.
            ("save", Some(session)) => match session.save() {
                Ok(()) => format!("saved {}", session.path().unwrap().display()),
                Err(NotWritten::InTheWay(_)) => format!("copied {}", session.save_copy().unwrap().display()),
                Err(NotWritten::Failed(problem) | NotWritten::Unsure(problem)) => format!("failed {problem}"),
            },
            _ => panic!("'{line}' is no word for it"),
        };
        say(&answer);
    }
}
