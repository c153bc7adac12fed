//! Results on files whose truth a simulator or a formula knows that shares no code with the program.

mod curve;
mod grain;
mod register;
mod sample;
