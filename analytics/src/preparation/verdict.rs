//! Readings against their limits. The last attempt of a line counts; earlier
//! ones stay on the sheet. Of lines of which one is enough, a reading that misses
//! its limit counts until the line is read again: a word takes it out of none.

use std::collections::BTreeMap;

use serde::Serialize;

use super::correct::{Temperature, settled};
use super::list::{Bound, Kind, Line};

/// What was said of a line: a reading, or one of two ways of having none.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[cfg_attr(feature = "schema", schema(as = ReadingState))]
#[serde(rename_all = "snake_case")]
pub enum State {
    Measured,
    /// The vehicle has no such thing.
    NotApplicable,
    /// It has, and nobody read it.
    NotMeasured,
}

impl State {
    pub const ALL: [Self; 3] = [Self::Measured, Self::NotApplicable, Self::NotMeasured];

    /// The word, as in the record.
    #[must_use]
    pub const fn as_str(self) -> &'static str {
        match self {
            Self::Measured => "measured",
            Self::NotApplicable => "not_applicable",
            Self::NotMeasured => "not_measured",
        }
    }

    /// The state of a word; `None` for another one.
    #[must_use]
    pub fn parse(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|state| state.as_str() == word)
    }
}

/// One row of a sheet: the reading of one place of a line at one attempt.
#[derive(Debug, Clone, PartialEq)]
pub struct Taken {
    pub key: String,
    /// Of cells, from 1.
    pub place: Option<u32>,
    pub attempt: i32,
    pub state: State,
    /// A yes is 1, a no 0.
    pub value: Option<f64>,
    pub temperature: Option<Temperature>,
    pub words: Option<String>,
    pub reason: Option<String>,
}

/// What becomes of a line.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[cfg_attr(feature = "schema", schema(as = ReadingVerdict))]
#[serde(rename_all = "snake_case")]
pub enum Verdict {
    Pass,
    Fail,
    NotApplicable,
    NotMeasured,
}

impl Verdict {
    /// The word, as in answers.
    #[must_use]
    pub const fn as_str(self) -> &'static str {
        match self {
            Self::Pass => "pass",
            Self::Fail => "fail",
            Self::NotApplicable => "not_applicable",
            Self::NotMeasured => "not_measured",
        }
    }

    /// Whether a vehicle may leave with it.
    #[must_use]
    pub const fn lets_go(self) -> bool {
        matches!(self, Self::Pass | Self::NotApplicable)
    }
}

/// A value of a line as it was read, and as it counts.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[cfg_attr(feature = "schema", schema(as = ReadValue))]
pub struct Value {
    pub place: Option<u32>,
    pub read: f64,
    /// Brought to the correction's temperature, where the line has one.
    pub counts_as: f64,
}

/// A line with its verdict.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct LineVerdict {
    pub key: String,
    pub verdict: Verdict,
    /// In a sentence, with the numbers it rests on.
    pub why: String,
    /// The attempt that counts.
    pub attempt: Option<i32>,
    /// Its values, by place.
    pub values: Vec<Value>,
    /// Of cells.
    pub mean: Option<f64>,
    pub spread: Option<f64>,
}

/// Lines of which one is enough, with their verdict together.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct GroupVerdict {
    pub one_of: String,
    pub keys: Vec<String>,
    pub verdict: Verdict,
    pub why: String,
}

/// A sheet's verdict: the vehicle passes only if nothing fails and nothing is
/// still to be measured.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct SheetVerdict {
    pub passes: bool,
    pub lines: Vec<LineVerdict>,
    pub groups: Vec<GroupVerdict>,
}

/// The value that a reading counts as; `None` where it needs a temperature
/// and has none.
#[must_use]
pub fn counted(line: &Line, read: f64, at: Option<Temperature>) -> Option<f64> {
    let value = match &line.correction {
        None => read,
        Some(correction) => correction.correct(read, at?),
    };
    Some(settled(value)).filter(|value| value.is_finite())
}

/// Judges the readings of a sheet. Their order does not matter.
#[must_use]
pub fn judge(lines: &[Line], taken: &[Taken]) -> SheetVerdict {
    let mut judged: Vec<LineVerdict> = lines.iter().map(|line| line_of(line, taken)).collect();
    let mut groups: Vec<GroupVerdict> = Vec::new();
    for word in lines.iter().filter_map(|line| line.one_of.as_deref()) {
        if groups.iter().all(|group| group.one_of != word) {
            groups.push(together(word, lines, &mut judged));
        }
    }
    let lines_go = judged.iter().all(|line| line.verdict.lets_go());
    let passes =
        !judged.is_empty() && lines_go && groups.iter().all(|group| group.verdict.lets_go());
    SheetVerdict { passes, lines: judged, groups }
}

/// The attempts at a line, the last one first, each with its rows by place.
fn attempts<'a>(line: &Line, taken: &'a [Taken]) -> Vec<Vec<&'a Taken>> {
    let mut attempts: BTreeMap<i32, Vec<&Taken>> = BTreeMap::new();
    for row in taken.iter().filter(|row| row.key == line.key) {
        attempts.entry(row.attempt).or_default().push(row);
    }
    for rows in attempts.values_mut() {
        rows.sort_by(|a, b| {
            let value = |row: &Taken| row.value.unwrap_or(f64::NEG_INFINITY);
            a.place.cmp(&b.place).then_with(|| value(a).total_cmp(&value(b)))
        });
    }
    attempts.into_values().rev().collect()
}

fn line_of(line: &Line, taken: &[Taken]) -> LineVerdict {
    let attempts = attempts(line, taken);
    let last = attempt_of(line, attempts.first().map(Vec::as_slice).unwrap_or_default());
    let is_read = |one: &LineVerdict| matches!(one.verdict, Verdict::Pass | Verdict::Fail);
    if line.one_of.is_none() || is_read(&last) {
        return last;
    }
    // What stands beside it would free a line without a reading: a word would wash
    // out what was read.
    let read = attempts.iter().map(|rows| attempt_of(line, rows)).find(is_read);
    match read {
        Some(read) if read.verdict == Verdict::Fail => {
            let why = format!("{} Nothing was measured since: read it again.", read.why);
            LineVerdict { why, ..read }
        }
        _ => last,
    }
}

/// The verdict by one attempt; by none where it has no rows.
fn attempt_of(line: &Line, rows: &[&Taken]) -> LineVerdict {
    let plain = |verdict, why: String| LineVerdict {
        key: line.key.clone(),
        verdict,
        why,
        attempt: rows.first().map(|row| row.attempt),
        values: Vec::new(),
        mean: None,
        spread: None,
    };
    let Some(first) = rows.first() else {
        return plain(Verdict::NotMeasured, "Not measured yet.".to_owned());
    };
    let because = |what: &str| {
        let reason = first.reason.as_deref().unwrap_or("no reason given");
        format!("{what}: {reason}")
    };
    if rows.iter().any(|row| row.state == State::NotMeasured) {
        return plain(Verdict::NotMeasured, because("Not measured"));
    }
    if rows.iter().any(|row| row.state == State::NotApplicable) {
        return plain(Verdict::NotApplicable, because("Not on this vehicle"));
    }
    match line.kind {
        Kind::Words => {
            plain(Verdict::Pass, first.words.clone().unwrap_or_else(|| "Written down.".to_owned()))
        }
        Kind::YesNo => {
            let yes = first.value.is_some_and(|value| value > 0.5);
            let fits = line.expects.is_none_or(|expected| expected == yes);
            let said = if yes { "Yes." } else { "No." };
            plain(if fits { Verdict::Pass } else { Verdict::Fail }, said.to_owned())
        }
        Kind::Number | Kind::Cells => measured(line, rows, plain),
    }
}

fn measured(
    line: &Line,
    rows: &[&Taken],
    plain: impl Fn(Verdict, String) -> LineVerdict,
) -> LineVerdict {
    let mut values = Vec::with_capacity(rows.len());
    for row in rows {
        let Some(read) = row.value else { continue };
        let Some(counts_as) = counted(line, read, row.temperature) else {
            return plain(Verdict::NotMeasured, "The temperature is missing.".to_owned());
        };
        values.push(Value { place: row.place, read, counts_as });
    }
    let wanted = usize::try_from(line.places()).unwrap_or(usize::MAX);
    if values.len() < wanted {
        let why = format!("{} of {wanted} read.", values.len());
        return LineVerdict { values, ..plain(Verdict::NotMeasured, why) };
    }
    let low = values.iter().map(|value| value.counts_as).fold(f64::INFINITY, f64::min);
    let high = values.iter().map(|value| value.counts_as).fold(f64::NEG_INFINITY, f64::max);
    let sum: f64 = values.iter().map(|value| value.counts_as).sum();
    let (mean, spread) = (settled(sum / values.len() as f64), settled(high - low));
    let misses = misses(line, (low, high), mean, spread);
    let verdict = if misses.is_empty() { Verdict::Pass } else { Verdict::Fail };
    let why = if misses.is_empty() { held(line, (low, high), spread) } else { misses.join(" ") };
    let cells = line.kind == Kind::Cells;
    LineVerdict {
        values,
        mean: cells.then_some(mean),
        spread: cells.then_some(spread),
        ..plain(verdict, why)
    }
}

/// Every limit that is missed, a sentence each.
fn misses(line: &Line, (low, high): (f64, f64), mean: f64, spread: f64) -> Vec<String> {
    let cells = line.kind == Kind::Cells;
    let mut limits: Vec<_> = line.limits.iter().collect();
    limits.sort_by_key(|limit| limit.bound);
    limits
        .into_iter()
        .filter_map(|limit| {
            let (what, value, over) = match limit.bound {
                Bound::Least if cells => ("The lowest cell", low, low >= limit.value),
                Bound::Least => ("The reading", low, low >= limit.value),
                Bound::Most if cells => ("The highest cell", high, high <= limit.value),
                Bound::Most => ("The reading", high, high <= limit.value),
                Bound::MeanLeast => ("The mean", mean, mean >= limit.value),
                Bound::SpreadMost => ("The spread of the cells", spread, spread <= limit.value),
            };
            let side = match limit.bound {
                Bound::Least | Bound::MeanLeast => "below",
                Bound::Most | Bound::SpreadMost => "above",
            };
            let (value, bound) = (shown(line, value), shown(line, limit.value));
            (!over).then(|| format!("{what} is {value}, {side} {bound}."))
        })
        .collect()
}

/// What was read, where every limit is kept.
fn held(line: &Line, (low, high): (f64, f64), spread: f64) -> String {
    if line.kind == Kind::Cells {
        let [low, high, spread] = [low, high, spread].map(|value| shown(line, value));
        return format!("{low} to {high}, spread {spread}.");
    }
    format!("{}.", shown(line, low))
}

/// A value with as many decimals as the line's limits have, or its own up to
/// four.
fn shown(line: &Line, value: f64) -> String {
    let of = |value: f64| {
        let same = |at: &usize| {
            let scale = 10_f64.powi(i32::try_from(*at).unwrap_or(0));
            ((value * scale).round() / scale - value).abs() < 1e-9
        };
        (0..4).find(same).unwrap_or(4)
    };
    let limits = line.limits.iter().map(|limit| of(limit.value));
    let decimals = limits.chain([of(value)]).max().unwrap_or(0);
    format!("{value:.decimals$}")
}

/// The verdict of lines of which one is enough: what was read of them counts,
/// and frees those that were not. Where all are not applicable, one is owed.
fn together(word: &str, lines: &[Line], judged: &mut [LineVerdict]) -> GroupVerdict {
    let is_member = |line: &Line| line.one_of.as_deref() == Some(word);
    let members: Vec<&Line> = lines.iter().filter(|line| is_member(line)).collect();
    let keys: Vec<String> = members.iter().map(|line| line.key.clone()).collect();
    let verdicts = |wanted: Verdict| {
        judged.iter().any(|line| line.verdict == wanted && keys.contains(&line.key))
    };
    let labels: Vec<&str> = members.iter().map(|line| line.label.as_str()).collect();
    let (verdict, why) = if verdicts(Verdict::Fail) {
        (Verdict::Fail, "A reading misses its limit.".to_owned())
    } else if verdicts(Verdict::Pass) {
        (Verdict::Pass, "One reading stands.".to_owned())
    } else {
        let count = match labels.len() {
            2 => "two".to_owned(),
            3 => "three".to_owned(),
            count => count.to_string(),
        };
        (Verdict::NotMeasured, format!("One of these {count} is owed: {}.", labels.join("; ")))
    };
    if verdict != Verdict::NotMeasured {
        let read: Vec<&str> = lines
            .iter()
            .filter(|line| is_member(line))
            .zip(judged.iter().filter(|line| keys.contains(&line.key)))
            .filter(|(_, line)| matches!(line.verdict, Verdict::Pass | Verdict::Fail))
            .map(|(line, _)| line.label.as_str())
            .collect();
        let why = format!("Not needed: {} was read.", read.join(", "));
        for line in judged.iter_mut().filter(|line| keys.contains(&line.key)) {
            if line.verdict == Verdict::NotMeasured {
                line.verdict = Verdict::NotApplicable;
                line.why.clone_from(&why);
            }
        }
    }
    GroupVerdict { one_of: word.to_owned(), keys, verdict, why }
}
