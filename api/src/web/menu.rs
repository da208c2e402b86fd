//! Where one can go in a shop: a few places at hand, by what the viewer comes
//! for, and the rest behind one press.

use super::page::Viewer;

/// A place in the menu.
#[derive(Debug, Clone)]
pub struct MenuItem {
    pub label: String,
    pub place: String,
    pub here: bool,
}

/// Places that belong together.
#[derive(Debug, Clone)]
pub struct MenuGroup {
    pub label: &'static str,
    pub items: Vec<MenuItem>,
}

/// The menu of one viewer.
#[derive(Debug, Clone, Default)]
pub struct Menu {
    /// Always in view.
    pub at_hand: Vec<MenuItem>,
    /// Behind "More".
    pub groups: Vec<MenuGroup>,
    /// Whether the page looked at is one of those behind "More".
    pub inside: bool,
}

/// A place, whether the viewer may go there, and whether it is at hand.
struct Line {
    group: &'static str,
    label: &'static str,
    page: &'static str,
    may: bool,
    at_hand: bool,
}

const WORK: &str = "Work";
const RETURNS: &str = "What came back";
const RECORD: &str = "What the record says";
const CHANGES: &str = "What we change";
const HOURS: &str = "Hours";
const HOUSE: &str = "The house";

fn lines(viewer: &Viewer) -> Vec<Line> {
    let line = |group, label, page, may, at_hand| Line { group, label, page, may, at_hand };
    let reads = viewer.sees_reports;
    // Who decides leads the shop; who reads reports and decides nothing owns it.
    let (leads, owns) = (viewer.decides, reads && !viewer.decides);
    let hours = if reads { "Labor hours" } else { "My hours" };
    vec![
        line(WORK, "Today", "today", viewer.sees_record, !owns),
        line(WORK, "Write up", "write-up", viewer.writes_work, viewer.writes_front && !leads),
        line(WORK, "Preparation", "preparation", viewer.sees_record, false),
        line(WORK, "Calls", "calls", viewer.sees_record && viewer.writes_front, false),
        line(RETURNS, "Weekly review", "week", reads, true),
        line(RETURNS, "Comebacks", "comebacks", viewer.sees_record, viewer.writes_front || owns),
        line(RETURNS, "Comeback shares", "comeback-shares", reads, owns),
        line(RECORD, "Diagnosis", "paths", viewer.sees_advice, !owns),
        line(RECORD, "Clean or replace", "reuse", viewer.sees_advice, !owns),
        line(RECORD, "Part in hand", "bench", viewer.sees_advice, false),
        line(CHANGES, "Shop rules", "rules", viewer.sees_rules, false),
        line(CHANGES, "Check plans", "plans", viewer.sees_rules, false),
        line(CHANGES, "Corrective actions", "actions", viewer.sees_rules, false),
        line(CHANGES, "Early warnings", "warnings", reads, false),
        line(HOURS, hours, "labor", viewer.sees_labor, !viewer.writes_front || leads),
        line(HOURS, "Attendance", "attendance", reads, false),
        line(HOUSE, "People", "people", viewer.sees_people, !viewer.sees_record),
        line(HOUSE, "Code lists", "codes", viewer.sees_codes, !viewer.sees_record),
        line(HOUSE, "Rules of the house", "settings", viewer.keeps_shops, !viewer.sees_record),
        line(HOUSE, "Tablets", "tablets", viewer.sees_people, false),
        line(HOUSE, "Who changed what", "history", viewer.sees_changes, false),
    ]
}

impl Menu {
    /// The places of the viewer's shop; outside of a shop, those of the group.
    #[must_use]
    pub fn of(viewer: &Viewer) -> Self {
        let Some(shop) = &viewer.shop else { return Self::of_group(viewer) };
        let mut menu = Self::default();
        for line in lines(viewer).into_iter().filter(|line| line.may) {
            let item = MenuItem {
                label: line.label.to_owned(),
                place: format!("/shops/{}/{}", shop.code, line.page),
                here: viewer.is_at(line.page),
            };
            if line.at_hand {
                menu.at_hand.push(item);
                continue;
            }
            menu.inside |= item.here;
            match menu.groups.last_mut().filter(|group| group.label == line.group) {
                Some(group) => group.items.push(item),
                None => menu.groups.push(MenuGroup { label: line.group, items: vec![item] }),
            }
        }
        if !viewer.group_pages().is_empty() {
            let items = viewer.group_pages();
            menu.groups.push(MenuGroup { label: "All shops", items });
        }
        let others: Vec<MenuItem> = viewer
            .shops
            .iter()
            .filter(|other| other.code != shop.code)
            .map(|other| MenuItem {
                label: other.name.clone(),
                place: viewer.start_in(&other.code),
                here: false,
            })
            .collect();
        if !others.is_empty() {
            menu.groups.push(MenuGroup { label: "Other shops", items: others });
        }
        menu
    }

    /// Pages of all shops, then the shops.
    fn of_group(viewer: &Viewer) -> Self {
        let shops = viewer.shops.iter().map(|shop| MenuItem {
            label: shop.name.clone(),
            place: viewer.start_in(&shop.code),
            here: false,
        });
        let at_hand = viewer.group_pages().into_iter().chain(shops).collect();
        Self { at_hand, ..Self::default() }
    }
}
