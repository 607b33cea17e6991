//! A trial of a pair: a C program that looks up every code, runs the law over a scenario and over random inputs, and
//! prints checksums; and what it must print according to the two crates. Tests compile it for the host, the target
//! runner for the targets.

use std::fmt::Write;

use controller_core::law::{Integrating, PiState, PidState, Settings, pi, pid};
use controller_core::word::Native;

use super::Controller;
use crate::integers::{LawIntegers, with_filter, with_scale};

/// Start of the random inputs; anything but 0.
const SEED: u32 = 0x0123_4567;

/// What is tried.
#[derive(Clone, Debug)]
pub struct Trial<'a> {
    /// The controller that the pair was emitted from.
    pub controller: &'a Controller,
    /// A scenario: set point and code of each sample. A code that is a fault starts the law anew.
    pub samples: &'a [(i16, u16)],
    /// Random steps over all words.
    pub random_steps: u32,
}

impl Trial<'_> {
    /// The C program, C99. It prints through `PUT(character)` and ends with `END()` where those are defined, otherwise
    /// by `stdio.h`.
    #[must_use]
    pub fn program(&self) -> String {
        let (prefix, file) = (&self.controller.prefix, &self.controller.file);
        let mut samples = String::new();
        for line in self.samples.chunks(8) {
            let line: Vec<String> = line
                .iter()
                .map(|(set_point, code)| format!("{{ {set_point}, {code}u }}"))
                .collect();
            let _ = writeln!(samples, "    {},", line.join(", "));
        }
        format!(
            r#"#include "{file}.h"
#ifndef PUT
#include <stdio.h>
#define PUT(character) putchar(character)
#define END() return 0
#endif

static const struct {{ int16_t set_point; uint16_t code; }} samples[] = {{
{samples}}};

static uint32_t sum;
static uint32_t random_state;

static void word(uint16_t value) {{ sum = ((sum << 5) | (sum >> 27)) + value; }}
static void wide(uint32_t value)
{{
    word((uint16_t)value);
    word((uint16_t)(value >> 16));
}}
static void say(const char *name)
{{
    int digit;
    while (*name) {{ PUT(*name); name++; }}
    PUT(' ');
    for (digit = 28; digit >= 0; digit -= 4) PUT("0123456789abcdef"[(sum >> digit) & 15u]);
    PUT('\n');
    sum = 0;
}}
static uint16_t random_word(void)
{{
    random_state ^= random_state << 13;
    random_state ^= random_state >> 17;
    random_state ^= random_state << 5;
    return (uint16_t)(random_state >> 8);
}}
static int16_t any_word(void)
{{
    uint16_t choice = random_word() & 15u;
    int16_t value = (int16_t)random_word();
    if (choice == 0) return -32767 - 1;
    if (choice == 1) return 32767;
    if (choice == 2) return 0;
    return choice < 8 ? (int16_t)(value >> 8) : value;
}}

int main(void)
{{
    {prefix}_state state;
    int16_t set_point = 0;
    uint8_t started = 0;
    uint32_t i;
    sum = 0;
    random_state = {SEED}u;
    for (i = 0; i < 65536u; i++) word((uint16_t){prefix}_temperature((uint16_t)i));
    say("temperatures");
    for (i = 0; i < 65536u; i++) word({prefix}_fault((uint16_t)i));
    say("faults");
    for (i = 0; i < {count}u; i++) {{
        int16_t measurement = {prefix}_temperature(samples[i].code);
        if ({prefix}_fault(samples[i].code)) {{ started = 0; continue; }}
        if (!started) {prefix}_start(&state, measurement);
        started = 1;
        word((uint16_t){prefix}_step(&state, samples[i].set_point, measurement));
        wide((uint32_t)state.integral);
    }}
    say("scenario");
    {prefix}_start(&state, 0);
    for (i = 0; i < {steps}u; i++) {{
        int16_t measurement = any_word();
        if ((i & 7u) == 0) set_point = any_word();
        word((uint16_t){prefix}_step(&state, set_point, measurement));
        wide((uint32_t)state.integral);
    }}
    say("random");
    END();
}}
"#,
            count = self.samples.len(),
            steps = self.random_steps,
        )
    }

    /// What the program must print: the same by the crates.
    ///
    /// # Panics
    /// When the law's constructor refuses the integers.
    #[must_use]
    pub fn expected(&self) -> String {
        let controller = self.controller;
        let mut sum = Checksum(0);
        let mut text = String::new();
        for code in 0..=u16::MAX {
            sum.word(controller.table.lookup(code) as u16);
        }
        sum.say("temperatures", &mut text);
        for code in 0..=u16::MAX {
            sum.word(
                controller
                    .limits
                    .fault(code)
                    .map_or(0, |fault| fault.to_byte())
                    .into(),
            );
        }
        sum.say("faults", &mut text);
        let mut law = law(&controller.law);
        let mut started = false;
        for (set_point, code) in self.samples {
            if controller.limits.fault(*code).is_some() {
                started = false;
                continue;
            }
            let measurement = controller.table.lookup(*code);
            if !started {
                law.start(measurement);
            }
            started = true;
            sum.word(law.step(*set_point, measurement) as u16);
            sum.wide(law.integral());
        }
        sum.say("scenario", &mut text);
        law.start(0);
        let mut random = Random(SEED);
        let mut set_point = 0;
        for step in 0..self.random_steps {
            let measurement = random.any_word();
            if step & 7 == 0 {
                set_point = random.any_word();
            }
            sum.word(law.step(set_point, measurement) as u16);
            sum.wide(law.integral());
        }
        sum.say("random", &mut text);
        text
    }
}

struct Checksum(u32);

impl Checksum {
    fn word(&mut self, value: u16) {
        self.0 = self.0.rotate_left(5).wrapping_add(value.into());
    }
    fn wide(&mut self, value: u32) {
        self.word(value as u16);
        self.word((value >> 16) as u16);
    }
    fn say(&mut self, name: &str, text: &mut String) {
        let _ = writeln!(text, "{name} {:08x}", self.0);
        self.0 = 0;
    }
}

/// Marsaglia's xorshift, "Xorshift RNGs", Journal of Statistical Software 8 (14), 2003: shifts 13, 17, 5.
struct Random(u32);

impl Random {
    fn word(&mut self) -> u16 {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 17;
        self.0 ^= self.0 << 5;
        (self.0 >> 8) as u16
    }
    /// Every word, small ones and the ends more often.
    fn any_word(&mut self) -> i16 {
        let choice = self.word() & 15;
        let value = self.word() as i16;
        match choice {
            0 => i16::MIN,
            1 => i16::MAX,
            2 => 0,
            3..8 => value >> 8,
            _ => value,
        }
    }
}

/// A law of the crates with its state.
trait Law {
    fn start(&mut self, first_measurement: i16);
    fn step(&mut self, set_point: i16, measurement: i16) -> i16;
    fn integral(&self) -> u32;
}

struct Pi<const SP: u32>(Settings<i16, SP>, PiState<i16>);

impl<const SP: u32> Law for Pi<SP> {
    fn start(&mut self, _: i16) {
        self.1 = PiState::start(&self.0);
    }
    fn step(&mut self, set_point: i16, measurement: i16) -> i16 {
        pi::step::<i16, SP, Native>(&self.0, &mut self.1, set_point, measurement)
    }
    fn integral(&self) -> u32 {
        self.1.integrator().word()
    }
}

struct Pid<const SP: u32, const K: u32>(Settings<i16, SP>, PidState<i16, K>);

impl<const SP: u32, const K: u32> Law for Pid<SP, K> {
    fn start(&mut self, first_measurement: i16) {
        self.1 = PidState::<_, K>::start(&self.0, first_measurement);
    }
    fn step(&mut self, set_point: i16, measurement: i16) -> i16 {
        pid::step::<i16, SP, K, Native>(&self.0, &mut self.1, set_point, measurement)
    }
    fn integral(&self) -> u32 {
        self.1.integrator().word()
    }
}

fn law(k: &LawIntegers) -> Box<dyn Law> {
    with_scale!(k.scale, SP => {
        let settings = k.settings::<SP>().expect("integers that the constructor accepts");
        if k.has_derivative() {
            with_filter!(k.filter_exponent, K => {
                Box::new(Pid::<SP, K>(settings, PidState::<_, K>::start(&settings, 0)))
            }, else panic!("a filter exponent of at most 8"))
        } else {
            Box::new(Pi::<SP>(settings, PiState::start(&settings)))
        }
    }, else panic!("1 to 15 fraction bits"))
}
