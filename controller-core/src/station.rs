//! The station: law, drive and guards as the one thing a firmware loop calls.
//!
//! [`Station::step`] takes a reading once a sample; [`Station::output_tick`] gives the pin its next
//! value at the output's own faster rate. Time is an argument: `elapsed_ticks` is what the firmware's
//! own counter says has passed since the sample before. Both are bounded in time, free of panics,
//! allocation, division and floating point, and neither does any I/O. Call them from one context,
//! or with the interrupt that calls the other masked.
//!
//! **Safe state.** Full duty for cooling, off for heating. It holds from power-on until the first
//! usable reading, and whenever an alarm is on whose answer it is:
//!
//! | what happens | alarm | safe state from | ends |
//! |---|---|---|---|
//! | no usable reading, up to `confirm - 1` in a row | none | not: the demand is held | with the next usable one |
//! | `confirm` in a row (fault, or implausible jump) | `Sensor` | the same step | after `recover` usable ones |
//! | a sample later than the limit | `Stale` | the same step | with the next one in time |
//! | no sample at all | `Stale` | the output tick at the limit | with the next one in time |
//! | reading stuck | `Stuck` | the same step | when it moves |
//! | at or above the trip, confirmed | `Trip` | the same step | [`Station::reset`], once cool |
//! | the plant does not answer | `NoEffect` | the same step | when it answers, or [`Station::reset`] |
//! | a fan does not turn, after its retries | `Tachometer` | the same call | when it turns |
//! | configuration not as built | `SelfTest` | the same step | restart |
//! | the loop hunts | `Hunting` | not: reported, or gains halved | by itself; gains by [`Station::reset`] |
//!
//! **Recovery is bumpless.** Leaving the safe state, the integrator is set so that the law's first
//! demand is the safe state's own duty (or the nearest attainable), and moves away from there at the
//! law's pace; the derivative begins anew. After held samples only the derivative does. At power-on
//! the law starts with a full integrator for cooling, with none for heating.
//!
//! **Liveness.** `step` hands out a [`Liveness`] token, and a watchdog should be fed with nothing
//! else. There is none when no output tick came since the step before (the output's clock is dead),
//! nor while the self-test fails: then the watchdog resets the chip into its safe start.

mod checksum;
mod config;
mod law;

pub use checksum::Checksum;
pub use config::{StationConfig, StationError, StationParts};
pub use law::{Law, Pi, Pid, halved};

use crate::drive::output::Drive;
use crate::duty::Duty;
use crate::fields::Fields;
use crate::guard::effect::EffectGuard;
use crate::guard::hunting::{HuntingGuard, OnHunting};
use crate::guard::rate::RateGuard;
use crate::guard::sensor::{SensorGuard, SensorVerdict};
use crate::guard::stale::StaleGuard;
use crate::guard::stuck::StuckGuard;
use crate::guard::trip::TripGuard;
use crate::guard::{Alarm, Alarms};
use crate::law::{Settings, Terms};
use crate::setpoint::{SetPoint, Weight};
use core::marker::PhantomData;
use fixed::FixedI16;

/// Where a station finds its configuration: a reference to it, or a type of no size that stands for
/// one `const`. The latter costs no pointer, lets the compiler work every number into the code and
/// drop the guards that are not wanted, and keeps the whole out of memory where constants would
/// otherwise be copied there.
///
/// ```
/// # use controller_core::drive::{dither::{DitherConfig, Polarity}, output::{PwmHeaterConfig, PwmHeaterDrive}};
/// # use controller_core::{duty::Duty, gain::Mantissas, guard::{GuardsConfig, hunting::OnHunting, sensor::SensorConfig, stale::StaleConfig, trip::TripConfig}};
/// # use controller_core::{law::{Action, Settings}, station::StationParts};
/// use controller_core::station::{Configuration, Pi, Station, StationConfig};
/// use fixed::types::extra::U7;
///
/// const STATION: StationConfig<8, PwmHeaterDrive> = // ... as `hushloop build` writes it
/// #   StationConfig::constant(StationParts {
/// #       settings: Settings::<i16, 8>::constant(Mantissas { kp: 1300, ki: 65, kd: 0 }, 0, Duty::ONE, Action::Reverse),
/// #       set_point: fixed::FixedI16::<U7>::lit("24"),
/// #       drive: PwmHeaterConfig { timer: DitherConfig::constant(1000, Duty::OFF, Polarity::ActiveHigh) },
/// #       guards: GuardsConfig {
/// #           sensor: SensorConfig::constant(3, 6),
/// #           stale: StaleConfig::constant(500),
/// #           trip: TripConfig::constant(32 * 128, 128, 2),
/// #           rate: None, stuck: None, effect: None, hunting: None, on_hunting: OnHunting::Report,
/// #       },
/// #   });
/// #[derive(Clone, Copy)]
/// struct Tray;
/// impl Configuration<8, PwmHeaterDrive, U7> for Tray {
///     #[inline(always)]
///     fn get(&self) -> &StationConfig<8, PwmHeaterDrive> {
///         &STATION
///     }
/// }
/// let mut station: Station<Pi, PwmHeaterDrive, U7, 8, Tray> = Station::new(Tray);
/// assert_eq!(station.output_tick(), 0);
/// ```
pub trait Configuration<const SP: u32, D: Drive, F>: Copy {
    /// The configuration.
    fn get(&self) -> &StationConfig<SP, D, F>;
}

impl<const SP: u32, D: Drive, F> Configuration<SP, D, F> for &StationConfig<SP, D, F> {
    #[inline(always)]
    fn get(&self) -> &StationConfig<SP, D, F> {
        self
    }
}

/// Proof that a sample went through the whole chain. It cannot be made, copied or kept in reserve
/// elsewhere: only [`Station::step`] gives it, one a sample.
#[derive(Debug)]
#[must_use = "feed the watchdog with it, or it will bite"]
pub struct Liveness(());

/// A watchdog that takes nothing but a [`Liveness`] token; implement it for the chip's own.
///
/// ```
/// use controller_core::station::{Liveness, Watchdog};
/// struct Counter(u32);
/// impl Watchdog for Counter {
///     fn feed(&mut self, _alive: Liveness) {
///         self.0 += 1; // on a chip: write the reload register
///     }
/// }
/// ```
pub trait Watchdog {
    /// Postpones the reset.
    fn feed(&mut self, alive: Liveness);
}

/// How the law goes on with the next usable reading.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[repr(u8)]
enum Next {
    /// As it starts.
    Start,
    /// From the safe state's duty.
    TakeOver,
    /// With a new derivative.
    Reseed,
    /// As ever.
    Continue,
}

/// The state of a station. One fan, one sensor, PI and all guards: no more than 96 bytes with the
/// configuration in flash.
///
/// ```
/// use controller_core::drive::dither::{DitherConfig, Polarity};
/// use controller_core::drive::fan::{FanConfig, FanParts, Slew, SpinUp, Stop};
/// use controller_core::drive::fans::FansConfig;
/// use controller_core::drive::output::{FanDrive, FanDriveConfig};
/// use controller_core::drive::wiring::Wiring;
/// use controller_core::duty::Duty;
/// use controller_core::gain::Mantissas;
/// use controller_core::guard::{Alarm, GuardsConfig, hunting::OnHunting, sensor::SensorConfig};
/// use controller_core::guard::{stale::StaleConfig, trip::TripConfig};
/// use controller_core::law::{Action, Settings};
/// use controller_core::station::{Pi, Station, StationConfig, StationParts};
/// use fixed::FixedI16;
/// use fixed::types::extra::U7;
///
/// // the rack beside the recording room: 38 degC, at least 20 % so that the fan never stalls
/// const FLOOR: Duty = Duty::fraction(0.2);
/// const STATION: StationConfig<8, FanDrive> = StationConfig::constant(StationParts {
///     settings: Settings::<i16, 8>::constant(
///         Mantissas { kp: 5898, ki: 2097, kd: 0 }, FLOOR.bits(), Duty::ONE, Action::Direct),
///     set_point: FixedI16::<U7>::lit("38"),
///     drive: FanDriveConfig {
///         fans: FansConfig {
///             fans: [FanConfig::constant(FanParts {
///                 floor: FLOOR,
///                 spin_up: SpinUp { level: Duty::fraction(0.6), ticks: 200 },
///                 stop: Stop::Never,
///                 airflow: None,
///                 slew: Slew { rise: 819, fall: 819 },
///             })],
///             stagger: 0,
///         },
///         timer: DitherConfig::constant(320, FLOOR, Polarity::ActiveHigh),
///         tachometer: None,
///         wiring: Wiring::FourWire,
///     },
///     guards: GuardsConfig {
///         sensor: SensorConfig::constant(4, 8),
///         stale: StaleConfig::constant(40),
///         trip: TripConfig::constant(46 * 128, 2 * 128, 2),
///         rate: None,
///         stuck: None,
///         effect: None,
///         hunting: None,
///         on_hunting: OnHunting::Report,
///     },
/// });
///
/// let mut station: Station<Pi, FanDrive, U7, 8> = Station::new(&STATION);
/// assert_eq!(station.output_tick(), [320]); // full until the first reading
/// let reading: Result<_, u8> = Ok(FixedI16::<U7>::lit("30"));
/// let alive = station.step(reading, 25);
/// assert!(alive.is_some()); // for the watchdog
/// for _ in 0..3 {
///     let _ = station.step(Err(1), 25); // the wire comes off: held ...
/// }
/// assert!(!station.alarms().has(Alarm::Sensor));
/// let _ = station.step(Err(1), 25); // ... until it is confirmed
/// assert!(station.alarms().has(Alarm::Sensor));
/// assert_eq!(station.output_tick(), [320]);
/// ```
pub struct Station<'c, L: Law<SP>, D: Drive, F, const SP: u32, C = &'c StationConfig<SP, D, F>> {
    config: C,
    law: L::State,
    drive: D,
    hunting: HuntingGuard,
    stuck: StuckGuard,
    effect: EffectGuard,
    rate: RateGuard,
    stale: StaleGuard,
    sensor: SensorGuard,
    trip: TripGuard,
    set_point: SetPoint<i16>,
    reading: i16,
    demand: Duty,
    sum: Checksum,
    tested: u8,
    alarms: Alarms,
    seen: Alarms,
    next: Next,
    ticked: bool,
    halved: bool,
    format: PhantomData<&'c F>,
}

impl<L, D, F, C, const SP: u32> Station<'_, L, D, F, SP, C>
where
    L: Law<SP>,
    D: Drive,
    C: Configuration<SP, D, F>,
{
    /// A station at power-on: in its safe state until the first usable reading.
    #[must_use]
    pub fn new(source: C) -> Self {
        let config = source.get();
        let mut station = Self {
            config: source,
            law: L::start(&config.settings, config.set_point.counts()),
            drive: D::at_rest(),
            hunting: HuntingGuard::new(),
            stuck: StuckGuard::new(),
            effect: EffectGuard::new(),
            rate: RateGuard::new(),
            stale: StaleGuard::new(),
            sensor: SensorGuard::new(),
            trip: TripGuard::new(),
            set_point: config.set_point,
            reading: i16::MAX,
            demand: D::SAFE,
            sum: Checksum::new(),
            tested: 0,
            alarms: Alarms::NONE,
            seen: Alarms::NONE,
            next: Next::Start,
            ticked: true,
            halved: false,
            format: PhantomData,
        };
        station.drive.safe(&config.drive);
        station
    }

    /// Takes one sample: a temperature, or whatever fault the sensor's side reports, and the output
    /// ticks since the sample before. Everything that this reading leads to has happened when it
    /// returns, the safe state included.
    ///
    /// The token is for the watchdog (see the module head for when there is none).
    #[inline]
    pub fn step<E>(
        &mut self,
        reading: Result<FixedI16<F>, E>,
        elapsed_ticks: u16,
    ) -> Option<Liveness> {
        let source = self.config;
        let config = source.get();
        let late = self.stale.sample(&config.guards.stale, elapsed_ticks);
        self.raise(Alarm::Stale, late);
        if late {
            self.rate.restart();
        }
        let usable = match reading {
            Ok(temperature) => self.judge(temperature.to_bits()),
            Err(_) => {
                if let Some(rate) = &config.guards.rate {
                    self.rate.missed(rate);
                }
                None
            }
        };
        let verdict = self.sensor.sample(&config.guards.sensor, usable.is_some());
        self.raise(Alarm::Sensor, verdict == SensorVerdict::Fault);
        let usable = match verdict {
            SensorVerdict::Use => usable,
            SensorVerdict::Hold | SensorVerdict::Fault => None,
        };
        if let Some(measurement) = usable {
            self.watch(measurement);
        }
        self.test_in_background();
        if self.alarms.unsafe_to_run() {
            self.make_safe();
        } else if let Some(measurement) = usable {
            self.run(measurement);
        } else if self.next == Next::Continue {
            self.next = Next::Reseed;
        }
        let alive = self.ticked && !self.alarms.has(Alarm::SelfTest);
        self.ticked = false;
        if alive { Some(Liveness(())) } else { None }
    }

    /// What the pin is given for this tick of the output; also counts the time since the last
    /// sample, and goes to the safe state when the next one is overdue.
    #[inline]
    pub fn output_tick(&mut self) -> D::Output {
        self.ticked = true;
        if self.stale.tick(&self.config.get().guards.stale) {
            self.raise(Alarm::Stale, true);
            self.make_safe();
        }
        self.drive.tick(&self.config.get().drive)
    }

    /// Takes the pulses of one fan's tachometer since the last call for that fan. Call once a
    /// window, which is one sample or several, before [`Station::step`]: the drive answers a stall
    /// at once, and that step takes the whole station to the safe state.
    // apart from `step`, whose registers are short enough on an 8-bit target
    #[inline(never)]
    pub fn pulses(&mut self, fan: usize, pulses: u16) {
        self.drive.pulses(&self.config.get().drive, fan, pulses);
        let failed = self.drive.failed();
        self.raise(Alarm::Tachometer, failed);
    }

    /// Changes the set point; P passes on the share `weight` of the change at once (0: bumpless,
    /// 1: plain).
    ///
    /// # Errors
    /// [`StationError`] when the set point is outside the law's domain or not below the trip; then
    /// nothing changes.
    pub fn change_set_point(
        &mut self,
        new: FixedI16<F>,
        weight: Weight<i16>,
    ) -> Result<(), StationError> {
        if new.to_bits() >= self.config.get().guards.trip.trip() {
            return Err(StationError::SetPointAtTrip);
        }
        let Ok(new) = SetPoint::<i16>::new(new.to_bits()) else {
            return Err(StationError::SetPointOutsideDomain);
        };
        let settings = self.settings();
        L::change_set_point(&settings, &mut self.law, self.set_point, new, weight);
        self.set_point = new;
        Ok(())
    }

    /// The operator's reset: releases the trip when it has cooled and the sensor is good, the
    /// no-effect alarm, and halved gains; forgets the alarms seen. The loop goes on bumplessly with
    /// the next sample. Whether the trip is released (or was never latched).
    pub fn reset(&mut self) -> bool {
        let cool = if self.alarms.has(Alarm::Sensor) {
            !self.trip.latched()
        } else {
            self.trip
                .reset(&self.config.get().guards.trip, self.reading)
        };
        self.alarms.set(Alarm::Trip, !cool);
        self.effect.reset();
        self.alarms.set(Alarm::NoEffect, false);
        self.hunting.restart();
        self.alarms.set(Alarm::Hunting, false);
        if self.halved {
            self.halved = false;
            // the full gains begin where the halved ones left off
            if self.next == Next::Continue || self.next == Next::Reseed {
                self.next = Next::TakeOver;
            }
        }
        self.seen = self.alarms;
        cool
    }

    /// The alarms that are on.
    #[must_use]
    #[inline]
    pub const fn alarms(&self) -> Alarms {
        self.alarms
    }

    /// The alarms that are on or were since the last reset.
    #[must_use]
    #[inline]
    pub const fn alarms_seen(&self) -> Alarms {
        self.seen
    }

    /// The law's last demand, or the safe state's duty.
    #[must_use]
    #[inline]
    pub const fn demand(&self) -> Duty {
        self.demand
    }

    /// The duty that the drive now applies.
    #[must_use]
    #[inline]
    pub fn applied(&self) -> Duty {
        self.drive.applied(&self.config.get().drive)
    }

    /// The set point.
    #[must_use]
    #[inline]
    pub fn set_point(&self) -> FixedI16<F> {
        FixedI16::from_bits(self.set_point.counts())
    }

    /// Whether the last step ran the law: the reading was usable and no alarm asked for the safe
    /// state.
    #[must_use]
    #[inline]
    pub fn running(&self) -> bool {
        self.next == Next::Continue
    }

    /// Whether the gains are halved.
    #[must_use]
    #[inline]
    pub const fn gains_halved(&self) -> bool {
        self.halved
    }

    /// The drive.
    #[must_use]
    #[inline]
    pub const fn drive(&self) -> &D {
        &self.drive
    }

    /// The terms that the next step's law would form for this measurement, for telemetry: with the start, the
    /// take-over from the safe state or the new derivative that is still to come.
    #[must_use]
    pub fn terms(&self, measurement: FixedI16<F>) -> Terms<i16> {
        let settings = self.settings();
        let mut law = self.law;
        let measurement = measurement.to_bits();
        Self::begin(
            self.next,
            &settings,
            &mut law,
            self.set_point,
            measurement,
            self.demand,
        );
        L::terms(&settings, &law, self.set_point, measurement)
    }

    /// Makes the law's state ready for a measurement, however it has to begin.
    #[inline]
    fn begin(
        next: Next,
        settings: &Settings<i16, SP>,
        law: &mut L::State,
        set_point: SetPoint<i16>,
        measurement: i16,
        demand: Duty,
    ) {
        match next {
            Next::Continue => {}
            Next::Reseed => L::reseed(law, measurement),
            Next::Start => *law = L::start(settings, measurement),
            Next::TakeOver => L::take_over(settings, law, set_point, measurement, demand.bits()),
        }
    }

    /// Goes on with another configuration without any transfer of the law, as when the memory that
    /// holds it changes under the running station. For fault injection. The drive takes the duty over
    /// anew: what it held belongs to the configuration that it was made with, whose timer may have a
    /// longer period.
    #[must_use]
    pub fn with_config(self, config: C) -> Self {
        let mut station = Self { config, ..self };
        let drive = &station.config.get().drive;
        if station.next == Next::Continue || station.next == Next::Reseed {
            station.drive.demand(drive, station.demand);
        } else {
            station.drive.safe(drive);
        }
        station
    }

    /// The settings in force.
    #[inline]
    fn settings(&self) -> Settings<i16, SP> {
        if self.halved {
            halved(&self.config.get().settings)
        } else {
            self.config.get().settings
        }
    }

    #[inline]
    fn raise(&mut self, alarm: Alarm, on: bool) {
        self.alarms.set(alarm, on);
        if on {
            self.seen.set(alarm, true);
        }
    }

    /// Trip and rate: whether the reading may be used.
    #[inline]
    fn judge(&mut self, measurement: i16) -> Option<i16> {
        let source = self.config;
        let config = source.get();
        self.reading = measurement;
        let tripped = self.trip.tripped(&config.guards.trip, measurement);
        self.raise(Alarm::Trip, tripped);
        match &config.guards.rate {
            Some(rate) if !self.rate.plausible(rate, measurement) => None,
            _ => Some(measurement),
        }
    }

    /// The guards that need a usable reading.
    #[inline]
    fn watch(&mut self, measurement: i16) {
        let source = self.config;
        let config = source.get();
        let applied = self.drive.applied(&config.drive);
        let error = law::error(&config.settings, self.set_point, measurement);
        if let Some(stuck) = &config.guards.stuck {
            let stuck = self.stuck.stuck(stuck, measurement, applied);
            self.raise(Alarm::Stuck, stuck);
        }
        if let Some(effect) = &config.guards.effect {
            let without = self.effect.without_effect(effect, error, applied);
            self.raise(Alarm::NoEffect, without);
        }
        if let Some(hunting) = &config.guards.hunting
            && self.next == Next::Continue
        {
            let hunts = self.hunting.hunting(hunting, error);
            self.raise(Alarm::Hunting, hunts);
            if hunts && !self.halved && config.guards.on_hunting == OnHunting::HalveGains {
                L::absorb_halving(&config.settings, &mut self.law, self.set_point, measurement);
                self.halved = true;
            }
        }
    }

    /// One sample of the law, however it has to begin.
    #[inline]
    fn run(&mut self, measurement: i16) {
        let settings = self.settings();
        let (set_point, demand) = (self.set_point, self.demand);
        Self::begin(
            self.next,
            &settings,
            &mut self.law,
            set_point,
            measurement,
            demand,
        );
        self.next = Next::Continue;
        let demand = L::step(&settings, &mut self.law, self.set_point, measurement);
        self.demand = Duty::saturating(demand);
        self.drive.demand(&self.config.get().drive, self.demand);
    }

    // one copy for all its callers: inlined it costs an 8-bit target 76 bytes of flash
    #[inline(never)]
    fn make_safe(&mut self) {
        self.drive.safe(&self.config.get().drive);
        self.demand = D::SAFE;
        if self.next != Next::Start {
            self.next = Next::TakeOver;
        }
        self.hunting.restart();
        self.alarms.set(Alarm::Hunting, false);
    }

    /// Tests one more part of the configuration; at the end of each round, the sum.
    #[inline]
    fn test_in_background(&mut self) {
        let source = self.config;
        let config = source.get();
        let Some(expected) = config.expected else {
            return;
        };
        // From memory, not from what the compiler knows of it.
        let config = core::hint::black_box(config);
        config.walk_part(self.tested, &mut self.sum);
        self.tested = self.tested.wrapping_add(1);
        if self.tested >= <StationConfig<SP, D, F> as Fields>::PARTS {
            if self.sum.value() != expected {
                self.raise(Alarm::SelfTest, true);
            }
            self.tested = 0;
            self.sum = Checksum::new();
        }
    }
}

// Not derived: the law's marker type need not be `Clone`, only its state.
impl<L, D, F, C, const SP: u32> Clone for Station<'_, L, D, F, SP, C>
where
    L: Law<SP>,
    D: Drive + Clone,
    C: Copy,
{
    fn clone(&self) -> Self {
        Self {
            drive: self.drive.clone(),
            ..*self
        }
    }
}

#[cfg(test)]
mod tests;
