//! Results on files whose truth a simulator knows that shares no code with the program.

mod curve;
mod sample;
