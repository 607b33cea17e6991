//! The words of every configuration, in the order the checksum takes them.

use super::checksum::{Finder, Words};
use crate::drive::dither::{DitherConfig, Polarity};
use crate::drive::fan::{Airflow, FanConfig, Stop};
use crate::drive::fans::FansConfig;
use crate::drive::output::{FanDriveConfig, PwmHeaterConfig};
use crate::drive::tachometer::RotationConfig;
use crate::drive::time_proportional::{TimeProportionalConfig, Unit};
use crate::drive::wiring::Wiring;
use crate::guard::effect::EffectConfig;
use crate::guard::hunting::HuntingConfig;
use crate::guard::rate::RateConfig;
use crate::guard::sensor::SensorConfig;
use crate::guard::stale::StaleConfig;
use crate::guard::stuck::StuckConfig;
use crate::guard::trip::TripConfig;
use crate::law::{Action, Settings};

macro_rules! words {
    ($(impl[$($generics:tt)*] $type:ty: $len:literal, |$it:ident| { $($index:pat => $word:expr,)* })*) => {$(
        impl<$($generics)*> Words for $type {
            const LEN: u8 = $len;
            #[inline]
            fn word(&self, index: u8) -> u16 {
                let $it = self;
                match index {
                    $($index => $word,)*
                    #[allow(unreachable_patterns)]
                    _ => 0,
                }
            }
        }
    )*};
}

const fn pair(low: u8, high: u8) -> u16 {
    low as u16 | (high as u16) << 8
}

words! {
    impl[const SP: u32] Settings<i16, SP>: 7, |it| {
        0 => it.kp,
        1 => it.ki,
        2 => it.kd,
        3 => it.lo as u16,
        4 => it.hi as u16,
        5 => match it.action { Action::Direct => 1, Action::Reverse => 2 },
        6 => SP as u16,
    }
    impl[] SensorConfig: 1, |it| { 0 => pair(it.confirm(), it.recover()), }
    impl[] RateConfig: 1, |it| { 0 => it.limit() as u16, }
    impl[] StaleConfig: 1, |it| { 0 => it.limit(), }
    impl[] StuckConfig: 2, |it| { 0 => it.samples(), 1 => it.travel().bits() as u16, }
    impl[] TripConfig: 3, |it| {
        0 => it.trip() as u16,
        1 => it.clear() as u16,
        2 => it.confirm() as u16,
    }
    impl[] HuntingConfig: 4, |it| {
        0 => it.limit() as u16,
        1 => (it.limit() >> 16) as u16,
        2 => it.forget(),
        3 => it.detections() as u16,
    }
    impl[] EffectConfig: 4, |it| {
        0 => it.level().bits() as u16,
        1 => it.samples(),
        2 => it.response() as u16,
        3 => it.margin() as u16,
    }
    impl[] Stop: 3, |it| {
        0 => match it { Stop::Never => 0, Stop::Below { .. } => 1 },
        1 => match it { Stop::Never => 0, Stop::Below { stop, .. } => stop.bits() as u16 },
        2 => match it { Stop::Never => 0, Stop::Below { start, .. } => start.bits() as u16 },
    }
    impl[] Airflow: 9, |it| {
        at => it.knots().get(at as usize).map_or(0, |knot| *knot as u16),
    }
    impl[] DitherConfig: 3, |it| {
        0 => it.top(),
        1 => it.floor_code(),
        2 => match it.polarity() { Polarity::ActiveHigh => 0, Polarity::ActiveLow => 1 },
    }
    impl[] RotationConfig: 2, |it| {
        0 => it.least_pulses(),
        1 => pair(it.confirm(), it.retries()),
    }
    impl[] Wiring: 1, |it| { 0 => *it as u16, }
    impl[] TimeProportionalConfig: 4, |it| {
        0 => it.parts().window,
        1 => it.parts().min_on,
        2 => it.parts().min_off,
        3 => match it.parts().unit { Unit::Tick => 0, Unit::WholeCycle => 1 },
    }
    impl[] PwmHeaterConfig: 3, |it| { at => it.timer.word(at), }
}

impl Words for FanConfig {
    const LEN: u8 = 5 + Stop::LEN + <Option<Airflow>>::LEN;
    #[inline]
    fn word(&self, index: u8) -> u16 {
        Finder::new(index)
            .part(&[
                self.floor().bits() as u16,
                self.spin_up().level.bits() as u16,
                self.spin_up().ticks,
                self.slew().rise as u16,
                self.slew().fall as u16,
            ])
            .part(&self.stop())
            .part(&self.airflow().copied())
            .found
    }
}

impl<const N: usize> Words for FansConfig<N> {
    const LEN: u8 = <[FanConfig; N]>::LEN + 1;
    #[inline]
    fn word(&self, index: u8) -> u16 {
        Finder::new(index).part(&self.fans).part(&self.stagger).found
    }
}

impl<const N: usize> Words for FanDriveConfig<N> {
    const LEN: u8 = <FansConfig<N>>::LEN + DitherConfig::LEN + <Option<RotationConfig>>::LEN + Wiring::LEN;
    #[inline]
    fn word(&self, index: u8) -> u16 {
        Finder::new(index)
            .part(&self.fans)
            .part(&self.timer)
            .part(&self.tachometer)
            .part(&self.wiring)
            .found
    }
}
