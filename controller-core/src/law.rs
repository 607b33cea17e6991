//! The control law: a measurement and a set point in, a demand out.
//!
//! In real arithmetic, on the quantised gains and inputs (both clamped to the law's domain):
//!
//! ```text
//! e  = measurement - set point              (direct action, cooling; the negative for reverse action, heating)
//! g  = measurement - filtered measurement   (direct; the negative for reverse)
//! u  = clamp(round(kp*e + kd*g + I), lo, hi)
//! I' = clamp(I + ki*e)                      after the output is sent
//! ```
//!
//! and in integers, which is what runs:
//!
//! 1. `kp` and `kd` share a scale of `SP` fraction bits. The integrator has `n` fraction bits, is
//!    unsigned and holds the rounding half inside itself, so that its clamp tests the upper word only:
//!    it is confined to the values that round into `lo..=hi`.
//! 2. `S = kp*e + kd*g + (I >> (n - SP))`. Nested floors are exact and P is never shifted up nor clamped
//!    apart, so nothing is lost. The constructors bound `kp + kd` so that `S` cannot overflow.
//! 3. `u = S >> SP`, clamped to `lo..=hi`.
//! 4. `I' = I + ki*e` at full precision, clamped.
//!
//! Consequences, each proven on this source (`hushloop verify` prints how): `u` is within half an LSB
//! of the exact law for ever; no operation wraps or loses a bit; the output and the integrator stay
//! within their limits; there is no dead zone; and PI with this static clamp keeps order: a hotter
//! history never yields less cooling.

pub mod action;
pub mod every;
pub mod integrator;
pub mod one_product;
pub mod output;
pub mod pi;
pub mod pid;
pub mod pid_smooth;
pub mod relay;
pub mod schedule;
pub mod select;
pub mod settings;
pub mod shaping;
pub mod signals;
pub mod terms;
pub mod transfer;
pub mod two_position;
pub mod windup;

pub use action::Action;
pub use integrator::{Integrating, Integrator};
pub use pi::PiState;
pub use pid::PidState;
pub use settings::{Settings, SettingsError};
pub use signals::Signals;
pub use terms::Terms;

#[cfg(test)]
mod tests;
