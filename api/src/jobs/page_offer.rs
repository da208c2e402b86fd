//! Parts that are offered for one tap, each with what the record says of
//! cleaning or replacing it, beside the choice.

use analytics::reuse::{Advice, PartLine, ReuseReport};
use analytics::words::{Curable, PartRole};

use super::parts::PartOnJob;
use super::usual::UsualPart;
use super::view_lines::times_cleaned;
use super::whole::WholeJob;
use crate::web::words::Shown;

/// Parts that advice is given for on one page.
const ADVISED: usize = 4;

/// Advice in short, and whole.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Advised {
    pub verdict: String,
    pub counts: String,
    /// Where the figures are.
    pub place: String,
    /// Where it is asked about as it lies there.
    pub hand: String,
}

/// A part usual for the complaint.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct OfferedPart {
    pub key: String,
    pub name: String,
    pub part_no: Option<String>,
    pub seen: String,
    pub suspect: Option<Advised>,
    pub bystander: Option<Advised>,
}

/// What the record says of a part on the job.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PartAdvice {
    pub part: String,
    pub held_as: &'static str,
    pub text: String,
    pub place: String,
    /// Where it is asked about as it lies there.
    pub hand: String,
    /// How often it was cleaned on this vehicle before.
    pub cleaned_before: Option<String>,
}

/// A value in a query.
fn escape(value: &str) -> String {
    serde_urlencoded::to_string([("", value)])
        .unwrap_or_default()
        .trim_start_matches('=')
        .to_owned()
}

fn place(part: &str, role: PartRole) -> String {
    format!("/reuse?part={}&role={}", escape(part), role.as_str())
}

fn hand(part: &str, role: PartRole) -> String {
    format!("/bench?part={}&role={}", escape(part), role.as_str())
}

fn line<'a>(report: &'a ReuseReport, part: &str, role: PartRole) -> Option<&'a PartLine> {
    report.parts.iter().find(|line| line.part == part && line.role == Some(role))
}

/// The counts in a sentence, as they are told at the bench.
fn counts(advice: &Advice, role: PartRole, window_days: i32) -> String {
    let held = if role == PartRole::Suspect { "as the suspect" } else { "while in the way" };
    let (clean, new) = (&advice.clean, &advice.replace);
    let cleaned = match clean.cases {
        0 => format!("None of ours was cleaned {held}"),
        cases => format!(
            "Of {cases} cleaned {held}, {} came back within {window_days} days",
            clean.returns
        ),
    };
    let replaced = match new.cases {
        0 => "none was replaced".to_owned(),
        cases => format!("of {cases} replaced, {}", new.returns),
    };
    format!("{cleaned}; {replaced}.")
}

fn advised(
    report: &ReuseReport,
    part: &str,
    role: PartRole,
    curable: Option<Curable>,
) -> Option<Advised> {
    let advice = line(report, part, role)?.advice.as_ref()?;
    // Where cleaning cannot cure the cause that was named, nothing else counts.
    let verdict = if role == PartRole::Suspect && curable == Some(Curable::No) {
        "Replace, whatever the price: cleaning does not cure this cause."
    } else {
        advice.text.split_inclusive(". ").next().unwrap_or_default().trim_end()
    };
    Some(Advised {
        verdict: verdict.to_owned(),
        counts: counts(advice, role, report.head.window_days),
        place: place(part, role),
        hand: hand(part, role),
    })
}

/// The usual parts as they are offered.
#[must_use]
pub fn parts(
    usual: &[UsualPart],
    report: Option<&ReuseReport>,
    curable: Option<Curable>,
) -> Vec<OfferedPart> {
    let of = |part: &UsualPart, role| advised(report?, part.key(), role, curable);
    usual
        .iter()
        .map(|part| OfferedPart {
            key: part.key().to_owned(),
            name: part.name.clone(),
            part_no: part.part_no.clone(),
            seen: match part.with_cause {
                0 => format!("{} on this complaint", times(part.uses)),
                with => format!("{} with this cause", times(with)),
            },
            suspect: of(part, PartRole::Suspect),
            bystander: of(part, PartRole::Bystander),
        })
        .collect()
}

fn times(count: i64) -> String {
    if count == 1 { "once".to_owned() } else { format!("{count} times") }
}

/// The suspects and bystanders on the job, each once, with how often it was
/// cleaned before.
#[must_use]
pub fn held(whole: &WholeJob) -> Vec<(String, PartRole, u32)> {
    let mut held: Vec<(String, PartRole, u32)> = Vec::new();
    let roles = |on_job: &PartOnJob| on_job.part.role.map(|word| word.0);
    for on_job in &whole.parts {
        let (Some(role), times) = (roles(on_job), on_job.times_cleaned_before) else { continue };
        let same = |(part, as_what, _): &&mut (String, PartRole, u32)| {
            part == on_job.part.key() && *as_what == role
        };
        match held.iter_mut().find(same) {
            Some((.., most)) => *most = times.max(*most),
            None if matches!(role, PartRole::Suspect | PartRole::Bystander) => {
                held.push((on_job.part.key().to_owned(), role, times));
            }
            None => {}
        }
    }
    held.truncate(ADVISED);
    held
}

/// The advice on a part of the job.
#[must_use]
pub fn told(
    report: &ReuseReport,
    (part, role, times): &(String, PartRole, u32),
) -> Option<PartAdvice> {
    let advice = line(report, part, *role)?.advice.as_ref()?;
    Some(PartAdvice {
        place: place(part, *role),
        hand: hand(part, *role),
        part: part.clone(),
        held_as: role.shown(),
        text: advice.text.clone(),
        cleaned_before: times_cleaned(*times),
    })
}
