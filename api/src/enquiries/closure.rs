//! When an enquiry may be closed, and how a corrective action moves. Pure.

use crate::domain::refusal::{FieldFault, Refusal};

/// How far a corrective action is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum State {
    Open,
    Done,
    Dropped,
}

impl State {
    #[must_use]
    pub const fn as_str(self) -> &'static str {
        match self {
            Self::Open => "open",
            Self::Done => "done",
            Self::Dropped => "dropped",
        }
    }

    #[must_use]
    pub fn parse(text: &str) -> Option<Self> {
        [Self::Open, Self::Done, Self::Dropped].into_iter().find(|state| state.as_str() == text)
    }
}

/// What a step asks of a corrective action.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Step {
    Finish,
    Drop,
    Reopen,
    /// Somebody looked whether it keeps the trouble away.
    Verify,
}

fn conflict(why: &str) -> Refusal {
    Refusal::Conflict(why.to_owned())
}

/// The state after a step.
///
/// # Errors
/// A conflict where the step does not follow.
pub fn step(state: State, step: Step) -> Result<State, Refusal> {
    match (state, step) {
        (State::Open, Step::Finish) => Ok(State::Done),
        (State::Open, Step::Drop) => Ok(State::Dropped),
        (State::Done | State::Dropped, Step::Reopen) => Ok(State::Open),
        (State::Done, Step::Verify) => Ok(State::Done),
        (_, Step::Verify) => Err(conflict("only an action that is done can be looked back on")),
        (State::Open, Step::Reopen) => Err(conflict("the action is open already")),
        (_, Step::Finish | Step::Drop) => Err(conflict("the action is no longer open")),
    }
}

/// What stands of an enquiry that is to be closed.
#[derive(Debug, Clone, Copy)]
pub struct Standing<'a> {
    pub closed: bool,
    pub reason: Option<&'a str>,
    /// Its corrective actions.
    pub actions: &'a [State],
}

/// Whether the enquiry may be closed: its reason is named, and nothing that was
/// promised is left open.
///
/// # Errors
/// A conflict that says what is missing.
pub fn close(standing: Standing<'_>) -> Result<(), Refusal> {
    if standing.closed {
        return Err(conflict("the enquiry is closed already"));
    }
    if standing.reason.is_none() {
        return Err(conflict("name the reason first; 'not yet known' is one"));
    }
    let open = standing.actions.iter().filter(|state| **state == State::Open).count();
    match open {
        0 => Ok(()),
        1 => Err(conflict("one corrective action is open: finish or drop it first")),
        many => Err(Refusal::Conflict(format!(
            "{many} corrective actions are open: finish or drop them first"
        ))),
    }
}

/// Faults of what was found that hang on one another.
#[must_use]
pub fn faults(
    verified: Option<bool>,
    verified_how: Option<&str>,
    (reason, contributing): (Option<&str>, Option<&str>),
) -> Vec<FieldFault> {
    let mut faults = Vec::new();
    if verified.is_some() && verified_how.is_none() {
        faults.push(FieldFault::new("verified_how", "required", "say how that was found out"));
    }
    if contributing.is_some() && contributing == reason {
        let detail = "choose another than the main reason, or none";
        faults.push(FieldFault::new("contributing", "same", detail));
    }
    faults
}

#[cfg(test)]
#[expect(clippy::unwrap_used, reason = "tests")]
mod tests {
    use super::*;
    use proptest::prelude::*;

    const STEPS: [Step; 4] = [Step::Finish, Step::Drop, Step::Reopen, Step::Verify];

    #[test]
    fn only_what_is_done_is_looked_back_on() {
        assert_eq!(step(State::Done, Step::Verify), Ok(State::Done));
        assert!(step(State::Open, Step::Verify).is_err());
        assert!(step(State::Dropped, Step::Verify).is_err());
        assert!(step(State::Open, Step::Reopen).is_err());
    }

    #[test]
    fn what_hangs_together_is_asked_together() {
        let pointers = |verified, how, reasons| -> Vec<String> {
            faults(verified, how, reasons).into_iter().map(|fault| fault.pointer).collect()
        };
        assert_eq!(pointers(Some(false), None, (None, None)), ["/verified_how"]);
        assert!(pointers(Some(true), Some("driven"), (Some("a"), Some("b"))).is_empty());
        assert!(pointers(None, None, (None, None)).is_empty());
        assert_eq!(pointers(None, None, (Some("a"), Some("a"))), ["/contributing"]);
    }

    proptest! {
        /// Whatever steps actions take, the enquiry closes when and only when
        /// none of them is open and its reason is named.
        #[test]
        fn it_closes_when_nothing_is_open(
            steps in prop::collection::vec((0_usize..4, 0_usize..4), 0..40),
            named in any::<bool>(),
        ) {
            let mut actions = [State::Open; 4];
            for (which, taken) in steps {
                let slot = actions.get_mut(which).unwrap();
                if let Ok(next) = step(*slot, *STEPS.get(taken).unwrap()) {
                    *slot = next;
                }
            }
            let reason = named.then_some("workmanship");
            let done = close(Standing { closed: false, reason, actions: &actions });
            prop_assert_eq!(done.is_ok(), named && !actions.contains(&State::Open));
            let again = close(Standing { closed: true, reason, actions: &actions });
            prop_assert!(again.is_err());
        }
    }
}
