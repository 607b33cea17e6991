//! Holds the criterion benches of this package and the committed cost table; no code of its own.
