//! Who may change whose account, and give which role.

use crate::domain::role::Role;

/// A role, in one shop or (`None`) in the whole group.
pub type Grant = (Role, Option<i32>);

/// Whether one of the grants is an administrator's.
#[must_use]
pub fn administers(grants: &[Grant]) -> bool {
    grants.iter().any(|(role, _)| *role == Role::Administrator)
}

/// Whether the asker may change the person's account. Whoever holds a password
/// anew holds all of that person's roles: a manager changes those who work as
/// technician or adviser, in shops that the manager manages, and nowhere else.
#[must_use]
pub fn may_change(asker: &[Grant], person: &[Grant]) -> bool {
    let below = |(role, shop): &Grant| {
        matches!(role, Role::Technician | Role::Adviser)
            && asker.contains(&(Role::ServiceManager, *shop))
    };
    administers(asker) || person.iter().all(below)
}

/// Whether the asker may give or take the role in the shop.
#[must_use]
pub fn may_give(asker: &[Grant], role: Role, shop_id: i32) -> bool {
    let of_the_floor = matches!(role, Role::Technician | Role::Adviser);
    administers(asker) || (of_the_floor && asker.contains(&(Role::ServiceManager, Some(shop_id))))
}

/// Where a role is held.
#[must_use]
pub const fn place(role: Role, shop_id: i32) -> Option<i32> {
    if role.is_of_group() { None } else { Some(shop_id) }
}

#[cfg(test)]
mod tests {
    use super::*;

    const MANAGER: &[Grant] = &[(Role::ServiceManager, Some(1))];
    const OFFICE: &[Grant] = &[(Role::Administrator, None)];

    #[test]
    fn a_manager_changes_the_floor_of_the_own_shop() {
        assert!(may_change(MANAGER, &[(Role::Technician, Some(1)), (Role::Adviser, Some(1))]));
        for other in [
            (Role::Technician, Some(2)),
            (Role::ServiceManager, Some(1)),
            (Role::Owner, None),
            (Role::Administrator, None),
        ] {
            // One role past the manager's reach is enough.
            assert!(!may_change(MANAGER, &[(Role::Technician, Some(1)), other]), "{other:?}");
            assert!(may_change(OFFICE, &[other]), "{other:?}");
        }
        assert!(!may_change(&[(Role::Owner, None)], &[(Role::Technician, Some(1))]));
    }

    #[test]
    fn roles_are_given_from_above() {
        for role in [Role::Technician, Role::Adviser] {
            assert!(may_give(MANAGER, role, 1) && !may_give(MANAGER, role, 2), "{role:?}");
        }
        for role in [Role::ServiceManager, Role::Owner, Role::Administrator] {
            assert!(!may_give(MANAGER, role, 1) && may_give(OFFICE, role, 1), "{role:?}");
        }
        assert_eq!((place(Role::Owner, 1), place(Role::Adviser, 1)), (None, Some(1)));
    }
}
