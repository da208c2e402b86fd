//! How the types of `domain` and the closed word lists lie in a column: ids,
//! words and instants as what both databases keep.

use analytics::words::{
    Access, Activity, CauseState, Curable, Disposition, Finding, JobKind, LinkState, Outcome,
    PartRole, Payer, RuleKind, Serviceable, WorkedAs,
};
use chrono::{NaiveDate, NaiveDateTime};
use diesel::backend::Backend;
use diesel::connection::Connection;
use diesel::deserialize::{self, FromSql, FromSqlRow, Queryable};
use diesel::expression::AsExpression;
use diesel::internal::derives::as_expression::Bound;
use diesel::pg::Pg;
use diesel::serialize::{self, Output, ToSql};
use diesel::sql_types::{Nullable, SingleValue, Text, Timestamp};
use diesel::sqlite::Sqlite;

use super::Conn;
use crate::domain::clock::UtcStamp;
use crate::domain::ids::{
    ActionId, AttendanceId, AuthorizationId, CheckId, CheckPlanId, CheckPlanVersionId, ComebackId,
    CopyId, EnquiryId, FollowUpId, GrantId, GroupId, JobId, LaborId, OdometerResetId, OperationId,
    OrderId, OutsideReturnId, PartUseId, PayBackId, PersonId, ProofId, ReadingListId,
    ReadingListVersionId, ReadingSheetId, ReadingTakenId, RuleId, ShopPublicId, SilenceId, StockId,
    SubletId, TabletId, TokenId, VehicleId, WaitId,
};
use crate::domain::role::Role;
use crate::domain::scope::Scope;
use crate::domain::style::DateStyle;

/// A closed list of words, whichever crate it comes from.
pub trait FixedWord: Copy + std::fmt::Debug + 'static {
    fn word(self) -> &'static str;
    fn read(text: &str) -> Option<Self>;
}

macro_rules! fixed_words {
    ($($name:ty),+ $(,)?) => {$(
        impl FixedWord for $name {
            fn word(self) -> &'static str { self.as_str() }
            fn read(text: &str) -> Option<Self> { Self::parse(text) }
        }
    )+};
}
fixed_words!(
    Access,
    Activity,
    CauseState,
    Curable,
    Disposition,
    Finding,
    JobKind,
    LinkState,
    Outcome,
    PartRole,
    Payer,
    RuleKind,
    Serviceable,
    WorkedAs,
    Role,
    Scope,
    DateStyle,
);

/// A word in a TEXT column. The lists live in a crate that knows no database,
/// so the column type has to be this one's own.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, AsExpression, FromSqlRow)]
#[diesel(sql_type = Text)]
pub struct Word<T: FixedWord>(pub T);

impl<T: FixedWord + serde::Serialize> serde::Serialize for Word<T> {
    fn serialize<S: serde::Serializer>(&self, s: S) -> Result<S::Ok, S::Error> {
        self.0.serialize(s)
    }
}

impl<T: FixedWord, DB: Backend> ToSql<Text, DB> for Word<T>
where
    str: ToSql<Text, DB>,
{
    fn to_sql<'b>(&'b self, out: &mut Output<'b, '_, DB>) -> serialize::Result {
        ToSql::<Text, DB>::to_sql(self.0.word(), out)
    }
}

impl<T: FixedWord, DB: Backend> FromSql<Text, DB> for Word<T>
where
    String: FromSql<Text, DB>,
{
    fn from_sql(bytes: DB::RawValue<'_>) -> deserialize::Result<Self> {
        let text = String::from_sql(bytes)?;
        T::read(&text)
            .map(Self)
            .ok_or_else(|| format!("'{text}' is not in the list of words").into())
    }
}

/// What diesel's derives would write, for types whose module must not know it.
macro_rules! column_values {
    ($sql:ty: $($name:ty),+ $(,)?) => {$(
        column_values!(@as $name, $name, $sql);
        column_values!(@as $name, $name, Nullable<$sql>);
        column_values!(@ref $name, $sql);
        column_values!(@ref $name, Nullable<$sql>);

        impl<DB: Backend> ToSql<Nullable<$sql>, DB> for $name
        where
            $name: ToSql<$sql, DB>,
        {
            fn to_sql<'b>(&'b self, out: &mut Output<'b, '_, DB>) -> serialize::Result {
                ToSql::<$sql, DB>::to_sql(self, out)
            }
        }

        impl<DB: Backend, ST: SingleValue> Queryable<ST, DB> for $name
        where
            $name: FromSql<ST, DB>,
        {
            type Row = Self;
            fn build(row: Self) -> deserialize::Result<Self> { Ok(row) }
        }
    )+};
    (@as $from:ty, $name:ty, $sql:ty) => {
        impl AsExpression<$sql> for $from {
            type Expression = Bound<$sql, Self>;
            fn as_expression(self) -> Self::Expression { Bound::new(self) }
        }
    };
    (@ref $name:ty, $sql:ty) => {
        impl<'expr> AsExpression<$sql> for &'expr $name {
            type Expression = Bound<$sql, Self>;
            fn as_expression(self) -> Self::Expression { Bound::new(self) }
        }
    };
}

macro_rules! id_columns {
    ($($name:ty),+ $(,)?) => {$(
        impl<DB: Backend> ToSql<Text, DB> for $name
        where
            str: ToSql<Text, DB>,
        {
            fn to_sql<'b>(&'b self, out: &mut Output<'b, '_, DB>) -> serialize::Result {
                ToSql::<Text, DB>::to_sql(self.as_str(), out)
            }
        }

        impl<DB: Backend> FromSql<Text, DB> for $name
        where
            String: FromSql<Text, DB>,
        {
            fn from_sql(bytes: DB::RawValue<'_>) -> deserialize::Result<Self> {
                let text = String::from_sql(bytes)?;
                Self::parse(&text).ok_or_else(|| format!("'{text}' is no id").into())
            }
        }
    )+
        column_values!(Text: $($name),+);
    };
}
id_columns!(
    AttendanceId,
    AuthorizationId,
    CheckId,
    ComebackId,
    GrantId,
    GroupId,
    JobId,
    LaborId,
    OdometerResetId,
    OperationId,
    OrderId,
    OutsideReturnId,
    PartUseId,
    PayBackId,
    PersonId,
    ProofId,
    ShopPublicId,
    SubletId,
    TabletId,
    CopyId,
    CheckPlanId,
    CheckPlanVersionId,
    RuleId,
    ReadingListId,
    ReadingListVersionId,
    ReadingSheetId,
    ReadingTakenId,
    StockId,
    FollowUpId,
    EnquiryId,
    ActionId,
    SilenceId,
    TokenId,
    VehicleId,
    WaitId,
);

impl<DB: Backend> ToSql<Timestamp, DB> for UtcStamp
where
    NaiveDateTime: ToSql<Timestamp, DB>,
{
    fn to_sql<'b>(&'b self, out: &mut Output<'b, '_, DB>) -> serialize::Result {
        ToSql::<Timestamp, DB>::to_sql(self.naive(), out)
    }
}

impl FromSql<Timestamp, Pg> for UtcStamp {
    fn from_sql(value: <Pg as Backend>::RawValue<'_>) -> deserialize::Result<Self> {
        let at = <NaiveDateTime as FromSql<Timestamp, Pg>>::from_sql(value)?;
        Ok(Self::from_naive(at))
    }
}

/// The form in which the program writes instants is read by itself: the general
/// reader tries formats one after the other, which adds up over a shop's hours.
impl FromSql<Timestamp, Sqlite> for UtcStamp {
    fn from_sql(mut value: <Sqlite as Backend>::RawValue<'_>) -> deserialize::Result<Self> {
        let written = instant(value.read_text());
        Ok(Self::from_naive(match written {
            Some(at) => at,
            None => <NaiveDateTime as FromSql<Timestamp, Sqlite>>::from_sql(value)?,
        }))
    }
}

type Either = <Conn as Connection>::Backend;

impl FromSql<Timestamp, Either> for UtcStamp {
    fn from_sql(value: <Either as Backend>::RawValue<'_>) -> deserialize::Result<Self> {
        value.from_sql::<Self, Timestamp>()
    }
}

/// An instant such as `2026-03-02 15:00:00.000001`, with up to nine digits after
/// the point, or none.
fn instant(text: &str) -> Option<NaiveDateTime> {
    let (day, time) = text.split_at_checked(10)?;
    let (time, fraction) = time.split_at_checked(9)?;
    let fraction = match fraction.strip_prefix('.') {
        Some(digits) => digits,
        None if fraction.is_empty() => "0",
        None => return None,
    };
    let places = u32::try_from(fraction.len()).ok().filter(|places| *places <= 9)?;
    let nanos = number(fraction)? * 10_u32.pow(9 - places);
    let [year, month, day] = three(day, '-')?;
    let [hour, minute, second] = three(time.strip_prefix(' ')?, ':')?;
    NaiveDate::from_ymd_opt(i32::try_from(year).ok()?, month, day)?
        .and_hms_nano_opt(hour, minute, second, nanos)
}

fn three(text: &str, between: char) -> Option<[u32; 3]> {
    let mut parts = text.split(between);
    let three = [number(parts.next()?)?, number(parts.next()?)?, number(parts.next()?)?];
    parts.next().is_none().then_some(three)
}

/// Digits alone, at most nine of them.
fn number(digits: &str) -> Option<u32> {
    if digits.is_empty() || digits.len() > 9 {
        return None;
    }
    digits.bytes().try_fold(0_u32, |number, digit| {
        digit.is_ascii_digit().then(|| number * 10 + u32::from(digit - b'0'))
    })
}
column_values!(Timestamp: UtcStamp);

#[cfg(test)]
#[expect(clippy::unwrap_used, reason = "tests")]
mod tests {
    use proptest::prelude::*;

    use super::*;

    #[test]
    fn instants_are_read_as_the_general_reader_reads_them() {
        let read = |text: &str| NaiveDateTime::parse_from_str(text, "%F %T%.f").unwrap();
        for text in [
            "2026-03-02 15:00:00",
            "2026-03-02 15:00:00.5",
            "2026-03-02 15:00:00.000001",
            "2024-02-29 23:59:59.999999999",
            "1980-01-01 00:00:00",
        ] {
            assert_eq!(instant(text), Some(read(text)), "{text}");
        }
    }

    #[test]
    fn any_other_form_is_left_to_it() {
        for text in [
            "",
            "2026-03-02",
            "2026-03-02T15:00:00",
            "2026-03-02 15:00:00Z",
            "2026-03-02 15:00:00.",
            "2026-03-02 15:00:00.0000000001",
            "2026-02-30 15:00:00",
            "2026-03-02 25:00:00",
            "2026-03-02 15:00:0x",
            "+026-03-02 15:00:00",
            "2026-03-02 15:00:00 +01:00",
            "\u{e9}\u{e9}\u{e9}\u{e9}\u{e9}\u{e9}\u{e9}",
        ] {
            if let Some(at) = instant(text) {
                let general = NaiveDateTime::parse_from_str(text, "%F %T%.f");
                assert_eq!(Ok(at), general, "{text}");
            }
        }
        assert_eq!(instant("2026-03-02 15:00:00Z"), None);
        assert_eq!(instant("2026-02-30 15:00:00"), None);
    }

    proptest! {
        #[test]
        fn what_is_written_is_read(micros in -10_000_000_000_000_i64..10_000_000_000_000_000) {
            let at = chrono::DateTime::from_timestamp_micros(micros).unwrap().naive_utc();
            prop_assert_eq!(instant(&at.format("%F %T%.f").to_string()), Some(at));
        }
    }
}
