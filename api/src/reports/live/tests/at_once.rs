//! Many write at once while others read.

use std::sync::atomic::{AtomicBool, Ordering};

use super::*;

impl Event {
    /// Whether it goes under a change number, and meets nobody else's rows.
    fn can_be_at_once(&self) -> bool {
        match self {
            Self::Rename { .. } | Self::Recode { .. } | Self::Window { .. } => false,
            Self::Beside(event) => event.can_be_at_once(),
            _ => true,
        }
    }
}

/// Writers write while readers read: whenever a rebuild is of the same change, it
/// says the same.
fn write_at_once(garage: &Garage, live: &Live, events: &[Vec<Event>]) {
    let done = AtomicBool::new(false);
    std::thread::scope(|scope| {
        let writers: Vec<_> = (1_u8..)
            .zip(events)
            .map(|(number, events)| {
                let mut garage = garage.writer(number);
                scope.spawn(move || events.iter().for_each(|event| garage.happen(event)))
            })
            .collect();
        let reader = scope.spawn(|| {
            let mut last = 0;
            while !done.load(Ordering::Relaxed) {
                let kept = live.history(&garage.db, &garage.shop).unwrap();
                assert!(last <= kept.change_no(), "a history went back");
                last = kept.change_no();
                let anew = anew(&garage.db, &garage.shop).unwrap();
                if kept.change_no() == anew.change_no() {
                    assert_eq!(told(&kept), told(&anew));
                }
            }
        });
        let ended: Vec<_> = writers.into_iter().map(std::thread::ScopedJoinHandle::join).collect();
        done.store(true, Ordering::Relaxed);
        ended.into_iter().for_each(Result::unwrap);
        reader.join().unwrap();
    });
}

fn at_once(ground: Ground, events: &[Vec<Event>]) {
    let garage = Garage::on(ground);
    let live = Live::default();
    write_at_once(&garage, &live, events);
    let kept = live.history(&garage.db, &garage.shop).unwrap();
    let anew = anew(&garage.db, &garage.shop).unwrap();
    assert_eq!(told(&kept), told(&anew));
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 3, max_shrink_iters: 10, ..ProptestConfig::default() })]
    #[test]
    fn writers_at_once_are_followed(
        events in proptest::collection::vec(
            proptest::collection::vec(event().prop_filter("at once", Event::can_be_at_once), 20..60),
            4,
        ),
    ) {
        at_once(Ground::folder(), &events);
        if let Some(ground) = Ground::database() {
            at_once(ground, &events);
        }
    }
}
