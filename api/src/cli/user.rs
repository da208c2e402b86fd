//! `onetrip user add`: the way in on a new record, and the way to give an
//! imported technician a sign-in.

use std::io::BufRead;
use std::process::ExitCode;

use clap::Subcommand;

use super::fail;
use crate::auth::password;
use crate::db::{Answer, Conn, Db, Fault, Place};
use crate::domain::clock::{Clock, UtcStamp};
use crate::domain::refusal::Refusal;
use crate::domain::role::Role;
use crate::people::model as people;
use crate::problem::Problem;
use crate::shops::model as shops;

#[derive(clap::Args)]
pub struct UserArgs {
    #[command(subcommand)]
    verb: UserVerb,
}

#[derive(Subcommand)]
enum UserVerb {
    /// Add a person who signs in; a name that is known gets the sign-in.
    Add(AddArgs),
}

#[derive(clap::Args, Clone)]
struct AddArgs {
    /// The person's name, as in the record.
    #[arg(long)]
    name: String,
    /// What the person signs in with.
    #[arg(long)]
    sign_in: String,
    /// technician, adviser, service-manager, owner or administrator.
    #[arg(long)]
    role: String,
    /// The shop's code, for the roles of one shop.
    #[arg(long)]
    shop: Option<String>,
    /// The group of shops, by name; made where there is none. Absent: the first.
    #[arg(long)]
    group: Option<String>,
    /// Read the password from the first line of standard input.
    #[arg(long)]
    password_stdin: bool,
}

/// Adds.
pub fn run(args: &UserArgs, place: &Place, clock: Clock) -> ExitCode {
    let UserVerb::Add(args) = &args.verb;
    let Some(role) = Role::parse(&args.role) else {
        eprintln!(
            "onetrip: --role is technician, adviser, service-manager, owner or administrator"
        );
        return ExitCode::from(2);
    };
    let secret = match read_password(args.password_stdin) {
        Ok(secret) => secret,
        Err(error) => return fail(error),
    };
    if let Err(fault) = password::acceptable(&secret) {
        eprintln!("onetrip: password: {}", fault.detail);
        return ExitCode::from(2);
    }
    let hash = match password::hash(&secret) {
        Ok(hash) => hash,
        Err(error) => return fail(error),
    };
    let db = match Db::open(place) {
        Ok(db) => db,
        Err(error) => return fail(error),
    };
    let (args, now) = (args.clone(), clock.now());
    let wanted = args.clone();
    match db.write_blocking(move |conn| add(conn, &wanted, role, &hash, now)) {
        Ok(()) => {
            eprintln!("{} signs in as {}", args.name, args.sign_in);
            ExitCode::SUCCESS
        }
        Err(fault) => fail(Problem::from(fault)),
    }
}

fn read_password(stdin: bool) -> Result<String, String> {
    if !stdin {
        return Err("give the password on standard input, with --password-stdin".into());
    }
    let mut line = String::new();
    std::io::stdin().lock().read_line(&mut line).map_err(|error| error.to_string())?;
    Ok(line.trim_end_matches(['\n', '\r']).to_owned())
}

fn add(conn: &mut Conn, args: &AddArgs, role: Role, hash: &str, now: UtcStamp) -> Answer<()> {
    let group = match &args.group {
        Some(name) => shops::named_group(conn, name, now)?,
        None => shops::first_group(conn, "Group", now)?,
    };
    let shop_id = match (&args.shop, role.is_of_group()) {
        (_, true) => None,
        (None, false) => return Err(bad("name the shop with --shop CODE")),
        (Some(code), false) => {
            let shops = shops::of_group(conn, &group)?;
            let shop = shops.into_iter().find(|shop| shop.code == *code);
            Some(shop.ok_or_else(|| bad("there is no shop of that code"))?.id)
        }
    };
    let id = match people::by_name(conn, &group, &args.name)? {
        Some(known) => {
            people::set_sign_in(conn, &known, &args.sign_in, hash)?;
            known
        }
        None => people::make(conn, &group, &args.name, Some((&args.sign_in, hash)))?,
    };
    people::grant(conn, &id, role, shop_id)
}

fn bad(why: &str) -> Fault {
    Refusal::field("", "argument", why).into()
}
