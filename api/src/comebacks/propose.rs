//! What is proposed as a comeback. Pure: earlier jobs in, proposals out.

use chrono::NaiveDate;

use crate::domain::ids::{JobId, PartUseId};

/// Later than this nothing is proposed.
pub const MOST_DAYS: i64 = 400;

/// A part touched on a job.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Touched {
    pub id: PartUseId,
    /// Part number, else name.
    pub part: String,
    pub position: Option<String>,
    /// Held for the complaint's cause.
    pub suspect: bool,
}

/// A repaired job of the vehicle that was handed over.
#[derive(Debug, Clone)]
pub struct Earlier {
    pub job: JobId,
    pub closed_on: NaiveDate,
    pub symptom: Option<String>,
    pub system: Option<String>,
    /// Only a confirmed one.
    pub cause: Option<String>,
    pub parts: Vec<Touched>,
}

/// The job that may be a comeback.
#[derive(Debug, Clone)]
pub struct Later {
    pub opened_on: NaiveDate,
    pub symptom: Option<String>,
    pub system: Option<String>,
    pub cause: Option<String>,
    pub parts: Vec<Touched>,
}

/// Why it is proposed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Labels {
    pub same_complaint: bool,
    pub same_system: bool,
    pub same_cause: bool,
    pub same_part: bool,
}

impl Labels {
    const fn any(self) -> bool {
        self.same_complaint || self.same_system || self.same_cause || self.same_part
    }

    /// The more of it, the likelier the link.
    const fn weight(self) -> u8 {
        (self.same_complaint as u8) * 8
            + (self.same_part as u8) * 4
            + (self.same_cause as u8) * 2
            + (self.same_system as u8)
    }
}

/// One proposal.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Proposal {
    pub earlier: JobId,
    pub labels: Labels,
    /// Parts of the earlier job that the later one holds for the cause.
    pub returned_parts: Vec<PartUseId>,
}

fn same(a: Option<&String>, b: Option<&String>) -> bool {
    matches!((a, b), (Some(a), Some(b)) if a == b)
}

fn returned(earlier: &Earlier, later: &Later) -> Vec<PartUseId> {
    earlier
        .parts
        .iter()
        .filter(|was| {
            later
                .parts
                .iter()
                .any(|is| is.suspect && is.part == was.part && is.position == was.position)
        })
        .map(|was| was.id.clone())
        .collect()
}

/// The proposals for a job: of the earlier jobs within 400 days that share
/// symptom, system, confirmed cause or a touched part, the likeliest one (the
/// latest of equals: a later job links to the latest of its chain), and besides
/// every one with a part that has come back.
#[must_use]
pub fn proposals(earlier: &[Earlier], later: &Later) -> Vec<Proposal> {
    let mut found: Vec<(NaiveDate, Proposal)> = earlier
        .iter()
        .filter(|job| {
            let days = (later.opened_on - job.closed_on).num_days();
            (0..=MOST_DAYS).contains(&days)
        })
        .map(|job| {
            let returned_parts = returned(job, later);
            let labels = Labels {
                same_complaint: same(job.symptom.as_ref(), later.symptom.as_ref()),
                same_system: same(job.system.as_ref(), later.system.as_ref()),
                same_cause: same(job.cause.as_ref(), later.cause.as_ref()),
                same_part: !returned_parts.is_empty(),
            };
            (job.closed_on, Proposal { earlier: job.job.clone(), labels, returned_parts })
        })
        .filter(|(_, proposal)| proposal.labels.any())
        .collect();
    found.sort_by_key(|(closed_on, proposal)| {
        std::cmp::Reverse((proposal.labels.same_complaint, *closed_on, proposal.labels.weight()))
    });
    found
        .into_iter()
        .map(|(_, proposal)| proposal)
        .enumerate()
        .filter(|(place, proposal)| *place == 0 || proposal.labels.same_part)
        .map(|(_, proposal)| proposal)
        .collect()
}

#[cfg(test)]
#[expect(clippy::unwrap_used, clippy::indexing_slicing, reason = "tests")]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn day(n: i64) -> NaiveDate {
        NaiveDate::from_ymd_opt(2026, 1, 1).unwrap() + chrono::Duration::days(n)
    }

    fn earlier(closed: i64, symptom: &str) -> Earlier {
        Earlier {
            job: JobId::make(),
            closed_on: day(closed),
            symptom: Some(symptom.into()),
            system: Some(symptom.split('.').next().unwrap().into()),
            cause: None,
            parts: Vec::new(),
        }
    }

    fn later(opened: i64, symptom: &str) -> Later {
        Later {
            opened_on: day(opened),
            symptom: Some(symptom.into()),
            system: Some(symptom.split('.').next().unwrap().into()),
            cause: None,
            parts: Vec::new(),
        }
    }

    fn part(position: &str, suspect: bool) -> Touched {
        Touched {
            id: PartUseId::make(),
            part: "IAV-100".into(),
            position: Some(position.into()),
            suspect,
        }
    }

    #[test]
    fn the_latest_of_the_same_complaint() {
        let jobs =
            [earlier(0, "engine.tick"), earlier(20, "engine.tick"), earlier(30, "engine.knock")];
        let found = proposals(&jobs, &later(40, "engine.tick"));
        assert_eq!(found.len(), 1);
        assert_eq!(found[0].earlier, jobs[1].job);
        assert!(found[0].labels.same_complaint);
    }

    #[test]
    fn another_system_is_only_seen_again() {
        assert!(proposals(&[earlier(0, "brakes.pull")], &later(9, "engine.tick")).is_empty());
    }

    #[test]
    fn nothing_past_four_hundred_days() {
        let jobs = [earlier(0, "engine.tick")];
        assert_eq!(proposals(&jobs, &later(400, "engine.tick")).len(), 1);
        assert!(proposals(&jobs, &later(401, "engine.tick")).is_empty());
    }

    #[test]
    fn a_bystander_that_fails_is_found_by_its_part() {
        let mut first = earlier(0, "brakes.pull");
        first.parts.push(part("bank 1", false));
        let mut back = later(30, "engine.stalls");
        back.parts.push(part("bank 1", true));
        let found = proposals(std::slice::from_ref(&first), &back);
        assert_eq!(found[0].returned_parts, [first.parts[0].id.clone()]);
        back.parts[0].position = Some("bank 2".into());
        assert!(proposals(&[first], &back).is_empty());
    }

    proptest! {
        #[test]
        fn never_itself_never_before(closed in 0_i64..900, opened in 0_i64..900) {
            let jobs = [earlier(closed, "engine.tick")];
            let found = proposals(&jobs, &later(opened, "engine.tick"));
            let days = opened - closed;
            prop_assert_eq!(found.len(), usize::from((0..=400).contains(&days)));
        }
    }
}
