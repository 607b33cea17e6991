//! The drive in real arithmetic, for the loop that the integers are compared with.

use controller_core::drive::fan::Stop;

use crate::plan::{DrivePlan, Plan};
use crate::simulate::held::Held;
use crate::simulate::share;

/// What a drive does to a demand, in real numbers: floor, push and slew for fans, window and whole cycles for
/// a switch. Written apart from the shipped drive.
#[derive(Clone)]
pub(super) struct RealDrive {
    kind: Kind,
    ticks: u16,
}

#[derive(Clone)]
enum Kind {
    Fan {
        floor: f64,
        push: f64,
        push_ticks: u16,
        push_left: u16,
        slew: f64,
        /// Demands that stop it and start it again.
        stop: Option<(f64, f64)>,
        duty: Option<f64>,
    },
    Pwm {
        demand: f64,
    },
    Switch {
        window: u16,
        minimum: u16,
        owed: f64,
        left: u16,
        on_left: u16,
        demand: f64,
    },
}

impl RealDrive {
    pub(super) fn new(plan: &Plan) -> Self {
        let kind = match &plan.drive {
            DrivePlan::Fans(drive) => {
                let fan = &drive.fans.fans[0];
                Kind::Fan {
                    floor: share(fan.floor().bits()),
                    push: share(fan.spin_up().level.bits()),
                    push_ticks: fan.spin_up().ticks,
                    push_left: fan.spin_up().ticks,
                    slew: share(fan.slew().rise),
                    stop: match fan.stop() {
                        Stop::Never => None,
                        Stop::Below { stop, start } => {
                            Some((share(stop.bits()), share(start.bits())))
                        }
                    },
                    duty: None,
                }
            }
            DrivePlan::Switch(drive) => Kind::Switch {
                window: drive.parts().window,
                minimum: drive.parts().min_on,
                owed: 0.0,
                left: 0,
                on_left: 0,
                demand: 0.0,
            },
            DrivePlan::Pwm(_) => Kind::Pwm { demand: 0.0 },
        };
        Self {
            kind,
            ticks: plan.ticks_per_sample,
        }
    }

    /// Takes a sample's demand; gives what arrives during it.
    pub(super) fn sample(&mut self, wanted: f64) -> Vec<Held> {
        match &mut self.kind {
            Kind::Fan {
                floor,
                push_ticks,
                push_left,
                slew,
                stop,
                duty,
                ..
            } => {
                // a station starts in its safe state, at full
                let from = duty.unwrap_or(1.0);
                *duty = Some(match *stop {
                    Some((_, start)) if from == 0.0 && wanted < start => 0.0,
                    Some(_) if from == 0.0 => {
                        *push_left = *push_ticks;
                        wanted.max(*floor)
                    }
                    // not before its first push is over, and the safe state's own full duty is no running
                    Some((stop, _)) if wanted <= stop && *push_left == 0 && duty.is_some() => 0.0,
                    _ => wanted.max(*floor).clamp(from - *slew, from + *slew),
                });
            }
            Kind::Switch { demand, .. } | Kind::Pwm { demand } => *demand = wanted,
        }
        let mut out: Vec<Held> = Vec::with_capacity(1);
        for _ in 0..self.ticks {
            let duty = self.tick();
            match out.last_mut() {
                Some(last) if last.duty == duty => last.ticks += 1,
                _ => out.push(Held { ticks: 1, duty }),
            }
        }
        out
    }

    fn tick(&mut self) -> f64 {
        match &mut self.kind {
            Kind::Pwm { demand } => *demand,
            Kind::Fan {
                push,
                push_left,
                duty,
                ..
            } => {
                let target = duty.unwrap_or(1.0);
                if target == 0.0 {
                    return 0.0;
                }
                if *push_left > 0 {
                    *push_left -= 1;
                    return target.max(*push);
                }
                target
            }
            Kind::Switch {
                window,
                minimum,
                owed,
                left,
                on_left,
                demand,
            } => {
                if *left == 0 {
                    *owed += *demand * f64::from(*window);
                    let mut on = (*owed / 2.0).floor().max(0.0) as u16 * 2;
                    if on < *minimum {
                        on = 0;
                    } else if on > *window - *minimum {
                        on = *window;
                    }
                    *owed -= f64::from(on);
                    (*left, *on_left) = (*window, on);
                }
                *left -= 1;
                let on = *on_left > 0;
                *on_left = on_left.saturating_sub(1);
                f64::from(u8::from(on))
            }
        }
    }
}
