//! `onetrip export`: the record as history files.

use std::path::{Path, PathBuf};
use std::process::ExitCode;

use super::{REFUSED, copy, standing};
use crate::db::{Answer, Db, Fault, Place};
use crate::domain::clock::Clock;
use crate::import::export::{ExportError, export_shop};
use crate::import::sheets::Counts;
use crate::import::told;
use crate::shops::model::{self as shops, Shop};

/// Writes the record as history files that `import` takes: one folder, or one
/// subfolder a shop where there are several. With --all, a whole copy instead.
#[derive(Debug, clap::Args)]
pub struct ExportArgs {
    /// Where to; made where it is not there
    pub folder: PathBuf,
    /// Only the shop of this code
    #[arg(long, value_name = "CODE")]
    pub shop: Option<String>,
    /// Write over what is in the folder
    #[arg(long)]
    pub force: bool,
    /// For a spreadsheet: a text that it would run as a formula gets a leading
    /// ' (which import takes off again)
    #[arg(long)]
    pub spreadsheet: bool,
    /// Everything in the record, as files that `import --all` takes
    #[arg(long, conflicts_with_all = ["shop", "force", "spreadsheet"])]
    pub all: bool,
    /// With --all: hashes of passwords, PINs and tokens too
    #[arg(long, requires = "all")]
    pub with_secrets: bool,
}

/// Runs the export. Words go to stderr; nothing to stdout.
#[must_use]
pub fn run(args: &ExportArgs, place: &Place, clock: Clock) -> ExitCode {
    let filled = std::fs::read_dir(&args.folder).is_ok_and(|mut entries| entries.next().is_some());
    if filled && !args.force {
        let more = if args.all { "" } else { ", or add --force" };
        eprintln!("{} is not empty; name another folder{more}", args.folder.display());
        return ExitCode::from(REFUSED);
    }
    let db = match standing(place) {
        Ok(db) => db,
        Err(code) => return code,
    };
    if args.all {
        return copy::export(&args.folder, args.with_secrets, &db, clock.now());
    }
    let found = match db.read(shops::all) {
        Ok(all) => chosen(all, args.shop.as_deref()),
        Err(fault) => return fail(&fault),
    };
    let shops = match found {
        Ok(shops) => shops,
        Err(why) => {
            eprintln!("{why}");
            return ExitCode::from(REFUSED);
        }
    };
    let alone = shops.len() == 1;
    for shop in &shops {
        let folder = if alone { args.folder.clone() } else { args.folder.join(subfolder(shop)) };
        match write_shop(&db, shop, &folder, args.spreadsheet) {
            Ok(Ok(counts)) => tell(shop, &folder, &counts),
            Ok(Err(why)) => {
                eprintln!("{why}");
                return ExitCode::FAILURE;
            }
            Err(fault) => return fail(&fault),
        }
    }
    ExitCode::SUCCESS
}

fn fail(fault: &Fault) -> ExitCode {
    eprintln!("{}", told(fault));
    ExitCode::FAILURE
}

fn chosen(all: Vec<Shop>, code: Option<&str>) -> Result<Vec<Shop>, String> {
    let Some(code) = code else {
        return if all.is_empty() { Err("the record has no shop yet".to_owned()) } else { Ok(all) };
    };
    let known: Vec<String> = all.iter().map(|shop| shop.code.clone()).collect();
    let found: Vec<Shop> = all.into_iter().filter(|shop| shop.code == code).collect();
    if found.is_empty() {
        return Err(format!("there is no shop {code}; there are: {}", known.join(", ")));
    }
    Ok(found)
}

/// A folder's name from a shop's code, which may have signs that folders may
/// not; its small number keeps two of them apart.
fn subfolder(shop: &Shop) -> String {
    let plain: String =
        shop.code.chars().map(|c| if c.is_alphanumeric() || c == '-' { c } else { '_' }).collect();
    format!("{}-{plain}", shop.id)
}

/// All of a shop's files from one moment of the record.
fn write_shop(
    db: &Db,
    shop: &Shop,
    folder: &Path,
    spreadsheet: bool,
) -> Answer<Result<Counts, String>> {
    db.read(|conn| match export_shop(conn, shop, folder, spreadsheet) {
        Ok(counts) => Ok(Ok(counts)),
        Err(ExportError::Record(fault)) => Err(fault),
        Err(ExportError::File(path, error)) => {
            Ok(Err(format!("{} cannot be written: {error}", path.display())))
        }
    })
}

fn tell(shop: &Shop, folder: &Path, counts: &Counts) {
    let counts: Vec<String> =
        counts.iter().map(|(file, rows)| format!("{} {rows}", file.file_name())).collect();
    eprintln!("{}: {} (rows)", folder.display(), counts.join(", "));
    eprintln!(
        "to import them elsewhere, add: --zone {} --currency {} --labor-cost {} --rate {} --window {}{}",
        shop.time_zone,
        shop.currency,
        shop.money().format_amount(shop.labor_cost_minor),
        shop.money().format_amount(shop.posted_rate_minor),
        shop.window_days,
        if shop.name == shop.code { String::new() } else { format!(" --name '{}'", shop.name) }
    );
}
