//! Puts a week's visits of one crew into its days and hours: nobody is at two
//! jobs at once, and a visit is opened before its work and closed after it.

use std::cmp::Reverse;
use std::ops::Range;

use analytics::words::{Activity, WorkedAs};

use super::calendar::{DAYS, FRIDAY, MONDAY, SATURDAY, Week};
use super::dice::Dice;
use super::planned::{Apprentice, Planned};
use super::sheet::Minutes;

/// Technicians who lead, in a crew; the apprentice comes behind them.
pub(super) const LEADS: usize = 3;

/// Minutes of the day: doors open, work begins, lunch, doors close.
const OPEN: i32 = 7 * 60 + 30;
const BEGIN: i32 = 8 * 60;
const NOON: i32 = 11 * 60 + 45;
const LUNCH: i32 = 40;
const CLOSE: i32 = 18 * 60;
const SATURDAY_CLOSE: i32 = 13 * 60;
/// From when on a Friday counts as late.
pub(super) const LATE: i32 = 15 * 60;
const GAP: i32 = 5;
/// Work that one person can do on a day, gaps apart.
const DAY_MINUTES: i32 = 520;
const SATURDAY_MINUTES: i32 = 260;
/// On a Friday with a late car, before it comes in.
const BEFORE_LATE: i32 = 350;
/// On the record's last day, so that orders that stay open can be begun.
const LAST_DAY: i32 = 400;

/// A piece of work of one person; minutes of the day.
#[derive(Debug, Clone)]
pub(super) struct Entry {
    /// Place in the crew; [`LEADS`] is the apprentice.
    pub who: usize,
    pub activity: Activity,
    pub minutes: Range<i32>,
    pub worked_as: WorkedAs,
}

/// A visit with its times. Days are places in the week.
#[derive(Debug)]
pub(super) struct Slot {
    pub planned: Planned,
    pub opened: (usize, i32),
    pub closed: (usize, i32),
    pub worked: usize,
    /// By job.
    pub labor: Vec<Vec<Entry>>,
}

/// What a week is like besides its days.
#[derive(Debug, Clone, Copy)]
pub(super) struct Rules {
    /// How often the apprentice works on a job when free, percent.
    pub apprentice_share: u32,
    /// Visits are closed on a Monday only where that is their fixed day.
    pub planned_mondays: bool,
    /// The day, if any, on which work ends early.
    pub short_day: Option<usize>,
}

/// Minutes already given to each lead by day.
struct Load<'a> {
    week: &'a Week,
    rules: Rules,
    late: [bool; LEADS],
    given: [[i32; DAYS]; LEADS],
}

impl Load<'_> {
    fn limit(&self, lead: usize, day: usize) -> i32 {
        let late = self.late.get(lead).copied().unwrap_or(false);
        let mut limit = if day == SATURDAY { SATURDAY_MINUTES } else { DAY_MINUTES };
        if day == FRIDAY && late {
            limit = BEFORE_LATE;
        }
        if self.rules.short_day == Some(day) {
            limit = limit.min(LAST_DAY);
        }
        limit
    }

    fn left(&self, lead: usize, day: usize) -> i32 {
        let given = self.given.get(lead).and_then(|days| days.get(day));
        self.limit(lead, day) - given.copied().unwrap_or(0)
    }

    fn give(&mut self, lead: usize, day: usize, minutes: i32) {
        if let Some(given) = self.given.get_mut(lead).and_then(|days| days.get_mut(day)) {
            *given += minutes + GAP;
        }
    }

    fn lightest(&self, lead: usize) -> usize {
        self.week
            .open_days()
            .max_by_key(|day| (self.left(lead, *day), Reverse(*day)))
            .unwrap_or(MONDAY)
    }
}

/// The slots of a week, in no order.
pub(super) fn schedule(
    week: &Week,
    visits: Vec<Planned>,
    rules: Rules,
    dice: &mut Dice,
) -> Vec<Slot> {
    let mut days = assign(week, visits, rules);
    let mut slots = Vec::new();
    for (day, visits) in days.iter_mut().enumerate() {
        dice.shuffle(visits);
        let mut bench = Bench::default();
        // What the apprentice must do comes first in the day, late cars last.
        visits.sort_by_key(|visit| (visit.apprentice != Apprentice::Must, visit.late));
        for visit in std::mem::take(visits) {
            slots.push(bench.place(week, day, visit, rules, dice));
        }
    }
    slots
}

/// The visits of each day of the week.
fn assign(week: &Week, mut visits: Vec<Planned>, rules: Rules) -> Vec<Vec<Planned>> {
    let mut load = Load { week, rules, late: [false; LEADS], given: [[0; DAYS]; LEADS] };
    for visit in visits.iter().filter(|visit| visit.late) {
        if let Some(late) = visit.lead.and_then(|lead| load.late.get_mut(lead)) {
            *late = true;
        }
    }
    let mut days: Vec<Vec<Planned>> = (0..DAYS).map(|_| Vec::new()).collect();
    // Fixed days first, then the long jobs, each to the lightest day.
    visits.sort_by_key(|visit| (visit.day.is_none(), Reverse(visit.minutes()), visit.key));
    for visit in visits {
        let lead = visit.lead.unwrap_or(0);
        let day = match (visit.day, visit.late) {
            (_, true) => FRIDAY,
            (Some(day), false) => day,
            (None, false) => load.lightest(lead),
        };
        if !visit.late {
            load.give(lead, day, visit.minutes());
        }
        if let Some(list) = days.get_mut(day) {
            list.push(visit);
        }
    }
    days
}

/// One day of a crew while it fills up.
#[derive(Default)]
struct Bench {
    hands: [Hand; LEADS],
    apprentice: Vec<Range<i32>>,
}

/// Until when somebody is busy, and whether lunch is over.
#[derive(Clone, Copy)]
struct Hand {
    free: i32,
    fed: bool,
}

impl Default for Hand {
    fn default() -> Self {
        Self { free: BEGIN, fed: false }
    }
}

impl Hand {
    /// The next stretch of that many minutes.
    fn take(&mut self, minutes: i32) -> Range<i32> {
        if !self.fed && self.free >= NOON {
            self.free += LUNCH;
            self.fed = true;
        }
        let start = self.free;
        self.free += minutes;
        start..self.free
    }
}

impl Bench {
    fn place(
        &mut self,
        week: &Week,
        day: usize,
        visit: Planned,
        rules: Rules,
        dice: &mut Dice,
    ) -> Slot {
        let lead = visit.lead.unwrap_or(0);
        let mut hand = self.hands.get(lead).copied().unwrap_or_default();
        hand.free += if visit.late { 0 } else { dice.between(0, 4) };
        let opened = opening(week, day, &visit, hand, dice);
        if opened.0 == day {
            hand.free = hand.free.max(opened.1 + 4);
        }
        if visit.apprentice == Apprentice::Must {
            let busy = self.apprentice.iter().map(|busy| busy.end).max().unwrap_or(0);
            hand.free = hand.free.max(busy);
        }
        let (mut labor, mut after) = work(&visit, hand, lead, false);
        let wanted = match visit.apprentice {
            Apprentice::Must => true,
            // What comes back is mended by whoever leads.
            Apprentice::MayHelp => visit.back.is_none() && dice.percent(rules.apprentice_share),
            Apprentice::No => false,
        };
        if wanted {
            let (taught, free) = work(&visit, hand, lead, true);
            if self.is_apprentice_free(&taught) {
                self.apprentice.extend(apprentice_entries(&taught));
                (labor, after) = (taught, free);
            }
        }
        let end = after.free;
        after.free += GAP;
        if let Some(hand) = self.hands.get_mut(lead) {
            *hand = after;
        }
        let closed = closing(week, day, &visit, end, rules, dice);
        Slot { planned: visit, opened, closed, worked: day, labor }
    }

    fn is_apprentice_free(&self, labor: &[Vec<Entry>]) -> bool {
        apprentice_entries(labor).all(|new| {
            self.apprentice.iter().all(|busy| new.end <= busy.start || busy.end <= new.start)
        })
    }
}

fn apprentice_entries(labor: &[Vec<Entry>]) -> impl Iterator<Item = Range<i32>> {
    labor.iter().flatten().filter(|entry| entry.who == LEADS).map(|entry| entry.minutes.clone())
}

/// The labor entries by job, and how the lead stands afterwards. The apprentice,
/// where taught, does what lies between diagnosis and proof.
fn work(visit: &Planned, mut hand: Hand, lead: usize, taught: bool) -> (Vec<Vec<Entry>>, Hand) {
    let mut jobs = Vec::new();
    for sheet in &visit.sheets {
        let mut entries = Vec::new();
        for (activity, minutes) in by_activity(sheet.minutes) {
            let own = matches!(activity, Activity::Diagnosis | Activity::Proof);
            let (who, worked_as) = match taught && !own {
                true => (LEADS, WorkedAs::Trainee),
                false => (lead, WorkedAs::Lead),
            };
            let minutes = hand.take(minutes);
            entries.push(Entry { who, activity, minutes, worked_as });
        }
        jobs.push(entries);
    }
    (jobs, hand)
}

fn by_activity(minutes: Minutes) -> impl Iterator<Item = (Activity, i32)> {
    [
        (Activity::Diagnosis, minutes.diagnosis),
        (Activity::Access, minutes.access),
        (Activity::Repair, minutes.repair),
        (Activity::Reassembly, minutes.reassembly),
        (Activity::Proof, minutes.proof),
    ]
    .into_iter()
    .filter(|(_, minutes)| *minutes > 0)
}

/// When the vehicle comes in: the afternoon before, or the same day.
fn opening(week: &Week, day: usize, visit: &Planned, hand: Hand, dice: &mut Dice) -> (usize, i32) {
    if visit.late {
        return (day, hand.free.max(LATE + dice.between(1, 8)));
    }
    let before = week.open_before(day).filter(|before| *before != SATURDAY);
    match before.filter(|_| visit.day.is_none() && dice.percent(35)) {
        Some(before) => (before, dice.between(13 * 60, CLOSE - 30)),
        None => {
            let latest = hand.free - 4;
            (day, dice.between((latest - 150).max(OPEN), latest.max(OPEN)))
        }
    }
}

/// When it is handed over: the same day, or the next open day of the week.
fn closing(
    week: &Week,
    day: usize,
    visit: &Planned,
    end: i32,
    rules: Rules,
    dice: &mut Dice,
) -> (usize, i32) {
    let close = if day == SATURDAY { SATURDAY_CLOSE } else { CLOSE };
    let wait = visit.day.is_none() && !visit.late;
    let must_wait = wait && day == MONDAY && rules.planned_mondays;
    let overtime = end > close - 5 && visit.day.is_none();
    let waits = must_wait || overtime || (wait && dice.percent(25));
    if let Some(next) = week.open_after(day).filter(|_| waits) {
        let latest = if next == SATURDAY { SATURDAY_CLOSE } else { CLOSE };
        return (next, dice.between(OPEN + 20, latest - 20));
    }
    let soonest = end + 3;
    (day, dice.between(soonest, (end + 50).min(close).max(soonest)))
}
