//! The route table, read from its source.

/// A line of the table.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub struct Route {
    pub method: String,
    pub path: String,
}

impl Route {
    pub fn is_api(&self) -> bool {
        self.path.starts_with("/api/")
    }
}

/// Every line, in its order.
pub fn all() -> Vec<Route> {
    let source = include_str!("../../api/src/routes.rs");
    let (_, table) = source.split_once("\nroutes! {").expect("the table is there");
    let routes: Vec<Route> = table.lines().filter_map(line).collect();
    assert_eq!(routes.len(), table.matches("=>").count(), "a line of the table cannot be read");
    routes
}

fn line(text: &str) -> Option<Route> {
    let (method, rest) = text.trim().split_once(" \"")?;
    let (path, _) = rest.split_once('"')?;
    Some(Route { method: method.to_owned(), path: path.to_owned() })
}
