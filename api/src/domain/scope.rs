//! What a program's token may be used for, within what its person may do.

/// How far a token reaches.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Scope {
    /// Look, and change nothing.
    Read,
    /// The shop's work: no people, shops, tokens, code lists, audit.
    Work,
    /// Everything that the person may.
    All,
}

impl Scope {
    pub const ALL: &'static [Self] = &[Self::Read, Self::Work, Self::All];

    /// The word in files and answers.
    #[must_use]
    pub const fn as_str(self) -> &'static str {
        match self {
            Self::Read => "read",
            Self::Work => "work",
            Self::All => "all",
        }
    }

    /// The words shown to people.
    #[must_use]
    pub const fn label(self) -> &'static str {
        match self {
            Self::Read => "read only",
            Self::Work => "the shop's work",
            Self::All => "everything you may do",
        }
    }

    /// The scope of a word.
    #[must_use]
    pub fn parse(text: &str) -> Option<Self> {
        Self::ALL.iter().copied().find(|scope| scope.as_str() == text)
    }
}

impl serde::Serialize for Scope {
    fn serialize<S: serde::Serializer>(&self, s: S) -> Result<S::Ok, S::Error> {
        s.serialize_str(self.as_str())
    }
}

impl<'de> serde::Deserialize<'de> for Scope {
    fn deserialize<D: serde::Deserializer<'de>>(d: D) -> Result<Self, D::Error> {
        let text = String::deserialize(d)?;
        Self::parse(&text)
            .ok_or_else(|| serde::de::Error::custom(format!("'{text}' is not read, work or all")))
    }
}
