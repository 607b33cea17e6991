//! Three controllers that exist in Rust and in C: both actions, both laws, all three encodings.

use crate::checksum::Checksum;
use crate::input::{Random, any_word};
use crate::{laws, tables};
use controller_core::gain::Mantissas;
use controller_core::law::{Action, Integrating, PiState, PidState, Settings, pi, pid};
use controller_core::word::{Multiply, Native};
use sensor_math::table::{Jump, Lookup, Packed};

/// Cooling, PI, uniform table: the demo gains without D.
pub const COOL_PI: laws::Gains = laws::DEMO;
/// Cooling, PID, zones.
pub const COOL_PID: laws::Gains = laws::DEMO;
/// Fraction bits of the heating gains.
pub const HEAT_SP: u32 = 12;
/// Filter exponent of the heating law.
pub const HEAT_K: u32 = 5;
/// Heating, PID, packed table, narrow limits.
pub const HEAT_PID: Settings<i16, HEAT_SP> = Settings::<i16, HEAT_SP>::constant(
    Mantissas {
        kp: 20_000,
        ki: 91,
        kd: 40_000,
    },
    1_000,
    28_000,
    Action::Reverse,
);

/// First code of the packed table.
pub const PACKED_FIRST: u16 = 120;
/// Temperature at the first code.
pub const PACKED_ORIGIN: i16 = 12_800;
/// Behind its last code.
pub const PACKED_END: u16 = PACKED_FIRST + 832;
/// Its segments.
pub const PACKED_SEGMENTS: u8 = 12;
/// Unit 8 counts, falling, width exponent 7.
pub const PACKED_SHAPE: u8 = 0x7b;
/// Width codes (exponents 7, 7, 6, 6, 5, 5, 4, 4, 5, 6, 7, 7), then differences.
pub const PACKED_BYTES: [u8; 15] = [
    0b0010_0000,
    0b0010_0010,
    0b0001_0101,
    150,
    140,
    130,
    125,
    120,
    130,
    140,
    150,
    160,
    170,
    180,
    165,
];
/// One place to jump to.
pub const PACKED_JUMP: Jump = Jump {
    offset: 384,
    climb: 545,
    segment: 4,
    exponent: 6,
};

/// The packed table with its bytes behind an accessor.
pub const fn packed<A, M>(bytes: A) -> Packed<A, 1, tables::Fraction, M> {
    const TABLE: Packed<[u8; 15], 1, tables::Fraction> = Packed::from_bytes(
    PACKED_FIRST,
    PACKED_ORIGIN,
    PACKED_SEGMENTS,
    PACKED_SHAPE,
    PACKED_BYTES,
    [PACKED_JUMP],
);
    TABLE.read_through(bytes)
}


/// Steps of a random run on small targets.
pub const STEPS: u32 = 2_000;

/// Runs `step` over full-range set points and measurements, a new set point every eighth step; takes in the demand and
/// whatever `step` returns of its state.
pub fn random_run(seed: u32, steps: u32, mut step: impl FnMut(i16, i16) -> (i16, i32)) -> Checksum {
    let mut random = Random(seed);
    let mut checksum = Checksum::default();
    let mut set_point = 0;
    let mut index = 0;
    while index < steps {
        if index & 7 == 0 {
            set_point = any_word(&mut random);
        }
        let (demand, integral) = step(set_point, any_word(&mut random));
        checksum.word(demand);
        checksum.long(integral);
        index += 1;
    }
    checksum
}

/// The random run of the first case.
pub fn cool_pi<M: Multiply<i16>>(steps: u32) -> Checksum {
    let mut state = PiState::start(&COOL_PI);
    random_run(laws::SEED, steps, |set_point, measurement| {
        let demand = pi::step::<i16, { laws::SP }, M>(&COOL_PI, &mut state, set_point, measurement);
        (demand, state.integrator().word() as i32)
    })
}

/// The random run of the second case.
pub fn cool_pid<M: Multiply<i16>>(steps: u32) -> Checksum {
    let mut state = PidState::<_, { laws::K }>::start(&COOL_PID, 0);
    random_run(laws::SEED, steps, |set_point, measurement| {
        let demand = pid::step::<i16, { laws::SP }, { laws::K }, M>(
            &COOL_PID,
            &mut state,
            set_point,
            measurement,
        );
        (demand, state.integrator().word() as i32)
    })
}

/// The random run of the third case.
pub fn heat_pid<M: Multiply<i16>>(steps: u32) -> Checksum {
    let mut state = PidState::<_, HEAT_K>::start(&HEAT_PID, 0);
    random_run(laws::SEED, steps, |set_point, measurement| {
        let demand =
            pid::step::<i16, HEAT_SP, HEAT_K, M>(&HEAT_PID, &mut state, set_point, measurement);
        (demand, state.integrator().word() as i32)
    })
}

/// Every 16-bit code through a lookup.
pub fn every_word(lookup: impl Fn(u16) -> i16) -> Checksum {
    let mut checksum = Checksum::default();
    let mut code = 0;
    loop {
        checksum.word(lookup(code));
        if code == u16::MAX {
            return checksum;
        }
        code += 1;
    }
}

/// The tables of the three cases, every 16-bit code each.
pub fn every_word_of_each() -> [Checksum; 3] {
    let uniform = tables::uniform::<_, sensor_math::table::Native>(tables::UNIFORM_KNOTS);
    let zones = tables::zones::<_, sensor_math::table::Native>(tables::ZONES_KNOTS);
    let packed = packed::<_, sensor_math::table::Native>(PACKED_BYTES);
    [
        every_word(|code| uniform.lookup(code)),
        every_word(|code| zones.lookup(code)),
        every_word(|code| packed.lookup(code)),
    ]
}

/// The host's checksums of the three random runs.
pub fn random_runs(steps: u32) -> [Checksum; 3] {
    [
        cool_pi::<Native>(steps),
        cool_pid::<Native>(steps),
        heat_pid::<Native>(steps),
    ]
}
