//! What the program says on the terminal: results on stdout, all else on stderr. Nobody has to listen.

use std::fmt::Display;
use std::io::{self, ErrorKind, Write};

use crate::ending;

/// Prints a line of what was asked for. A reader may stop reading, as `head` does: the work goes on without a word. Where it
/// cannot be written for another reason, as on a full disk, the program ends and says so.
pub(crate) fn say(line: impl Display) {
    written(writeln!(io::stdout(), "{line}").and_then(|()| io::stdout().flush()));
}

/// Ends the program where what was asked for could not be written.
pub(crate) fn written(done: io::Result<()>) {
    if let Err(error) = done
        && error.kind() != ErrorKind::BrokenPipe
    {
        let cause = twinwedge_workbench::disk::cause(&error);
        tell(format_args!(
            "error: What was asked for cannot be printed: {cause}. Make room, or print elsewhere."
        ));
        std::process::exit(i32::from(ending::COULD_NOT));
    }
}

/// Says a line beside what was asked for; where it cannot be said, there is nobody to tell.
pub(crate) fn tell(line: impl Display) {
    // In one piece: other threads and programs may write between pieces.
    let _ = io::stderr().write_all(format!("{line}\n").as_bytes());
}
