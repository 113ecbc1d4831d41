//! The demo keeps its word: whoever it names can sign in, and what was there is kept.

use std::io::{BufRead, BufReader, Lines};
use std::path::Path;
use std::process::{Child, ChildStdout, Command, Stdio};
use std::time::Duration;

use leverbook_local_postgres::{Cluster, Role};
use rustix::process::{Pid, Signal, kill_process};
use sqlx::postgres::PgConnectOptions;
use sqlx::{ConnectOptions, query, query_scalar};
use tempfile::{Builder, TempDir};

/// A folder that the account which runs PostgreSQL may pass through, too.
fn scratch() -> TempDir {
    let open = std::os::unix::fs::PermissionsExt::from_mode(0o755);
    Builder::new().permissions(open).tempdir().unwrap()
}

struct Demo {
    process: Child,
    lines: Lines<BufReader<ChildStdout>>,
    url: String,
}

impl Demo {
    fn start(data: &Path) -> Self {
        Self::started(
            command()
                .env_remove("DATABASE_URL")
                .env("LEVERBOOK_DATA", data),
        )
    }

    fn started(command: &mut Command) -> Self {
        let mut process = command.stdout(Stdio::piped()).spawn().unwrap();
        let mut lines = BufReader::new(process.stdout.take().unwrap()).lines();
        let url = lines
            .by_ref()
            .find_map(|line| {
                let line = line.unwrap();
                line.split(' ')
                    .find(|word| word.starts_with("http://"))
                    .map(str::to_owned)
            })
            .expect("the demo says where it is");
        Self {
            process,
            lines,
            url,
        }
    }

    /// Everything it said after where it is.
    fn end(mut self) -> Vec<String> {
        kill_process(Pid::from_child(&self.process), Signal::TERM).unwrap();
        let said = self.lines.by_ref().map(|line| line.unwrap()).collect();
        assert!(self.process.wait().unwrap().success());
        said
    }

    fn agent() -> ureq::Agent {
        let config = ureq::Agent::config_builder()
            .max_redirects(0)
            .http_status_as_error(false);
        config.build().into()
    }

    /// Fills in the form as a browser would; the cookie of the sign-in, if there is one.
    fn sign_in(&self, email: &str, password: &str) -> Option<String> {
        let address = format!("{}/sign-in", self.url);
        let mut page = Self::agent().get(&address).call().unwrap();
        let cookie = cookies(&page);
        let html = page.body_mut().read_to_string().unwrap();
        let csrf = html.split_once("name=\"csrf\" value=\"").unwrap().1;
        let csrf = csrf.split_once('"').unwrap().0;
        let form = [
            ("csrf", csrf),
            ("next", ""),
            ("email", email),
            ("password", password),
        ];
        let answer = Self::agent()
            .post(&address)
            .header("Cookie", &cookie)
            .send_form(form)
            .unwrap();
        (answer.status() == 303).then(|| cookies(&answer))
    }

    /// Where the first page sends whoever has this cookie.
    fn led_to(&self, cookie: &str) -> String {
        let page = Self::agent()
            .get(&self.url)
            .header("Cookie", cookie)
            .call()
            .unwrap();
        page.headers()
            .get("location")
            .unwrap()
            .to_str()
            .unwrap()
            .to_owned()
    }
}

fn command() -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_leverbook"));
    command
        .args(["demo", "--bind", "127.0.0.1:0"])
        .env_remove("LEVERBOOK_PUBLIC_URL");
    command
}

impl Drop for Demo {
    fn drop(&mut self) {
        // Only a test that failed leaves it running.
        let _ = self.process.kill();
        let _ = self.process.wait();
    }
}

fn cookies(answer: &ureq::http::Response<ureq::Body>) -> String {
    let set = answer.headers().get_all("set-cookie").iter();
    let kept: Vec<_> = set
        .map(|cookie| {
            cookie
                .to_str()
                .unwrap()
                .split(';')
                .next()
                .unwrap()
                .to_owned()
        })
        .collect();
    kept.join("; ")
}

/// Role, address and password as printed: two blanks or more stand between them.
fn sign_ins(said: &[String]) -> Vec<[String; 3]> {
    said.iter()
        .filter(|line| line.contains('@'))
        .map(|line| {
            let parts: Vec<_> = line
                .split("  ")
                .map(|part| part.trim().to_owned())
                .filter(|p| !p.is_empty())
                .collect();
            parts.try_into().unwrap()
        })
        .collect()
}

#[test]
fn whoever_it_names_can_sign_in_and_a_second_start_keeps_all() {
    let scratch = scratch();
    let data = scratch.path().join("data");
    let said = Demo::start(&data).end();
    let people = sign_ins(&said);
    let roles: Vec<_> = people.iter().map(|[role, ..]| role.as_str()).collect();
    assert_eq!(roles, ["coach", "athlete", "owner"]);

    let again = Demo::start(&data);
    for [role, email, password] in &people {
        let cookie = again
            .sign_in(email, password)
            .unwrap_or_else(|| panic!("{role}"));
        assert!(again.led_to(&cookie).starts_with("/g/"), "{role}");
        assert_eq!(
            again.sign_in(email, "some other words instead"),
            None,
            "{role}"
        );
    }
    assert_eq!(again.end(), said);

    let cluster = Cluster::open(&data).unwrap();
    let admin = cluster.connection(Role::Admin);
    let counts = "select count(*) from gyms union all select count(*) from athletes";
    let output = Command::new(cluster.binaries().program("psql"))
        .args(["-X", "-A", "-t", "-c", counts, "-h"])
        .arg(admin.socket_folder())
        .args(["-U", admin.user(), "-d", admin.database()])
        .output()
        .unwrap();
    let file = include_str!("../../../demo-data/athletes.csv");
    let expected = format!("1\n{}\n", file.lines().count() - 1);
    assert_eq!(String::from_utf8(output.stdout).unwrap(), expected);
}

/// The gym is killed while its first block is being written: the next start makes it whole.
#[tokio::test]
async fn a_kill_while_it_loads_leaves_nothing_half_done() {
    let cluster = Cluster::disposable().unwrap();
    let way = cluster.connection(Role::Admin);
    let socket = way.socket_folder().to_str().unwrap().replace('/', "%2F");
    let url = format!(
        "postgres://{}@{socket}:{}/{}",
        way.user(),
        way.port(),
        way.database()
    );
    let migrated = Command::new(env!("CARGO_BIN_EXE_leverbook"))
        .arg("migrate")
        .env("DATABASE_URL", &url)
        .status()
        .unwrap();
    assert!(migrated.success());

    let options: PgConnectOptions = url.parse().unwrap();
    let mut holder = options.connect().await.unwrap();
    let mut admin = options.connect().await.unwrap();
    // Blocks can be read and not written.
    query("begin").execute(&mut holder).await.unwrap();
    query("lock table blocks in share mode")
        .execute(&mut holder)
        .await
        .unwrap();
    let mut killed = command()
        .env("DATABASE_URL", &url)
        .stdout(Stdio::null())
        .spawn()
        .unwrap();
    let waits = "select exists (select from pg_locks
         where relation = 'blocks'::regclass and not granted)";
    while !query_scalar::<_, bool>(waits)
        .fetch_one(&mut admin)
        .await
        .unwrap()
    {
        assert_eq!(killed.try_wait().unwrap(), None, "it ended by itself");
        tokio::time::sleep(Duration::from_millis(20)).await;
    }
    killed.kill().unwrap();
    killed.wait().unwrap();
    query("rollback").execute(&mut holder).await.unwrap();

    let said = Demo::started(command().env("DATABASE_URL", &url)).end();
    assert_eq!(sign_ins(&said).len(), 3, "{said:?}");
    let counted = "select array[(select count(*) from gyms), (select count(distinct assigned_by) from blocks)]";
    let counts: Vec<i64> = query_scalar(counted).fetch_one(&mut admin).await.unwrap();
    assert_eq!(
        counts,
        [1, 2],
        "one gym, with blocks by both of its coaches"
    );
}
