//! Several fans from one demand: staggered starts, and full duty for the rest when one fails.
//!
//! Starting currents add up (the published four-wire fan may draw 2.2 A for up to 1.0 s, 1.5 A
//! running; *4-Wire PWM Controlled Fans Specification*, section 2.1.2), so one fan starts at a
//! time: after a start no other fan starts for `stagger` output ticks.
//!
//! | event | answer |
//! |---|---|
//! | demand | every turning fan takes it at once; resting fans start one by one |
//! | [`Fans::fail`] | every fan goes to full duty at once and stays until all are mended |
//! | [`Fans::safe`] | every fan goes to full duty at once, past the stagger: the supply must bear it |

use super::fan::{Fan, FanConfig, Phase};
use crate::duty::Duty;
use crate::fields::{Fields, Unit, Value, Walk, Written, labelled};

/// Configuration of `N` fans; lives in flash.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct FansConfig<const N: usize> {
    /// Each fan's own configuration.
    pub fans: [FanConfig; N],
    /// Output ticks between one start and the next, `0 ..= 65 535`; 0 starts all together.
    pub stagger: u16,
}

impl<const N: usize> Fields for FansConfig<N> {
    // one for each fan, one for what they share
    const PARTS: u8 = <[FanConfig; N]>::PARTS + 1;

    fn written(&self) -> Written {
        Written::Struct("controller_core::drive::fans::FansConfig")
    }

    #[inline]
    fn walk_part<W: Walk>(&self, part: u8, walk: &mut W) {
        let Self { fans, stagger } = self;
        if part < <[FanConfig; N]>::PARTS {
            walk.part(&labelled("fans", "", Unit::Group, "the fans"), fans, part);
        } else {
            walk.value(
                &labelled(
                    "stagger",
                    "stagger_ticks",
                    Unit::Ticks,
                    "from one start to the next",
                ),
                Value::Word(*stagger),
            );
        }
    }
}

/// The state of `N` fans (at most 8): 6 bytes each and 6 more.
///
/// ```
/// use controller_core::drive::fan::{FanConfig, FanParts, Slew, SpinUp, Stop};
/// use controller_core::drive::fans::{Fans, FansConfig};
/// use controller_core::duty::Duty;
///
/// const FAN: FanConfig = FanConfig::constant(FanParts {
///     floor: Duty::fraction(0.2),
///     spin_up: SpinUp { level: Duty::fraction(0.6), ticks: 2 },
///     stop: Stop::Never,
///     airflow: None,
///     slew: Slew::NONE,
/// });
/// const RACK: FansConfig<2> = FansConfig { fans: [FAN; 2], stagger: 3 };
/// let mut fans = Fans::new();
/// fans.demand(&RACK, Duty::fraction(0.5));
/// let first_second: Vec<[Duty; 2]> = (0..4).map(|_| fans.tick(&RACK)).collect();
/// assert_eq!(first_second[2], [Duty::fraction(0.5), Duty::OFF]); // the second still waits
/// assert_eq!(first_second[3][1], Duty::fraction(0.6)); // and then has its push
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Fans<const N: usize> {
    fans: [Fan; N],
    demand: Duty,
    gap: u16,
    failed: u8,
}

impl<const N: usize> Default for Fans<N> {
    fn default() -> Self {
        Self::new()
    }
}

impl<const N: usize> Fans<N> {
    const FITS: () = assert!(N >= 1 && N <= 8, "fans: accepted: 1 ..= 8 fans");

    /// All fans at rest.
    #[must_use]
    pub const fn new() -> Self {
        let () = Self::FITS;
        Self {
            fans: [Fan::new(); N],
            demand: Duty::OFF,
            gap: 0,
            failed: 0,
        }
    }

    /// Takes one sample's demand. While a fan is failed, full duty applies instead.
    pub fn demand(&mut self, config: &FansConfig<N>, demand: Duty) {
        self.demand = demand;
        if self.failed != 0 {
            self.safe(config);
            return;
        }
        for (fan, one) in self.fans.iter_mut().zip(&config.fans) {
            if fan.phase() != Phase::Stopped {
                fan.demand(one, demand);
            }
        }
        self.start_next(config);
    }

    /// The duties of this output tick.
    pub fn tick(&mut self, config: &FansConfig<N>) -> [Duty; N] {
        if self.gap == 0 {
            self.start_next(config);
        }
        self.gap = self.gap.saturating_sub(1);
        let mut duties = [Duty::OFF; N];
        for ((duty, fan), one) in duties.iter_mut().zip(&mut self.fans).zip(&config.fans) {
            *duty = fan.tick(one);
        }
        duties
    }

    /// Full duty on every fan at once, until the next demand.
    pub fn safe(&mut self, config: &FansConfig<N>) {
        for (fan, one) in self.fans.iter_mut().zip(&config.fans) {
            fan.safe(one);
        }
    }

    /// Marks a fan as failed: full duty on all from now on. An `index` beyond the fans is ignored.
    pub fn fail(&mut self, config: &FansConfig<N>, index: usize) {
        if index < N {
            self.failed |= 1_u8.wrapping_shl(index as u32);
            self.safe(config);
        }
    }

    /// Marks a fan as turning again; when it was the last failed one, demands apply again and the
    /// duty comes down by the slew. An `index` beyond the fans is ignored.
    pub fn mend(&mut self, index: usize) {
        if index < N {
            self.failed &= !1_u8.wrapping_shl(index as u32);
        }
    }

    /// Pushes one fan again after a stall. An `index` beyond the fans is ignored.
    pub fn push(&mut self, config: &FansConfig<N>, index: usize) {
        if let (Some(fan), Some(one)) = (self.fans.get_mut(index), config.fans.get(index)) {
            fan.push(one);
        }
    }

    /// The failed fans, one bit each.
    #[must_use]
    pub const fn failed(&self) -> u8 {
        self.failed
    }

    /// Each fan's state.
    #[must_use]
    pub const fn fans(&self) -> &[Fan; N] {
        &self.fans
    }

    fn start_next(&mut self, config: &FansConfig<N>) {
        for (fan, one) in self.fans.iter_mut().zip(&config.fans) {
            if self.gap != 0 {
                return;
            }
            if fan.phase() == Phase::Stopped {
                fan.demand(one, self.demand);
                if fan.phase() != Phase::Stopped {
                    self.gap = config.stagger;
                }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::{Fans, FansConfig};
    use crate::drive::fan::{FanConfig, FanParts, Phase, Slew, SpinUp, Stop};
    use crate::duty::Duty;

    const FAN: FanConfig = FanConfig::constant(FanParts {
        floor: Duty::constant(6_000),
        spin_up: SpinUp {
            level: Duty::constant(20_000),
            ticks: 4,
        },
        stop: Stop::Below {
            stop: Duty::constant(100),
            start: Duty::constant(200),
        },
        airflow: None,
        slew: Slew::NONE,
    });

    #[test]
    fn starts_are_apart_by_the_stagger_whatever_the_demand_does() {
        for stagger in [0_usize, 1, 3, 7] {
            let config = FansConfig::<3> {
                fans: [FAN; 3],
                stagger: stagger as u16,
            };
            let mut fans = Fans::new();
            let mut started = [None; 3];
            for tick in 0..60_usize {
                if tick % 5 == 0 {
                    fans.demand(&config, Duty::constant(9_000 + tick as i16));
                }
                let duties = fans.tick(&config);
                for (at, duty) in started.iter_mut().zip(duties) {
                    if duty != Duty::OFF && at.is_none() {
                        *at = Some(tick);
                    }
                }
            }
            assert_eq!(started, [Some(0), Some(stagger), Some(2 * stagger)]);
        }
    }

    #[test]
    fn a_failed_fan_puts_every_fan_at_full_until_it_is_mended() {
        let config = FansConfig::<2> {
            fans: [FAN; 2],
            stagger: 3,
        };
        let mut fans = Fans::new();
        fans.fail(&config, 1);
        assert_eq!(fans.tick(&config), [Duty::FULL; 2], "at once");
        for _ in 0..20 {
            fans.demand(&config, Duty::OFF);
            assert_eq!(fans.tick(&config), [Duty::FULL; 2], "whatever is asked");
        }
        fans.fail(&config, 0);
        fans.mend(1);
        fans.demand(&config, Duty::OFF);
        assert_eq!(fans.tick(&config), [Duty::FULL; 2], "one is still failed");
        fans.mend(0);
        fans.demand(&config, Duty::constant(7_000));
        assert_eq!(fans.tick(&config)[0].bits(), 7_000);
        fans.fail(&config, 2);
        assert_eq!(fans.failed(), 0, "there is no third fan");
    }

    #[test]
    fn of_eight_fans_there_is_no_ninth_to_fail_or_to_mend() {
        let config = FansConfig::<8> {
            fans: [FAN; 8],
            stagger: 0,
        };
        let mut fans = Fans::new();
        fans.fail(&config, 8);
        assert_eq!(fans.failed(), 0);
        fans.fail(&config, 0);
        fans.fail(&config, 7);
        fans.mend(8);
        assert_eq!(fans.failed(), 0b1000_0001);
    }

    #[test]
    fn a_push_is_for_the_fan_that_was_named() {
        let config = FansConfig::<2> {
            fans: [FAN; 2],
            stagger: 0,
        };
        let mut fans = Fans::new();
        fans.demand(&config, Duty::constant(7_000));
        for _ in 0..4 {
            fans.tick(&config);
        }
        fans.push(&config, 1);
        assert_eq!(fans.tick(&config).map(Duty::bits), [7_000, 20_000]);
        fans.push(&config, 2); // there is no third
        assert_eq!(fans.fans().map(|fan| fan.pushed()), [false, true]);
    }

    #[test]
    fn safe_goes_past_the_stagger() {
        let config = FansConfig::<4> {
            fans: [FAN; 4],
            stagger: 1_000,
        };
        let mut fans = Fans::new();
        fans.safe(&config);
        assert_eq!(fans.tick(&config), [Duty::FULL; 4]);
        assert!(fans.fans().iter().all(|fan| fan.phase() == Phase::Safe));
    }
}
