//! A book written by a reproducible sequence of steps, so that the state after an interruption can be
//! compared.

mod clock;
mod state;
mod step;

pub use clock::StepClock;
pub use state::{state, unsound};
pub use step::{CrashFixture, Step, plan};

/// The next pseudorandom number (SplitMix64; Steele, Lea, Flood: Fast splittable pseudorandom number
/// generators, OOPSLA 2014).
pub fn mix(seed: &mut u64) -> u64 {
    *seed = seed.wrapping_add(0x9e37_79b9_7f4a_7c15);
    let mut z = *seed;
    z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
    z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
    z ^ (z >> 31)
}

#[cfg(test)]
mod tests {
    /// The first numbers from seed 1234567, as in the generator's public test vector (flag M).
    #[test]
    fn the_row_of_numbers() {
        let mut seed = 1_234_567;
        let row: Vec<u64> = (0..3).map(|_| super::mix(&mut seed)).collect();
        assert_eq!(row, [6_457_827_717_110_365_317, 3_203_168_211_198_807_973, 9_817_491_932_198_370_423]);
    }
}
