//! (room under construction)
