//! How far a way in reaches: which of a person's rights a token or a PIN has.

use crate::domain::role::{Permission as P, Role};
use crate::domain::scope::Scope;
use crate::people::rights::Grant;
use crate::routes::Access;

/// How somebody has come in.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Way {
    /// With the password, on a page or for a program.
    Password,
    /// With a PIN, on a tablet of the shop floor.
    Pin,
    /// With a named token.
    Token(Scope),
}

/// Why a route is not for this way in, whatever the person's roles.
#[must_use]
pub fn refusal(way: Way, method: &str, access: Access) -> Option<String> {
    match (way, access) {
        (Way::Password, _) => None,
        (_, Access::InPerson) => Some("sign in with your password to do this".to_owned()),
        (Way::Token(scope), access) if !within(scope, method, access) => {
            Some(format!("the token's scope is {}: make one that reaches further", scope.as_str()))
        }
        // A PIN's grants are narrowed before they are asked about.
        (Way::Token(_) | Way::Pin, _) => None,
    }
}

fn within(scope: Scope, method: &str, access: Access) -> bool {
    match scope {
        Scope::All => true,
        Scope::Read => method == "GET",
        Scope::Work => !matches!(
            access,
            Access::May(
                P::ReadPeople
                    | P::WritePeople
                    | P::WriteShops
                    | P::KeepTokens
                    | P::WriteCodes
                    | P::ReadAudit
                    | P::ReadHouse
            )
        ),
    }
}

/// What a PIN gives: the roles of the floor, in the tablet's shop alone. Who
/// manages the shop works there as a technician does.
#[must_use]
pub fn pin_grants(grants: &[Grant], shop_id: i32) -> Vec<Grant> {
    let mut given: Vec<Grant> = Vec::new();
    for (role, at) in grants {
        let role = match role {
            Role::Technician | Role::ServiceManager => Role::Technician,
            Role::Adviser => Role::Adviser,
            Role::Owner | Role::Administrator => continue,
        };
        let grant = (role, Some(shop_id));
        if *at == Some(shop_id) && !given.contains(&grant) {
            given.push(grant);
        }
    }
    given
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_reading_token_changes_nothing() {
        let token = Way::Token(Scope::Read);
        assert_eq!(refusal(token, "GET", Access::May(P::ReadRecord)), None);
        assert_eq!(refusal(token, "GET", Access::May(P::ReadPeople)), None);
        for method in ["POST", "PUT", "PATCH", "DELETE"] {
            assert!(refusal(token, method, Access::May(P::WriteWork)).is_some(), "{method}");
            assert!(refusal(token, method, Access::SignedIn).is_some(), "{method}");
        }
    }

    #[test]
    fn a_working_token_keeps_to_the_work() {
        let token = Way::Token(Scope::Work);
        for what in [P::ReadRecord, P::WriteWork, P::WriteFront, P::ReadCodes, P::DecideComeback] {
            assert_eq!(refusal(token, "POST", Access::May(what)), None, "{what:?}");
        }
        for what in [
            P::ReadPeople,
            P::WritePeople,
            P::WriteShops,
            P::KeepTokens,
            P::WriteCodes,
            P::ReadAudit,
            P::ReadHouse,
        ] {
            assert!(refusal(token, "GET", Access::May(what)).is_some(), "{what:?}");
        }
    }

    #[test]
    fn only_a_password_opens_what_is_asked_in_person() {
        for way in [Way::Pin, Way::Token(Scope::Read), Way::Token(Scope::All)] {
            assert!(refusal(way, "GET", Access::InPerson).is_some(), "{way:?}");
        }
        assert_eq!(refusal(Way::Password, "POST", Access::InPerson), None);
        assert_eq!(refusal(Way::Token(Scope::All), "POST", Access::May(P::WritePeople)), None);
    }

    #[test]
    fn a_pin_gives_the_floor_of_one_shop() {
        let manager = [(Role::ServiceManager, Some(1)), (Role::Technician, Some(1))];
        assert_eq!(pin_grants(&manager, 1), [(Role::Technician, Some(1))]);
        let both = [(Role::Adviser, Some(1)), (Role::Technician, Some(2)), (Role::Owner, None)];
        assert_eq!(pin_grants(&both, 1), [(Role::Adviser, Some(1))]);
        assert_eq!(pin_grants(&[(Role::Administrator, None)], 1), []);
    }
}
