//! How the program ends: its exit codes, and what happens when it is told to end while it works, or when memory is used up.

/// Finished, and nothing is in doubt.
pub(crate) const FINE: u8 = 0;
/// Finished; some results could not be had or are in doubt.
pub(crate) const DOUBTS: u8 = 1;
/// Could not be done.
pub(crate) const COULD_NOT: u8 = 2;

/// What the codes mean, for the help.
pub(crate) const EXIT_CODES: &str = "Exit codes: 0 done; 1 done, but something could not be had or is in doubt (said on stderr); 2 could not be done; \
     130 interrupted (Ctrl-C); 143 told to end.";

/// Who is told when the program is to end.
#[derive(Debug, Clone, Copy)]
pub(crate) enum Work {
    /// A verb: files it has not finished are removed, and it ends at once.
    Verb,
    /// A window: it closes, and what is not saved is kept for the next start.
    #[cfg(feature = "window")]
    Window,
}

/// Makes ready for ends that nobody chose. To be called before anything else runs.
pub(crate) fn prepare(work: Work) {
    // What panics is caught and told as a problem of what was being done. The standard library would print the place in the
    // source first, and a trace, for which memory may be short: then it waits for itself for ever.
    if std::env::var_os("RUST_BACKTRACE").is_none() {
        std::panic::set_hook(Box::new(|_| {}));
    }
    #[cfg(unix)]
    signals::heed(work);
    #[cfg(not(unix))]
    let _ = work;
    #[cfg(feature = "window")]
    let alone = matches!(work, Work::Verb);
    #[cfg(not(feature = "window"))]
    let alone = true;
    share_out(alone);
}

/// Starts the threads that share out loops over pixels: as many as there are processors, fewer where memory has no room for
/// them. In the last resort a verb does without any: nothing but its own thread asks for them.
fn share_out(alone: bool) {
    let threads = || rayon::ThreadPoolBuilder::new().thread_name(|at| format!("twinwedge-share-{at}"));
    let mut wanted = std::thread::available_parallelism().map_or(1, usize::from);
    // A global pool that fails cannot be tried again, so each number is tried apart.
    while wanted > 0 && threads().num_threads(wanted).build().is_err() {
        wanted /= 2;
    }
    let pool = if wanted == 0 && alone {
        threads().num_threads(1).use_current_thread()
    } else {
        threads().num_threads(wanted)
    };
    if pool.build_global().is_err() && alone {
        crate::terminal::tell(
            "error: there is too little memory to begin. Close other programs, or allow this one more.",
        );
        std::process::exit(i32::from(COULD_NOT));
    }
}

/// Does the work of a verb; a fault of the program in it is told like any failure.
pub(crate) fn guarded(work: impl FnOnce() -> std::process::ExitCode) -> std::process::ExitCode {
    std::panic::catch_unwind(std::panic::AssertUnwindSafe(work)).unwrap_or_else(|_| {
        crate::terminal::tell(
            "error: this could not be done, for a fault of the program or for want of memory. Files that were being written are \
             as they were before. Close other programs and try again; if it fails again, report what you did.",
        );
        std::process::ExitCode::from(COULD_NOT)
    })
}

/// The code to end with: that of the signal where one came, else this.
pub(crate) fn code(otherwise: u8) -> u8 {
    #[cfg(unix)]
    if let Some(code) = signals::code() {
        return code;
    }
    otherwise
}

#[cfg(unix)]
mod signals {
    use std::sync::Arc;
    use std::sync::atomic::{AtomicBool, AtomicU8, Ordering};

    use signal_hook::consts::{SIGABRT, SIGINT, SIGTERM};
    use signal_hook::flag::register_conditional_shutdown;
    use signal_hook::iterator::Signals;

    use super::{COULD_NOT, Work};
    use crate::terminal::tell;

    /// How long a window has to close before the program ends without it.
    #[cfg(feature = "window")]
    const PATIENCE: std::time::Duration = std::time::Duration::from_secs(10);

    /// 128 and the number of the signal that came, as shells tell it.
    static CODE: AtomicU8 = AtomicU8::new(0);

    pub(super) fn code() -> Option<u8> {
        Some(CODE.load(Ordering::Acquire)).filter(|code| *code > 0)
    }

    pub(super) fn heed(work: Work) {
        // Where memory is used up at a place that cannot go on without it, the standard library says how much was asked for
        // and raises this signal; the program then ends like any that could not do its work.
        let always = Arc::new(AtomicBool::new(true));
        let _ = register_conditional_shutdown(SIGABRT, i32::from(COULD_NOT), always);
        // Where no thread can be had, the signals end the program as the system does it.
        let _ = std::thread::Builder::new().name("twinwedge-signals".to_owned()).spawn(move || wait(work));
    }

    fn wait(work: Work) {
        let Ok(mut signals) = Signals::new([SIGINT, SIGTERM]) else { return };
        for signal in signals.forever() {
            let again = CODE.swap(if signal == SIGINT { 130 } else { 143 }, Ordering::AcqRel) != 0;
            if again || !work.asked_to_close() {
                end(if signal == SIGINT { "interrupted" } else { "told to end" });
            }
        }
    }

    impl Work {
        /// Whether it ends by itself once it is asked to, and now was asked.
        fn asked_to_close(self) -> bool {
            match self {
                Self::Verb => false,
                #[cfg(feature = "window")]
                Self::Window => {
                    twinwedge_desktop::close();
                    let late = || {
                        std::thread::sleep(PATIENCE);
                        end("the window did not close in time");
                    };
                    let _ = std::thread::Builder::new().name("twinwedge-patience".to_owned()).spawn(late);
                    true
                }
            }
        }
    }

    fn end(why: &str) {
        twinwedge_workbench::disk::abandon();
        tell(format_args!("stopped: {why}. Files that were being written are as they were before."));
        std::process::exit(i32::from(code().unwrap_or(COULD_NOT)));
    }
}
