//! Weeks 16 to 41: story 5.

use super::{Builder, is_not_start};
use crate::demo::calendar::WEEKS;
use crate::demo::catalog;
use crate::demo::filler::{self, weeks_to_return};
use crate::demo::planned::Planned;
use crate::demo::stories::leads;
use crate::demo::{EASY, HARD, MEDIUM, MIX_LINES, MIX_RETURNS, MIX_WEEKS};

const CLASSES: [&[&str]; 3] = [EASY, MEDIUM, HARD];
/// Lines of an ordinary week outside the planted ones.
const OTHER_IN_MIX_WEEK: usize = 7;

impl Builder<'_> {
    /// Weeks 16 to 41: the lines of the three technicians by how hard the work
    /// is, exactly, and a few others.
    pub(super) fn mix_weeks(&mut self) {
        let others = |symptom: &str| is_not_start(symptom) && class(symptom).is_none();
        self.mix_others(others);
        let mut left = MIX_LINES;
        for (lead, class, count) in cells(MIX_RETURNS) {
            for week in self.mix_spread(lead, count) {
                let after = weeks_to_return(&mut self.dice);
                self.marked(lead, class, week, Some(after));
            }
            take(&mut left, lead, class, count);
        }
        self.give_marked_returns(&mut left);
        for (lead, class, count) in cells(left) {
            for week in self.mix_spread(lead, count) {
                self.marked(lead, class, week, None);
            }
        }
    }

    /// What came back in these weeks counts among the lines of whoever mends it:
    /// the more likely, the more lines of the class somebody still has.
    fn give_marked_returns(&mut self, left: &mut [[usize; 3]; 3]) {
        for place in self.marked_returns() {
            let Some(visit) = self.planned.get_mut(place) else {
                continue;
            };
            let Some(class) = visit.symptom().and_then(class) else {
                continue;
            };
            let open = |lead| count_at(left, lead, class).saturating_sub(1) as u32;
            let by_lines = leads(visit.week).map(|lead| (open(lead), lead));
            let lead = self.dice.weighted(by_lines).unwrap_or(2);
            take(left, lead, class, 1);
            visit.lead = Some(lead);
        }
    }

    /// Places of the return visits within the mix weeks whose symptoms are
    /// among the three classes.
    fn marked_returns(&self) -> Vec<usize> {
        let marked = |visit: &Planned| {
            visit.back.is_some()
                && MIX_WEEKS.contains(&(visit.week + 1))
                && visit.symptom().and_then(class).is_some()
        };
        let places = self.planned.iter().enumerate();
        places.filter(|(_, visit)| marked(visit)).map(|(place, _)| place).collect()
    }

    fn mix_spread(&mut self, lead: usize, count: usize) -> Vec<usize> {
        let first = MIX_WEEKS.start() - 1;
        let weights: Vec<u32> = (first..*MIX_WEEKS.end())
            .map(|week| if leads(week).contains(&lead) { self.weight(week) } else { 0 })
            .collect();
        let weeks = self.dice.spread(count, &weights);
        weeks.into_iter().map(|week| first + week).collect()
    }

    fn marked(&mut self, lead: usize, class: usize, week: usize, after: Option<usize>) {
        let symptoms = CLASSES.get(class).copied().unwrap_or(EASY);
        // Each symptom of a class alike.
        let symptom = self.dice.pick(symptoms).copied().unwrap_or_default();
        let template = catalog::of(symptom);
        let place = self.add(template, week, after);
        if let Some(visit) = self.planned.get_mut(place) {
            visit.lead = Some(lead);
        }
    }

    /// The other lines of these weeks: some come back, some twice, some late.
    fn mix_others(&mut self, others: impl Fn(&str) -> bool + Copy) {
        let first = MIX_WEEKS.start() - 1;
        let weights: Vec<u32> = (first..*MIX_WEEKS.end()).map(|week| self.weight(week)).collect();
        for (i, week) in self.dice.spread(10, &weights).into_iter().enumerate() {
            let template = self.template(others);
            let after = weeks_to_return(&mut self.dice);
            let place = self.add(template, first + week, Some(after));
            // The return is the visit behind it; every third comes back again.
            if i % 3 == 0 {
                let again = weeks_to_return(&mut self.dice);
                self.come_back_again(place + 1, again);
            }
        }
        // Returns after the window, which the share past 60 days shows. All
        // within the record.
        let early = weights.get(..20).unwrap_or(&weights).to_vec();
        for week in self.dice.spread(8, &early) {
            let template = self.template(others);
            let after = 10 + self.dice.place(5);
            self.add(template, first + week, Some(after));
        }
        for week in first..*MIX_WEEKS.end() {
            let left = self.share(OTHER_IN_MIX_WEEK, week);
            self.fill(week, left, others);
        }
    }

    fn come_back_again(&mut self, place: usize, after: usize) {
        let Self { planned, keys, dice, .. } = self;
        let again = planned
            .get_mut(place)
            .filter(|visit| visit.week + after < WEEKS)
            .map(|visit| filler::come_back(visit, visit.week + after, keys, dice));
        planned.extend(again);
    }
}

/// The class of a symptom: easy, medium, hard.
fn class(symptom: &str) -> Option<usize> {
    CLASSES.iter().position(|class| class.contains(&symptom))
}

/// Technician, class and count of each cell.
fn cells(counts: [[usize; 3]; 3]) -> impl Iterator<Item = (usize, usize, usize)> {
    counts.into_iter().enumerate().flat_map(|(lead, row)| {
        let row = row.into_iter().enumerate();
        row.map(move |(class, count)| (lead, class, count))
    })
}

fn count_at(counts: &[[usize; 3]; 3], lead: usize, class: usize) -> usize {
    counts.get(lead).and_then(|row| row.get(class)).copied().unwrap_or(0)
}

fn take(counts: &mut [[usize; 3]; 3], lead: usize, class: usize, count: usize) {
    if let Some(left) = counts.get_mut(lead).and_then(|row| row.get_mut(class)) {
        *left = left.saturating_sub(count);
    }
}
