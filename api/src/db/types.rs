//! How the types of `domain` and the closed word lists lie in a column: ids,
//! words and instants as what both databases keep.

use analytics::words::{
    Access, Activity, CauseState, Curable, Disposition, Finding, JobKind, LinkState, Outcome,
    PartRole, Payer, RuleKind, Serviceable, WorkedAs,
};
use chrono::NaiveDateTime;
use diesel::backend::Backend;
use diesel::deserialize::{self, FromSql, FromSqlRow, Queryable};
use diesel::expression::AsExpression;
use diesel::internal::derives::as_expression::Bound;
use diesel::serialize::{self, Output, ToSql};
use diesel::sql_types::{Nullable, SingleValue, Text, Timestamp};

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

impl<DB: Backend> FromSql<Timestamp, DB> for UtcStamp
where
    NaiveDateTime: FromSql<Timestamp, DB>,
{
    fn from_sql(bytes: DB::RawValue<'_>) -> deserialize::Result<Self> {
        Ok(Self::from_naive(NaiveDateTime::from_sql(bytes)?))
    }
}
column_values!(Timestamp: UtcStamp);
