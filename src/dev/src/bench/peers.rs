//! The other side: `tests/outside/peers.py` in the pinned Python.

use std::io::Write;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

use serde_json::Value;

use super::Cost;
use crate::Failure;

/// Asks one task and gives what it took.
pub(super) fn ask(top: &Path, task: &str, question: &Value) -> Result<Cost, Failure> {
    Cost::read(&answer(top, task, question)?)
}

/// Asks one task and gives its answer.
pub(super) fn answer(top: &Path, task: &str, question: &Value) -> Result<Value, Failure> {
    let python = std::env::var_os("TWINWEDGE_PYTHON")
        .map_or_else(|| top.join("target/outside/bin/python"), PathBuf::from);
    if !python.exists() {
        return Err(format!(
            "{} is missing: python3 -m venv target/outside && target/outside/bin/pip install -r \
             tests/outside/requirements.txt",
            python.display()
        )
        .into());
    }
    let mut child = Command::new(python)
        .arg(top.join("tests/outside/peers.py"))
        .arg(task)
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .spawn()?;
    if let Some(mut stdin) = child.stdin.take() {
        stdin.write_all(question.to_string().as_bytes())?;
    }
    let output = child.wait_with_output()?;
    if !output.status.success() {
        return Err(format!("peers.py {task} failed").into());
    }
    Ok(serde_json::from_slice(&output.stdout)?)
}
