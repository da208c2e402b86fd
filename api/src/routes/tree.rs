//! The table's addresses as a tree of segments: an address is found by walking
//! its own segments, however many lines there are.

use std::collections::HashMap;
use std::sync::OnceLock;

use super::{Route, TABLE};

/// A place in the tree, with the lines that end there.
#[derive(Default)]
pub(super) struct Tree {
    here: Vec<&'static Route>,
    words: HashMap<&'static str, Tree>,
    /// Any text in the segment's place.
    any: Option<Box<Tree>>,
    /// Whether that text names a shop.
    shop: bool,
}

impl Tree {
    /// The tree of the whole table.
    pub fn of_table() -> &'static Self {
        static MADE: OnceLock<Tree> = OnceLock::new();
        MADE.get_or_init(|| {
            let mut tree = Self::default();
            for route in TABLE {
                tree.add(route);
            }
            tree
        })
    }

    fn add(&mut self, route: &'static Route) {
        let mut place = self;
        for segment in segments(route.path) {
            place = if segment.starts_with('{') {
                let next = place.any.get_or_insert_default();
                next.shop |= segment == "{shop}";
                next
            } else {
                place.words.entry(segment).or_default()
            };
        }
        place.here.push(route);
    }

    /// The line that fits an address and is taken, with the text that stands for
    /// the shop. Words go before texts: `/rules/new` is no rule.
    pub fn find<'p>(
        &self,
        path: &'p str,
        mut takes: impl FnMut(&Route) -> bool,
    ) -> Option<(&'static Route, Option<&'p str>)> {
        let rest: Vec<&str> = segments(path).collect();
        self.within(&rest, &mut takes)
    }

    fn within<'p>(
        &self,
        rest: &[&'p str],
        takes: &mut impl FnMut(&Route) -> bool,
    ) -> Option<(&'static Route, Option<&'p str>)> {
        let Some((segment, after)) = rest.split_first() else {
            return self.here.iter().find(|route| takes(route)).map(|route| (*route, None));
        };
        let by_word = self.words.get(segment).and_then(|next| next.within(after, takes));
        by_word.or_else(|| {
            let next = self.any.as_ref().filter(|_| !segment.is_empty())?;
            let (route, shop) = next.within(after, takes)?;
            Some((route, if next.shop { Some(*segment) } else { shop }))
        })
    }
}

fn segments(path: &str) -> impl Iterator<Item = &str> {
    path.strip_prefix('/').unwrap_or(path).split('/')
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeSet;

    use actix_web::dev::ResourceDef;

    use super::super::{find, methods};
    use super::*;

    /// The addresses of all lines, with texts that could be taken for words.
    fn addresses() -> BTreeSet<String> {
        let filled = |path: &str, text: &str| {
            let filled = segments(path).map(|s| if s.starts_with('{') { text } else { s });
            format!("/{}", filled.collect::<Vec<_>>().join("/"))
        };
        let mut addresses = BTreeSet::new();
        for route in TABLE {
            for text in ["a-1", "new", "due", "batch", "summary", "x%2Fy", ""] {
                let address = filled(route.path, text);
                addresses.extend([format!("{address}/"), format!("{address}/more"), address]);
            }
        }
        addresses
    }

    #[test]
    fn the_tree_finds_what_the_table_holds() {
        let lines: Vec<(ResourceDef, &Route)> =
            TABLE.iter().map(|route| (ResourceDef::new(route.path), route)).collect();
        for address in addresses() {
            let fitting: Vec<&Route> = lines
                .iter()
                .filter(|(line, _)| line.is_match(&address))
                .map(|(_, route)| *route)
                .collect();
            let mut expected: Vec<&str> = fitting.iter().map(|route| route.method).collect();
            let mut told = methods(&address);
            expected.sort_unstable();
            told.sort_unstable();
            assert_eq!(told, expected, "{address}");
            for method in ["GET", "POST", "PUT", "PATCH", "DELETE"] {
                // The first line that fits, as the framework takes it.
                let first = fitting.iter().find(|route| route.method == method);
                let found = find(method, &address);
                let found = found.as_ref().map(|found| found.route.path);
                assert_eq!(found, first.map(|route| route.path), "{method} {address}");
            }
        }
    }

    #[test]
    fn the_shop_of_an_address_is_told() {
        let shop = |path| find("GET", path).and_then(|found| found.shop);
        assert_eq!(shop("/api/v1/shops/here/jobs/there").as_deref(), Some("here"));
        assert_eq!(shop("/shops/four-sycamores/week").as_deref(), Some("four-sycamores"));
        assert_eq!(shop("/livez"), None);
    }
}
