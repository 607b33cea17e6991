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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::drive::fan::{FanParts, Slew, SpinUp};
    use crate::drive::fans::FansConfig;
    use crate::drive::time_proportional::TimeProportionalParts;
    use crate::drive::wiring::Wiring;
    use crate::duty::Duty;
    use crate::gain::Mantissas;

    fn sum_of(words: &[u16]) -> u16 {
        let sum = Checksum::new();
        words.iter().fold(sum, |sum, word| sum.word(*word)).value()
    }

    /// The checksum is of exactly these words, and no part is beyond the last.
    fn are_words<W: Words>(config: &W, words: &[u16]) {
        assert_eq!(config.checksum(), sum_of(words));
        for part in [W::PARTS, u8::MAX] {
            assert_eq!(config.add_part(part, Checksum::new()), Checksum::new());
        }
    }

    #[test]
    fn the_words_of_the_law_and_of_every_guard() {
        let gains = Mantissas {
            kp: 1_300,
            ki: 65,
            kd: 40,
        };
        let settings = |action| Settings::<i16, 8>::constant(gains, 100, 32_000, action);
        are_words(
            &settings(Action::Direct),
            &[1_300, 65, 40, 100, 32_000, 1, 8],
        );
        are_words(
            &settings(Action::Reverse),
            &[1_300, 65, 40, 100, 32_000, 2, 8],
        );
        are_words(&SensorConfig::constant(3, 7), &[0x0703]);
        are_words(&RateConfig::constant(64), &[64]);
        are_words(&StaleConfig::constant(500), &[500]);
        are_words(
            &StuckConfig::constant(90, Duty::constant(3_000)),
            &[90, 3_000],
        );
        are_words(&TripConfig::constant(7_680, 640, 5), &[7_680, 7_040, 5]);
        are_words(
            &HuntingConfig::constant(0x0002_0003, 200, 4),
            &[3, 2, 200, 4],
        );
        let effect = EffectConfig::constant(Duty::constant(30_000), 60, 32, 128);
        are_words(&effect, &[30_000, 60, 32, 128]);
    }

    #[test]
    fn the_words_of_every_drive() {
        let timer = |polarity| DitherConfig::constant(100, Duty::fraction(0.3), polarity);
        are_words(&timer(Polarity::ActiveHigh), &[100, 30, 0]);
        are_words(&timer(Polarity::ActiveLow), &[100, 30, 1]);
        let heater = PwmHeaterConfig {
            timer: timer(Polarity::ActiveLow),
        };
        are_words(&heater, &[100, 30, 1]);
        let watch = RotationConfig::constant(5, 2, 9);
        are_words(&watch, &[5, 0x0902]);
        for (unit, word) in [(Unit::Tick, 0), (Unit::WholeCycle, 1)] {
            let parts = TimeProportionalParts {
                window: 100,
                min_on: 10,
                min_off: 20,
                unit,
            };
            are_words(
                &TimeProportionalConfig::constant(parts),
                &[100, 10, 20, word],
            );
        }
        let knots = [
            0, 9_830, 14_000, 17_500, 17_500, 23_300, 26_200, 29_400, 32_767,
        ];
        let curve = Airflow::constant(knots);
        are_words(&curve, &knots.map(|knot| knot as u16));
        let always = FanParts {
            floor: Duty::constant(6_000),
            spin_up: SpinUp {
                level: Duty::constant(20_000),
                ticks: 3,
            },
            stop: Stop::Never,
            airflow: None,
            slew: Slew {
                rise: 2_000,
                fall: 500,
            },
        };
        let first = [6_000, 20_000, 3, 2_000, 500, 0, 0];
        are_words(&FanConfig::constant(always), &first);
        let (stop, start) = (Duty::constant(1_000), Duty::constant(4_000));
        let second = FanParts {
            stop: Stop::Below { stop, start },
            airflow: Some(curve),
            ..always
        };
        let second_words = [
            6_000, 20_000, 3, 2_000, 500, 1, 1_000, 4_000, 1, 0, 9_830, 14_000, 17_500, 17_500,
            23_300, 26_200, 29_400, 32_767,
        ];
        are_words(&FanConfig::constant(second), &second_words);
        let drive = FanDriveConfig::<2> {
            fans: FansConfig {
                fans: [FanConfig::constant(always), FanConfig::constant(second)],
                stagger: 77,
            },
            timer: timer(Polarity::ActiveHigh),
            tachometer: Some(watch),
            wiring: Wiring::ThreeWireChopped,
        };
        let shared = [77, 1, 100, 30, 0, 1, 5, 0x0902];
        are_words(&drive, &[&first[..], &second_words, &shared].concat());
    }
}
