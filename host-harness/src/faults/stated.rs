//! How soon the station states that it raises its alarms.

use super::catalogue::Fault;
use super::moment::World;
use crate::design::Actuator;
use crate::plan::DrivePlan;

/// Time for a held rotor's last pulses to pass, seconds.
const RUN_DOWN_S: f64 = 5.0;

/// Times that the station states, in seconds, for this design.
pub struct Stated {
    /// An open or shorted sensor.
    pub sensor: f64,
    /// Samples that do not come.
    pub stale: f64,
    /// A code that stays the same, where the guard counts at any duty; else infinite.
    pub stuck: f64,
    /// A changed setting.
    pub self_test: f64,
    /// A rotor that is held, or a broken tachometer wire; infinite without one, or where the fan may stand still or its
    /// wiring blinds it.
    pub tachometer: f64,
    /// Hard drive without an answer.
    pub effect: f64,
    /// A reading at or above the trip.
    pub trip: f64,
}

impl Stated {
    /// The times of a design's station; its self-test goes over so many parts.
    pub fn of(world: &World<'_>, parts: u8) -> Self {
        let (g, period) = (&world.plan.guards, world.design.control.period_s);
        let tick = period / f64::from(world.plan.ticks_per_sample);
        let watch = match &world.plan.drive {
            DrivePlan::Fans(drive) => drive.tachometer,
            DrivePlan::Switch(_) | DrivePlan::Pwm(_) => None,
        };
        let tachometer = match (&world.design.control.actuator, watch) {
            (Actuator::Fan(fan), Some(watch)) if fan.always_watched() => {
                let (confirm, retries) = (watch.confirm(), watch.retries());
                // windows before each push and the alarm, each push and the window after it, and the rotor running down
                let windows = f64::from(
                    (u32::from(retries) + 1) * u32::from(confirm) + 2 * u32::from(retries) + 2,
                );
                windows * period + f64::from(retries) * fan.spin_up_s + RUN_DOWN_S
            }
            _ => f64::INFINITY,
        };
        Self {
            sensor: f64::from(g.sensor.confirm()) * period,
            // to the limit, from a step up to a period ago
            stale: f64::from(g.stale.limit()) * tick + period,
            stuck: match g.stuck {
                Some(stuck) if stuck.travel().bits() == 0 => {
                    (f64::from(stuck.samples()) + 1.0) * period
                }
                _ => f64::INFINITY,
            },
            self_test: 2.0 * f64::from(parts) * period,
            tachometer,
            effect: g.effect.map_or(f64::INFINITY, |effect| {
                (f64::from(effect.samples()) + 2.0) * period
            }),
            trip: (f64::from(g.trip.confirm()) + 1.0) * period,
        }
    }

    /// Longest time from this fault to its alarm, where it depends on nothing but the design.
    pub fn alarm_after(&self, fault: Fault) -> Option<f64> {
        let seconds = match fault {
            Fault::Open | Fault::Short => self.sensor,
            Fault::MissingSample => self.stale,
            Fault::StuckCode => self.stuck,
            Fault::BitFlip { .. } => self.self_test,
            Fault::TachometerLoss | Fault::BlockedFan { watched: true } | Fault::BlockedFans => {
                self.tachometer
            }
            _ => f64::INFINITY,
        };
        seconds.is_finite().then_some(seconds)
    }
}
