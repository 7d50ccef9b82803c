//! A table as a class writes it.

/// Nine rows, three minutes apart: 12 min lamp on and 12 min off (common practice, no source).
/// Slate and moss under a work lamp; the numbers are invented.
pub const NINE: [(f64, f64, f64); 9] = [
    (0.0, 22.8, 21.9),
    (3.0, 28.3, 24.4),
    (6.0, 31.6, 25.8),
    (9.0, 33.6, 26.6),
    (12.0, 34.9, 27.1),
    (15.0, 30.3, 24.7),
    (18.0, 27.5, 23.4),
    (21.0, 25.8, 22.7),
    (24.0, 24.8, 22.3),
];
