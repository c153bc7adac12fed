//! Series of older formats become series of today: for each step from one format to the next a module, which knows the
//! older form whole and holds to it.

pub(super) mod from_1;
