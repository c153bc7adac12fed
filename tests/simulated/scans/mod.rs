//! Scans of strips, and of what is no strip, made for the tests alone: every place and density in them is known.
//!
//! All numbers are drawn from ranges that are *common practice, no source*: a film scanner's tone curve, noise and flare, the
//! grain of films, what lies on glass and film, and how strips are laid down.

mod chance;
pub(crate) mod encoded;
pub(crate) mod ground;
pub(crate) mod kept;
pub(crate) mod perforated;
mod soil;
pub(crate) mod strip;
