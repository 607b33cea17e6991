//! How much louder or quieter a fan becomes.

/// Change of a fan's sound power level, decibel, when its speed goes from `from` to `to` (any unit, the same for
/// both): `50 log10(to / from)`.
///
/// Source: the fan laws' sound prediction (ASHRAE Handbook, HVAC Systems and Equipment, chapter Fans; the form of
/// AMCA 301). A change only: an absolute level depends on the fan, its place and the ear's distance.
///
/// ```
/// use host_harness::plant::sound::level_change_db;
/// assert!((level_change_db(1500.0, 750.0) + 15.0515).abs() < 1e-4); // half the speed, 15 dB less
/// ```
#[must_use]
pub fn level_change_db(from: f64, to: f64) -> f64 {
    50.0 * (to / from).log10()
}
