//! Merging codes: what an entry counts as from then on. History keeps the code
//! that was meant; figures and choices follow the chain to its end.

use std::collections::BTreeMap;

use crate::domain::refusal::Refusal;

/// How an entry stands in its list.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Standing {
    pub retired: bool,
    pub merged_into: Option<String>,
}

/// One list, by code.
pub type Standings = BTreeMap<String, Standing>;

/// The end of the chain that a code begins, in a list of so many entries: itself
/// where it was never merged.
#[must_use]
pub fn follow<'a>(
    code: &'a str,
    entries: usize,
    into: impl Fn(&str) -> Option<&'a str>,
) -> &'a str {
    let mut at = code;
    // A chain passes every entry once at most.
    for _ in 0..entries {
        match into(at) {
            Some(next) => at = next,
            None => break,
        }
    }
    at
}

/// The entry that a code counts as.
#[must_use]
pub fn end_of<'a>(list: &'a Standings, code: &'a str) -> &'a str {
    follow(code, list.len(), |at| list.get(at)?.merged_into.as_deref())
}

/// Decides what an entry is merged into: the end of the chain that `into`
/// begins, which must be live and another one. So no chain ever closes.
///
/// # Errors
/// Not found; a conflict where it was merged before; a fault at `into`.
pub fn merge(list: &Standings, code: &str, into: &str) -> Result<String, Refusal> {
    let entry = list.get(code).ok_or(Refusal::NotFound)?;
    if let Some(before) = &entry.merged_into {
        return Err(Refusal::Conflict(format!("'{code}' was merged into '{before}' before")));
    }
    if !list.contains_key(into) {
        return Err(Refusal::field(
            "into",
            "unknown_code",
            format!("'{into}' is not in this list; choose one that is"),
        ));
    }
    let end = end_of(list, into);
    if end == code {
        let detail = if into == code {
            "choose another entry than this one".to_owned()
        } else {
            format!("'{into}' was merged into '{code}'; choose another one")
        };
        return Err(Refusal::field("into", "itself", detail));
    }
    if list.get(end).is_some_and(|target| target.retired) {
        return Err(Refusal::field(
            "into",
            "retired_code",
            format!("'{end}' is retired; restore it first, or choose another one"),
        ));
    }
    Ok(end.to_owned())
}

/// Why a code may not go into new work; `None` where it may.
#[must_use]
pub fn barred(list: &Standings, code: &str) -> Option<(&'static str, String)> {
    let entry = list.get(code)?;
    if entry.merged_into.is_some() {
        let end = end_of(list, code);
        let detail = if list.get(end).is_some_and(|target| target.retired) {
            format!("'{code}' was merged into '{end}', which is retired; choose another")
        } else {
            format!("'{code}' was merged into '{end}'; choose that")
        };
        return Some(("merged_code", detail));
    }
    entry.retired.then(|| ("retired_code", format!("'{code}' is retired; choose another")))
}

#[cfg(test)]
#[expect(clippy::unwrap_used, clippy::indexing_slicing, reason = "tests")]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn list(entries: &[(&str, bool, Option<&str>)]) -> Standings {
        entries
            .iter()
            .map(|(code, retired, into)| {
                let standing = Standing { retired: *retired, merged_into: into.map(str::to_owned) };
                ((*code).to_owned(), standing)
            })
            .collect()
    }

    fn fault(refusal: Refusal) -> &'static str {
        match refusal {
            Refusal::Invalid(faults) => faults[0].code,
            other => panic!("{other:?}"),
        }
    }

    #[test]
    fn a_merge_goes_to_the_end_of_the_chain() {
        let codes = list(&[("a", false, Some("b")), ("b", false, None), ("c", true, None)]);
        assert_eq!(end_of(&codes, "a"), "b");
        assert_eq!(end_of(&codes, "b"), "b");
        assert_eq!(end_of(&codes, "unknown"), "unknown");
        // A retired entry may be merged away.
        assert_eq!(merge(&codes, "c", "a").unwrap(), "b");
    }

    #[test]
    fn what_cannot_be_merged_is_told() {
        let codes = list(&[("a", false, Some("b")), ("b", false, None), ("c", true, None)]);
        assert_eq!(merge(&codes, "x", "b"), Err(Refusal::NotFound));
        assert!(matches!(merge(&codes, "a", "c"), Err(Refusal::Conflict(_))));
        assert_eq!(fault(merge(&codes, "b", "x").unwrap_err()), "unknown_code");
        assert_eq!(fault(merge(&codes, "b", "b").unwrap_err()), "itself");
        assert_eq!(fault(merge(&codes, "b", "a").unwrap_err()), "itself");
        assert_eq!(fault(merge(&codes, "b", "c").unwrap_err()), "retired_code");
    }

    #[test]
    fn new_work_takes_live_codes_only() {
        let mut codes = list(&[("a", false, Some("b")), ("b", false, None), ("c", true, None)]);
        assert_eq!(barred(&codes, "b"), None);
        assert_eq!(barred(&codes, "c").unwrap().0, "retired_code");
        assert_eq!(barred(&codes, "a").unwrap().1, "'a' was merged into 'b'; choose that");
        codes.get_mut("b").unwrap().retired = true;
        assert!(barred(&codes, "a").unwrap().1.contains("which is retired"));
    }

    #[test]
    fn a_chain_that_closes_in_a_broken_record_still_ends() {
        let codes = list(&[("a", false, Some("b")), ("b", false, Some("a"))]);
        assert!(["a", "b"].contains(&end_of(&codes, "a")));
    }

    proptest! {
        #[test]
        fn after_any_merges_every_chain_ends_at_a_live_entry(
            retired in proptest::collection::vec(any::<bool>(), 2..8),
            steps in proptest::collection::vec((0_usize..8, 0_usize..8), 0..24),
        ) {
            let mut codes: Standings = retired
                .iter()
                .enumerate()
                .map(|(n, retired)| {
                    (n.to_string(), Standing { retired: *retired, merged_into: None })
                })
                .collect();
            for (from, into) in steps {
                let (from, into) = (from.to_string(), into.to_string());
                let before = codes.clone();
                if let Ok(end) = merge(&codes, &from, &into) {
                    prop_assert_eq!(end_of(&before, &into), end.as_str());
                    codes.get_mut(&from).unwrap().merged_into = Some(end);
                }
            }
            for (code, standing) in &codes {
                let end = &codes[end_of(&codes, code)];
                prop_assert!(end.merged_into.is_none());
                prop_assert!(standing.merged_into.is_none() || !end.retired);
            }
        }
    }
}
