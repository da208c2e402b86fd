//! How histories are read: once, by many, in the background.

use super::*;

#[test]
fn what_nobody_changed_is_not_read_again() {
    let mut garage = Garage::new();
    garage.open(0, 0);
    garage.hand_over(0);
    let live = Live::default();
    let one = live.history(&garage.db, &garage.shop).unwrap();
    // The job's own figures: 40 minutes on the clock, one check.
    assert_eq!(one.labor().minutes, [40]);
    assert_eq!((one.jobs().closed_day.len(), one.checks().check.len()), (1, 1));
    let technician = one.jobs().technician[0];
    assert_eq!(one.text(technician), Some("First name"));
    // Somebody removes rows past every rule: who reads again would miss them.
    garage.db.write_blocking(|conn| Ok(diesel::delete(labor_entry::table).execute(conn)?)).unwrap();
    let two = live.clone().history(&garage.db, &garage.shop).unwrap();
    assert_eq!(two.labor().minutes, [40]);
}

#[test]
fn several_shops_are_read_at_once_in_the_order_asked() {
    let garage = Garage::new();
    let group = garage.shop.group_id.clone();
    let new = NewShop { code: "OTHER".into(), ..new_shop() };
    let other = garage.db.write_blocking(move |conn| make(conn, &group, &new)).unwrap();
    let live = Live::default();
    let asked = [other, garage.shop.clone()];
    let codes = live.with_all(&garage.db, &asked, |all| {
        all.iter().map(|(_, history)| history.facts().code.clone()).collect::<Vec<_>>()
    });
    assert_eq!(codes.unwrap(), ["OTHER", "TEST"]);
}

#[test]
fn a_reader_that_panics_leaves_the_history_as_it_was() {
    let mut garage = Garage::new();
    garage.open(0, 0);
    garage.hand_over(0);
    let live = Live::default();
    let broken = std::thread::scope(|scope| {
        let reader = || live.with(&garage.db, &garage.shop, |_| panic!("a report breaks off"));
        scope.spawn(reader).join().is_err()
    });
    assert!(broken);
    garage.open(1, 1);
    garage.hand_over(0);
    let history = live.history(&garage.db, &garage.shop).unwrap();
    assert_eq!(history.jobs().closed_day.len(), 2);
}

/// Its readers wait for no shop.
fn impatient() -> Live {
    Live(Arc::new(Shared { small: 0, ..Shared::default() }))
}

#[test]
fn nobody_waits_for_a_large_history() {
    let mut garage = Garage::new();
    garage.open(0, 0);
    garage.hand_over(0);
    let live = impatient();
    let ask = || live.history(&garage.db, &garage.shop);
    let Err(Fault::NotReady(how_far)) = ask() else { panic!("somebody waited") };
    assert_eq!(how_far, "the record is being read for reports: 0 of 1 shop done");
    let history = loop {
        match ask() {
            Ok(history) => break history,
            Err(Fault::NotReady(_)) => std::thread::yield_now(),
            Err(fault) => panic!("{fault:?}"),
        }
    };
    assert_eq!(history.jobs().closed_day.len(), 1);
    // Once it is there, what is new is in every answer.
    garage.open(1, 1);
    garage.hand_over(0);
    let history = live.history(&garage.db, &garage.shop).unwrap();
    assert_eq!(history.jobs().closed_day.len(), 2);
    // Another name may stand on every row: all is read anew.
    garage.rename(1);
    assert!(matches!(live.history(&garage.db, &garage.shop), Err(Fault::NotReady(_))));
}

#[test]
fn histories_are_read_in_the_background() {
    let mut garage = Garage::new();
    garage.open(0, 0);
    garage.hand_over(0);
    let live = Live::default();
    assert_eq!(live.progress(1), Progress { ready: 1, of: 1 });
    live.begin(&garage.db).unwrap();
    let slot = live.slot(garage.shop.id);
    while live.progress(1) != (Progress { ready: 1, of: 1 }) {
        std::thread::yield_now();
    }
    assert!(slot.is_filled());
    garage.open(1, 1);
    garage.hand_over(0);
    let history = live.history(&garage.db, &garage.shop).unwrap();
    assert_eq!(history.jobs().closed_day.len(), 2);
}

#[test]
fn typical_minutes_are_followed_though_no_job_is_touched() {
    let garage = Garage::new();
    let live = Live::default();
    let listed = |live: &Live| {
        let history = live.history(&garage.db, &garage.shop).unwrap();
        history.facts().check_minutes.get("terminals-resting-voltage").copied()
    };
    let set = |minutes: Option<i32>| {
        garage.write(move |write| {
            let check = code_entry::table.filter(
                code_entry::shop_id
                    .eq(write.shop.id)
                    .and(code_entry::list.eq("check"))
                    .and(code_entry::code.eq("terminals-resting-voltage")),
            );
            diesel::update(check)
                .set(code_entry::typical_minutes.eq(minutes))
                .execute(write.conn)?;
            Ok(())
        });
    };
    for minutes in [Some(9), None, Some(4)] {
        set(minutes);
        assert_eq!(listed(&live), minutes.map(i64::from));
    }
}

#[test]
fn readers_at_once_get_one_history() {
    let mut garage = Garage::new();
    for visit in 0..4 {
        garage.open(visit, 0);
        garage.hand_over(0);
    }
    let live = Live::default();
    let seen: Vec<usize> = std::thread::scope(|scope| {
        let readers: Vec<_> = (0..8)
            .map(|_| scope.spawn(|| live.history(&garage.db, &garage.shop).unwrap()))
            .collect();
        readers.into_iter().map(|r| r.join().unwrap().jobs().closed_day.len()).collect()
    });
    assert_eq!(seen, [4; 8]);
}

#[test]
fn a_void_visit_takes_its_links_along() {
    let mut garage = Garage::new();
    garage.open(0, 0);
    garage.hand_over(0);
    garage.open(0, 0);
    garage.link(0, 0, true);
    let live = Live::default();
    let history = live.history(&garage.db, &garage.shop).unwrap();
    assert_eq!((history.links().len(), history.jobs().closed_day.len()), (1, 1));
    // Only the later order is stamped; the earlier job must come anew as well.
    garage.void(0);
    let history = live.history(&garage.db, &garage.shop).unwrap();
    assert_eq!((history.links().len(), history.jobs().closed_day.len()), (0, 1));
    let part_came_back = history.parts().returned_day[0];
    assert_eq!(part_came_back, i32::MAX, "a part return of a visit that never was");
}
