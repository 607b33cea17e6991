use super::*;
use crate::drive::dither::Polarity;
use crate::drive::fan::{FanConfig, FanParts, Slew, SpinUp, Stop};
use crate::drive::time_proportional::{TimeProportionalParts, Unit};
use core::mem::size_of;

const FLOOR: Duty = Duty::fraction(0.2);
const CONFIG: FanDriveConfig<2> = FanDriveConfig {
    fans: FansConfig {
        fans: [FanConfig::constant(FanParts {
            floor: FLOOR,
            spin_up: SpinUp {
                level: Duty::FULL,
                ticks: 2,
            },
            stop: Stop::Never,
            airflow: None,
            slew: Slew::NONE,
        }); 2],
        stagger: 0,
    },
    timer: DitherConfig::constant(100, FLOOR, Polarity::ActiveHigh),
    tachometer: Some(RotationConfig::constant(5, 2, 1)),
    wiring: Wiring::FourWire,
};

#[test]
fn sizes() {
    assert_eq!(size_of::<FanDrive<1>>(), 26);
    assert_eq!(size_of::<PwmHeaterDrive>(), 8);
    assert_eq!(size_of::<SwitchedHeaterDrive>(), 12);
}

fn sample(drive: &mut FanDrive<2>, pulses: [u16; 2]) -> [u16; 2] {
    for (fan, pulses) in pulses.into_iter().enumerate() {
        drive.pulses(&CONFIG, fan, pulses);
    }
    drive.demand(&CONFIG, Duty::fraction(0.4));
    let mut last = [0; 2];
    for _ in 0..4 {
        last = drive.tick(&CONFIG);
    }
    last
}

#[test]
fn a_fan_that_stops_is_pushed_then_the_other_goes_to_full_until_it_turns_again() {
    let mut drive = FanDrive::at_rest();
    for _ in 0..5 {
        sample(&mut drive, [20, 20]);
    }
    assert!(!drive.failed());
    // first window of standing, then the push, then the windows after it, one of them not counted
    let failed_after = (1..20)
        .find(|_| {
            sample(&mut drive, [20, 0]);
            drive.failed()
        })
        .unwrap();
    assert_eq!(failed_after, 5, "2 windows, the push spoils 1, 2 windows");
    assert_eq!(sample(&mut drive, [20, 0]), [100, 100]);
    sample(&mut drive, [20, 20]);
    sample(&mut drive, [20, 20]);
    assert!(!drive.failed());
    assert_eq!(sample(&mut drive, [20, 20]), [40, 40]);
}

#[test]
fn a_chopped_fan_is_judged_only_at_full_duty() {
    let config = FanDriveConfig {
        wiring: Wiring::ThreeWireChopped,
        ..CONFIG
    };
    let mut drive = FanDrive::<2>::at_rest();
    let mut run = |duty: Duty| {
        for _ in 0..10 {
            drive.pulses(&config, 0, 0);
            drive.demand(&config, duty);
            for _ in 0..4 {
                drive.tick(&config);
            }
        }
        drive.failed()
    };
    assert!(!run(Duty::fraction(0.5)));
    assert!(run(Duty::FULL));
}

#[test]
fn pulses_of_a_fan_that_is_not_there_are_ignored() {
    let mut drive = FanDrive::<2>::at_rest();
    let before = drive;
    for _ in 0..10 {
        drive.pulses(&CONFIG, 2, 0);
    }
    assert_eq!(drive, before);
}

#[test]
fn heaters_are_off_in_the_safe_state() {
    let timer = PwmHeaterConfig {
        timer: DitherConfig::constant(100, Duty::OFF, Polarity::ActiveLow),
    };
    let mut pwm = PwmHeaterDrive::at_rest();
    assert_eq!(pwm.tick(&timer), 100, "off is all high on an inverted pin");
    pwm.demand(&timer, Duty::FULL);
    assert_eq!((pwm.tick(&timer), pwm.applied(&timer)), (0, Duty::FULL));
    pwm.safe(&timer);
    assert_eq!((pwm.tick(&timer), pwm.applied(&timer)), (100, Duty::OFF));

    pwm.pulses(&timer, 0, 0);
    assert!(!pwm.failed(), "a heater has no tachometer to fail by");

    let window = TimeProportionalConfig::constant(TimeProportionalParts {
        window: 10,
        min_on: 0,
        min_off: 0,
        unit: Unit::Tick,
    });
    let mut switch = SwitchedHeaterDrive::at_rest();
    assert!(!switch.tick(&window));
    switch.demand(&window, Duty::FULL);
    assert!((0..30).any(|_| switch.tick(&window)));
    switch.safe(&window);
    assert!(!(0..30).any(|_| switch.tick(&window)));
    assert_eq!(switch.applied(&window), Duty::OFF);
}

/// The window in which a chopped fan comes back to full duty is in part one of another duty.
#[test]
fn a_window_that_began_at_another_duty_does_not_count() {
    let config = FanDriveConfig {
        wiring: Wiring::ThreeWireChopped,
        ..CONFIG
    };
    let mut drive = FanDrive::<2>::at_rest();
    let mut window = |pulses, next: Duty| {
        drive.pulses(&config, 0, pulses);
        drive.demand(&config, next);
        for _ in 0..4 {
            drive.tick(&config);
        }
        drive.failed()
    };
    for _ in 0..5 {
        assert!(!window(20, Duty::FULL));
    }
    assert!(!window(20, Duty::fraction(0.5)));
    assert!(!window(0, Duty::FULL), "at half duty: not judged");
    let failed_after = (1..20).find(|_| window(0, Duty::FULL)).unwrap();
    assert_eq!(
        failed_after, 6,
        "the change spoils 1, 2 windows, the push spoils 1, 2 windows"
    );
}
