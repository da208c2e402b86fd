//! Adding, changing, retiring and merging entries. None is ever deleted:
//! history keeps what was meant when it was written.

use analytics::words::{Access, Curable};
use serde::{Deserialize, Serialize};

use super::merge;
use super::model::{self, CodeEntry};
use crate::db::Answer;
use crate::db::types::Word;
use crate::domain::codes::{self, LISTS};
use crate::domain::refusal::{FieldFault, Refusal};
use crate::domain::text;
use crate::shops::write::{About, ShopWrite};
use crate::web::body::{given, present};

/// Kinds of a cause.
pub const CAUSE_KINDS: &[&str] = &["physical", "workmanship", "supply", "none"];
/// Whose doing a comeback is taken to be.
pub const ATTRIBUTIONS: &[&str] =
    &["shop_work", "shop_process", "supplier", "customer_choice", "none"];

/// A new entry.
#[derive(Debug, Clone, Default, Deserialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewCode {
    pub list: String,
    pub code: String,
    pub label: String,
    /// Of a symptom; absent: the part of its code before the first point.
    pub system: Option<String>,
    /// Of a cause (`physical`, `workmanship`, `supply`, `none`), or what a
    /// comeback reason is put down to (`shop_work`, `shop_process`, `supplier`,
    /// `customer_choice`, `none`).
    pub kind: Option<String>,
    /// Whether cleaning cures a cause.
    pub curable: Option<Curable>,
    /// Of a check.
    #[schema(minimum = 0, maximum = 10000)]
    pub typical_minutes: Option<i32>,
    /// What must be open or ready before a check.
    pub access: Option<Access>,
}

/// A change to an entry. Absent fields stay, null removes.
#[derive(Debug, Clone, Default, Deserialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields)]
pub struct CodePatch {
    #[serde(default, deserialize_with = "given")]
    pub label: Option<String>,
    #[serde(default, deserialize_with = "present")]
    #[schema(value_type = Option<String>)]
    pub system: Option<Option<String>>,
    #[serde(default, deserialize_with = "present")]
    #[schema(value_type = Option<String>)]
    pub kind: Option<Option<String>>,
    #[serde(default, deserialize_with = "present")]
    #[schema(value_type = Option<Curable>)]
    pub curable: Option<Option<Curable>>,
    #[serde(default, deserialize_with = "present")]
    #[schema(value_type = Option<i32>, minimum = 0, maximum = 10000)]
    pub typical_minutes: Option<Option<i32>>,
    #[serde(default, deserialize_with = "present")]
    #[schema(value_type = Option<Access>)]
    pub access: Option<Option<Access>>,
    /// True takes it out of new work, false brings it back.
    #[serde(default, deserialize_with = "given")]
    pub retired: Option<bool>,
}

/// What an entry is merged into.
#[derive(Debug, Clone, Deserialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Merge {
    /// Another entry of the same list.
    pub into: String,
}

/// A merged entry, with what to know about it.
#[derive(Debug, Clone, Serialize, utoipa::ToSchema)]
pub struct MergedCode {
    #[serde(flatten)]
    pub entry: CodeEntry,
    /// What the merge changed besides, a sentence each.
    pub remarks: Vec<String>,
}

/// What a note is about.
fn about(entry: &CodeEntry) -> About<'static> {
    About::new("code", format!("{}/{}", entry.list, entry.code))
}

/// What is wrong with the fields that only some lists have.
fn faults(entry: &CodeEntry) -> Vec<FieldFault> {
    let mut faults = Vec::new();
    let mut only = |field: &str, there: bool, lists: &[&str]| {
        if there && !lists.contains(&entry.list.as_str()) {
            let detail = format!("only entries of these lists have it: {}", lists.join(", "));
            faults.push(FieldFault::new(field, "not_here", detail));
        }
    };
    only("system", entry.system.is_some(), &["symptom"]);
    only("kind", entry.kind.is_some(), &["cause", "comeback_reason"]);
    only("curable", entry.curable.is_some(), &["cause"]);
    only("typical_minutes", entry.typical_minutes.is_some(), &["check"]);
    only("access", entry.access.is_some(), &["check"]);
    let kinds = if entry.list == "cause" { CAUSE_KINDS } else { ATTRIBUTIONS };
    if faults.is_empty() && entry.kind.as_deref().is_some_and(|kind| !kinds.contains(&kind)) {
        let detail = format!("choose one of: {}", kinds.join(", "));
        faults.push(FieldFault::new("kind", "word", detail));
    }
    if entry.typical_minutes.is_some_and(|minutes| !(0..=10_000).contains(&minutes)) {
        let detail = "write minutes between 0 and 10000";
        faults.push(FieldFault::new("typical_minutes", "range", detail));
    }
    faults
}

fn checked(entry: &CodeEntry) -> Answer<()> {
    let faults = faults(entry);
    if faults.is_empty() { Ok(()) } else { Err(Refusal::Invalid(faults).into()) }
}

fn trimmed(text: Option<&str>) -> Option<String> {
    text.map(str::trim).filter(|text| !text.is_empty()).map(str::to_owned)
}

/// Two entries that people cannot tell apart split what they count. An entry
/// that was merged away is offered no more, so its label is free; imported
/// entries come as they are.
fn one_label(write: &mut ShopWrite<'_>, list: &str, code: &str, label: &str) -> Answer<()> {
    let entries = model::entries(write.conn, write.shop.id, Some(list))?;
    let wanted = label.to_lowercase();
    let same = entries.iter().find(|entry| {
        entry.code != code && entry.merged_into.is_none() && entry.label.to_lowercase() == wanted
    });
    match same {
        None => Ok(()),
        Some(first) => {
            let retired = if first.is_live() { "" } else { ", which is retired" };
            let detail = format!(
                "'{}' is the label of {} already{retired}; use that, or choose another label",
                first.label, first.code
            );
            Err(Refusal::Conflict(detail).into())
        }
    }
}

/// Adds an entry.
///
/// # Errors
/// Faulty fields; a conflict where the list has the code or the label.
pub fn add(write: &mut ShopWrite<'_>, new: &NewCode) -> Answer<CodeEntry> {
    let code = codes::parse("code", &new.code).map_err(|f| Refusal::Invalid(vec![f]))?;
    let label = text::required("label", &new.label, 200).map_err(|f| Refusal::Invalid(vec![f]))?;
    if !LISTS.contains(&new.list.as_str()) {
        let detail = format!("choose one of: {}", LISTS.join(", "));
        return Err(Refusal::field("list", "word", detail).into());
    }
    // A job's conditions stand in one text, parted by blanks.
    if new.list == "when" && code.contains(char::is_whitespace) {
        let detail = "use hyphens in place of blanks";
        return Err(Refusal::field("code", "code", detail).into());
    }
    if model::find(write.conn, write.shop.id, &new.list, &code)?.is_some() {
        return Err(Refusal::Conflict(format!("the list has {code} already")).into());
    }
    one_label(write, &new.list, &code, &label)?;
    let plain = CodeEntry::plain(write.shop.id, &new.list, &code, &label, "shop");
    let system = trimmed(new.system.as_deref());
    if let Some(system) = &system {
        model::usable(write.conn, write.shop.id, "system", "system", system)?;
    }
    let entry = CodeEntry {
        system: system.or(plain.system.clone()),
        kind: trimmed(new.kind.as_deref()),
        curable: new.curable.map(Word),
        typical_minutes: new.typical_minutes,
        access: new.access.map(Word),
        ..plain
    };
    checked(&entry)?;
    model::add(write.conn, &entry)?;
    write.note(&about(&entry), "added", None, Some(&entry))?;
    Ok(entry)
}

fn seen_entry(write: &mut ShopWrite<'_>, list: &str, code: &str, seen: i32) -> Answer<CodeEntry> {
    let entry = model::find(write.conn, write.shop.id, list, code)?.ok_or(Refusal::NotFound)?;
    if entry.version == seen { Ok(entry) } else { Err(Refusal::Stale(entry.version).into()) }
}

/// Changes an entry's label and details, retires it or brings it back.
///
/// # Errors
/// Not found, stale, faulty fields; a conflict where it was merged, or another
/// entry has the label.
pub fn change(
    write: &mut ShopWrite<'_>,
    list: &str,
    code: &str,
    seen: i32,
    patch: &CodePatch,
) -> Answer<CodeEntry> {
    let before = seen_entry(write, list, code, seen)?;
    let mut entry = before.clone();
    if let Some(label) = &patch.label {
        entry.label = text::required("label", label, 200).map_err(|f| Refusal::Invalid(vec![f]))?;
    }
    if let Some(system) = &patch.system {
        entry.system = trimmed(system.as_deref());
    }
    if let Some(kind) = &patch.kind {
        entry.kind = trimmed(kind.as_deref());
    }
    if let Some(curable) = patch.curable {
        entry.curable = curable.map(Word);
    }
    if let Some(minutes) = patch.typical_minutes {
        entry.typical_minutes = minutes;
    }
    if let Some(access) = patch.access {
        entry.access = access.map(Word);
    }
    checked(&entry)?;
    if let Some(system) = entry.system.as_ref().filter(|_| entry.system != before.system) {
        model::usable(write.conn, write.shop.id, "system", "system", system)?;
    }
    if entry.label != before.label {
        one_label(write, list, code, &entry.label)?;
    }
    let action = retire(write, &mut entry, patch.retired)?.unwrap_or("changed");
    let after = model::save(write.conn, &entry)?;
    write.note(&about(&after), action, Some(&before), Some(&after))?;
    Ok(after)
}

/// Retires the entry or brings it back, and says which; `None` where it stands
/// so already.
fn retire(
    write: &ShopWrite<'_>,
    entry: &mut CodeEntry,
    retired: Option<bool>,
) -> Answer<Option<&'static str>> {
    match (retired, entry.retired_at.is_some()) {
        (Some(true), false) => {
            if let Some(into) = &entry.merged_into {
                let detail = format!("it was merged into '{into}' and is not offered any more");
                return Err(Refusal::Conflict(detail).into());
            }
            entry.retired_at = Some(write.now);
            Ok(Some("retired"))
        }
        (Some(false), true) => {
            entry.retired_at = None;
            Ok(Some("restored"))
        }
        (Some(false), false) if entry.merged_into.is_some() => {
            Err(Refusal::Conflict("a merged entry cannot be brought back".into()).into())
        }
        _ => Ok(None),
    }
}

/// Merges an entry into another of its list: from now on it counts as that one.
/// What was recorded under it stays so. A system's symptoms go over to the
/// other system.
///
/// # Errors
/// Not found; a fault at `into`; a conflict where it was merged before.
pub fn merge(write: &mut ShopWrite<'_>, list: &str, code: &str, into: &str) -> Answer<MergedCode> {
    let shop_id = write.shop.id;
    let standings = model::standings(write.conn, shop_id, list)?;
    let end = merge::merge(&standings, code, into.trim())?;
    let before = model::find(write.conn, shop_id, list, code)?.ok_or(Refusal::NotFound)?;
    let target = model::find(write.conn, shop_id, list, &end)?.ok_or(Refusal::NotFound)?;
    let merged = CodeEntry { merged_into: Some(end.clone()), ..before.clone() };
    let entry = model::save(write.conn, &merged)?;
    write.note(&about(&entry), "merged", Some(&before), Some(&entry))?;
    let mut remarks = remarks(&before, &target);
    if end != into.trim() {
        remarks.push(format!("'{}' was merged into '{end}', so this one was, too.", into.trim()));
    }
    if list == "system" {
        let moved = move_symptoms(write, code, &end)?;
        if moved > 0 {
            remarks.push(format!("{moved} of its symptoms belong to '{end}' now."));
        }
    }
    Ok(MergedCode { entry, remarks })
}

/// What differs between an entry and the one it is merged into, and so changes
/// for its history.
#[must_use]
pub fn remarks(from: &CodeEntry, into: &CodeEntry) -> Vec<String> {
    let mut told = Vec::new();
    if from.list == "symptom" && from.system != into.system {
        let name = |system: &Option<String>| system.clone().unwrap_or_else(|| "none".to_owned());
        told.push(format!(
            "Its system was '{}'; it counts under '{}' now.",
            name(&from.system),
            name(&into.system)
        ));
    }
    if from.list == "cause" && from.curable != into.curable {
        told.push(
            "The two differ in whether cleaning cures them; the other's answer counts.".to_owned(),
        );
    }
    told
}

fn move_symptoms(write: &mut ShopWrite<'_>, from: &str, into: &str) -> Answer<usize> {
    let symptoms = model::symptoms_of(write.conn, write.shop.id, from)?;
    for before in &symptoms {
        let moved = CodeEntry { system: Some(into.to_owned()), ..before.clone() };
        let after = model::save(write.conn, &moved)?;
        write.note(&about(&after), "changed", Some(before), Some(&after))?;
    }
    Ok(symptoms.len())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn entry(list: &str) -> CodeEntry {
        CodeEntry::plain(1, list, "a.b", "A", "shop")
    }

    fn at(entry: &CodeEntry) -> Vec<(String, &'static str)> {
        faults(entry).into_iter().map(|fault| (fault.pointer, fault.code)).collect()
    }

    #[test]
    fn fields_stay_in_their_lists() {
        assert_eq!(at(&entry("symptom")), []);
        let odd = CodeEntry {
            system: Some("engine".to_owned()),
            curable: Some(Word(Curable::No)),
            typical_minutes: Some(-1),
            kind: Some("physical".to_owned()),
            ..entry("when")
        };
        let told: Vec<&str> = faults(&odd).iter().map(|fault| fault.code).collect();
        assert_eq!(told, ["not_here", "not_here", "not_here", "not_here", "range"]);
    }

    #[test]
    fn a_kind_is_one_of_its_list() {
        let kind =
            |list: &str, kind: &str| CodeEntry { kind: Some(kind.to_owned()), ..entry(list) };
        assert_eq!(at(&kind("cause", "supply")), []);
        assert_eq!(at(&kind("comeback_reason", "supplier")), []);
        assert_eq!(at(&kind("cause", "supplier")), [("/kind".to_owned(), "word")]);
    }

    #[test]
    fn a_merge_across_systems_is_told() {
        let from = entry("symptom");
        assert_eq!(remarks(&from, &from), Vec::<String>::new());
        let into = CodeEntry { system: Some("brakes".to_owned()), ..entry("symptom") };
        assert_eq!(remarks(&from, &into), ["Its system was 'a'; it counts under 'brakes' now."]);
    }
}
