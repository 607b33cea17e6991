//! The words of every configuration, in the order the checksum takes them.

use super::checksum::{Checksum, Words, add_option};
use crate::drive::dither::{DitherConfig, Polarity};
use crate::drive::fan::{Airflow, FanConfig, Stop};
use crate::drive::output::{FanDriveConfig, PwmHeaterConfig};
use crate::drive::tachometer::RotationConfig;
use crate::drive::time_proportional::{TimeProportionalConfig, Unit};
use crate::guard::effect::EffectConfig;
use crate::guard::hunting::HuntingConfig;
use crate::guard::rate::RateConfig;
use crate::guard::sensor::SensorConfig;
use crate::guard::stale::StaleConfig;
use crate::guard::stuck::StuckConfig;
use crate::guard::trip::TripConfig;
use crate::law::{Action, Settings};

macro_rules! words {
    ($(impl[$($generics:tt)*] $type:ty, |$it:ident| [$($word:expr),* $(,)?])*) => {$(
        impl<$($generics)*> Words for $type {
            const PARTS: u8 = 1;
            #[inline]
            fn add_part(&self, part: u8, sum: Checksum) -> Checksum {
                let $it = self;
                if part == 0 { sum$(.word($word))* } else { sum }
            }
        }
    )*};
}

const fn pair(low: u8, high: u8) -> u16 {
    low as u16 | (high as u16) << 8
}

words! {
    impl[const SP: u32] Settings<i16, SP>, |it| [
        it.kp,
        it.ki,
        it.kd,
        it.lo as u16,
        it.hi as u16,
        match it.action { Action::Direct => 1, Action::Reverse => 2 },
        SP as u16,
    ]
    impl[] SensorConfig, |it| [pair(it.confirm(), it.recover())]
    impl[] RateConfig, |it| [it.limit() as u16]
    impl[] StaleConfig, |it| [it.limit()]
    impl[] StuckConfig, |it| [it.samples(), it.travel().bits() as u16]
    impl[] TripConfig, |it| [it.trip() as u16, it.clear() as u16, it.confirm() as u16]
    impl[] HuntingConfig, |it| [
        it.limit() as u16,
        (it.limit() >> 16) as u16,
        it.forget(),
        it.detections() as u16,
    ]
    impl[] EffectConfig, |it| [
        it.level().bits() as u16,
        it.samples(),
        it.response() as u16,
        it.margin() as u16,
    ]
    impl[] DitherConfig, |it| [
        it.top(),
        it.floor_code(),
        match it.polarity() { Polarity::ActiveHigh => 0, Polarity::ActiveLow => 1 },
    ]
    impl[] RotationConfig, |it| [it.least_pulses(), pair(it.confirm(), it.retries())]
    impl[] TimeProportionalConfig, |it| [
        it.parts().window,
        it.parts().min_on,
        it.parts().min_off,
        match it.parts().unit { Unit::Tick => 0, Unit::WholeCycle => 1 },
    ]
}

impl Words for Airflow {
    const PARTS: u8 = 1;
    #[inline]
    fn add_part(&self, part: u8, sum: Checksum) -> Checksum {
        if part != 0 {
            return sum;
        }
        self.knots()
            .iter()
            .fold(sum, |sum, knot| sum.word(*knot as u16))
    }
}

impl Words for FanConfig {
    const PARTS: u8 = 1;
    #[inline]
    fn add_part(&self, part: u8, sum: Checksum) -> Checksum {
        if part != 0 {
            return sum;
        }
        let sum = sum
            .word(self.floor().bits() as u16)
            .word(self.spin_up().level.bits() as u16)
            .word(self.spin_up().ticks)
            .word(self.slew().rise as u16)
            .word(self.slew().fall as u16);
        let sum = match self.stop() {
            Stop::Never => sum.word(0),
            Stop::Below { stop, start } => sum
                .word(1)
                .word(stop.bits() as u16)
                .word(start.bits() as u16),
        };
        match self.airflow() {
            None => sum.word(0),
            Some(curve) => curve.add_part(0, sum.word(1)),
        }
    }
}

impl<const N: usize> Words for FanDriveConfig<N> {
    // one for each fan, one for what they share
    const PARTS: u8 = {
        assert!(N < 200, "too many fans");
        N as u8 + 1
    };
    #[inline]
    fn add_part(&self, part: u8, sum: Checksum) -> Checksum {
        if let Some(fan) = self.fans.fans.get(part as usize) {
            return fan.add_part(0, sum);
        }
        if part as usize != N {
            return sum;
        }
        let sum = sum.word(self.fans.stagger).word(self.wiring as u16);
        add_option(&self.tachometer, self.timer.add_part(0, sum))
    }
}

impl Words for PwmHeaterConfig {
    const PARTS: u8 = 1;
    #[inline]
    fn add_part(&self, part: u8, sum: Checksum) -> Checksum {
        self.timer.add_part(part, sum)
    }
}
