use std::net::SocketAddr;
use std::sync::atomic::{AtomicU64, Ordering};

use leverbook_domain::id::{AccountId, AthleteId, GymId};
use leverbook_domain::roster::PersonName;
use leverbook_domain::text::GymName;
use leverbook_domain::units::UnitSystem;
use leverbook_local_postgres::Role as DatabaseRole;
use leverbook_store::accounts::{Account, Email};
use leverbook_store::people::Role;
use leverbook_store::sign_ins::{self, TokenHash};
use leverbook_store::{GymTx, PgConnectOptions, Store, accounts, gyms, people};
use leverbook_web::{App, Clock, Config, serve, tokens};
use sqlx::PgConnection;
use time::OffsetDateTime;
use time::macros::datetime;
use tokio::net::TcpListener;
use tokio::sync::oneshot;
use uuid::Uuid;

use crate::actor::Actor;
use crate::database::{Database, servers};

/// The instant at which every test's clock stands at first: the Wednesday of 2026-W48.
pub const NOW: OffsetDateTime = datetime!(2026-11-25 18:00 UTC);

/// The password of everybody who is in the gym at first.
pub const PASSWORD: &str = "correct horse battery staple";

/// Of [`PASSWORD`]; made once elsewhere, so that no test waits for it.
const PASSWORD_HASH: &str = "$argon2id$v=19$m=19456,t=2,p=1$AAECAwQFBgcICQoLDA0ODw$gYJZtjEAJqjg26xdLmknq8/bB7MiWPrE9hsYuA+SkIU";

static IDS: AtomicU64 = AtomicU64::new(1);

/// Somebody with an account.
pub type Person = Account;

/// A gym with an owner, a coach and an athlete on the coach's roster, in a database of its own,
/// behind a server of its own.
pub struct TestGym {
    /// The gym.
    pub id: GymId,
    /// Owns the gym and nothing else.
    pub owner: Person,
    /// Coaches.
    pub coach: Person,
    /// Trains, as [`TestGym::athlete_id`].
    pub athlete: Person,
    /// The athlete's row, linked to the account of [`TestGym::athlete`].
    pub athlete_id: AthleteId,
    /// The server's clock.
    pub clock: Clock,
    /// A store of the test's own, with the server's role.
    pub store: Store,
    /// The database, to go past the application.
    pub database: Database,
    server: SocketAddr,
    _stop: oneshot::Sender<()>,
}

impl TestGym {
    /// A gym behind a server with the usual settings.
    pub async fn new() -> Self {
        Self::with(Config::default()).await
    }

    /// A gym behind a server with these settings.
    pub async fn with(config: Config) -> Self {
        let database = Database::new().await;
        let clock = Clock::standing_at(NOW);
        let (server, stop) = start(&database, clock.clone(), config).await;
        let store = database.store().await;
        let id = new_id();
        let [owner, coach, athlete] = [
            ("Maren Holt", "maren@quarry.example"),
            ("Tove Lind", "tove@quarry.example"),
            ("Ansel Reed", "ansel@quarry.example"),
        ]
        .map(|(name, email)| account(name, email));
        let athlete_id = new_id();
        furnish(
            &store,
            id,
            "Quarry Lane Club Hall",
            [&owner, &coach, &athlete],
            athlete_id,
        )
        .await;
        Self {
            id,
            owner,
            coach,
            athlete,
            athlete_id,
            clock,
            store,
            database,
            server,
            _stop: stop,
        }
    }

    /// An address inside the gym.
    #[must_use]
    pub fn path(&self, page: &str) -> String {
        format!("/g/{}/{page}", self.id)
    }

    /// Where the server is, for a browser: `http://127.0.0.1:…`.
    #[must_use]
    pub fn origin(&self) -> String {
        format!("http://{}", self.server)
    }

    /// The gym's owner, signed in.
    pub async fn owner(&self) -> Actor {
        self.sign_in(&self.owner).await
    }

    /// The coach, signed in.
    pub async fn coach(&self) -> Actor {
        self.sign_in(&self.coach).await
    }

    /// The athlete, signed in.
    pub async fn athlete(&self) -> Actor {
        self.sign_in(&self.athlete).await
    }

    /// Somebody who is not signed in.
    #[must_use]
    pub fn anon(&self) -> Actor {
        Actor::new(self.server)
    }

    /// Somebody with an account and no gym, signed in.
    pub async fn stranger(&self) -> Actor {
        let stranger = self.account("Rune Falk", "rune@elsewhere.example").await;
        self.sign_in(&stranger).await
    }

    /// Signs somebody in, past the page.
    pub async fn sign_in(&self, person: &Person) -> Actor {
        let (token, csrf) = self.open_sign_in(person).await;
        self.anon().signed_in(&token, &csrf)
    }

    /// Signs a browser in, past the page: the cookie's value, and the token of its forms.
    pub async fn open_sign_in(&self, person: &Person) -> (String, String) {
        let (token, csrf) = (tokens::secret(), tokens::secret());
        let new = sign_ins::New {
            token: TokenHash::of(&token),
            account: person.id,
            csrf_token: &csrf,
            device: "test",
            now: self.clock.now(),
            lifetime: Config::default().sign_in,
        };
        let mut outside = self.store.outside().await.expect("a connection");
        sign_ins::open(&mut outside, &new).await.expect("a sign-in");
        (token, csrf)
    }

    /// Somebody more who trains here, with an account and a row of their own.
    pub async fn another_athlete(&self, name: &str, email: &str) -> (Person, AthleteId) {
        let person = self.person(name, email, &[Role::Athlete]).await;
        let athlete = new_id();
        let mut tx = self.enter().await;
        add_athlete(&mut tx, &person, athlete).await;
        tx.commit().await.expect("a new athlete");
        (person, athlete)
    }

    /// Makes an account with [`PASSWORD`].
    pub async fn account(&self, name: &str, email: &str) -> Person {
        let account = account(name, email);
        let mut outside = self.store.outside().await.expect("a connection");
        keep(&mut outside, &account).await;
        account
    }

    /// Makes an account that has roles in this gym.
    pub async fn person(&self, name: &str, email: &str, roles: &[Role]) -> Person {
        let account = self.account(name, email).await;
        let mut tx = self.enter().await;
        for role in roles {
            people::join(&mut tx, &account, *role, NOW)
                .await
                .expect("a new member");
        }
        tx.commit().await.expect("a new member");
        account
    }

    /// Another gym in the same database, with an owner, a coach, an athlete and the athlete's row.
    pub async fn neighbour(&self) -> (GymId, [Person; 3], AthleteId) {
        let people = [
            ("Sunna Vik", "sunna@harbour.example"),
            ("Bram Oud", "bram@harbour.example"),
            ("Liv Dale", "liv@harbour.example"),
        ]
        .map(|(name, email)| account(name, email));
        let (id, athlete) = (new_id(), new_id());
        let [owner, coach, swinger] = &people;
        furnish(
            &self.store,
            id,
            "Harbour Street Swing Room",
            [owner, coach, swinger],
            athlete,
        )
        .await;
        (id, people, athlete)
    }

    /// Opens the door to the gym as its coach.
    pub async fn enter(&self) -> GymTx {
        self.store
            .enter(self.id, self.coach.id)
            .await
            .expect("the door opens")
    }

    /// A raw connection with the server's role, past the door.
    pub async fn past_the_door(&self) -> PgConnection {
        self.database.connect(DatabaseRole::Server).await
    }
}

/// An id that no other thing of this process has.
#[must_use]
pub fn new_id<T: From<Uuid>>() -> T {
    let number = IDS.fetch_add(1, Ordering::Relaxed);
    Uuid::from_u64_pair(0x0193_0000_0000_7000, 0x8000_0000_0000_0000 | number).into()
}

fn account(name: &str, email: &str) -> Account {
    Account {
        id: AccountId(new_id()),
        email: Email::new(email).expect("an address"),
        name: PersonName::new(name).expect("a name"),
        units: UnitSystem::Kilogram,
    }
}

async fn keep(outside: &mut PgConnection, account: &Account) {
    accounts::create(outside, account, PASSWORD_HASH, NOW)
        .await
        .expect("a new account");
}

/// Makes a gym with an owner, a coach and an athlete.
async fn furnish(
    store: &Store,
    gym: GymId,
    name: &str,
    [owner, coach, athlete]: [&Account; 3],
    athlete_id: AthleteId,
) {
    let mut tx = store.enter(gym, owner.id).await.expect("the door opens");
    let name = GymName::new(name).expect("a name");
    gyms::create(&mut tx, &name, "Europe/Lisbon", NOW)
        .await
        .expect("a new gym");
    for (person, role) in [
        (owner, Role::Owner),
        (coach, Role::Coach),
        (athlete, Role::Athlete),
    ] {
        keep(tx.conn(), person).await;
        people::join(&mut tx, person, role, NOW)
            .await
            .expect("a new member");
    }
    add_athlete(&mut tx, athlete, athlete_id).await;
    sqlx::query("insert into rosters (gym_id, coach_id, athlete_id) values ($1, $2, $3)")
        .bind(gym.0)
        .bind(coach.id.0)
        .bind(athlete_id.0)
        .execute(tx.conn())
        .await
        .expect("the athlete is on the coach's roster");
    tx.commit().await.expect("a furnished gym");
}

/// Gives somebody with an account the row of an athlete.
async fn add_athlete(tx: &mut GymTx, athlete: &Account, id: AthleteId) {
    sqlx::query(
        "insert into athletes
             (gym_id, athlete_id, person_id, name, started_on, status_since, handle, created_at)
         values ($1, $2, $3, $4, '2026-01-05', '2026-01-05', $5, $6)",
    )
    .bind(tx.gym().0)
    .bind(id.0)
    .bind(athlete.id.0)
    .bind(athlete.name.as_str())
    .bind(athlete.name.suggested_handle())
    .bind(NOW)
    .execute(tx.conn())
    .await
    .expect("a new athlete");
}

/// Serves a database at a port of its own until told to stop; returns its address.
pub(crate) async fn serve_anew(
    options: PgConnectOptions,
    connections: u32,
    clock: Clock,
    config: Config,
    stop: impl Future<Output = ()> + Send + 'static,
) -> SocketAddr {
    let store = Store::connect(options, connections)
        .await
        .expect("the server's role may connect");
    let listener = TcpListener::bind("127.0.0.1:0").await.expect("a free port");
    let address = listener.local_addr().expect("the port's number");
    let config = Config {
        listens_on: address,
        ..config
    };
    tokio::spawn(serve(listener, App::new(store, clock, config), stop));
    address
}

async fn start(
    database: &Database,
    clock: Clock,
    config: Config,
) -> (SocketAddr, oneshot::Sender<()>) {
    let options = database.options(DatabaseRole::Server);
    let (stop, stopped) = oneshot::channel::<()>();
    let started = servers().spawn(serve_anew(options, 4, clock, config, async {
        // The sender's end comes with the test's.
        let _ = stopped.await;
    }));
    (started.await.expect("a server"), stop)
}
