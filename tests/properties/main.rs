//! What must hold whatever the data are.

mod curve;
