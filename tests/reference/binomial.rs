//! Exact tails of a binomial count; expected numbers by adding the single
//! probabilities as exact fractions (Python 3 `fractions`, `math.comb`).

use analytics::stats::binomial::{at_least, at_most};

#[test]
fn exact_tails() {
    for (k, n, p, more, fewer) in [
        (9, 60, 0.03, 7.281_558_271_995_65e-5, 0.999_988_732_780_491_9),
        (5, 60, 0.03, 0.033_996_166_986_982_05, 0.990_856_016_445_901_9),
        (3, 20, 0.02, 0.007_068_693_403_814_063, 0.999_400_321_103_753_4),
        (25, 400, 0.03, 0.000_552_924_721_849_872_2, 0.999_760_189_976_306),
        (2, 2_000, 0.005, 0.999_510_746_834_331_9, 0.002_724_204_818_361_608),
        (150, 150, 0.9, 1.368_914_790_585_883_6e-7, 1.0),
    ] {
        for (ours, theirs) in [(at_least(k, n, p), more), (at_most(k, n, p), fewer)] {
            assert!((ours / theirs - 1.0).abs() < 1e-10, "{k} of {n}: {ours} against {theirs}");
        }
    }
}
