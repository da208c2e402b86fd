//! `onetrip codes`: the code lists, for whoever translates another program's
//! codes or looks for a word.

use std::process::ExitCode;

use clap::builder::PossibleValuesParser;

use super::{REFUSED, fail, print, standing};
use crate::codes::model as codes;
use crate::db::Place;
use crate::domain::codes::LISTS;
use crate::import::{labels, told};
use crate::shops::model as shops;

/// Prints codes with their labels, tabs between: of a shop, or those that every
/// shop starts with.
#[derive(Debug, clap::Args)]
pub struct CodesArgs {
    /// Only this list
    #[arg(value_parser = PossibleValuesParser::new(LISTS))]
    list: Option<String>,
    /// The lists of the shop of this code; without it the starting lists
    #[arg(long, value_name = "CODE")]
    shop: Option<String>,
}

/// List, code and label.
type Line = (String, String, String);

/// Prints them, one a line.
#[must_use]
pub fn run(args: &CodesArgs, place: &Place) -> ExitCode {
    let lines = match &args.shop {
        None => starting_lines(),
        Some(code) => match of_shop(place, code) {
            Ok(lines) => lines,
            Err(code) => return code,
        },
    };
    let mut text = String::new();
    for (list, code, label) in lines {
        match &args.list {
            None => text.push_str(&format!("{list}\t{code}\t{label}\n")),
            Some(wanted) if *wanted == list => text.push_str(&format!("{code}\t{label}\n")),
            Some(_) => {}
        }
    }
    print(text.as_bytes())
}

fn starting_lines() -> Vec<Line> {
    let line = |(list, code, label): (&str, &str, &str)| {
        (list.to_owned(), code.to_owned(), label.to_owned())
    };
    labels::starting().map(line).collect()
}

/// What the shop's lists offer.
fn of_shop(place: &Place, code: &str) -> Result<Vec<Line>, ExitCode> {
    let db = standing(place)?;
    let broken = |fault| fail(told(&fault));
    let all = db.read(shops::all).map_err(broken)?;
    let Some(shop) = all.iter().find(|shop| shop.code.eq_ignore_ascii_case(code)) else {
        let known: Vec<&str> = all.iter().map(|shop| shop.code.as_str()).collect();
        eprintln!("onetrip: there is no shop {code}; there are: {}", known.join(", "));
        return Err(ExitCode::from(REFUSED));
    };
    let entries = db.read(|conn| codes::entries(conn, shop.id, None)).map_err(broken)?;
    let live = entries.into_iter().filter(codes::CodeEntry::is_live);
    Ok(live.map(|entry| (entry.list, entry.code, entry.label)).collect())
}
