//! Passwords, hashed with argon2id (RFC 9106), one lane, at what a hash may cost on
//! this machine.

use std::time::{Duration, Instant};

use argon2::password_hash::phc::PasswordHash;
use argon2::password_hash::{PasswordHasher, PasswordVerifier};
use argon2::{Algorithm, Argon2, Params, Version};

use zxcvbn::{Score, zxcvbn};

use crate::domain::refusal::FieldFault;
use crate::shops::model::Shop;

/// NIST SP 800-63B-4: a password used alone has at least fifteen characters.
pub const LEAST: usize = 15;
const MOST_BYTES: usize = 1024;

/// Looked at when it is judged how soon a password is guessed: a longer one is not
/// guessed sooner.
const MOST_JUDGED: usize = 100;
/// Names of the program and of what it is for.
const OUR_WORDS: [&str; 3] = ["onetrip", "repair", "workshop"];

/// Checks a new password: its length, and how soon somebody guesses it who tries
/// passwords and words that many people use, keyboard rows, dates, repetitions, and
/// what it is `about`: the shop's and the person's names.
///
/// # Errors
/// Too short, absurdly long, or too easily guessed.
pub fn acceptable<'a>(
    password: &str,
    about: impl IntoIterator<Item = &'a str>,
) -> Result<(), FieldFault> {
    if password.chars().count() < LEAST {
        return Err(FieldFault::new(
            "password",
            "too_short",
            format!("use at least {LEAST} characters; a few words in a row are easy to keep"),
        ));
    }
    if password.len() > MOST_BYTES {
        return Err(FieldFault::new("password", "too_long", "use at most 1024 bytes"));
    }
    let about = words(about);
    let about: Vec<&str> = about.iter().map(String::as_str).chain(OUR_WORDS).collect();
    // Blanks and points between the words of a name make it no harder.
    let letters = password.chars().filter(|letter| letter.is_alphanumeric());
    let judged: [String; 2] =
        [password.chars().take(MOST_JUDGED).collect(), letters.take(MOST_JUDGED).collect()];
    // Fewer than a hundred million guesses, as the estimator's authors count them.
    if judged.iter().any(|text| zxcvbn(text, &about).score() < Score::Three) {
        return Err(FieldFault::new(
            "password",
            "guessable",
            "choose one that is harder to guess: a few words that do not belong together, \
             without names, dates and repetitions",
        ));
    }
    Ok(())
}

/// What passwords of a shop's people are not to be made of.
pub fn of_shops(shops: &[Shop]) -> impl Iterator<Item = &str> {
    shops.iter().flat_map(|shop| [&*shop.name, &*shop.code])
}

/// Names, and the words in them.
fn words<'a>(names: impl IntoIterator<Item = &'a str>) -> Vec<String> {
    let mut words = Vec::new();
    for name in names {
        let name = name.to_lowercase();
        let apart = name.split(|letter: char| !letter.is_alphanumeric());
        words.extend(apart.filter(|word| word.chars().count() > 2).map(str::to_owned));
        words.push(name.chars().filter(|letter| letter.is_alphanumeric()).collect());
    }
    words.retain(|word| !word.is_empty());
    words
}

/// What a hash costs: memory and passes over it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Cost {
    pub memory_kib: u32,
    pub passes: u32,
}

impl Cost {
    /// The least that OWASP's Password Storage sheet asks for.
    pub const LEAST: Self = Self { memory_kib: 19 * 1024, passes: 2 };
    /// From what RFC 9106 gives where memory is short (64 MiB, three passes) down.
    const STEPS: [Self; 4] = [
        Self { memory_kib: 64 * 1024, passes: 3 },
        Self { memory_kib: 46 * 1024, passes: 3 },
        Self { memory_kib: 46 * 1024, passes: 2 },
        Self { memory_kib: 32 * 1024, passes: 2 },
    ];
    /// Whoever signs in waits so long at most, on a machine that does nothing else.
    const MOST: Duration = Duration::from_millis(250);

    /// The dearest that this machine makes in time.
    #[must_use]
    pub fn measured() -> Self {
        let in_time = |cost: &Self| {
            let begun = Instant::now();
            hash("how long does this take", *cost).is_ok() && begun.elapsed() <= Self::MOST
        };
        Self::STEPS.into_iter().find(in_time).unwrap_or(Self::LEAST)
    }

    fn argon(self) -> Result<Argon2<'static>, String> {
        let params = Params::new(self.memory_kib, self.passes, 1, None);
        let params = params.map_err(|error| error.to_string())?;
        Ok(Argon2::new(Algorithm::Argon2id, Version::V0x13, params))
    }
}

/// The PHC string of a password. Slow on purpose: call it off the async threads.
///
/// # Errors
/// Where the hash cannot be made.
pub fn hash(password: &str, cost: Cost) -> Result<String, String> {
    let hash = cost.argon()?.hash_password(password.as_bytes());
    hash.map(|hash| hash.to_string()).map_err(|error| error.to_string())
}

/// Whether the password fits the hash. Without a hash the same work is done, so
/// that the answer takes as long for a name that nobody has.
#[must_use]
pub fn fits(password: &str, hash: Option<&str>, cost: Cost) -> bool {
    if password.len() > MOST_BYTES {
        return false;
    }
    let Some(stored) = hash.and_then(|text| PasswordHash::new(text).ok()) else {
        drop(self::hash(password, cost));
        return false;
    };
    Argon2::default().verify_password(password.as_bytes(), &stored).is_ok()
}

/// Whether a hash was cheaper than hashes are now.
#[must_use]
pub fn is_cheaper(hash: &str, cost: Cost) -> bool {
    let Ok(stored) = PasswordHash::new(hash) else { return false };
    let Ok(params) = Params::try_from(&stored) else { return false };
    let (memory, passes) = (params.m_cost(), params.t_cost());
    memory <= cost.memory_kib
        && passes <= cost.passes
        && (memory, passes) != (cost.memory_kib, cost.passes)
}

#[cfg(test)]
mod tests {
    use super::*;

    const ABOUT: [&str; 4] = ["North Road Repair", "NORTH", "Ana Ruiz", "ana.ruiz"];

    #[test]
    fn what_is_tried_first_is_refused() {
        for password in [
            "passwordpassword",
            "password12345678",
            "aaaaaaaaaaaaaaaaaa",
            "123456789012345",
            "qwertyuiopasdfgh",
            "abcdefghijklmnop",
            "letmeinletmein123",
            "P@ssw0rdP@ssw0rd!",
            "onetriponetrip2026",
            "northroadrepair1",
            "North Road Repair",
            "anaruizanaruiz!",
            "ana.ruiz.2026-11-28",
        ] {
            assert!(acceptable(password, ABOUT).is_err(), "{password}");
        }
        assert!(acceptable("four short words", ABOUT).is_ok());
        assert!(acceptable(&"lamp river seven chair ".repeat(40), ABOUT).is_ok());
    }

    #[test]
    fn a_hash_is_made_anew_where_it_costs_more_now() {
        let dear = Cost { memory_kib: 20 * 1024, passes: 3 };
        let hashes = [Cost::LEAST, dear].map(|cost| hash("four short words", cost));
        let [Ok(cheap), Ok(now)] = hashes else { panic!("{hashes:?}") };
        assert!(cheap.contains("m=19456,t=2,p=1") && now.contains("m=20480,t=3,p=1"));
        assert!(is_cheaper(&cheap, dear) && !is_cheaper(&now, dear));
        assert!(!is_cheaper(&now, Cost::LEAST) && !is_cheaper(&cheap, Cost::LEAST));
        for stored in [&cheap, &now] {
            assert!(fits("four short words", Some(stored), Cost::LEAST));
            assert!(!fits("four other words", Some(stored), Cost::LEAST));
        }
    }

    #[test]
    fn what_is_known_of_the_shop_makes_it_easier() {
        let password = "quillonbarkshed7";
        assert!(acceptable(password, ABOUT).is_ok());
        assert!(acceptable(password, ["Quillon Bark Shed"]).is_err());
    }
}
