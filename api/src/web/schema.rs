//! How shared types look in the API document.

use utoipa::openapi::schema::{Schema, SchemaFormat, Type};
use utoipa::openapi::{KnownFormat, ObjectBuilder, RefOr};
use utoipa::{PartialSchema, ToSchema};

use crate::domain::clock::UtcStamp;
use crate::domain::ids::{
    CheckId, ComebackId, GrantId, GroupId, JobId, LaborId, OperationId, OrderId, PartUseId,
    PersonId, ProofId, ShopPublicId, TabletId, TokenId, VehicleId,
};
use crate::domain::role::Role;
use crate::domain::scope::Scope;
use crate::domain::style::DateStyle;

fn text(format: KnownFormat) -> RefOr<Schema> {
    ObjectBuilder::new()
        .schema_type(Type::String)
        .format(Some(SchemaFormat::KnownFormat(format)))
        .into()
}

macro_rules! texts {
    ($format:expr => $($name:ty),+ $(,)?) => {$(
        impl PartialSchema for $name {
            fn schema() -> RefOr<Schema> { text($format) }
        }
        impl ToSchema for $name {}
    )+};
}
texts!(KnownFormat::Uuid => CheckId, ComebackId, GrantId, GroupId, JobId, LaborId, OperationId,
    OrderId, PartUseId, PersonId, ProofId, ShopPublicId, VehicleId);
texts!(KnownFormat::Uuid => TabletId, TokenId);
texts!(KnownFormat::DateTime => UtcStamp);
texts!(KnownFormat::Uuid => crate::domain::ids::AuthorizationId,
    crate::domain::ids::OdometerResetId, crate::domain::ids::OutsideReturnId,
    crate::domain::ids::PayBackId);

impl PartialSchema for Role {
    fn schema() -> RefOr<Schema> {
        ObjectBuilder::new()
            .schema_type(Type::String)
            .enum_values(Some(Self::ALL.iter().map(|role| role.as_str())))
            .into()
    }
}
impl ToSchema for Role {}

impl PartialSchema for Scope {
    fn schema() -> RefOr<Schema> {
        ObjectBuilder::new()
            .schema_type(Type::String)
            .enum_values(Some(Self::ALL.iter().map(|scope| scope.as_str())))
            .into()
    }
}
impl ToSchema for Scope {}

impl PartialSchema for DateStyle {
    fn schema() -> RefOr<Schema> {
        ObjectBuilder::new()
            .schema_type(Type::String)
            .enum_values(Some(Self::ALL.iter().map(|style| style.as_str())))
            .into()
    }
}
impl ToSchema for DateStyle {}
texts!(KnownFormat::Uuid => crate::domain::ids::AttendanceId, crate::domain::ids::SubletId,
    crate::domain::ids::WaitId);
texts!(KnownFormat::Uuid => crate::domain::ids::CheckPlanId, crate::domain::ids::CheckPlanVersionId,
    crate::domain::ids::RuleId, crate::domain::ids::ReadingListId,
    crate::domain::ids::ReadingListVersionId, crate::domain::ids::ReadingSheetId,
    crate::domain::ids::ReadingTakenId, crate::domain::ids::StockId,
    crate::domain::ids::FollowUpId, crate::domain::ids::EnquiryId,
    crate::domain::ids::ActionId, crate::domain::ids::SilenceId);
