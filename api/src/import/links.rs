//! Comebacks that the files name, and the parts that came back with them. Done
//! last: a later job may stand in the file before the earlier one.

use std::collections::{BTreeMap, BTreeSet, HashMap};

use analytics::words::{LinkState, PartRole};
use diesel::prelude::*;

use super::changes::Seat;
use super::fields::Fault;
use super::files::HistoryFile;
use super::known::{JobKey, OrderEntry, PendingLink, ShopPlace};
use super::rows::{JobRow, LinkRow, PartReturnRow, PartRow};
use super::store::{Outcome, Reject, Store, count};
use crate::codes::model as codes;
use crate::db::schema::{comeback, job, part_return, part_use};
use crate::db::types::Word;
use crate::db::{Answer, Conn};
use crate::domain::clock::UtcStamp;
use crate::domain::codes::system_of;
use crate::domain::ids::{ComebackId, JobId, PartUseId};

/// Links that are looked up and written together.
const CHUNK: usize = 2_000;
/// The reason of a comeback whose cause nobody has named yet.
const NOT_YET_KNOWN: &str = "not-yet-known";
/// The reason that says the earlier cause was not the cause.
const MISDIAGNOSIS: &str = "misdiagnosis";

/// A link whose ends are found.
struct Ends {
    pending: PendingLink,
    earlier: JobId,
    later: JobId,
    /// The later order's opening.
    decided_at: UtcStamp,
    /// Something of either job was written by this import.
    touched: bool,
}

/// What the record holds of the jobs that links join.
#[derive(Default)]
struct Standing {
    jobs: HashMap<JobId, JobRow>,
    parts: HashMap<JobId, Vec<PartRow>>,
    links: HashMap<JobId, Vec<LinkRow>>,
    returns: BTreeSet<(PartUseId, JobId)>,
    systems: HashMap<String, String>,
    our_work: BTreeSet<String>,
}

impl Store<'_> {
    /// Takes every link that the jobs so far have named, and waits until all is
    /// written.
    ///
    /// # Errors
    /// Where the record does not answer or does not take it.
    pub fn settle_links(&mut self) -> Answer<()> {
        let mut pending = std::mem::take(&mut self.known.links);
        // In the order of the visits, so that a vehicle without a VIN is handed
        // on from its first visit to its last.
        pending.sort_by_cached_key(|link| {
            let opened = self.known.orders.get(link.later_order.as_str()).map(|o| o.opened_at);
            (opened, link.later)
        });
        let mut rest = pending.into_iter().peekable();
        while rest.peek().is_some() {
            let mut by_shop: BTreeMap<ShopPlace, Vec<Ends>> = BTreeMap::new();
            for link in rest.by_ref().take(CHUNK) {
                match self.find_ends(&link) {
                    Ok((earlier, later, decided_at, touched)) => {
                        let ends = Ends { earlier, later, decided_at, touched, pending: link };
                        by_shop.entry(ends.pending.shop).or_default().push(ends);
                    }
                    Err(fault) => self.reject_link(link, fault),
                }
            }
            for (shop, ends) in by_shop {
                self.place_links(shop, ends)?;
            }
            self.flush()?;
        }
        self.settle()
    }

    fn reject_link(&mut self, link: PendingLink, fault: Fault) {
        self.summary.links.rejected += 1;
        self.rejects.push(Reject { file: HistoryFile::Jobs, raw: link.raw, faults: vec![fault] });
    }

    fn find_ends(&mut self, link: &PendingLink) -> Result<(JobId, JobId, UtcStamp, bool), Fault> {
        let no_job = || {
            Fault::new(
                "returned_from_order",
                format!(
                    "the files have no good row for job {} of order {}; add it, or empty returned_from_order and returned_from_job",
                    link.earlier_job, link.earlier_order
                ),
            )
        };
        let later_order =
            self.known.orders.get(link.later_order.as_str()).cloned().ok_or_else(no_job)?;
        let earlier_order =
            self.known.orders.get(link.earlier_order.as_str()).cloned().ok_or_else(no_job)?;
        let earlier_key: JobKey = (earlier_order.place, link.earlier_job);
        let ends = self.known.jobs.get(&earlier_key).zip(self.known.jobs.get(&link.later));
        let (earlier, later) = ends.ok_or_else(no_job)?;
        let found = (
            earlier.id.clone(),
            later.id.clone(),
            later_order.opened_at,
            earlier.touched || later.touched,
        );
        order_of_visits(&earlier_order, &later_order, earlier_key == link.later)?;
        self.one_vehicle(link, &earlier_order, &later_order)?;
        Ok(found)
    }

    /// Both visits are of one vehicle. Where neither has a VIN, the link is what
    /// says so.
    fn one_vehicle(
        &mut self,
        link: &PendingLink,
        earlier: &OrderEntry,
        later: &OrderEntry,
    ) -> Result<(), Fault> {
        if earlier.shop == later.shop && earlier.vehicle == later.vehicle {
            return Ok(());
        }
        let other = "is an order of another vehicle; a vehicle only comes back from its own visits";
        if earlier.has_vin || earlier.shop != later.shop || !later.own_vehicle {
            return Err(Fault::new("returned_from_order", other));
        }
        for order_no in [&link.earlier_order, &link.later_order] {
            if let Some(entry) = self.known.orders.get_mut(order_no.as_str()) {
                entry.vehicle = earlier.vehicle.clone();
                entry.own_vehicle = false;
            }
        }
        let seat = Seat { from: later.vehicle.clone(), to: earlier.vehicle.clone() };
        self.changes(later.shop).seats.insert(later.id.clone(), seat);
        Ok(())
    }

    fn place_links(&mut self, shop: ShopPlace, ends: Vec<Ends>) -> Answer<()> {
        let (number, _) = self.number_and_zone(shop);
        // A dry run has written no jobs: it tells what can be told without them.
        let standing = if self.known.shops.get(shop).is_some_and(|s| s.shop.is_some()) {
            self.look(|conn| load(conn, number, &ends))?
        } else {
            Standing::default()
        };
        for link in ends {
            match self.place_link(shop, number, &link, &standing) {
                Ok(outcome) => count(&mut self.summary.links, outcome),
                Err(fault) => self.reject_link(link.pending, fault),
            }
        }
        Ok(())
    }

    fn place_link(
        &mut self,
        shop: ShopPlace,
        number: i32,
        ends: &Ends,
        standing: &Standing,
    ) -> Result<Outcome, Fault> {
        let links = standing.links.get(&ends.later).map_or(&[][..], Vec::as_slice);
        let old = links.iter().find(|row| row.earlier_job_id == ends.earlier);
        let elsewhere = links
            .iter()
            .any(|row| row.earlier_job_id != ends.earlier && row.state.0 == LinkState::Confirmed);
        if elsewhere {
            return Err(Fault::new(
                "returned_from_order",
                "the record has this job as a comeback of another one; a job comes back from one job only",
            ));
        }
        if old.is_some_and(|row| row.state.0 == LinkState::Rejected) {
            return Err(Fault::new(
                "returned_from_order",
                "somebody has decided in the record that this is no comeback; that decision stands",
            ));
        }
        let row = link_row(number, ends, old, standing);
        let same = old.is_some_and(|old| *old == row);
        if old.is_some_and(|old| old.state != row.state || old.reason != row.reason)
            && !self.options.update
        {
            return Err(differs(old));
        }
        self.know_code(shop, "comeback_reason", row.reason.as_deref());
        if ends.touched || old.is_none() {
            self.return_parts(shop, number, ends, standing);
        }
        let misdiagnosed = row.reason.as_deref() == Some(MISDIAGNOSIS)
            && old.is_none_or(|old| old.reason != row.reason);
        let changes = self.changes(shop);
        if misdiagnosed {
            changes.suspected.insert(ends.earlier.clone());
        }
        match old {
            None => {
                changes.links.new.push(row);
                Ok(Outcome::Added)
            }
            Some(_) if same => Ok(Outcome::Unchanged),
            Some(_) => {
                changes.links.over.push(LinkRow { version: row.version + 1, ..row });
                Ok(Outcome::Changed)
            }
        }
    }

    /// The later job's suspect parts that were at the same position before.
    fn return_parts(&mut self, shop: ShopPlace, number: i32, ends: &Ends, standing: &Standing) {
        let parts = |job: &JobId| standing.parts.get(job).map_or(&[][..], Vec::as_slice);
        let suspects: Vec<&PartRow> = parts(&ends.later)
            .iter()
            .filter(|part| part.role == Some(Word(PartRole::Suspect)))
            .collect();
        for part in parts(&ends.earlier) {
            let known = standing.returns.contains(&(part.id.clone(), ends.later.clone()));
            if !known && suspects.iter().any(|suspect| same_part(part, suspect)) {
                self.summary.part_returns += 1;
                self.changes(shop).part_returns.push(PartReturnRow {
                    shop_id: number,
                    part_use_id: part.id.clone(),
                    later_job_id: ends.later.clone(),
                    state: Word(LinkState::Confirmed),
                });
            }
        }
    }
}

/// A link that the record has otherwise.
fn differs(old: Option<&LinkRow>) -> Fault {
    let confirmed = old.is_some_and(|row| row.state.0 == LinkState::Confirmed);
    let (column, has) = match old.and_then(|row| row.reason.as_deref()) {
        Some(reason) if confirmed => ("comeback_reason", format!("which has '{reason}'")),
        _ => ("returned_from_order", "which has it not confirmed yet".to_owned()),
    };
    Fault::new(
        column,
        format!("differs from the record, {has}; run with --update to write it over"),
    )
}

/// A comeback follows the hand-over of what it comes back from.
fn order_of_visits(earlier: &OrderEntry, later: &OrderEntry, itself: bool) -> Result<(), Fault> {
    if itself {
        return Err(Fault::new(
            "returned_from_order",
            "names the job itself; name the earlier job",
        ));
    }
    match earlier.closed_at {
        None => Err(Fault::new(
            "returned_from_order",
            "is an order that was not handed over; what fails before the hand-over is no comeback",
        )),
        Some(closed) if closed > later.opened_at => Err(Fault::new(
            "returned_from_order",
            "was handed over after this order was opened; name the earlier visit",
        )),
        Some(_) => Ok(()),
    }
}

/// The same part at the same position, by number where both have one.
fn same_part(one: &PartRow, other: &PartRow) -> bool {
    let same = match (&one.part_no, &other.part_no) {
        (Some(one), Some(other)) => one == other,
        _ => one.name == other.name,
    };
    same && one.position == other.position
}

fn link_row(number: i32, ends: &Ends, old: Option<&LinkRow>, standing: &Standing) -> LinkRow {
    let reason = ends.pending.reason.clone();
    let mut row = old.cloned().unwrap_or_else(|| LinkRow {
        shop_id: number,
        id: ComebackId::make(),
        earlier_job_id: ends.earlier.clone(),
        later_job_id: ends.later.clone(),
        state: Word(LinkState::Confirmed),
        same_complaint: false,
        same_system: false,
        same_cause: false,
        same_part: false,
        our_work: false,
        proposed_by: "import".to_owned(),
        reason: None,
        decided_by: None,
        decided_at: Some(ends.decided_at),
        version: 1,
    });
    if row.state.0 != LinkState::Confirmed {
        row.state = Word(LinkState::Confirmed);
        row.decided_at = Some(ends.decided_at);
    }
    row.reason = reason.or(row.reason).or_else(|| Some(NOT_YET_KNOWN.to_owned()));
    // Labels are worked out anew only where the files brought something new:
    // what people decided on stays what they saw.
    if old.is_none() || (ends.touched && row.proposed_by == "import") {
        label(&mut row, standing);
    }
    row
}

fn label(row: &mut LinkRow, standing: &Standing) {
    let ends = standing.jobs.get(&row.earlier_job_id).zip(standing.jobs.get(&row.later_job_id));
    let Some((earlier, later)) = ends else { return };
    let same = |one: Option<&str>, other: Option<&str>| one.is_some() && one == other;
    row.same_complaint = same(earlier.symptom.as_deref(), later.symptom.as_deref());
    row.same_system = same(standing.system(earlier), standing.system(later));
    row.same_cause = same(earlier.cause.as_deref(), later.cause.as_deref());
    let parts = |job: &JobId| standing.parts.get(job).map_or(&[][..], Vec::as_slice);
    row.same_part = parts(&earlier.id)
        .iter()
        .any(|part| parts(&later.id).iter().any(|other| same_part(part, other)));
    row.our_work = row.reason.as_ref().is_some_and(|reason| standing.our_work.contains(reason));
}

impl Standing {
    fn system<'a>(&'a self, job: &'a JobRow) -> Option<&'a str> {
        let symptom = job.symptom.as_deref()?;
        Some(self.systems.get(symptom).map_or_else(|| system_of(symptom), String::as_str))
    }
}

fn load(conn: &mut Conn, shop_id: i32, links: &[Ends]) -> Answer<Standing> {
    let ids: BTreeSet<&JobId> =
        links.iter().flat_map(|ends| [&ends.earlier, &ends.later]).collect();
    let later: Vec<&JobId> = links.iter().map(|ends| &ends.later).collect();
    let mut standing = Standing::default();
    let jobs: Vec<JobRow> = job::table
        .filter(job::shop_id.eq(shop_id))
        .filter(job::id.eq_any(ids.iter().copied()))
        .select(JobRow::as_select())
        .load(conn)?;
    standing.jobs.extend(jobs.into_iter().map(|row| (row.id.clone(), row)));
    let parts: Vec<PartRow> = part_use::table
        .filter(part_use::shop_id.eq(shop_id))
        .filter(part_use::job_id.eq_any(ids.iter().copied()))
        .order((part_use::job_id, part_use::line))
        .select(PartRow::as_select())
        .load(conn)?;
    for row in parts {
        standing.parts.entry(row.job_id.clone()).or_default().push(row);
    }
    let found: Vec<LinkRow> = comeback::table
        .filter(comeback::shop_id.eq(shop_id))
        .filter(comeback::later_job_id.eq_any(later.iter().copied()))
        .select(LinkRow::as_select())
        .load(conn)?;
    for row in found {
        standing.links.entry(row.later_job_id.clone()).or_default().push(row);
    }
    standing.returns = part_return::table
        .filter(part_return::shop_id.eq(shop_id))
        .filter(part_return::later_job_id.eq_any(later.iter().copied()))
        .select((part_return::part_use_id, part_return::later_job_id))
        .load::<(PartUseId, JobId)>(conn)?
        .into_iter()
        .collect();
    for entry in codes::entries(conn, shop_id, Some("symptom"))? {
        standing.systems.extend(entry.system.map(|system| (entry.code, system)));
    }
    for entry in codes::entries(conn, shop_id, Some("comeback_reason"))? {
        if entry.kind.as_deref() == Some("shop_work") {
            standing.our_work.insert(entry.code);
        }
    }
    Ok(standing)
}
