//! The closed word lists of a job: what a shop cannot rename because the
//! figures depend on their meaning. Codes a shop edits (symptoms, causes,
//! checks) are plain text.

/// Makes an enum whose values are fixed words, with the word as its only
/// outside form.
macro_rules! words {
    ($(#[$meta:meta])* $name:ident { $($(#[$vmeta:meta])* $variant:ident = $text:literal),+ $(,)? }) => {
        $(#[$meta])*
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
        pub enum $name { $($(#[$vmeta])* $variant),+ }

        impl $name {
            /// Every value, in the order of the list.
            pub const ALL: &'static [Self] = &[$(Self::$variant),+];
            /// Every word, in the same order.
            pub const WORDS: &'static [&'static str] = &[$($text),+];

            /// The word itself.
            #[must_use]
            pub const fn as_str(self) -> &'static str {
                match self { $(Self::$variant => $text),+ }
            }

            /// The value of a word; `None` where the list has no such word.
            #[must_use]
            pub fn parse(text: &str) -> Option<Self> {
                match text { $($text => Some(Self::$variant),)+ _ => None }
            }

            /// The place in the list, for a column.
            #[must_use]
            pub const fn code(self) -> u8 { self as u8 }

            /// The value at a place in the list.
            #[must_use]
            pub fn from_code(code: u8) -> Option<Self> {
                Self::ALL.get(usize::from(code)).copied()
            }
        }

        impl std::fmt::Display for $name {
            fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
                f.write_str(self.as_str())
            }
        }

        impl serde::Serialize for $name {
            fn serialize<S: serde::Serializer>(&self, s: S) -> Result<S::Ok, S::Error> {
                s.serialize_str(self.as_str())
            }
        }

        impl<'de> serde::Deserialize<'de> for $name {
            fn deserialize<D: serde::Deserializer<'de>>(d: D) -> Result<Self, D::Error> {
                let text = String::deserialize(d)?;
                Self::parse(&text).ok_or_else(|| {
                    serde::de::Error::custom(format!(
                        "'{text}' is not one of: {}", Self::WORDS.join(", ")
                    ))
                })
            }
        }

        #[cfg(feature = "schema")]
        impl utoipa::PartialSchema for $name {
            fn schema() -> utoipa::openapi::RefOr<utoipa::openapi::schema::Schema> {
                utoipa::openapi::ObjectBuilder::new()
                    .schema_type(utoipa::openapi::schema::Type::String)
                    .enum_values(Some(Self::WORDS.iter().copied()))
                    .into()
            }
        }

        #[cfg(feature = "schema")]
        impl utoipa::ToSchema for $name {}
    };
}

words! {
    /// What must be open or ready before a check can be done.
    Access {
        None = "none",
        /// A cap, a plug connector, a fuse box lid.
        Light = "light",
        Lift = "lift",
        Wheels = "wheels",
        Rack = "rack",
        PlugsOut = "plugs_out",
        Cover = "cover",
        /// What lies below a cover.
        Deep = "deep",
        Varies = "varies",
        /// Somebody trained for high voltage.
        Trained = "trained",
    }
}

impl Access {
    /// Whether getting there takes minutes that are not the check's own.
    #[must_use]
    pub const fn is_opening(self) -> bool {
        !matches!(self, Self::None | Self::Light | Self::Lift)
    }
}

words! {
    /// What a job is for.
    JobKind {
        Complaint = "complaint",
        Maintenance = "maintenance",
        Preparation = "preparation",
        Recall = "recall",
    }
}

words! {
    /// How a job ended. Only `repaired` enters a comeback share.
    Outcome {
        Repaired = "repaired",
        TemporaryRepair = "temporary_repair",
        NotReproduced = "not_reproduced",
        NoFaultFound = "no_fault_found",
        Declined = "declined",
        PlannedSecondVisit = "planned_second_visit",
        Sublet = "sublet",
    }
}

impl Outcome {
    /// Something was done about the complaint: it was neither declined nor
    /// never met. What became of parts is followed on such jobs alone.
    #[must_use]
    pub const fn is_done(self) -> bool {
        !matches!(self, Self::Declined | Self::NotReproduced)
    }
}

words! {
    /// What a check showed.
    Finding {
        Normal = "normal",
        Abnormal = "abnormal",
        Inconclusive = "inconclusive",
        NotDone = "not_done",
    }
}

words! {
    /// What was done with a part.
    Disposition {
        ReplacedNew = "replaced_new",
        ReplacedRebuilt = "replaced_rebuilt",
        ReplacedUsed = "replaced_used",
        CleanedReused = "cleaned_reused",
        AdjustedReused = "adjusted_reused",
        RepairedReused = "repaired_reused",
        RemovedRefitted = "removed_refitted",
        TestedLeft = "tested_left",
    }
}

impl Disposition {
    /// A different part is on the vehicle afterwards.
    #[must_use]
    pub const fn is_replaced(self) -> bool {
        matches!(self, Self::ReplacedNew | Self::ReplacedRebuilt | Self::ReplacedUsed)
    }

    /// Cleaned, adjusted or repaired, and the same part is on the vehicle again.
    #[must_use]
    pub const fn is_put_back(self) -> bool {
        matches!(self, Self::CleanedReused | Self::AdjustedReused | Self::RepairedReused)
    }
}

words! {
    /// Why a part was touched.
    PartRole {
        /// Held for the complaint's cause.
        Suspect = "suspect",
        /// Only in the way.
        Bystander = "bystander",
        /// Damaged by the fault.
        Damaged = "damaged",
        /// The customer's wish.
        Wish = "wish",
    }
}

words! {
    /// How a part can be had.
    Serviceable {
        Alone = "alone",
        AssemblyOnly = "assembly_only",
        NotServiceable = "not_serviceable",
    }
}

words! {
    /// What a labor entry was spent on.
    Activity {
        Diagnosis = "diagnosis",
        Access = "access",
        Repair = "repair",
        Reassembly = "reassembly",
        Proof = "proof",
    }
}

words! {
    /// As what a technician worked on a job.
    WorkedAs {
        Lead = "lead",
        Helper = "helper",
        Trainee = "trainee",
    }
}

words! {
    /// Who pays for an operation.
    Payer {
        Customer = "customer",
        Maker = "maker",
        Supplier = "supplier",
        OwnGuarantee = "own_guarantee",
        Goodwill = "goodwill",
        Internal = "internal",
    }
}

words! {
    /// How sure a cause is.
    CauseState {
        Suspected = "suspected",
        Confirmed = "confirmed",
    }
}

words! {
    /// Where a comeback or a part return stands.
    LinkState {
        Proposed = "proposed",
        Confirmed = "confirmed",
        Rejected = "rejected",
    }
}

words! {
    /// What was told of a repair that did not hold, without the vehicle coming
    /// back.
    Told {
        FixedElsewhere = "fixed_elsewhere",
        NotFixed = "not_fixed",
    }
}

words! {
    /// Whether cleaning can cure a cause.
    Curable {
        Yes = "yes",
        No = "no",
        Depends = "depends",
    }
}

words! {
    /// What a shop rule asks for.
    RuleKind {
        /// A part that was held for the cause is replaced, not cleaned.
        ReplaceSuspect = "replace_suspect",
        /// A part that is put back is read on the bench first.
        CleanAndTest = "clean_and_test",
        /// A check comes before any other of a complaint, but for free looks.
        CheckFirst = "check_first",
        /// A reading lies inside limits before the vehicle leaves.
        ReadingLimit = "reading_limit",
        /// What no column of the record can tell: somebody says so on the job.
        FreeText = "free_text",
    }
}
