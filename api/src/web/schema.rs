//! How shared types look in the API document.

use utoipa::openapi::schema::{Schema, SchemaFormat, Type};
use utoipa::openapi::{KnownFormat, ObjectBuilder, RefOr};
use utoipa::{PartialSchema, ToSchema};

use crate::domain::clock::UtcStamp;
use crate::domain::ids::{
    CheckId, ComebackId, GrantId, GroupId, JobId, LaborId, OperationId, OrderId, PartUseId,
    PersonId, ProofId, ShopPublicId, VehicleId,
};
use crate::domain::role::Role;

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
texts!(KnownFormat::DateTime => UtcStamp);

impl PartialSchema for Role {
    fn schema() -> RefOr<Schema> {
        ObjectBuilder::new()
            .schema_type(Type::String)
            .enum_values(Some(Self::ALL.iter().map(|role| role.as_str())))
            .into()
    }
}
impl ToSchema for Role {}

texts!(KnownFormat::Uuid => crate::domain::ids::AttendanceId, crate::domain::ids::SubletId,
    crate::domain::ids::WaitId);
