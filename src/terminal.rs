//! What the program says on the terminal: results on stdout, all else on stderr. Nobody has to listen.

use std::fmt::Display;
use std::io::{self, ErrorKind, Write};

use twinwedge_workbench::core::shown;
use twinwedge_workbench::disk;

use crate::ending;

/// Text for a terminal: what would steer it, or let it show something else than stands there, is written as codes.
fn plain(text: impl Display) -> String {
    shown::visible(&text.to_string(), |c| matches!(c, '\n' | '\t'))
}

/// Prints a line of what was asked for. A reader may stop reading, as `head` does: the work goes on without a word. Where it
/// cannot be written for another reason, as on a full disk, the program ends and says so.
pub(crate) fn say(line: impl Display) {
    let line = plain(line);
    print_by(|out| writeln!(out, "{line}"));
}

/// Prints what `write` writes, and gives what it gives; `None` where the reader stopped reading.
pub(crate) fn print_by<T>(write: impl FnOnce(&mut dyn Write) -> io::Result<T>) -> Option<T> {
    let mut out = WhileRead(io::stdout());
    written(write(&mut out).and_then(|done| out.flush().map(|()| done)))
}

/// Standard output. Once nobody reads it any more what is written is dropped: the work goes on, for its code and what is told
/// beside it.
struct WhileRead(io::Stdout);

impl Write for WhileRead {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        match self.0.write(bytes) {
            Err(error) if error.kind() == ErrorKind::BrokenPipe => Ok(bytes.len()),
            done => done,
        }
    }

    fn flush(&mut self) -> io::Result<()> {
        match self.0.flush() {
            Err(error) if error.kind() == ErrorKind::BrokenPipe => Ok(()),
            done => done,
        }
    }
}

/// What was done, where what was asked for could be written or its reader stopped reading; ends the program otherwise.
pub(crate) fn written<T>(done: io::Result<T>) -> Option<T> {
    match done {
        Ok(done) => Some(done),
        Err(error) if error.kind() == ErrorKind::BrokenPipe => None,
        Err(error) => {
            let cause = disk::cause(&error);
            tell(format_args!(
                "error: What was asked for cannot be printed: {cause}. Make room, or print elsewhere."
            ));
            std::process::exit(i32::from(ending::COULD_NOT));
        }
    }
}

/// Says a line beside what was asked for; where it cannot be said, there is nobody to tell.
pub(crate) fn tell(line: impl Display) {
    // In one piece: other threads and programs may write between pieces.
    let _ = io::stderr().write_all(format!("{}\n", plain(line)).as_bytes());
}
