//! Every key of the design file, one entry each, in the order of the signal path.
//!
//! A new key is one line here and one line where it is read (`section.number(&keys::NAME)`): the check of its range, the
//! error's text, `hushloop keys`, and the generator of the corpus follow from the entry.

use controller_core::drive::dither::Polarity;
use controller_core::drive::wiring::Wiring;
use controller_core::law::Action;
use sensor_math::divider::Side;

use super::Absent::{Default, Means, Needed, NeededWhen, Word};
use super::{Entry, Key, Kind, Number, Pairs, Range, SectionKey, SectionsKey, Text, Whole, Words};
use crate::design::platinum::{Class, Element};
use crate::design::sensing::{Encoding, SensorKind};

macro_rules! entry {
    ($section:literal, $key:literal, $kind:expr, $absent:expr, $meaning:literal) => {
        Entry {
            section: $section,
            name: $key,
            kind: $kind,
            absent: $absent,
            meaning: $meaning,
        }
    };
}

macro_rules! range {
    ($unit:literal, $min:literal, $max:literal) => {
        Range {
            unit: $unit,
            min: $min,
            max: $max,
        }
    };
}

/// One entry: `kind NAME("section", "key", what may stand there, what its absence means, "meaning");`.
macro_rules! key {
    (number $name:ident ($section:literal, $key:literal, $unit:literal, $min:literal ..= $max:literal, $absent:expr, $meaning:literal)) => {
        #[doc = concat!("`", $section, ".", $key, "`: ", $meaning, ".")]
        pub static $name: Number = Number {
            entry: entry!($section, $key, Kind::Number(range!($unit, $min, $max)), $absent, $meaning),
        };
    };
    (whole $name:ident ($section:literal, $key:literal, $unit:literal, $min:literal ..= $max:literal, $absent:expr, $meaning:literal)) => {
        #[doc = concat!("`", $section, ".", $key, "`: ", $meaning, ".")]
        pub static $name: Whole = Whole {
            entry: entry!($section, $key, Kind::Whole(range!($unit, $min, $max)), $absent, $meaning),
        };
    };
    (words $name:ident ($section:literal, $key:literal, $value:ty { $($word:literal = $stands:expr),* $(,)? }, $absent:expr, $meaning:literal)) => {
        #[doc = concat!("`", $section, ".", $key, "`: ", $meaning, ".")]
        pub static $name: Words<$value> = Words {
            entry: entry!($section, $key, Kind::Words(&[$($word),*]), $absent, $meaning),
            values: &[$($stands),*],
        };
    };
    (text $name:ident ($section:literal, $key:literal, $longest:literal, $absent:expr, $meaning:literal)) => {
        #[doc = concat!("`", $key, "`: ", $meaning, ".")]
        pub static $name: Text = Text {
            entry: entry!($section, $key, Kind::Text($longest), $absent, $meaning),
        };
    };
    (pairs $name:ident ($section:literal, $key:literal, ($a:literal, $a_unit:literal, $a_min:literal ..= $a_max:literal), ($b:literal, $b_unit:literal, $b_min:literal ..= $b_max:literal), $absent:expr, $meaning:literal)) => {
        #[doc = concat!("`", $section, ".", $key, "`: ", $meaning, ".")]
        pub static $name: Pairs = Pairs {
            entry: entry!($section, $key, Kind::Pairs([($a, range!($a_unit, $a_min, $a_max)), ($b, range!($b_unit, $b_min, $b_max))]), $absent, $meaning),
        };
    };
    (section $name:ident ($section:literal, $key:literal, $absent:expr, $meaning:literal)) => {
        #[doc = concat!("The section `", $key, "`: ", $meaning, ".")]
        pub static $name: SectionKey = SectionKey {
            entry: entry!($section, $key, Kind::Section, $absent, $meaning),
        };
    };
    (sections $name:ident ($section:literal, $key:literal, $absent:expr, $meaning:literal)) => {
        #[doc = concat!("The sections `", $section, ".", $key, "`: ", $meaning, ".")]
        pub static $name: SectionsKey = SectionsKey {
            entry: entry!($section, $key, Kind::Sections, $absent, $meaning),
        };
    };
}

/// Declares every key and lists them all: no entry can be left out of the list.
macro_rules! keys {
    ($($kind:ident $name:ident $entry:tt;)*) => {
        $(key!($kind $name $entry);)*
        /// All of them, in the order of the signal path.
        pub static ALL: &[&dyn Key] = &[$(&$name),*];
    };
}

keys! {
    text TITLE("", "title", 400, Word("untitled design"), "what people call the design");
    section SENSOR("", "sensor", Needed, "the sensor: its curve, its tolerances, its place");
    words KIND("sensor", "kind", SensorKind { "ntc-beta" = SensorKind::NtcBeta, "ntc-steinhart-hart" = SensorKind::SteinhartHart, "platinum" = SensorKind::Platinum, "points" = SensorKind::Points }, Needed, "what the sensor is and how its curve is given");
    number R25("sensor", "r25_ohm", "ohm", 10.0 ..= 1e7, NeededWhen("kind is \"ntc-beta\""), "thermistor's resistance at 25 degC");
    number BETA("sensor", "beta_kelvin", "kelvin", 500.0 ..= 10000.0, NeededWhen("kind is \"ntc-beta\""), "thermistor's Beta, from its data sheet");
    number SH_A("sensor", "a_per_kelvin", "1/kelvin", -0.1 ..= 0.1, NeededWhen("kind is \"ntc-steinhart-hart\" and `through` is not given"), "Steinhart-Hart A, for ln of the resistance in ohm");
    number SH_B("sensor", "b_per_kelvin", "1/kelvin", 1e-6 ..= 0.1, NeededWhen("kind is \"ntc-steinhart-hart\" and `through` is not given"), "Steinhart-Hart B");
    number SH_C("sensor", "c_per_kelvin", "1/kelvin", 0.0 ..= 0.01, NeededWhen("kind is \"ntc-steinhart-hart\" and `through` is not given"), "Steinhart-Hart C");
    number R0("sensor", "r0_ohm", "ohm", 10.0 ..= 100000.0, NeededWhen("kind is \"platinum\""), "platinum sensor's resistance at 0 degC");
    pairs THROUGH("sensor", "through", ("celsius", "degC", -270.0 ..= 1000.0), ("ohm", "ohm", 0.01 ..= 1e8), Means("a, b and c give the curve"), "three Steinhart-Hart fit points in place of a, b, c; resistance falls as temperature rises");
    pairs POINTS("sensor", "points", ("celsius", "degC", -270.0 ..= 1000.0), ("ohm", "ohm", 0.01 ..= 1e8), NeededWhen("kind is \"points\""), "measured points, at least two, temperatures rising; resistances all rise or all fall");
    number R25_TOLERANCE("sensor", "r25_tolerance_percent", "percent", 0.0 ..= 20.0, Default(1.0), "tolerance of the sensor's nominal resistance");
    number BETA_TOLERANCE("sensor", "beta_tolerance_percent", "percent", 0.0 ..= 10.0, Default(1.0), "tolerance of Beta");
    number SLOPE_TOLERANCE("sensor", "slope_tolerance_percent", "percent", 0.0 ..= 10.0, Default(0.35), "tolerance of a platinum sensor's slope, when tolerance_class is not given");
    number DISSIPATION("sensor", "dissipation_mw_per_kelvin", "milliwatt per kelvin", 0.01 ..= 1000.0, Default(2.0), "dissipation constant, for self-heating");
    number SENSOR_LAG("sensor", "lag_s", "seconds", 0.05 ..= 600.0, Default(8.0), "time constant of the sensor in its place");
    words TOLERANCE_CLASS("sensor", "tolerance_class", Class { "AA" = Class::AA, "A" = Class::A, "B" = Class::B, "C" = Class::C }, Means("r25_tolerance_percent and slope_tolerance_percent are taken"), "tolerance class of a platinum sensor by IEC 60751: a + b |t|");
    words ELEMENT("sensor", "element", Element { "film" = Element::Film, "wire" = Element::Wire }, Word("film"), "how the platinum sensor of a tolerance class is made, which limits the class's range");
    number DRIFT("sensor", "drift_celsius", "kelvin", 0.0 ..= 20.0, Default(1.5), "largest plausible but false reading this design allows for");

    section DIVIDER("", "divider", Needed, "the voltage divider that the sensor sits in");
    words SENSOR_SIDE("divider", "sensor_side", Side { "supply" = Side::Supply, "ground" = Side::Ground }, Needed, "which end of the divider the sensor is: between supply and converter, or between converter and ground");
    number RESISTOR("divider", "resistor_ohm", "ohm", 10.0 ..= 1e7, Needed, "the fixed resistor of the divider");
    number RESISTOR_TOLERANCE("divider", "resistor_tolerance_percent", "percent", 0.0 ..= 20.0, Default(1.0), "tolerance of the fixed resistor");
    number SERIES("divider", "series_ohm", "ohm", 0.001 ..= 1e6, Means("none is fitted"), "resistor (or cable) in series with the sensor");
    number PARALLEL("divider", "parallel_ohm", "ohm", 1.0 ..= 1e8, Means("none is fitted"), "resistor across the sensor");
    number FILTER("divider", "filter_nanofarad", "nanofarad", 0.01 ..= 1e6, Means("none is fitted"), "capacitor from the converter's input to ground, against hum and ripple");
    number SUPPLY("divider", "supply_volts", "volts", 0.5 ..= 30.0, Default(3.3), "voltage across the divider");

    section ADC("", "adc", Needed, "the converter from analogue to digital");
    whole BITS("adc", "bits", "bits", 8.0 ..= 16.0, Needed, "resolution of the converter");
    words FULL_SCALE("adc", "full_scale", bool { "codes" = false, "last-code" = true }, Word("codes"), "what the reference voltage stands for: one step beyond the last code, or the last code itself");
    words REFERENCE_KIND("adc", "reference", bool { "supply" = false, "fixed" = true }, Word("supply"), "the converter's reference: the divider's own supply, which then cancels, or a fixed voltage");
    number REFERENCE("adc", "reference_volts", "volts", 0.5 ..= 30.0, NeededWhen("reference is \"fixed\""), "the converter's reference voltage");
    number ADC_NOISE("adc", "noise_lsb", "LSB (root mean square)", 0.0 ..= 50.0, Default(0.5), "noise of one reading, after its burst");
    whole BURST_SAMPLES("adc", "burst_samples", "conversions", 1.0 ..= 4096.0, Default(1.0), "conversions summed into one reading; bits are those of the sum once decimated");
    number BURST_RATE("adc", "burst_hertz", "hertz", 1.0 ..= 1e7, NeededWhen("burst_samples is above 1"), "rate of the conversions of a burst");
    number ADC_OFFSET("adc", "offset_lsb", "LSB", 0.0 ..= 50.0, Default(1.0), "largest offset error of the converter");
    number ADC_GAIN("adc", "gain_error_percent", "percent of full scale", 0.0 ..= 10.0, Default(0.1), "largest gain error of the converter");

    section TABLE("", "table", Needed, "the table from codes to degrees");
    number LOW("table", "low_celsius", "degC", -200.0 ..= 850.0, Needed, "lowest temperature the table covers");
    number HIGH("table", "high_celsius", "degC", -200.0 ..= 850.0, Needed, "highest temperature the table covers");
    number TABLE_ERROR("table", "error_celsius", "kelvin", 0.002 ..= 10.0, Default(0.1), "largest error of the table over every code, rounding included");
    words ENCODING("table", "encoding", Encoding { "uniform" = Encoding::Uniform, "zones" = Encoding::Zones, "packed" = Encoding::Packed, "smallest" = Encoding::Smallest }, Word("zones"), "layout: equal steps (fastest), two or three zones of equal steps (constant time), free knots that are scanned (fewest bytes), or whatever has the fewest bytes");

    section LOOP("", "loop", Needed, "the control loop; `divider` and `table` do without it");
    words ACTION("loop", "action", Action { "cooling" = Action::Direct, "heating" = Action::Reverse }, Needed, "what more duty does: cooling drives the section fan, heating the section heater");
    number SET_POINT("loop", "set_point_celsius", "degC", -200.0 ..= 850.0, Needed, "the wanted temperature");
    number PERIOD("loop", "period_s", "seconds", 0.01 ..= 60.0, Needed, "sample period of the loop");
    number KP("loop", "kp_percent_per_kelvin", "percent of full duty per kelvin", 0.0 ..= 10000.0, Needed, "proportional gain");
    number KI("loop", "ki_percent_per_kelvin_second", "percent of full duty per kelvin and second", 0.0 ..= 1000.0, Needed, "integral gain");
    number KD("loop", "kd_percent_second_per_kelvin", "percent of full duty times seconds per kelvin", 0.0 ..= 100000.0, Default(0.0), "derivative gain, on the filtered measurement");
    whole D_FILTER("loop", "derivative_filter_samples", "samples, a power of two", 2.0 ..= 256.0, Default(8.0), "time constant of the derivative's filter");
    number TRIP("loop", "trip_celsius", "degC", -200.0 ..= 850.0, Needed, "over-temperature trip: latched, actuator to its safe state");

    section FAN("", "fan", NeededWhen("action is \"cooling\""), "the fans that the demand drives");
    whole FAN_COUNT("fan", "count", "fans", 1.0 ..= 8.0, Default(1.0), "fans that share the demand");
    number FAN_FLOOR("fan", "floor_percent", "percent of full duty", 1.0 ..= 90.0, Needed, "lowest duty ever applied; the law's lower limit");
    number FAN_SPIN_UP("fan", "spin_up_percent", "percent of full duty", 10.0 ..= 100.0, Default(100.0), "duty of the push that starts a fan");
    number FAN_SPIN_UP_TIME("fan", "spin_up_s", "seconds", 0.0 ..= 30.0, Default(2.0), "length of that push");
    number FAN_SLEW("fan", "slew_percent_per_s", "percent of full duty per second", 0.1 ..= 1000.0, Default(20.0), "fastest change of duty, for the ear");
    whole PWM_COUNTS("fan", "pwm_period_counts", "timer counts", 16.0 ..= 65535.0, Default(320.0), "period of the PWM timer");
    number PWM_RATE("fan", "pwm_hertz", "hertz", 10.0 ..= 1e6, Default(25000.0), "frequency of the fan's PWM, whose ripple reaches the divider");
    whole FAN_PULSES("fan", "tachometer_pulses", "pulses a revolution", 1.0 ..= 8.0, Means("no tachometer is connected"), "pulses of the tachometer a revolution");
    number FAN_FULL_RPM("fan", "full_speed_rpm", "revolutions a minute", 100.0 ..= 30000.0, Default(1500.0), "speed at full duty, for the tachometer and the sound estimate");

    words FAN_WIRING("fan", "wiring", Wiring { "four-wire" = Wiring::FourWire, "three-wire-supply" = Wiring::ThreeWireLinear, "three-wire-transistor" = Wiring::ThreeWireChopped }, Word("four-wire"), "how the speed is set: on a control input, by a supply that is lowered, or by a transistor that chops it, which blinds the tachometer below full duty");
    words FAN_ACTIVE("fan", "pwm_active", Polarity { "high" = Polarity::ActiveHigh, "low" = Polarity::ActiveLow }, Word("high"), "level of the pin that drives; low where a transistor inverts it");
    number FAN_STOP("fan", "stop_percent", "percent of full duty", 0.0 ..= 90.0, Means("the fan always turns"), "highest demand at which a turning fan stops; the law's lower limit is then 0");
    number FAN_RESTART("fan", "start_percent", "percent of full duty", 0.1 ..= 95.0, NeededWhen("stop_percent is given"), "lowest demand at which a stopped fan starts again; above stop_percent, and the gap keeps it from doing both every minute");

    section HEATER("", "heater", NeededWhen("action is \"heating\""), "the heater that the demand switches");
    number HEATER_WINDOW("heater", "window_s", "seconds", 0.1 ..= 120.0, Default(2.0), "window of the time-proportional output");
    number HEATER_MINIMUM("heater", "minimum_on_s", "seconds", 0.0 ..= 300.0, Default(0.1), "shortest time the switch stays on or off");
    words HEATER_OUTPUT("heater", "output", bool { "switch" = false, "pwm" = true }, Word("switch"), "a relay or mains switch, time-proportional within a window; or a transistor on a PWM pin");
    whole HEATER_PWM_COUNTS("heater", "pwm_period_counts", "timer counts", 16.0 ..= 65535.0, Default(1000.0), "period of the PWM timer, with output = \"pwm\"");
    number HEATER_PWM_RATE("heater", "pwm_hertz", "hertz", 1.0 ..= 1e6, Default(1000.0), "frequency of that PWM, whose ripple reaches the divider");
    words HEATER_ACTIVE("heater", "pwm_active", Polarity { "high" = Polarity::ActiveHigh, "low" = Polarity::ActiveLow }, Word("high"), "level of that pin that drives; low where a transistor inverts it");
    number HEATER_LIMIT("heater", "limit_percent", "percent of full duty", 1.0 ..= 100.0, Default(100.0), "highest duty; the law's upper limit");
    number MAINS("heater", "mains_hz", "hertz", 40.0 ..= 70.0, Default(50.0), "mains frequency; a half-cycle is the unit of switching");

    section PLANT("", "plant", Needed, "what the loop is tried on: an enclosure for cooling, a vessel for heating");
    number MASS("plant", "mass_joule_per_kelvin", "joule per kelvin", 1.0 ..= 1e8, NeededWhen("action is \"cooling\""), "heat capacity of the warm parts");
    number AIR("plant", "air_joule_per_kelvin", "joule per kelvin", 1.0 ..= 1e8, NeededWhen("action is \"cooling\""), "heat capacity of what the sensor hangs in");
    number STILL("plant", "still_w_per_kelvin", "watt per kelvin", 0.001 ..= 1e5, NeededWhen("action is \"cooling\""), "conductance from parts to air with the fan off");
    number BLOWN("plant", "blown_w_per_kelvin", "watt per kelvin", 0.001 ..= 1e5, NeededWhen("action is \"cooling\""), "what full air flow adds to that; it grows as flow to the power 0.8");
    number LEAK("plant", "leak_w_per_kelvin", "watt per kelvin", 0.001 ..= 1e5, NeededWhen("action is \"cooling\""), "conductance from the inside to the surroundings, fan off");
    number VENTILATION("plant", "ventilation_w_per_kelvin", "watt per kelvin", 0.001 ..= 1e5, NeededWhen("action is \"cooling\""), "heat carried out by full air flow; proportional to flow");
    number LOAD("plant", "load_w", "watt", 0.0 ..= 1e6, NeededWhen("action is \"cooling\""), "heat made inside at the start");
    number AMBIENT("plant", "ambient_celsius", "degC", -60.0 ..= 100.0, Default(22.0), "temperature of the surroundings at the start");
    number START("plant", "start_celsius", "degC", -60.0 ..= 800.0, Means("as the surroundings"), "temperature of the plant at the start");
    number FAN_LAG("plant", "fan_lag_s", "seconds", 0.05 ..= 60.0, Default(1.5), "time constant of the fan's speed");
    number FAN_STALL("plant", "fan_stall_percent", "percent of full duty", 0.0 ..= 90.0, Default(12.0), "duty below which a turning fan stops");
    number FAN_START("plant", "fan_start_percent", "percent of full duty", 0.0 ..= 95.0, Default(25.0), "duty that a standing fan needs to start");
    number HEATER_POWER("plant", "heater_w", "watt", 0.1 ..= 1e6, NeededWhen("action is \"heating\""), "heater's power at full duty");
    number HEATER_MASS("plant", "heater_joule_per_kelvin", "joule per kelvin", 1.0 ..= 1e7, NeededWhen("action is \"heating\""), "heat capacity of the heater");
    number CONTENTS("plant", "contents_joule_per_kelvin", "joule per kelvin", 1.0 ..= 1e8, NeededWhen("action is \"heating\""), "heat capacity of what is heated");
    number COUPLING("plant", "coupling_w_per_kelvin", "watt per kelvin", 0.001 ..= 1e5, NeededWhen("action is \"heating\""), "conductance from the heater to the contents");
    number LOSS("plant", "loss_w_per_kelvin", "watt per kelvin", 0.001 ..= 1e5, NeededWhen("action is \"heating\""), "conductance from the contents to the surroundings");

    section SCENARIO("", "scenario", Needed, "the simulated run");
    number DURATION("scenario", "duration_s", "seconds", 60.0 ..= 604800.0, Needed, "length of the simulation");
    whole SEED("scenario", "seed", "(any)", 0.0 ..= 4294967295.0, Default(1.0), "seed of the simulated noise");
    sections EVENT("scenario", "event", Means("nothing changes"), "a change during the run, in order of time");
    number EVENT_AT("scenario.event", "at_s", "seconds", 0.0 ..= 604800.0, Needed, "when it happens");
    number EVENT_LOAD("scenario.event", "load_w", "watt", 0.0 ..= 1e6, Means("stays as it is"), "heat made inside from then on");
    number EVENT_AMBIENT("scenario.event", "ambient_celsius", "degC", -60.0 ..= 100.0, Means("stays as it is"), "temperature of the surroundings from then on");
    number EVENT_SET_POINT("scenario.event", "set_point_celsius", "degC", -200.0 ..= 850.0, Means("stays as it is"), "set point from then on");

    section ACCEPT("", "accept", Means("all its defaults"), "what the maker will accept: the verdict is measured against it");
    number ACCEPT_PEAK("accept", "peak_celsius", "degC", -200.0 ..= 900.0, Means("set point + 3"), "highest temperature that is acceptable");
    number ACCEPT_BAND("accept", "band_celsius", "kelvin", 0.01 ..= 50.0, Default(0.5), "distance from the set point that counts as settled");
    number ACCEPT_SETTLING("accept", "settling_s", "seconds", 1.0 ..= 604800.0, Default(1800.0), "longest acceptable time to settle after a change");
    number ACCEPT_HUNTING("accept", "hunting_celsius", "kelvin", 0.01 ..= 50.0, Default(0.3), "largest acceptable amplitude of a sustained oscillation");
    number ACCEPT_UNDERSHOOT("accept", "undershoot_celsius", "kelvin", 0.01 ..= 1000.0, Default(3.0), "largest acceptable depth below the set point once it was reached; a fan's floor that cools too much does not count");
    number ACCEPT_TRAVEL("accept", "travel_per_hour", "full strokes an hour", 0.01 ..= 100000.0, Default(20.0), "largest acceptable sum of the duty's changes that are slower than the sensor, in full strokes an hour");
    number ACCEPT_JITTER("accept", "jitter_per_hour", "full strokes an hour", 0.01 ..= 1000000.0, Default(60.0), "largest acceptable sum of its changes that are noise or steps of the converter, in full strokes an hour");
    number ACCEPT_STEP("accept", "duty_step_percent", "percent of full duty", 0.1 ..= 100.0, Means("10 for fans, 100 for a heater"), "largest acceptable change of the duty from one sample to the next, once the set point was reached");
    number ACCEPT_STARTS("accept", "starts_per_hour", "starts an hour", 0.0 ..= 100000.0, Means("0 for fans, no limit for a heater"), "acceptable starts of a fan after its first, or of a heater's switch; above 0 a fan may stop");
    number ACCEPT_SENSITIVITY("accept", "sensitivity_max", "(a ratio)", 1.05 ..= 10.0, Default(2.0), "largest acceptable maximum sensitivity Ms of the loop at any operating point");
    number HARD_LIMIT("accept", "hard_limit_celsius", "degC", -200.0 ..= 900.0, Means("set point + 10"), "temperature that must never be exceeded");
}
