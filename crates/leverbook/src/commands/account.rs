use std::io::{IsTerminal, stdin};

use anyhow::{Context, bail};
use clap::{Args, Subcommand};
use leverbook_domain::id::{AccountId, GymId};
use leverbook_domain::roster::PersonName;
use leverbook_domain::text::GymName;
use leverbook_domain::units::UnitSystem;
use leverbook_store::accounts::{self, Account, Email, Lock};
use leverbook_store::people::{self, Role};
use leverbook_store::{
    PgConnectOptions, Store, StoreError, athletes, gyms, migrate, rack, sign_ins,
};
use leverbook_web::passwords::{self, Passwords};
use leverbook_web::{Clock, tokens};
use time::OffsetDateTime;

use crate::database::{Database, Place};

#[derive(Debug, Subcommand)]
pub(crate) enum Command {
    /// Give somebody a role in a gym; makes the account, and the gym, where there is none
    ///
    /// The password of a new account is read from standard input if that is not a terminal;
    /// otherwise one is made up and shown.
    Add(Add),
    /// Set a new password for somebody who has forgotten theirs, and sign them out everywhere
    Password(Whose),
    /// Lock an account and sign it out everywhere; its logs stay
    Disable(Whose),
    /// Open a locked account again
    Enable(Whose),
}

#[derive(Debug, Args)]
pub(crate) struct Add {
    #[command(flatten)]
    place: Place,

    /// The gym's name
    #[arg(long, value_name = "NAME", value_parser = GymName::new)]
    gym: GymName,

    /// The gym's zone, such as Europe/Lisbon; needed where the gym is new
    #[arg(long, value_name = "ZONE")]
    time_zone: Option<String>,

    /// The address to sign in with
    #[arg(long, value_name = "ADDRESS", value_parser = Email::new)]
    email: Email,

    /// What to call them
    #[arg(long, value_name = "NAME", value_parser = PersonName::new)]
    name: PersonName,

    /// What they may do: coach, athlete or owner
    #[arg(long, default_value = "owner", value_parser = role)]
    role: Role,
}

#[derive(Debug, Args)]
pub(crate) struct Whose {
    #[command(flatten)]
    place: Place,

    /// The address they sign in with
    #[arg(long, value_name = "ADDRESS", value_parser = Email::new)]
    email: Email,
}

fn role(word: &str) -> Result<Role, &'static str> {
    Role::from_word(word).ok_or("say coach, athlete or owner")
}

pub(crate) async fn run(command: Command) -> anyhow::Result<()> {
    let place = match &command {
        Command::Add(add) => &add.place,
        Command::Password(whose) | Command::Disable(whose) | Command::Enable(whose) => &whose.place,
    };
    let database = place.open().await?;
    let done = done(&command, &database).await;
    database.stop().await?;
    done
}

async fn done(command: &Command, database: &Database) -> anyhow::Result<()> {
    // The first account comes before the first start of the server.
    migrate(&database.as_owner()).await?;
    let options: PgConnectOptions = database.as_server();
    let store = Store::connect(options, 2).await?;
    let clock = Clock::machine();
    let now = clock.now();
    match command {
        Command::Add(new) => add(&store, new, &clock).await,
        Command::Password(whose) => set_password(&store, &whose.email).await,
        Command::Disable(whose) => set_disabled(&store, &whose.email, Some(now)).await,
        Command::Enable(whose) => set_disabled(&store, &whose.email, None).await,
    }
}

async fn find(store: &Store, email: &Email) -> anyhow::Result<Option<Lock>> {
    match accounts::by_email(&mut *store.outside().await?, email).await {
        Ok(lock) => Ok(Some(lock)),
        Err(StoreError::NotFound) => Ok(None),
        Err(error) => Err(error.into()),
    }
}

async fn known(store: &Store, email: &Email) -> anyhow::Result<Account> {
    let lock = find(store, email).await?;
    let lock = lock.with_context(|| format!("nobody has the address {email}"))?;
    Ok(lock.account)
}

/// A new password: from standard input, or made up. Says which.
fn new_password(about: &[&str]) -> anyhow::Result<(String, bool)> {
    if stdin().is_terminal() {
        return Ok((tokens::password(), true));
    }
    let mut line = String::new();
    stdin()
        .read_line(&mut line)
        .context("cannot read the password from standard input")?;
    let password = line.trim_end_matches(['\r', '\n']);
    if password.is_empty() {
        return Ok((tokens::password(), true));
    }
    match passwords::check(password, about) {
        Ok(()) => Ok((password.to_owned(), false)),
        Err(weak) => bail!("the password {weak}"),
    }
}

async fn add(store: &Store, new: &Add, clock: &Clock) -> anyhow::Result<()> {
    let now = clock.now();
    let about = [new.email.as_str(), new.name.as_str(), new.gym.as_str()];
    let (account, fresh) = match find(store, &new.email).await? {
        Some(lock) => (lock.account, None),
        None => {
            let account = Account {
                id: clock.new_id(),
                email: new.email.clone(),
                name: new.name.clone(),
                units: UnitSystem::default(),
            };
            (account, Some(new_password(&about)?))
        }
    };
    let existing = gym_of_name(store, &new.gym, account.id, now).await?;
    if existing.is_none() {
        let Some(zone) = &new.time_zone else {
            bail!("the gym is new: say its zone with --time-zone, such as Europe/Lisbon");
        };
        if !gyms::zone_exists(store, zone).await? {
            bail!("there is no time zone {zone:?}; one is Europe/Lisbon");
        }
    }
    let is_new = existing.is_none();
    let gym = existing.unwrap_or_else(|| clock.new_id());
    let mut tx = store.enter(gym, account.id).await?;
    if let (true, Some(zone)) = (is_new, &new.time_zone) {
        gyms::create(&mut tx, &new.gym, zone, now).await?;
        rack::seed_movements(&mut tx).await?;
    }
    if let Some((password, _)) = &fresh {
        let hash = Passwords::new().hash(password).await;
        accounts::create(tx.conn(), &account, &hash, now).await?;
    }
    people::join(&mut tx, &account, new.role, now).await?;
    if new.role == Role::Athlete {
        let today = gyms::get(&mut tx, now).await?.today;
        athletes::of_new_person(&mut tx, &account, clock.new_id(), today, now).await?;
    }
    tx.commit().await?;

    let (email, gym, role) = (&account.email, &new.gym, new.role);
    println!("{email} is {role} of {gym}");
    match fresh {
        None => println!("The account was there already, and keeps its password"),
        Some((password, true)) => println!("Password: {password}"),
        Some((_, false)) => {}
    }
    Ok(())
}

async fn gym_of_name(
    store: &Store,
    name: &GymName,
    actor: AccountId,
    now: OffsetDateTime,
) -> anyhow::Result<Option<GymId>> {
    let ids = accounts::all_gyms(&mut *store.outside().await?).await?;
    for id in ids {
        if gyms::get(&mut store.enter(id, actor).await?, now)
            .await?
            .name
            == name.as_str()
        {
            return Ok(Some(id));
        }
    }
    Ok(None)
}

async fn set_password(store: &Store, email: &Email) -> anyhow::Result<()> {
    let account = known(store, email).await?;
    let (password, made_up) = new_password(&[email.as_str(), account.name.as_str()])?;
    let hash = Passwords::new().hash(&password).await;
    let mut outside = store.outside().await?;
    accounts::set_password(&mut outside, account.id, &hash).await?;
    sign_ins::close_all(&mut outside, account.id).await?;
    println!("{email} has a new password, and is signed out everywhere");
    if made_up {
        println!("Password: {password}");
    }
    Ok(())
}

async fn set_disabled(
    store: &Store,
    email: &Email,
    since: Option<OffsetDateTime>,
) -> anyhow::Result<()> {
    let account = known(store, email).await?;
    let mut outside = store.outside().await?;
    accounts::set_disabled(&mut outside, account.id, since).await?;
    if since.is_some() {
        sign_ins::close_all(&mut outside, account.id).await?;
        println!("{email} is locked, and signed out everywhere");
    } else {
        println!("{email} can sign in again");
    }
    Ok(())
}
