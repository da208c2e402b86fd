//! Gart (1970): the exact test of one group in several strata; expected numbers
//! by convolution in exact fractions (Python 3.11).

use analytics::stats::stratified::{Stratum, two_sided};
use serde_json::json;

use crate::files::{close_within, tell};

/// Strata as (units, events, units of the group).
#[test]
fn one_group_in_several_strata() {
    let case = json!({ "case": "one group in several strata" });
    for (observed, strata, p) in [
        (6, &[(140, 9, 22)][..], 0.0009650847793276437),
        (3, &[(140, 9, 118)], 0.0009650847793276437),
        (16, &[(80, 16, 40)], 4.662926485076606e-06),
        (9, &[(10, 3, 4), (20, 5, 9), (7, 7, 3)], 0.09300825593395252),
        (12, &[(300, 40, 30), (1000, 60, 90), (50, 2, 10)], 0.5328096738472111),
        (15, &[(1000, 15, 40), (500, 20, 70), (300, 33, 120)], 0.7384133113685656),
    ] {
        let strata = strata.iter().map(|&(units, events, own)| Stratum { units, events, own });
        let ours = two_sided(observed, strata).unwrap();
        close_within(&case, &format!("p of {observed}"), (ours, p), (0.0, 1e-10));
    }
    tell("one-group-in-strata");
}
