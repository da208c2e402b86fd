//! Roles, and what each may do.

/// What a person is in a shop, or in the group.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Role {
    Technician,
    Adviser,
    ServiceManager,
    Owner,
    Administrator,
}

impl Role {
    pub const ALL: &'static [Self] =
        &[Self::Technician, Self::Adviser, Self::ServiceManager, Self::Owner, Self::Administrator];

    /// The word in files and answers.
    #[must_use]
    pub const fn as_str(self) -> &'static str {
        match self {
            Self::Technician => "technician",
            Self::Adviser => "adviser",
            Self::ServiceManager => "service_manager",
            Self::Owner => "owner",
            Self::Administrator => "administrator",
        }
    }

    /// The words shown to people.
    #[must_use]
    pub const fn label(self) -> &'static str {
        match self {
            Self::ServiceManager => "service manager",
            other => other.as_str(),
        }
    }

    /// Somebody of the role: `an adviser`.
    #[must_use]
    pub fn one(self) -> String {
        let label = self.label();
        let article = if label.starts_with(['a', 'o']) { "an" } else { "a" };
        format!("{article} {label}")
    }

    /// The role of a word; a hyphen or blank may stand for the underscore.
    #[must_use]
    pub fn parse(text: &str) -> Option<Self> {
        let text = text.replace(['-', ' '], "_");
        Self::ALL.iter().copied().find(|role| role.as_str() == text)
    }

    /// Held for all shops of the group, not for one.
    #[must_use]
    pub const fn is_of_group(self) -> bool {
        matches!(self, Self::Owner | Self::Administrator)
    }

    /// Whether the role may do it.
    #[must_use]
    pub const fn may(self, what: Permission) -> bool {
        use Permission as P;
        match self {
            Self::Technician => matches!(
                what,
                P::ReadRecord
                    | P::WriteWork
                    | P::ReadCodes
                    | P::ReadAdvice
                    | P::ReadOwnLabor
                    | P::ReadRules
            ),
            Self::Adviser => matches!(
                what,
                P::ReadRecord
                    | P::WriteWork
                    | P::WriteFront
                    | P::ReadCodes
                    | P::ReadAdvice
                    | P::ReadPrices
                    | P::LinkComeback
                    | P::ReadRules
            ),
            Self::ServiceManager => matches!(
                what,
                P::ReadRecord
                    | P::WriteWork
                    | P::WriteFront
                    | P::ReadCodes
                    | P::WriteCodes
                    | P::ReadAdvice
                    | P::ReadPrices
                    | P::ReadCosts
                    | P::LinkComeback
                    | P::DecideComeback
                    | P::ReadReports
                    | P::ReadOwnLabor
                    | P::WritePeople
                    | P::ReadPeople
                    | P::Correct
                    | P::ReadAudit
                    | P::WriteAttendance
                    | P::ReadAttendance
                    | P::ReadRules
                    | P::WriteRules
            ),
            Self::Owner => matches!(
                what,
                P::ReadRecord
                    | P::ReadCodes
                    | P::WriteCodes
                    | P::ReadAdvice
                    | P::ReadPrices
                    | P::ReadCosts
                    | P::ReadReports
                    | P::ReadOwnLabor
                    | P::ReadPeople
                    | P::ReadAudit
                    | P::ReadAttendance
                    | P::ReadHouse
                    | P::ReadRules
                    | P::WriteRules
            ),
            Self::Administrator => matches!(
                what,
                P::ReadCodes
                    | P::WriteCodes
                    | P::ReadPeople
                    | P::WritePeople
                    | P::WriteShops
                    | P::KeepTokens
                    | P::ReadHouse
            ),
        }
    }
}

/// One kind of thing that may be done in a shop.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Permission {
    /// See orders, jobs, comebacks, vehicles.
    ReadRecord,
    /// Write jobs, checks, parts, labor, proofs; close.
    WriteWork,
    /// Customers, authorization, prices.
    WriteFront,
    ReadCodes,
    WriteCodes,
    /// Check plans, shop rules and lists of readings.
    ReadRules,
    WriteRules,
    /// Reuse advice and diagnosis paths.
    ReadAdvice,
    ReadPrices,
    ReadCosts,
    /// Say at write-up that the vehicle was in before for this.
    LinkComeback,
    DecideComeback,
    /// Every report of the shop.
    ReadReports,
    /// The labor report; a technician sees the own line alone.
    ReadOwnLabor,
    ReadPeople,
    WritePeople,
    WriteShops,
    /// See and revoke every token of the group.
    KeepTokens,
    /// Change what is finished or handed over; it is marked.
    Correct,
    /// Who changed what, before and after.
    ReadAudit,
    /// The hours people were there.
    WriteAttendance,
    ReadAttendance,
    /// The group's shops at a glance, the database, its copies.
    ReadHouse,
}

impl serde::Serialize for Role {
    fn serialize<S: serde::Serializer>(&self, s: S) -> Result<S::Ok, S::Error> {
        s.serialize_str(self.as_str())
    }
}

impl<'de> serde::Deserialize<'de> for Role {
    fn deserialize<D: serde::Deserializer<'de>>(d: D) -> Result<Self, D::Error> {
        let text = String::deserialize(d)?;
        Self::parse(&text)
            .ok_or_else(|| serde::de::Error::custom(format!("'{text}' is not a role")))
    }
}
