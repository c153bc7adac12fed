//! Published values of this room.
