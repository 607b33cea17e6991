//! Every number a design file may hold: key, unit, legal range, default and meaning, each in one place.

/// A number of the design file.
///
/// The same constant gives the reader its check, the error its text and the documentation its row
/// (`hushloop keys` prints them all).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Quantity {
    /// The section it stands in, without brackets.
    pub section: &'static str,
    /// The key, which ends in its unit.
    pub key: &'static str,
    /// The unit in words.
    pub unit: &'static str,
    /// Smallest legal value.
    pub min: f64,
    /// Largest legal value.
    pub max: f64,
    /// Value taken when the key is absent; `None` where the key must be given or its absence has a meaning of its own.
    pub default: Option<f64>,
    /// What it means.
    pub meaning: &'static str,
}

impl Quantity {
    /// True for a finite number inside the legal range.
    #[must_use]
    pub fn holds(&self, number: f64) -> bool {
        number >= self.min && number <= self.max
    }

    /// The sentence that says what would be accepted.
    #[must_use]
    pub fn accepted(&self) -> String {
        format!(
            "a number of {} from {} to {} ({})",
            self.unit,
            plain(self.min),
            plain(self.max),
            self.meaning
        )
    }

    /// A legal value to go on with after a mistake, so that one run reports them all.
    #[must_use]
    pub(super) fn placeholder(&self) -> f64 {
        self.min.max(1.0).min(self.max)
    }
}

/// A number as a person writes it: no trailing zeros, no exponent within everyday sizes.
#[must_use]
pub fn plain(number: f64) -> String {
    if number != 0.0 && (number.abs() >= 1e7 || number.abs() < 1e-4) {
        format!("{number:e}")
    } else {
        format!("{number}")
    }
}

macro_rules! quantities {
    ($($name:ident: [$section:literal] $key:literal, $unit:literal, $min:literal ..= $max:literal, $default:expr, $meaning:literal;)*) => {
        $(
            #[doc = concat!("`", $section, ".", $key, "`: ", $meaning, ".")]
            pub const $name: Quantity = Quantity {
                section: $section, key: $key, unit: $unit, min: $min, max: $max, default: $default, meaning: $meaning,
            };
        )*
        /// All of them, in the order of the signal path.
        pub const ALL: &[Quantity] = &[$($name),*];
    };
}

quantities! {
    R25: ["sensor"] "r25_ohm", "ohm", 10.0 ..= 1e7, None, "thermistor's resistance at 25 degC";
    BETA: ["sensor"] "beta_kelvin", "kelvin", 500.0 ..= 10000.0, None, "thermistor's Beta, from its data sheet";
    SH_A: ["sensor"] "a_per_kelvin", "1/kelvin", -0.1 ..= 0.1, None, "Steinhart-Hart A, for ln of the resistance in ohm";
    SH_B: ["sensor"] "b_per_kelvin", "1/kelvin", 1e-6 ..= 0.1, None, "Steinhart-Hart B";
    SH_C: ["sensor"] "c_per_kelvin", "1/kelvin", 0.0 ..= 0.01, None, "Steinhart-Hart C";
    R0: ["sensor"] "r0_ohm", "ohm", 10.0 ..= 100000.0, None, "platinum sensor's resistance at 0 degC";
    R25_TOLERANCE: ["sensor"] "r25_tolerance_percent", "percent", 0.0 ..= 20.0, Some(1.0), "tolerance of the sensor's nominal resistance";
    BETA_TOLERANCE: ["sensor"] "beta_tolerance_percent", "percent", 0.0 ..= 10.0, Some(1.0), "tolerance of Beta";
    SLOPE_TOLERANCE: ["sensor"] "slope_tolerance_percent", "percent", 0.0 ..= 10.0, Some(0.35), "tolerance of a platinum sensor's slope; 0.35, with r25_tolerance_percent = 0.15, covers class B of IEC 60751";
    DISSIPATION: ["sensor"] "dissipation_mw_per_kelvin", "milliwatt per kelvin", 0.01 ..= 1000.0, Some(2.0), "dissipation constant, for self-heating";
    SENSOR_LAG: ["sensor"] "lag_s", "seconds", 0.05 ..= 600.0, Some(8.0), "time constant of the sensor in its place";
    DRIFT: ["sensor"] "drift_celsius", "kelvin", 0.0 ..= 20.0, Some(1.5), "largest plausible but false reading this design allows for";

    FIT_CELSIUS: ["sensor.through"] "celsius", "degC", -270.0 ..= 1000.0, None, "temperature of a Steinhart-Hart fit point: through = [[celsius, ohm], [celsius, ohm], [celsius, ohm]] in place of a, b, c";
    FIT_OHM: ["sensor.through"] "ohm", "ohm", 0.01 ..= 1e8, None, "resistance of a fit point; falls as temperature rises";
    POINT_CELSIUS: ["sensor.points"] "celsius", "degC", -270.0 ..= 1000.0, None, "temperature of a measured point: points = [[celsius, ohm], ...], at least two, temperatures rising";
    POINT_OHM: ["sensor.points"] "ohm", "ohm", 0.01 ..= 1e8, None, "resistance of a measured point; all rise or all fall";

    RESISTOR: ["divider"] "resistor_ohm", "ohm", 10.0 ..= 1e7, None, "the fixed resistor of the divider";
    RESISTOR_TOLERANCE: ["divider"] "resistor_tolerance_percent", "percent", 0.0 ..= 20.0, Some(1.0), "tolerance of the fixed resistor";
    SERIES: ["divider"] "series_ohm", "ohm", 0.001 ..= 1e6, None, "resistor (or cable) in series with the sensor";
    PARALLEL: ["divider"] "parallel_ohm", "ohm", 1.0 ..= 1e8, None, "resistor across the sensor";
    FILTER: ["divider"] "filter_nanofarad", "nanofarad", 0.01 ..= 1e6, None, "capacitor from the converter's input to ground, against hum and ripple";
    SUPPLY: ["divider"] "supply_volts", "volts", 0.5 ..= 30.0, Some(3.3), "voltage across the divider";

    BITS: ["adc"] "bits", "bits", 8.0 ..= 16.0, None, "resolution of the converter";
    REFERENCE: ["adc"] "reference_volts", "volts", 0.5 ..= 30.0, None, "reference voltage, when it is not the divider's supply";
    ADC_NOISE: ["adc"] "noise_lsb", "LSB (root mean square)", 0.0 ..= 50.0, Some(0.5), "noise of one reading, after its burst";
    BURST_SAMPLES: ["adc"] "burst_samples", "conversions", 1.0 ..= 4096.0, Some(1.0), "conversions summed into one reading; bits are those of the sum once decimated";
    BURST_RATE: ["adc"] "burst_hertz", "hertz", 1.0 ..= 1e7, None, "rate of the conversions of a burst; needed when burst_samples is above 1";
    ADC_OFFSET: ["adc"] "offset_lsb", "LSB", 0.0 ..= 50.0, Some(1.0), "largest offset error of the converter";
    ADC_GAIN: ["adc"] "gain_error_percent", "percent of full scale", 0.0 ..= 10.0, Some(0.1), "largest gain error of the converter";

    LOW: ["table"] "low_celsius", "degC", -200.0 ..= 850.0, None, "lowest temperature the table covers";
    HIGH: ["table"] "high_celsius", "degC", -200.0 ..= 850.0, None, "highest temperature the table covers";
    TABLE_ERROR: ["table"] "error_celsius", "kelvin", 0.002 ..= 10.0, Some(0.1), "largest error of the table over every code, rounding included";

    SET_POINT: ["loop"] "set_point_celsius", "degC", -200.0 ..= 850.0, None, "the wanted temperature";
    PERIOD: ["loop"] "period_s", "seconds", 0.01 ..= 60.0, None, "sample period of the loop";
    KP: ["loop"] "kp_percent_per_kelvin", "percent of full duty per kelvin", 0.0 ..= 10000.0, None, "proportional gain";
    KI: ["loop"] "ki_percent_per_kelvin_second", "percent of full duty per kelvin and second", 0.0 ..= 1000.0, None, "integral gain";
    KD: ["loop"] "kd_percent_second_per_kelvin", "percent of full duty times seconds per kelvin", 0.0 ..= 100000.0, Some(0.0), "derivative gain, on the filtered measurement";
    D_FILTER: ["loop"] "derivative_filter_samples", "samples, a power of two", 2.0 ..= 256.0, Some(8.0), "time constant of the derivative's filter";
    TRIP: ["loop"] "trip_celsius", "degC", -200.0 ..= 850.0, None, "over-temperature trip: latched, actuator to its safe state";

    FAN_COUNT: ["fan"] "count", "fans", 1.0 ..= 8.0, Some(1.0), "fans that share the demand";
    FAN_FLOOR: ["fan"] "floor_percent", "percent of full duty", 1.0 ..= 90.0, None, "lowest duty ever applied; the law's lower limit";
    FAN_SPIN_UP: ["fan"] "spin_up_percent", "percent of full duty", 10.0 ..= 100.0, Some(100.0), "duty of the push that starts a fan";
    FAN_SPIN_UP_TIME: ["fan"] "spin_up_s", "seconds", 0.0 ..= 30.0, Some(2.0), "length of that push";
    FAN_SLEW: ["fan"] "slew_percent_per_s", "percent of full duty per second", 0.1 ..= 1000.0, Some(20.0), "fastest change of duty, for the ear";
    PWM_COUNTS: ["fan"] "pwm_period_counts", "timer counts", 16.0 ..= 65535.0, Some(320.0), "period of the PWM timer";
    PWM_RATE: ["fan"] "pwm_hertz", "hertz", 10.0 ..= 1e6, Some(25000.0), "frequency of the fan's PWM, whose ripple reaches the divider";
    FAN_PULSES: ["fan"] "tachometer_pulses", "pulses a revolution", 1.0 ..= 8.0, None, "pulses of the tachometer a revolution; absent when none is connected";
    FAN_FULL_RPM: ["fan"] "full_speed_rpm", "revolutions a minute", 100.0 ..= 30000.0, Some(1500.0), "speed at full duty, for the tachometer and the sound estimate";

    HEATER_WINDOW: ["heater"] "window_s", "seconds", 0.1 ..= 120.0, Some(2.0), "window of the time-proportional output";
    HEATER_MINIMUM: ["heater"] "minimum_on_s", "seconds", 0.0 ..= 300.0, Some(0.1), "shortest time the switch stays on or off";
    HEATER_LIMIT: ["heater"] "limit_percent", "percent of full duty", 1.0 ..= 100.0, Some(100.0), "highest duty; the law's upper limit";
    MAINS: ["heater"] "mains_hz", "hertz", 40.0 ..= 70.0, Some(50.0), "mains frequency; a half-cycle is the unit of switching";

    MASS: ["plant"] "mass_joule_per_kelvin", "joule per kelvin", 1.0 ..= 1e8, None, "heat capacity of the warm parts";
    AIR: ["plant"] "air_joule_per_kelvin", "joule per kelvin", 1.0 ..= 1e8, None, "heat capacity of what the sensor hangs in";
    STILL: ["plant"] "still_w_per_kelvin", "watt per kelvin", 0.001 ..= 1e5, None, "conductance from parts to air with the fan off";
    BLOWN: ["plant"] "blown_w_per_kelvin", "watt per kelvin", 0.001 ..= 1e5, None, "what full air flow adds to that; it grows as flow to the power 0.8";
    LEAK: ["plant"] "leak_w_per_kelvin", "watt per kelvin", 0.001 ..= 1e5, None, "conductance from the inside to the surroundings, fan off";
    VENTILATION: ["plant"] "ventilation_w_per_kelvin", "watt per kelvin", 0.001 ..= 1e5, None, "heat carried out by full air flow; proportional to flow";
    LOAD: ["plant"] "load_w", "watt", 0.0 ..= 1e6, None, "heat made inside at the start";
    AMBIENT: ["plant"] "ambient_celsius", "degC", -60.0 ..= 100.0, Some(22.0), "temperature of the surroundings at the start";
    START: ["plant"] "start_celsius", "degC", -60.0 ..= 800.0, None, "temperature of the plant at the start";
    FAN_LAG: ["plant"] "fan_lag_s", "seconds", 0.05 ..= 60.0, Some(1.5), "time constant of the fan's speed";
    FAN_STALL: ["plant"] "fan_stall_percent", "percent of full duty", 0.0 ..= 90.0, Some(12.0), "duty below which a turning fan stops";
    FAN_START: ["plant"] "fan_start_percent", "percent of full duty", 0.0 ..= 95.0, Some(25.0), "duty that a standing fan needs to start";
    HEATER_POWER: ["plant"] "heater_w", "watt", 0.1 ..= 1e6, None, "heater's power at full duty";
    HEATER_MASS: ["plant"] "heater_joule_per_kelvin", "joule per kelvin", 1.0 ..= 1e7, None, "heat capacity of the heater";
    CONTENTS: ["plant"] "contents_joule_per_kelvin", "joule per kelvin", 1.0 ..= 1e8, None, "heat capacity of what is heated";
    COUPLING: ["plant"] "coupling_w_per_kelvin", "watt per kelvin", 0.001 ..= 1e5, None, "conductance from the heater to the contents";
    LOSS: ["plant"] "loss_w_per_kelvin", "watt per kelvin", 0.001 ..= 1e5, None, "conductance from the contents to the surroundings";

    DURATION: ["scenario"] "duration_s", "seconds", 60.0 ..= 604800.0, None, "length of the simulation";
    SEED: ["scenario"] "seed", "(a whole number)", 0.0 ..= 4294967295.0, Some(1.0), "seed of the simulated noise";
    EVENT_AT: ["scenario.event"] "at_s", "seconds", 0.0 ..= 604800.0, None, "when it happens";
    EVENT_LOAD: ["scenario.event"] "load_w", "watt", 0.0 ..= 1e6, None, "heat made inside from then on";
    EVENT_AMBIENT: ["scenario.event"] "ambient_celsius", "degC", -60.0 ..= 100.0, None, "temperature of the surroundings from then on";
    EVENT_SET_POINT: ["scenario.event"] "set_point_celsius", "degC", -200.0 ..= 850.0, None, "set point from then on";

    ACCEPT_PEAK: ["accept"] "peak_celsius", "degC", -200.0 ..= 900.0, None, "highest temperature that is acceptable (default: set point + 3)";
    ACCEPT_BAND: ["accept"] "band_celsius", "kelvin", 0.01 ..= 50.0, Some(0.5), "distance from the set point that counts as settled";
    ACCEPT_SETTLING: ["accept"] "settling_s", "seconds", 1.0 ..= 604800.0, Some(1800.0), "longest acceptable time to settle after a change";
    ACCEPT_HUNTING: ["accept"] "hunting_celsius", "kelvin", 0.01 ..= 50.0, Some(0.3), "largest acceptable amplitude of a sustained oscillation";
    ACCEPT_TRAVEL: ["accept"] "travel_per_hour", "full strokes an hour", 0.01 ..= 100000.0, Some(20.0), "largest acceptable sum of all changes of duty, in full strokes an hour";
    HARD_LIMIT: ["accept"] "hard_limit_celsius", "degC", -200.0 ..= 900.0, None, "temperature that must never be exceeded (default: set point + 10)";
}
