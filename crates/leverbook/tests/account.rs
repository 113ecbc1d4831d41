//! The first owner, and people who are locked out, as whoever runs the server helps them.

use std::io::Write;
use std::process::{Command, Output, Stdio};

use leverbook_local_postgres::{Cluster, Role};
use leverbook_web::passwords::Passwords;
use sqlx::postgres::{PgConnectOptions, PgConnection};
use sqlx::{ConnectOptions, query_as, query_scalar};

struct Book {
    url: String,
    admin: PgConnection,
    _cluster: Cluster,
}

impl Book {
    async fn new() -> Self {
        let cluster = Cluster::disposable().unwrap();
        let way = cluster.connection(Role::Admin);
        let socket = way.socket_folder().to_str().unwrap().replace('/', "%2F");
        let url = format!(
            "postgres://{}@{socket}:{}/{}",
            way.user(),
            way.port(),
            way.database()
        );
        let options: PgConnectOptions = url.parse().unwrap();
        Self {
            admin: options.connect().await.unwrap(),
            url,
            _cluster: cluster,
        }
    }

    fn run(&self, arguments: &[&str], typed: &str) -> Output {
        let mut process = Command::new(env!("CARGO_BIN_EXE_leverbook"))
            .arg("account")
            .args(arguments)
            .env_remove("LEVERBOOK_DATA")
            .env("DATABASE_URL", &self.url)
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .unwrap();
        // It may have refused before it read anything.
        let _ = process.stdin.take().unwrap().write_all(typed.as_bytes());
        process.wait_with_output().unwrap()
    }

    fn says(&self, arguments: &[&str], typed: &str) -> String {
        let output = self.run(arguments, typed);
        let said = String::from_utf8(output.stdout).unwrap();
        assert!(
            output.status.success(),
            "{said}{}",
            String::from_utf8_lossy(&output.stderr)
        );
        said
    }

    /// The line that it says when it refuses.
    fn refuses(&self, arguments: &[&str], typed: &str) -> String {
        let output = self.run(arguments, typed);
        assert!(!output.status.success());
        String::from_utf8(output.stderr).unwrap()
    }

    async fn roles(&mut self) -> Vec<(String, String)> {
        query_as(
            "select g.name, m.role from memberships m join gyms g using (gym_id) order by 1, 2",
        )
        .fetch_all(&mut self.admin)
        .await
        .unwrap()
    }

    async fn hash(&mut self, email: &str) -> String {
        query_scalar("select password_hash from accounts where email = $1")
            .bind(email)
            .fetch_one(&mut self.admin)
            .await
            .unwrap()
    }
}

const HALL: [&str; 4] = [
    "--gym",
    "Quarry Lane Club Hall",
    "--time-zone",
    "Europe/Lisbon",
];
const MAREN: [&str; 4] = ["--email", "Maren@quarry.example", "--name", "Maren Holt"];

fn add<'a>(parts: &[&[&'a str]]) -> Vec<&'a str> {
    let mut arguments = vec!["add"];
    arguments.extend(parts.iter().copied().flatten());
    arguments
}

#[tokio::test]
async fn the_first_owner_gets_a_gym_and_a_password() {
    let mut book = Book::new().await;
    let said = book.says(&add(&[&HALL, &MAREN]), "");
    assert!(
        said.contains("maren@quarry.example is owner of Quarry Lane Club Hall"),
        "{said}"
    );
    let password = said
        .lines()
        .find_map(|line| line.strip_prefix("Password: "))
        .unwrap();
    let hash = book.hash("maren@quarry.example").await;
    assert!(Passwords::new().verify(password, Some(&hash)).await);
    let movements: i64 = query_scalar("select count(*) from movements")
        .fetch_one(&mut book.admin)
        .await
        .unwrap();
    assert!(movements > 0, "a new gym knows the movements of the trade");

    // Again: another role in the same gym, a second gym, the same account and password.
    let said = book.says(&add(&[&HALL[..2], &MAREN, &["--role", "coach"]]), "");
    assert!(said.contains("keeps its password"), "{said}");
    book.says(
        &add(&[
            &["--gym", "Harbour Street", "--time-zone", "Asia/Kathmandu"],
            &MAREN,
            &["--role", "athlete"],
        ]),
        "",
    );
    assert_eq!(book.hash("maren@quarry.example").await, hash);
    let roles = book.roles().await;
    let expected = [
        ("Harbour Street", "athlete"),
        ("Quarry Lane Club Hall", "coach"),
        ("Quarry Lane Club Hall", "owner"),
    ];
    assert_eq!(
        roles,
        expected.map(|(gym, role)| (gym.to_owned(), role.to_owned()))
    );
    let athletes: Vec<String> = query_scalar("select handle from athletes")
        .fetch_all(&mut book.admin)
        .await
        .unwrap();
    assert_eq!(athletes, ["maren-holt"]);
}

#[tokio::test]
async fn what_cannot_be_is_refused_and_leaves_nothing_behind() {
    let mut book = Book::new().await;
    let short = book.refuses(&add(&[&HALL, &MAREN]), "too short\n");
    assert!(
        short.contains("the password needs at least 15 characters"),
        "{short}"
    );
    for name in ["", "\u{200b}", "Hall \u{202e}enaL", "Hall\u{7}"] {
        let zone = ["--time-zone", "Europe/Lisbon"];
        let said = book.refuses(&add(&[&["--gym", name], &zone, &MAREN]), "");
        assert!(said.contains("--gym"), "{name:?}: {said}");
    }
    for zone in [
        "Europe/Nowhere",
        "EST5EDT4",
        "",
        "'; drop table gyms",
        "posixrules",
        "localtime",
        "right/Europe/Lisbon",
    ] {
        let said = book.refuses(&add(&[&["--gym", "Hall", "--time-zone", zone], &MAREN]), "");
        assert!(said.contains("there is no time zone"), "{zone}: {said}");
    }
    let zoneless = book.refuses(&add(&[&["--gym", "Hall"], &MAREN]), "");
    assert!(zoneless.contains("--time-zone"), "{zoneless}");
    let nobody = book.refuses(&["password", "--email", "nobody@quarry.example"], "");
    assert!(
        nobody.contains("nobody has the address nobody@quarry.example"),
        "{nobody}"
    );
    assert!(
        !book
            .run(&add(&[&HALL, &["--email", "maren", "--name", "M"]]), "")
            .status
            .success()
    );
    assert!(
        !book
            .run(&add(&[&HALL, &MAREN, &["--role", "boss"]]), "")
            .status
            .success()
    );
    let huge = "x".repeat(100_000);
    let long_address = format!("{}@quarry.example", "m".repeat(300));
    for (option, value) in [
        ("--name", huge.as_str()),
        ("--name", "Maren\u{7}Holt"),
        ("--name", " "),
        ("--gym", &huge),
        ("--gym", "Hall\u{1b}[2J"),
        ("--gym", ""),
        ("--email", &long_address),
        ("--email", "maren\u{7}@quarry.example"),
    ] {
        let mut arguments = add(&[&HALL, &MAREN]);
        let at = arguments.iter().position(|a| *a == option).unwrap();
        arguments[at + 1] = value;
        let said = book.refuses(&arguments, "granite lantern otter\n");
        let shown: String = said.chars().take(500).collect();
        assert!(said.contains(option), "{option}: {shown}");
        assert!(
            !said.contains('\u{7}') && !said.contains('\u{1b}'),
            "{option} is written onto the terminal as it is: {shown:?}"
        );
    }
    let left: i64 =
        query_scalar("select (select count(*) from accounts) + (select count(*) from gyms)")
            .fetch_one(&mut book.admin)
            .await
            .unwrap();
    assert_eq!(left, 0);
}

#[tokio::test]
async fn somebody_who_forgot_gets_a_new_password_and_a_lock_holds() {
    let mut book = Book::new().await;
    book.says(&add(&[&HALL, &MAREN]), "granite lantern otter\n");
    let email = ["--email", "maren@quarry.example"];
    let said = book.says(
        &[&["password"], &email[..]].concat(),
        "another lantern otter\n",
    );
    assert!(
        !said.contains("Password:"),
        "a password that was typed is not repeated: {said}"
    );
    let hash = book.hash("maren@quarry.example").await;
    let passwords = Passwords::new();
    assert!(passwords.verify("another lantern otter", Some(&hash)).await);
    assert!(!passwords.verify("granite lantern otter", Some(&hash)).await);

    book.says(&[&["disable"], &email[..]].concat(), "");
    let locked = "select disabled_at is not null from accounts";
    let is_locked: bool = query_scalar(locked)
        .fetch_one(&mut book.admin)
        .await
        .unwrap();
    assert!(is_locked);
    book.says(&[&["enable"], &email[..]].concat(), "");
    let is_locked: bool = query_scalar(locked)
        .fetch_one(&mut book.admin)
        .await
        .unwrap();
    assert!(!is_locked);
}
