//! Reasons in the words of whoever wrote the files.

/// A reason with each of our names that `renamed` knows another one for, which
/// is then put in quotation marks. What a reason quotes stays as it is.
pub fn reworded(reason: &str, renamed: &dyn Fn(&str) -> Option<String>) -> String {
    let parts = reason
        .split('\'')
        .enumerate()
        .map(|(at, part)| if at % 2 == 0 { unquoted(part, renamed) } else { part.to_owned() });
    parts.collect::<Vec<_>>().join("'")
}

fn unquoted(text: &str, renamed: &dyn Fn(&str) -> Option<String>) -> String {
    let mut made = String::new();
    let mut rest = text;
    while !rest.is_empty() {
        let named = |c: char| c.is_ascii_alphanumeric() || matches!(c, '_' | '.');
        let end = rest.find(|c| !named(c)).unwrap_or(rest.len());
        let (word, after) = rest.split_at(end);
        match renamed(word) {
            Some(theirs) => made.push_str(&theirs),
            None => made.push_str(word),
        }
        let next = after.find(named).unwrap_or(after.len());
        let (between, later) = after.split_at(next);
        made.push_str(between);
        rest = later;
    }
    made
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_are_theirs_and_values_stay() {
        let theirs = |word: &str| match word {
            "orders.csv" => Some("RO.csv".to_owned()),
            "started_at" => Some("'In'".to_owned()),
            _ => None,
        };
        for (ours, expected) in [
            ("orders.csv has no good row", "RO.csv has no good row"),
            ("is not after started_at; correct one", "is not after 'In'; correct one"),
            ("'started_at' is not a time", "'started_at' is not a time"),
            ("", ""),
        ] {
            assert_eq!(reworded(ours, &theirs), expected);
        }
    }
}
