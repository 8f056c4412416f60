//! Normal distribution function of a slice, against SciPy's `ndtr`.

use crate::subject::Subject;
use std::hint::black_box;
use steerwright_core::conformity::normal_cdf_many;

const COUNT: usize = 4096;

/// The same numbers as `tests/peers/tail.py` makes: spread evenly over -8..8, out of order.
fn arguments() -> Vec<f64> {
    (0..COUNT).map(|i| 16.0 * (i as f64 * 0.618_033_988_749_894_9).fract() - 8.0).collect()
}

pub(crate) fn subject() -> Subject {
    let z = arguments();
    let mut out = vec![0.0; COUNT];
    normal_cdf_many(&z, &mut out);
    let check = out.iter().sum();
    Subject {
        name: "tail: normal_cdf_many",
        aim: 3.0,
        ours: Box::new(move || {
            for _ in 0..100 {
                normal_cdf_many(black_box(&z), &mut out);
                black_box(&mut out);
            }
            100 * COUNT as u64
        }),
        check: Some(check),
        peer_script: "tail.py",
        peer_args: vec![COUNT.to_string()],
    }
}
