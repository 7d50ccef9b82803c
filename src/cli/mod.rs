//! (room being built)
