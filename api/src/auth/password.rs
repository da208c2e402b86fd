//! Passwords, hashed with argon2id (RFC 9106) at the crate's default of 19 MiB,
//! two passes, one lane: the least that OWASP's Password Storage sheet asks.

use argon2::Argon2;
use argon2::password_hash::phc::PasswordHash;
use argon2::password_hash::{PasswordHasher, PasswordVerifier};

use crate::domain::refusal::FieldFault;

/// NIST SP 800-63B-4: a password used alone has at least fifteen characters.
pub const LEAST: usize = 15;
const MOST_BYTES: usize = 1024;

/// Checks a new password's length.
///
/// # Errors
/// Too short or absurdly long.
pub fn acceptable(password: &str) -> Result<(), FieldFault> {
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
    Ok(())
}

/// The PHC string of a password. Slow on purpose: call it off the async threads.
///
/// # Errors
/// Where the hash cannot be made.
pub fn hash(password: &str) -> Result<String, String> {
    Argon2::default()
        .hash_password(password.as_bytes())
        .map(|hash| hash.to_string())
        .map_err(|error| error.to_string())
}

/// Whether the password fits the hash. Without a hash the same work is done, so
/// that the answer takes as long for a name that nobody has.
#[must_use]
pub fn fits(password: &str, hash: Option<&str>) -> bool {
    if password.len() > MOST_BYTES {
        return false;
    }
    let Some(stored) = hash.and_then(|text| PasswordHash::new(text).ok()) else {
        drop(self::hash(password));
        return false;
    };
    Argon2::default().verify_password(password.as_bytes(), &stored).is_ok()
}
