//! `onetrip user`: the way in on a new record, the way to give an imported
//! technician a sign-in, and the way back in where nobody remembers a password.

use std::collections::HashMap;
use std::io::BufRead;
use std::process::ExitCode;

use clap::Subcommand;

use super::{fail, is_bare, print};
use crate::auth::{cost, password, sessions, token};
use crate::config::Config;
use crate::db::{Answer, Conn, Db, Fault, Place};
use crate::domain::clock::{Clock, UtcStamp};
use crate::domain::ids::PersonId;
use crate::domain::refusal::Refusal;
use crate::domain::role::Role;
use crate::people::account::leave_an_administrator;
use crate::people::model::{self as people, Person};
use crate::people::rights::administers;
use crate::problem::Problem;
use crate::shops::model as shops;

#[derive(clap::Args)]
pub struct UserArgs {
    #[command(subcommand)]
    verb: UserVerb,
}

#[derive(Subcommand)]
enum UserVerb {
    /// Add a person who signs in, or one more role. A name that is known gets the
    /// sign-in; who signs in already keeps the password, unless one is given.
    Add(AddArgs),
    /// List everybody: name, sign-in name, account, roles.
    List,
    /// Set a new password: sessions and tokens of before end.
    Password(PasswordArgs),
    /// Close an account: sessions and tokens end.
    Disable(NamedArgs),
    /// Open a closed account again.
    Enable(NamedArgs),
}

#[derive(clap::Args, Clone)]
struct NamedArgs {
    /// What the person signs in with.
    #[arg(long)]
    sign_in: String,
}

#[derive(clap::Args, Clone)]
struct PasswordArgs {
    #[command(flatten)]
    person: NamedArgs,
    /// Read the password from the first line of standard input.
    #[arg(long)]
    password_stdin: bool,
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

/// Does what is asked.
pub fn run(args: &UserArgs, config: &Config, clock: Clock) -> ExitCode {
    let (now, place) = (clock.now(), &config.place());
    let done = match &args.verb {
        UserVerb::Add(args) => add_person(args, config, now),
        UserVerb::List => match list(place) {
            Ok(text) => return print(text.as_bytes()),
            Err(failure) => Err(failure),
        },
        UserVerb::Password(args) => set_password(args, config, now),
        UserVerb::Disable(args) => set_active(args, place, false, now),
        UserVerb::Enable(args) => set_active(args, place, true, now),
    };
    match done {
        Ok(()) => ExitCode::SUCCESS,
        Err(Failure::Arguments(why)) => {
            eprintln!("onetrip: {why}");
            ExitCode::from(2)
        }
        Err(Failure::Broken(why)) => fail(why),
    }
}

enum Failure {
    /// The command cannot be taken as written.
    Arguments(String),
    Broken(String),
}

impl From<Fault> for Failure {
    fn from(fault: Fault) -> Self {
        Self::Broken(Problem::from(fault).to_string())
    }
}

/// Opens what is there; only a person who is added begins a record.
fn open(place: &Place) -> Result<Db, Failure> {
    if is_bare(place) {
        return Err(Failure::Arguments(format!("there is no record in {}", place.show())));
    }
    begin(place)
}

fn begin(place: &Place) -> Result<Db, Failure> {
    Db::open(place).map_err(|error| Failure::Broken(error.to_string()))
}

/// The hash of an acceptable password from standard input, for somebody of those
/// names.
fn new_hash(stdin: bool, names: &[&str], config: &Config) -> Result<String, Failure> {
    let (secret, place) = (read_password(stdin).map_err(Failure::Broken)?, config.place());
    let shops = if is_bare(&place) { Vec::new() } else { begin(&place)?.read(shops::all)? };
    password::acceptable(&secret, password::of_shops(&shops).chain(names.iter().copied()))
        .map_err(|fault| Failure::Arguments(format!("password: {}", fault.detail)))?;
    let cost = cost::of(&begin(&place)?, config)?;
    password::hash(&secret, cost).map_err(Failure::Broken)
}

fn add_person(args: &AddArgs, config: &Config, now: UtcStamp) -> Result<(), Failure> {
    let place = &config.place();
    let Some(role) = Role::parse(&args.role) else {
        let why = "--role is technician, adviser, service-manager, owner or administrator";
        return Err(Failure::Arguments(why.to_owned()));
    };
    let hash = if args.password_stdin || !signs_in(args, place)? {
        Some(new_hash(args.password_stdin, &[&args.name, &args.sign_in], config)?)
    } else {
        None
    };
    let wanted = args.clone();
    let added =
        begin(place)?.write_blocking(move |conn| add(conn, &wanted, role, hash.as_deref(), now))?;
    match added {
        Added::New => eprintln!("{} signs in as {}", args.name, args.sign_in),
        Added::Kept => eprintln!(
            "{} signs in as {}, with the password of before; the role {} is added",
            args.name,
            args.sign_in,
            role.label()
        ),
        Added::Changed => eprintln!(
            "{} signs in as {}: new password set, sessions and tokens of before ended",
            args.name, args.sign_in
        ),
    }
    Ok(())
}

/// Whether the person has this very sign-in already.
fn signs_in(args: &AddArgs, place: &Place) -> Result<bool, Failure> {
    if is_bare(place) {
        return Ok(false);
    }
    let found = begin(place)?.read(|conn| people::by_sign_in(conn, &args.sign_in))?;
    Ok(found.is_some_and(|person| person.name == args.name && person.password_hash.is_some()))
}

/// What adding a person came to.
enum Added {
    New,
    Kept,
    Changed,
}

/// Prints a line a person, with tabs between.
fn list(place: &Place) -> Result<String, Failure> {
    let text = open(place)?.read(|conn| {
        let shops: HashMap<i32, String> =
            shops::all(conn)?.into_iter().map(|shop| (shop.id, shop.code)).collect();
        let mut text = String::new();
        for person in people::everybody(conn)? {
            let roles: Vec<String> = people::grants(conn, &person.id)?
                .into_iter()
                .map(|(role, at)| match at.and_then(|id| shops.get(&id)) {
                    Some(code) => format!("{} of {code}", role.label()),
                    None => role.label().to_owned(),
                })
                .collect();
            let account = if person.active { "open" } else { "closed" };
            let sign_in = person.sign_in_name.unwrap_or_else(|| "-".to_owned());
            text.push_str(&format!(
                "{}\t{sign_in}\t{account}\t{}\n",
                person.name,
                roles.join(", ")
            ));
        }
        Ok(text)
    })?;
    Ok(text)
}

fn set_password(args: &PasswordArgs, config: &Config, now: UtcStamp) -> Result<(), Failure> {
    let db = open(&config.place())?;
    let name = args.person.sign_in.clone();
    let person = db.read(|conn| people::by_sign_in(conn, &name))?;
    let full_name = person.as_ref().map_or("", |person| &person.name);
    let hash = new_hash(args.password_stdin, &[&name, full_name], config)?;
    db.write_blocking(move |conn| {
        let person = known(conn, &name)?;
        people::set_sign_in(conn, &person.id, &name, &hash)?;
        end_entries(conn, &person.id, now)
    })?;
    eprintln!("{} has a new password", args.person.sign_in);
    Ok(())
}

fn set_active(args: &NamedArgs, place: &Place, active: bool, now: UtcStamp) -> Result<(), Failure> {
    let name = args.sign_in.clone();
    open(place)?.write_blocking(move |conn| {
        let person = known(conn, &name)?;
        if !active {
            if administers(&people::grants(conn, &person.id)?) {
                leave_an_administrator(conn, &person.group_id, &person.id)?;
            }
            end_entries(conn, &person.id, now)?;
        }
        people::set_active(conn, &person.id, active)
    })?;
    eprintln!("{}: account {}", args.sign_in, if active { "open" } else { "closed" });
    Ok(())
}

fn known(conn: &mut Conn, sign_in: &str) -> Answer<Person> {
    let found = people::by_sign_in(conn, sign_in)?;
    found.ok_or_else(|| bad(&format!("nobody signs in as {sign_in}")))
}

/// Ends what was opened with the password of before.
fn end_entries(conn: &mut Conn, id: &PersonId, now: UtcStamp) -> Answer<()> {
    sessions::end_all(conn, id, None)?;
    token::revoke_all(conn, id, id, now)
}

fn read_password(stdin: bool) -> Result<String, String> {
    if !stdin {
        return Err("give the password on standard input, with --password-stdin".into());
    }
    let mut line = String::new();
    std::io::stdin().lock().read_line(&mut line).map_err(|error| error.to_string())?;
    Ok(line.trim_end_matches(['\n', '\r']).to_owned())
}

fn add(
    conn: &mut Conn,
    args: &AddArgs,
    role: Role,
    hash: Option<&str>,
    now: UtcStamp,
) -> Answer<Added> {
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
    let known = people::by_name(conn, &group, &args.name)?;
    let holder = people::by_sign_in(conn, &args.sign_in)?;
    let holds = known.is_some() && holder.map(|person| person.id) == known;
    let (id, added) = match (known, hash) {
        (Some(known), None) if holds => (known, Added::Kept),
        (_, None) => return Err(bad("the sign-in name is taken by somebody else")),
        (Some(known), Some(hash)) => {
            people::set_sign_in(conn, &known, &args.sign_in, hash)?;
            end_entries(conn, &known, now)?;
            (known, if holds { Added::Changed } else { Added::New })
        }
        (None, Some(hash)) => {
            let sign_in = Some((args.sign_in.as_str(), hash));
            (people::make(conn, &group, &args.name, sign_in)?, Added::New)
        }
    };
    people::grant(conn, &id, role, shop_id)?;
    Ok(added)
}

fn bad(why: &str) -> Fault {
    Refusal::field("", "argument", why).into()
}
