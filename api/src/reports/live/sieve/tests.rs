use proptest::prelude::*;

use super::*;

proptest! {
    /// What a report as of a day saw is told apart exactly by the changes it could see.
    #[test]
    fn a_day_is_told_of_the_last_change_it_can_see(
        changes in proptest::collection::vec(-3_i32..10, 0..20),
        day in -4_i32..12,
    ) {
        let mut moves = Moves::new(0);
        for (number, since) in (1_u64..).zip(&changes) {
            moves.note(*since, number);
        }
        let seen = (1_u64..).zip(&changes).filter(|(_, since)| **since <= day);
        prop_assert_eq!(moves.seen_by(day), seen.map(|(number, _)| number).max().unwrap_or(0));
        prop_assert_eq!(moves.last(), u64::try_from(changes.len()).unwrap());
    }
}

#[test]
fn rows_are_the_same_in_any_order_but_not_by_number_alone() {
    assert!(same(&[&1, &2, &2], &[2, 1, 2]));
    assert!(!same(&[&1, &2, &2], &[1, 1, 2]));
    assert!(!same(&[&1], &[1, 1]));
    assert!(same::<i32>(&[], &[]));
}
