//! The form that decides a comeback, wherever a page has it: a reason by one
//! tap, then confirm or reject; and the way to take that back.

use super::decide::{self, Decision, NOT_YET_KNOWN};
use super::undo;
use crate::codes::lists::Lists;
use crate::codes::uses::Uses;
use crate::domain::ids::ComebackId;
use crate::problem::Problem;
use crate::web::answer::Made;
use crate::web::body::Form;
use crate::web::ctx::Ctx;
use crate::web::form::{Fields, Reader};
use crate::web::words::Pick;

/// Reasons that are one tap away.
const NEAR: usize = 6;
/// Those of a shop whose record has none yet.
const AT_FIRST: [&str; NEAR] = [
    "misdiagnosis",
    "workmanship",
    "part-reused-failed",
    "part-defective",
    "diagnosis-incomplete",
    "second-cause-present",
];

/// The shop's reasons: those it names most often, and all others.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Reasons {
    pub near: Vec<Pick>,
    pub others: Vec<Pick>,
}

/// Reasons to reject, always near: the others say why it did come back.
const SAYING_NO: [&str; 2] = ["unrelated-same-symptom", "new-fault"];

impl Reasons {
    /// By how often the record has each.
    #[must_use]
    pub fn of(lists: &Lists, uses: &Uses) -> Self {
        Self::by_use(lists.picks("comeback_reason"), uses)
    }

    fn by_use(picks: Vec<Pick>, uses: &Uses) -> Self {
        let used = |pick: &Pick| match pick.value.as_str() {
            // Says that there is no reason yet, however often it is chosen.
            NOT_YET_KNOWN => 0,
            code => uses.get(code).copied().unwrap_or(0),
        };
        let at_first = |pick: &Pick| {
            AT_FIRST.iter().position(|code| *code == pick.value).unwrap_or(AT_FIRST.len())
        };
        let (no, mut near): (Vec<Pick>, Vec<Pick>) =
            picks.into_iter().partition(|pick| SAYING_NO.contains(&pick.value.as_str()));
        near.sort_by_key(|pick| (std::cmp::Reverse(used(pick)), at_first(pick)));
        let mut others = near.split_off(near.len().min(NEAR - no.len()));
        near.extend(no);
        others.sort_by(|a, b| a.label.cmp(&b.label));
        Self { near, others }
    }

    /// Whether what was chosen stands among the others.
    #[must_use]
    pub fn is_far(&self, chosen: &str) -> bool {
        self.others.iter().any(|pick| pick.value == chosen)
    }
}

/// `yes` or `no`.
#[must_use]
pub fn yes_or_no(text: &str) -> Option<bool> {
    match text {
        "yes" => Some(true),
        "no" => Some(false),
        _ => None,
    }
}

fn decision(fields: &Fields) -> Result<(i32, Decision), Problem> {
    let mut read = Reader::new(fields);
    let seen = read.owed("version", |text| text.parse().ok());
    let confirm = read.owed("confirm", yes_or_no);
    let reason = read.owed("reason", |text| Some(text.to_owned()));
    let part_returned = read.word("part_returned", yes_or_no);
    let decision = confirm.zip(reason).map(|(confirm, reason)| Decision {
        confirm,
        reason,
        note: read.text("note"),
        part_returned,
    });
    read.finish(seen.zip(decision))
}

/// Does what the form asks: decides, or takes the decision back.
///
/// # Errors
/// Faulty fields, stale, a conflict, or the record does not answer.
pub async fn settle(ctx: &Ctx, id: &ComebackId, form: &Form<Fields>) -> Result<(), Problem> {
    let id = id.clone();
    if form.value.holds("take_back") {
        let mut read = Reader::new(&form.value);
        let seen: Option<i32> = read.owed("version", |text| text.parse().ok());
        let seen = read.finish(seen)?;
        ctx.once(&form.hash, move |write| {
            let row = undo::take_back(write, &id, seen)?;
            Ok(Made::done(row.version, row))
        })
        .await?;
        return Ok(());
    }
    let (seen, decision) = decision(&form.value)?;
    ctx.once(&form.hash, move |write| {
        let row = decide::decide(write, &id, seen, &decision)?;
        Ok(Made::done(row.version, row))
    })
    .await?;
    Ok(())
}

#[cfg(test)]
#[expect(clippy::unwrap_used, reason = "tests")]
mod tests {
    use super::*;

    fn picks(codes: &[&str]) -> Vec<Pick> {
        codes.iter().map(|code| Pick::new(*code, *code)).collect()
    }

    fn codes(picks: &[Pick]) -> Vec<&str> {
        picks.iter().map(|pick| pick.value.as_str()).collect()
    }

    #[test]
    fn what_the_shop_names_most_often_is_nearest() {
        let all = picks(&[
            "a",
            "b",
            "c",
            "d",
            "misdiagnosis",
            "new-fault",
            "not-yet-known",
            "workmanship",
        ]);
        let uses: Uses =
            [("c", 9), ("not-yet-known", 50)].map(|(code, n)| (code.to_owned(), n)).into();
        let reasons = Reasons::by_use(all, &uses);
        assert_eq!(
            codes(&reasons.near),
            ["c", "misdiagnosis", "workmanship", "a", "b", "new-fault"]
        );
        assert_eq!(codes(&reasons.others), ["d", "not-yet-known"]);
        assert!(reasons.is_far("d") && !reasons.is_far("c") && !reasons.is_far(""));
    }

    #[test]
    fn a_short_list_is_all_near() {
        let reasons = Reasons::by_use(picks(&["x"]), &Uses::new());
        assert_eq!(codes(&reasons.near), ["x"]);
        assert!(reasons.others.is_empty());
    }

    #[test]
    fn a_decision_owes_its_reason() {
        let sent: Fields = serde_urlencoded::from_str("version=2&confirm=yes&reason=").unwrap();
        let problem = decision(&sent).unwrap_err();
        assert_eq!(problem.errors.first().unwrap().pointer, "/reason");
    }
}
