//! Random cases, the same at every run, shared between the cores.

use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rayon::prelude::*;

/// Cases a claim.
pub const CASES: u64 = 1_000_000;

/// Checks [`CASES`] cases and returns how many they were.
///
/// # Panics
/// With what `check` says of the first case that fails.
pub fn sweep(seed: u64, check: impl Fn(&mut ChaCha8Rng) -> Result<(), String> + Sync) -> u64 {
    const CHUNKS: u64 = 64;
    (0..CHUNKS)
        .into_par_iter()
        .map(|chunk| {
            let mut r = ChaCha8Rng::seed_from_u64(seed ^ (chunk << 32));
            let n = CASES / CHUNKS;
            for _ in 0..n {
                if let Err(what) = check(&mut r) {
                    panic!("{what}");
                }
            }
            n
        })
        .sum()
}

/// Any word, an end or zero one time in four, small one time in four.
pub fn word(r: &mut ChaCha8Rng) -> i16 {
    let w: i16 = r.random();
    match r.random::<u8>() % 8 {
        0 => 0,
        1 => [i16::MIN, i16::MAX, -16_384, 16_383][usize::from(w as u16 % 4)],
        2 | 3 => w >> (r.random::<u32>() % 16),
        _ => w,
    }
}
