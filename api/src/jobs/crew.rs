//! Who works on a job as what, and under whom.

use analytics::words::WorkedAs;

use crate::domain::ids::PersonId;
use crate::domain::refusal::FieldFault;

/// A person on a job.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Member {
    pub person: PersonId,
    pub worked_as: WorkedAs,
    pub supervisor: Option<PersonId>,
}

/// Decides whether a person may be put on a job: a trainee has a supervisor who
/// is no trainee there, and so may have who leads; a supervisor is not made a
/// trainee while others stand under them.
///
/// # Errors
/// What is wrong, field by field.
pub fn may_join(
    new: &Member,
    lead: Option<&PersonId>,
    others: &[Member],
) -> Result<(), Vec<FieldFault>> {
    let mut faults = Vec::new();
    let leads = lead == Some(&new.person);
    match new.worked_as {
        WorkedAs::Lead if !leads => faults.push(FieldFault::new(
            "worked_as",
            "not_lead",
            "choose helper or trainee; who leads is set on the job itself",
        )),
        WorkedAs::Helper if leads => faults.push(FieldFault::new(
            "worked_as",
            "lead",
            "this person leads the job: let somebody else lead it first",
        )),
        WorkedAs::Helper if new.supervisor.is_some() => faults.push(FieldFault::new(
            "supervisor_id",
            "not_trainee",
            "a helper has no supervisor: leave this out, or choose trainee",
        )),
        _ => {}
    }
    faults.extend(supervised(new.worked_as, &new.person, new.supervisor.as_ref(), others));
    let supervises = others.iter().any(|other| other.supervisor.as_ref() == Some(&new.person));
    if new.worked_as == WorkedAs::Trainee && supervises {
        faults.push(FieldFault::new(
            "worked_as",
            "supervises",
            "this person supervises a trainee on the job: give that trainee another supervisor \
             first",
        ));
    }
    if faults.is_empty() { Ok(()) } else { Err(faults) }
}

fn supervised(
    worked_as: WorkedAs,
    person: &PersonId,
    supervisor: Option<&PersonId>,
    others: &[Member],
) -> Option<FieldFault> {
    let fault = |code, detail: &str| Some(FieldFault::new("supervisor_id", code, detail));
    let Some(supervisor) = supervisor else {
        return if worked_as == WorkedAs::Trainee {
            fault("required", "name the supervisor: a trainee works under one")
        } else {
            None
        };
    };
    if supervisor == person {
        return fault("self", "name somebody else: nobody is their own supervisor");
    }
    let trainee =
        |other: &Member| other.person == *supervisor && other.worked_as == WorkedAs::Trainee;
    if others.iter().any(trainee) {
        return fault("trainee", "name somebody who is no trainee on this job");
    }
    None
}

/// As what a person's time on the job counts: as said, else as put on the job,
/// else as lead.
///
/// # Errors
/// What is wrong with the supervisor.
pub fn counts_as(
    person: &PersonId,
    said: (Option<WorkedAs>, Option<&PersonId>),
    on_job: &[Member],
) -> Result<(WorkedAs, Option<PersonId>), FieldFault> {
    let assigned = on_job.iter().find(|member| member.person == *person);
    let (said_as, said_under) = said;
    let worked_as = said_as.or(assigned.map(|m| m.worked_as)).unwrap_or(WorkedAs::Lead);
    if worked_as != WorkedAs::Trainee {
        return match said_under {
            Some(_) => Err(FieldFault::new(
                "supervisor_id",
                "not_trainee",
                "leave this out: only a trainee's time counts under a supervisor",
            )),
            None => Ok((worked_as, None)),
        };
    }
    let supervisor = said_under.or(assigned.and_then(|m| m.supervisor.as_ref()));
    match supervised(worked_as, person, supervisor, on_job) {
        Some(fault) => Err(fault),
        None => Ok((worked_as, supervisor.cloned())),
    }
}

#[cfg(test)]
#[expect(clippy::unwrap_used, reason = "tests")]
mod tests {
    use super::*;

    fn member(person: &PersonId, worked_as: WorkedAs, supervisor: Option<&PersonId>) -> Member {
        Member { person: person.clone(), worked_as, supervisor: supervisor.cloned() }
    }

    fn refused(new: &Member, lead: Option<&PersonId>, others: &[Member]) -> Vec<String> {
        may_join(new, lead, others).unwrap_err().into_iter().map(|f| f.pointer).collect()
    }

    #[test]
    fn a_trainee_stands_under_somebody_who_is_none() {
        let [one, two, three] = [(); 3].map(|()| PersonId::make());
        let alone = member(&one, WorkedAs::Trainee, None);
        assert_eq!(refused(&alone, None, &[]), ["/supervisor_id"]);
        let under = member(&one, WorkedAs::Trainee, Some(&two));
        assert!(may_join(&under, None, &[]).is_ok());
        let trainee = member(&two, WorkedAs::Trainee, Some(&three));
        assert_eq!(refused(&under, None, std::slice::from_ref(&trainee)), ["/supervisor_id"]);
        // The other way round: a supervisor does not become a trainee.
        assert_eq!(refused(&trainee, None, &[under]), ["/worked_as"]);
        let own = member(&one, WorkedAs::Trainee, Some(&one));
        assert_eq!(refused(&own, None, &[]), ["/supervisor_id"]);
    }

    #[test]
    fn who_leads_is_lead_or_trainee() {
        let [one, two] = [(); 2].map(|()| PersonId::make());
        let trainee = member(&one, WorkedAs::Trainee, Some(&two));
        assert!(may_join(&trainee, Some(&one), &[]).is_ok());
        let lead = member(&one, WorkedAs::Lead, Some(&two));
        assert!(may_join(&lead, Some(&one), &[]).is_ok());
        assert_eq!(refused(&lead, Some(&two), &[]), ["/worked_as"]);
        assert_eq!(refused(&member(&one, WorkedAs::Helper, None), Some(&one), &[]), ["/worked_as"]);
        assert_eq!(
            refused(&member(&one, WorkedAs::Helper, Some(&two)), None, &[]),
            ["/supervisor_id"]
        );
    }

    #[test]
    fn time_counts_as_the_person_was_put_on_the_job() {
        let [one, two] = [(); 2].map(|()| PersonId::make());
        let on_job = [member(&one, WorkedAs::Trainee, Some(&two))];
        let counted = |person, said| counts_as(person, said, &on_job);
        assert_eq!(counted(&one, (None, None)).unwrap(), (WorkedAs::Trainee, Some(two.clone())));
        assert_eq!(counted(&two, (None, None)).unwrap(), (WorkedAs::Lead, None));
        assert_eq!(
            counted(&one, (Some(WorkedAs::Helper), None)).unwrap(),
            (WorkedAs::Helper, None)
        );
        let fault = counted(&two, (Some(WorkedAs::Trainee), None)).unwrap_err();
        assert_eq!((fault.pointer.as_str(), fault.code), ("/supervisor_id", "required"));
        assert!(counted(&two, (Some(WorkedAs::Trainee), Some(&one))).is_err());
        assert!(counted(&two, (None, Some(&one))).is_err());
    }
}
