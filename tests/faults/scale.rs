//! How much is tried: a little in every run, as much as is promised where it is
//! asked for.

use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;

/// `ONETRIP_FAULTS=long` asks for the long form.
#[expect(clippy::disallowed_methods, reason = "who runs the tests says how long")]
pub fn trials(short: usize, long: usize) -> usize {
    if std::env::var("ONETRIP_FAULTS").is_ok_and(|form| form == "long") { long } else { short }
}

/// Dice whose seed is told, or given as `ONETRIP_SEED`.
#[expect(clippy::disallowed_methods, reason = "who runs the tests may repeat one")]
pub fn dice(test: &str) -> ChaCha8Rng {
    let given = std::env::var("ONETRIP_SEED").ok().and_then(|seed| seed.parse().ok());
    let seed: u64 = given.unwrap_or_else(|| uuid::Uuid::new_v4().as_u64_pair().0);
    println!("{test}: ONETRIP_SEED={seed}");
    ChaCha8Rng::seed_from_u64(seed)
}
