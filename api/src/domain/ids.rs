//! Ids that cannot be mistaken for one another: UUIDs (RFC 9562, version 7
//! where made here), kept in their lower-case text form.

use uuid::Uuid;

macro_rules! ids {
    ($($(#[$meta:meta])* $name:ident),+ $(,)?) => {$(
        $(#[$meta])*
        #[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, serde::Serialize)]
        #[serde(transparent)]
        pub struct $name(String);

        impl $name {
            /// A new id, sorting after those made before it.
            #[must_use]
            pub fn make() -> Self { Self(Uuid::now_v7().to_string()) }

            /// Reads an id in any of the usual text forms.
            #[must_use]
            pub fn parse(text: &str) -> Option<Self> {
                Uuid::parse_str(text).ok().map(|id| Self(id.to_string()))
            }

            /// The lower-case text form with hyphens.
            #[must_use]
            pub fn as_str(&self) -> &str { &self.0 }

            /// The 128 bits.
            #[must_use]
            pub fn bits(&self) -> u128 {
                Uuid::parse_str(&self.0).map_or(0, |id| id.as_u128())
            }
        }

        impl std::fmt::Display for $name {
            fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
                f.write_str(&self.0)
            }
        }

        impl<'de> serde::Deserialize<'de> for $name {
            fn deserialize<D: serde::Deserializer<'de>>(d: D) -> Result<Self, D::Error> {
                let text = String::deserialize(d)?;
                Self::parse(&text).ok_or_else(|| {
                    serde::de::Error::custom(format!("'{text}' is not a UUID"))
                })
            }
        }
    )+};
}

ids! {
    GroupId,
    /// A shop's id outside the program; rows carry its small number instead.
    ShopPublicId,
    PersonId,
    GrantId,
    VehicleId,
    OrderId,
    JobId,
    OperationId,
    CheckId,
    PartUseId,
    LaborId,
    ProofId,
    ComebackId,
    AuthorizationId,
    WaitId,
    SubletId,
    PayBackId,
    OutsideReturnId,
    OdometerResetId,
    AttendanceId,
    TokenId,
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
}
