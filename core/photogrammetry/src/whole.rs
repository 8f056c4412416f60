//! Whole numbers of singles, several at a time.

/// The whole number nearest to a number from 0 to below 2^23, of two as near the even one.
///
/// A single of 2^23 or more has no fraction, so that adding that leaves the whole number in its last 23 bits: what the
/// compiler does for several numbers at a time, where a cast looks at each. Meaningless for any other number.
#[inline(always)]
pub(crate) fn nearest(value: f32) -> u32 {
    const ALL: f32 = 8_388_608.0;
    (value + ALL).to_bits() & 0x007f_ffff
}

#[cfg(test)]
mod tests {
    use super::nearest;

    #[test]
    fn to_the_last_place() {
        let last = 32_767.0 * 256.0;
        for (value, number) in [
            (0.0, 0),
            (0.49, 0),
            (0.51, 1),
            (2.5, 2),
            (100.75, 101),
            (last - 1.0, 8_388_351),
            (last, 8_388_352),
        ] {
            assert_eq!(nearest(value), number, "{value}");
        }
    }
}
