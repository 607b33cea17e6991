//! Random cases, the same at every run, shared between the cores.

use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use rayon::prelude::*;

/// Cases a claim.
pub const CASES: u64 = 1_000_000;

/// Checks [`CASES`] cases and returns how many they were.
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
