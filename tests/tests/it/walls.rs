//! One gym, one wall: what the schema promises, and that it holds when the application's own
//! checks are gone round.

use std::collections::BTreeSet;
use std::fs;
use std::path::{Path, PathBuf};

use leverbook_domain::id::{AccountId, GymId};
use leverbook_local_postgres::Role as DatabaseRole;
use leverbook_store::{ConnectError, GymTx, Store};
use leverbook_tests::{Database, TestGym, new_id};
use sqlx::{AssertSqlSafe, PgConnection, Row};
use uuid::Uuid;

/// The tables that are no gym's. A new one belongs here only if it holds nothing of a gym.
const GLOBAL: [&str; 5] = [
    "_sqlx_migrations",
    "account_gyms",
    "accounts",
    "digest_jobs",
    "sign_ins",
];

/// The tables that the server may fill and read and nothing else: what was logged, planned, seen
/// and decided is never overwritten.
const APPEND_ONLY: [&str; 15] = [
    "block_template_versions",
    "club_inspections",
    "coach_notes",
    "flag_decisions",
    "gate_openings",
    "logged_sessions",
    "logged_sets",
    "note_reads",
    "planned_revisions",
    "planned_seen",
    "planned_sessions",
    "policies",
    "policy_exceptions",
    "review_decisions",
    "use_changes",
];

/// The policy as every gym table must have it. Without `nullif` a connection used before fails on
/// the empty text that an ended transaction leaves behind.
const POLICY: &str =
    "(gym_id = (NULLIF(current_setting('app.gym_id'::text, true), ''::text))::uuid)";

async fn texts(connection: &mut PgConnection, sql: &'static str) -> Vec<String> {
    sqlx::query_scalar(sql)
        .fetch_all(connection)
        .await
        .expect("the catalogue can be read")
}

async fn gym_tables(connection: &mut PgConnection) -> Vec<String> {
    texts(
        connection,
        "select c.relname::text from pg_class c
         where c.relnamespace = 'public'::regnamespace and c.relkind in ('r', 'p')
             and c.relname <> all (array['_sqlx_migrations', 'account_gyms', 'accounts', 'digest_jobs', 'sign_ins'])
         order by 1",
    )
    .await
}

#[tokio::test]
async fn every_table_is_a_gyms_own_or_known_to_be_global() {
    let database = Database::new().await;
    let mut admin = database.connect(DatabaseRole::Admin).await;
    let without_gym = texts(
        &mut admin,
        "select c.relname::text from pg_class c
         where c.relnamespace = 'public'::regnamespace and c.relkind in ('r', 'p')
             and not exists (
                 select from pg_attribute a
                 where a.attrelid = c.oid and a.attname = 'gym_id' and a.attnotnull
                     and a.atttypid = 'uuid'::regtype)
         order by 1",
    )
    .await;
    assert_eq!(without_gym, ["_sqlx_migrations", "accounts", "sign_ins"]);
    assert!(gym_tables(&mut admin).await.len() >= 24);
    assert!(GLOBAL.is_sorted());
}

#[tokio::test]
async fn keys_and_indexes_of_gym_tables_start_with_the_gym() {
    let database = Database::new().await;
    let mut admin = database.connect(DatabaseRole::Admin).await;
    let tables = gym_tables(&mut admin).await;
    let keyed = texts(
        &mut admin,
        "select conrelid::regclass::text from pg_constraint where contype = 'p' order by 1",
    )
    .await;
    for table in &tables {
        assert!(keyed.contains(table), "{table} has no primary key");
    }
    // Primary keys and unique constraints are indexes, too.
    let wrong = texts(
        &mut admin,
        "select i.indexrelid::regclass::text
         from pg_index i
         join pg_class c on c.oid = i.indrelid
         join pg_attribute g on g.attrelid = c.oid and g.attname = 'gym_id'
         where c.relnamespace = 'public'::regnamespace and c.relname not in ('account_gyms', 'digest_jobs')
             and i.indkey[0] <> g.attnum
         order by 1",
    )
    .await;
    assert_eq!(wrong, Vec::<String>::new());
}

#[tokio::test]
async fn foreign_keys_stay_inside_the_gym_and_never_null_its_id() {
    let database = Database::new().await;
    let mut admin = database.connect(DatabaseRole::Admin).await;
    // Out of a gym, into a gym from outside, or not led by the gym's id on both sides.
    let leaving = texts(
        &mut admin,
        "select k.conrelid::regclass::text || ' ' || k.conname
         from pg_constraint k
         left join pg_attribute mine
             on mine.attrelid = k.conrelid and mine.attnum = k.conkey[1] and mine.attname = 'gym_id'
         left join pg_attribute theirs
             on theirs.attrelid = k.confrelid and theirs.attnum = k.confkey[1] and theirs.attname = 'gym_id'
         where k.contype = 'f'
             and (mine is null or theirs is null)
             and not (k.conrelid::regclass::text in ('account_gyms', 'sign_ins')
                      and k.confrelid = 'accounts'::regclass)
         order by 1",
    )
    .await;
    assert_eq!(leaving, Vec::<String>::new());
    let from_global = texts(
        &mut admin,
        "select conname::text from pg_constraint
         where contype = 'f' and conrelid::regclass::text in ('accounts', 'account_gyms', 'digest_jobs', 'sign_ins')
             and confrelid <> 'accounts'::regclass",
    )
    .await;
    assert_eq!(from_global, Vec::<String>::new());
    // 'a' is no action: nothing in another row changes or goes because this one does.
    let acting = texts(
        &mut admin,
        "select conname::text from pg_constraint
         where contype = 'f' and (confdeltype <> 'a' or confupdtype <> 'a')",
    )
    .await;
    assert_eq!(acting, Vec::<String>::new());
}

#[tokio::test]
async fn row_security_is_forced_with_the_same_policy_everywhere() {
    let database = Database::new().await;
    let mut admin = database.connect(DatabaseRole::Admin).await;
    for table in gym_tables(&mut admin).await {
        let (enabled, forced): (bool, bool) = sqlx::query_as(
            "select relrowsecurity, relforcerowsecurity from pg_class where oid = $1::regclass",
        )
        .bind(&table)
        .fetch_one(&mut admin)
        .await
        .unwrap();
        assert!(enabled && forced, "{table}");
        let policies: Vec<(String, bool, String, Option<String>, bool)> = sqlx::query_as(
            "select polcmd::text, polpermissive, pg_get_expr(polqual, polrelid),
                 pg_get_expr(polwithcheck, polrelid), polroles = '{0}'
             from pg_policy where polrelid = $1::regclass",
        )
        .bind(&table)
        .fetch_all(&mut admin)
        .await
        .unwrap();
        // For all commands, for everybody; without its own check, writes are held to the same.
        let same = ("*".to_owned(), true, POLICY.to_owned(), None, true);
        assert_eq!(policies, [same], "{table}");
    }
}

#[tokio::test]
async fn the_servers_role_owns_nothing_and_gets_round_nothing() {
    let database = Database::new().await;
    let mut admin = database.connect(DatabaseRole::Admin).await;
    let (superuser, bypasses, makes_roles, makes_databases): (bool, bool, bool, bool) =
        sqlx::query_as(
            "select rolsuper, rolbypassrls, rolcreaterole, rolcreatedb from pg_roles
             where rolname = 'leverbook_server'",
        )
        .fetch_one(&mut admin)
        .await
        .unwrap();
    assert!(!superuser && !bypasses && !makes_roles && !makes_databases);
    let belongs_to = texts(
        &mut admin,
        "select roleid::regrole::text from pg_auth_members
         where member = 'leverbook_server'::regrole",
    )
    .await;
    assert_eq!(belongs_to, Vec::<String>::new());
    let owned = texts(
        &mut admin,
        "select relname::text from pg_class where relowner = 'leverbook_server'::regrole
         union select proname::text from pg_proc where proowner = 'leverbook_server'::regrole
         union select nspname::text from pg_namespace where nspowner = 'leverbook_server'::regrole
         union select datname::text from pg_database where datdba = 'leverbook_server'::regrole",
    )
    .await;
    assert_eq!(owned, Vec::<String>::new());
    let may_create: bool =
        sqlx::query_scalar("select has_schema_privilege('leverbook_server', 'public', 'create')")
            .fetch_one(&mut admin)
            .await
            .unwrap();
    assert!(!may_create);
    // Row security does not apply to truncate; references and triggers look past it.
    let too_much = texts(
        &mut admin,
        "select c.relname::text || ' ' || p
         from pg_class c, unnest(array['truncate', 'references', 'trigger']) p
         where c.relnamespace = 'public'::regnamespace and c.relkind in ('r', 'p')
             and has_table_privilege('leverbook_server', c.oid, p)",
    )
    .await;
    assert_eq!(too_much, Vec::<String>::new());
}

#[tokio::test]
async fn no_update_can_move_a_row_to_another_gym_or_overwrite_what_was_logged() {
    let database = Database::new().await;
    let mut admin = database.connect(DatabaseRole::Admin).await;
    let movable = texts(
        &mut admin,
        "select attrelid::regclass::text from pg_attribute
         where attname = 'gym_id' and attrelid in (
                 select oid from pg_class
                 where relnamespace = 'public'::regnamespace and relkind in ('r', 'p'))
             and has_column_privilege('leverbook_server', attrelid, attnum, 'update')",
    )
    .await;
    assert_eq!(movable, Vec::<String>::new());
    let changeable: BTreeSet<String> = texts(
        &mut admin,
        "select c.relname::text from pg_class c
         where c.relnamespace = 'public'::regnamespace and c.relkind in ('r', 'p')
             and (has_any_column_privilege('leverbook_server', c.oid, 'update')
                  or has_table_privilege('leverbook_server', c.oid, 'delete'))",
    )
    .await
    .into_iter()
    .collect();
    for table in APPEND_ONLY {
        assert!(!changeable.contains(table), "{table}");
    }
    // Excused days stay as they were noted; all that can be added is that they were taken back.
    let of_excused = texts(
        &mut admin,
        "select attname::text from pg_attribute
         where attrelid = 'excused'::regclass and attnum > 0
             and has_column_privilege('leverbook_server', attrelid, attnum, 'update')",
    )
    .await;
    assert_eq!(of_excused, ["taken_back_at"]);
}

#[tokio::test]
async fn nothing_runs_in_the_database_that_is_not_in_the_statement() {
    let database = Database::new().await;
    let mut admin = database.connect(DatabaseRole::Admin).await;
    let hidden = texts(
        &mut admin,
        "select tgname::text from pg_trigger where not tgisinternal
         union select evtname::text from pg_event_trigger
         union select proname::text from pg_proc where pronamespace = 'public'::regnamespace
         union select rulename::text from pg_rewrite r join pg_class c on c.oid = r.ev_class
             where c.relnamespace = 'public'::regnamespace
         union select relname::text from pg_class
             where relnamespace = 'public'::regnamespace and relkind in ('v', 'm', 'f')",
    )
    .await;
    assert_eq!(hidden, Vec::<String>::new());
}

fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("..")
}

/// Every `.rs` and `.sql` under a folder, with its text in lower case and single spaces.
fn sources(folder: &Path, into: &mut Vec<(PathBuf, String)>) {
    for entry in fs::read_dir(folder).expect("the sources are there") {
        let path = entry.expect("an entry").path();
        if path.is_dir() && !path.ends_with("tests") {
            sources(&path, into);
        } else if path.extension().is_some_and(|e| e == "rs" || e == "sql") {
            let text = fs::read_to_string(&path).expect("a source");
            let words: Vec<&str> = text.split_whitespace().collect();
            into.push((path, words.join(" ").to_lowercase()));
        }
    }
}

#[test]
fn no_source_sets_the_gym_for_a_session_or_takes_a_lock_across_gyms() {
    let mut all = Vec::new();
    sources(&root().join("crates"), &mut all);
    sources(&root().join("migrations"), &mut all);
    assert!(all.len() > 50);
    for (path, text) in all {
        for banned in [
            "set_config",
            "pg_advisory",
            "pg_try_advisory",
            "merge into",
            "set session",
            "set role",
            "reset role",
            "reset all",
            "lock table",
            "on delete set null",
            "create trigger",
            "security definer",
        ] {
            assert!(!text.contains(banned), "{} has {banned}", path.display());
        }
        if let Some(at) = text.find("set app.") {
            panic!(
                "{} sets it for the session: {}",
                path.display(),
                &text[at..at + 20]
            );
        }
        // Statements are put together from text in one place only, from a typed uuid.
        let is_door = path.ends_with("crates/store/src/door.rs");
        assert!(
            is_door || !text.contains("assertsqlsafe"),
            "{} puts SQL together from text",
            path.display()
        );
    }
}

/// One row in every table of a gym, written past the application.
const ONE_ROW_EACH: &str = "
insert into gyms values ($gym, 'A', 'Europe/Lisbon', now());
insert into people values ($gym, $person, 'P', 'p@quarry.example');
insert into memberships values ($gym, $person, 'coach', now());
insert into athletes (gym_id, athlete_id, name, started_on, status_since, handle, created_at)
    values ($gym, $one, 'A', '2026-01-05', '2026-01-05', 'a', now());
insert into rosters values ($gym, $person, $one);
insert into excused values ($gym, $one, $one, '2026-02-01', '2026-02-02', 'travel', $person, now());
insert into invitations values ($gym, sha256('t'), 'coach', null, $person, now(), now() + interval '1 day');
insert into policies values ($gym, 1, '{}', $person, now());
insert into policy_exceptions values ($gym, $one, 1, 'pain_stop', 3, 'a sore wrist', $person, now(), '2026-02-02');
insert into movements (gym_id, movement_id, name) values ($gym, $one, 'mill');
insert into clubs (gym_id, club_id, name, created_at) values ($gym, $one, 'c', now());
insert into loadings values ($gym, $one, $one, 'c', '{}', now());
insert into block_templates values ($gym, $one, $person, now());
insert into block_template_versions values ($gym, $one, 1, 'Autumn', $one, true, '{}', '{1,4}', 8, '', $person, now());
insert into club_inspections values ($gym, $one, $one, '2026-02-02', 'in_order', '', 30, $person, now());
insert into use_changes values ($gym, $one, $one, $one, '2026-02-02', 'lent', '', $person, now());
insert into blocks (gym_id, block_id, athlete_id, movement_id, hands, loading_id, scheme, weekdays, starts_on, weeks, assigned_by, assigned_at)
    values ($gym, $one, $one, $one, 'two', $one, '{}', '{1}', '2026-02-02', 4, $person, now());
insert into planned_sessions values ($gym, $one, $one, $one);
insert into planned_revisions values ($gym, $one, 1, $one, '2026-02-02', 'planned', '{}', '', $person, now());
insert into plan_acts (gym_id, act_id, athlete_id, what, first_day, decided_by, decided_at)
    values ($gym, $one, $one, 'move', '2026-02-02', $person, now());
insert into planned_seen values ($gym, $one, 1, now());
insert into gate_openings values ($gym, $one, $one, $one, '2026-02-02', 'ready', $person, now());
insert into calendar_links values ($gym, $one, sha256('c'), '18:30', now(), now());
insert into classes values ($gym, $one, 'evening', 2, '18:30', 60, 8, $person, now());
insert into class_members values ($gym, $one, $one);
insert into class_plans values ($gym, $one, '2026-02-03', 1, 8, '[]', '{}', $person, now());
insert into logged_sessions (gym_id, revision_id, session_id, athlete_id, on_date, logged_by, logged_at, content_hash)
    values ($gym, $one, $one, $one, '2026-02-02', $person, now(), sha256('s'));
insert into logged_sets values ($gym, $one, 0, $one, 'two', $one, 'left', 30, 10, null);
insert into flags values ($gym, $one, $one, 'T5', 'look', '2026-02-02', null, '{}', 0);
insert into assessments values ($gym, $one, '2026-02-02', '[]', 0);
insert into flag_decisions values ($gym, $one, $one, $one, 'seen', null, 'look', '', $person, now());
insert into review_decisions values ($gym, $one, $one, 2026, 6, 'hold', '{}', null, '', $person, now());
insert into review_closings values ($gym, $person, 2026, 6, now());
insert into coach_notes values ($gym, $one, $one, 'well done', $person, now());
insert into note_reads values ($gym, $person, $one, now());
insert into digest_wishes values ($gym, $person, encode(sha256('d'), 'hex'), now());
";

/// Fills every table of a gym, as the server would, and says who the person in it is.
async fn fill(store: &Store, gym: GymId) {
    let person = new_id::<AccountId>();
    let mut tx = store.enter(gym, person).await.unwrap();
    let one: Uuid = new_id();
    let sql = ONE_ROW_EACH
        .replace("$gym", &format!("'{gym}'"))
        .replace("$person", &format!("'{person}'"))
        .replace("$one", &format!("'{one}'"));
    sqlx::raw_sql(AssertSqlSafe(sql))
        .execute(tx.conn())
        .await
        .unwrap();
    tx.commit().await.unwrap();
}

/// All of a gym's rows in a table, as an administrator sees them.
async fn rows(admin: &mut PgConnection, table: &str, gym: GymId) -> Vec<serde_json::Value> {
    sqlx::query_scalar(AssertSqlSafe(format!(
        "select to_jsonb(t) from {table} t where gym_id = $1 order by t::text"
    )))
    .bind(gym.0)
    .fetch_all(admin)
    .await
    .unwrap()
}

/// A transaction of the server's role in a gym, on a raw connection.
async fn begin_in(connection: &mut PgConnection, gym: Option<GymId>) {
    let sql = match gym {
        Some(gym) => format!("begin; set local app.gym_id = '{gym}'"),
        None => "begin".to_owned(),
    };
    sqlx::raw_sql(AssertSqlSafe(sql))
        .execute(connection)
        .await
        .unwrap();
}

/// PostgreSQL's code for "not allowed", by a missing right or by row security.
const NOT_ALLOWED: &str = "42501";

/// The rows that a statement touched, or `None` if it was not allowed. Leaves the transaction
/// as it was.
async fn touches(connection: &mut PgConnection, sql: String, other: GymId) -> Option<u64> {
    sqlx::raw_sql("savepoint before")
        .execute(&mut *connection)
        .await
        .unwrap();
    let done = sqlx::query(AssertSqlSafe(sql.clone()))
        .bind(other.0)
        .execute(&mut *connection)
        .await;
    sqlx::raw_sql("rollback to before")
        .execute(&mut *connection)
        .await
        .unwrap();
    match done {
        Ok(done) => Some(done.rows_affected()),
        Err(sqlx::Error::Database(error)) if error.code().as_deref() == Some(NOT_ALLOWED) => None,
        Err(error) => panic!("{sql}: {error}"),
    }
}

#[tokio::test]
async fn past_the_application_another_gym_can_be_neither_read_nor_changed() {
    let database = Database::new().await;
    let store = database.store().await;
    let (mine, other): (GymId, GymId) = (new_id(), new_id());
    fill(&store, mine).await;
    fill(&store, other).await;
    let mut admin = database.connect(DatabaseRole::Admin).await;
    let tables = gym_tables(&mut admin).await;
    let mut raw = database.connect(DatabaseRole::Server).await;
    for table in &tables {
        let theirs = rows(&mut admin, table, other).await;
        assert!(!theirs.is_empty(), "ONE_ROW_EACH leaves {table} empty");
        let count = |gym| format!("select from {table} where gym_id = $1 or gym_id <> {gym}");

        begin_in(&mut raw, None).await;
        let seen = touches(&mut raw, count("$1"), other).await;
        assert_eq!(seen, Some(0), "{table} without a gym");
        sqlx::raw_sql("rollback").execute(&mut raw).await.unwrap();

        begin_in(&mut raw, Some(mine)).await;
        let all = touches(&mut raw, count("$1"), mine).await;
        let own = rows(&mut admin, table, mine).await.len();
        assert_eq!(all, Some(own as u64), "{table}: own rows, and no others");

        let insert = format!(
            "insert into {table} overriding user value select (jsonb_populate_record(null::{table}, '{}')).* where $1 is not null",
            theirs[0]
        );
        assert_eq!(
            touches(&mut raw, insert, other).await,
            None,
            "{table}: insert"
        );
        let delete = format!("delete from {table} where gym_id = $1");
        assert!(
            matches!(touches(&mut raw, delete, other).await, None | Some(0)),
            "{table}: delete"
        );
        let columns: Vec<(String, bool)> = sqlx::query_as(
            "select attname::text, has_column_privilege(attrelid, attnum, 'update')
             from pg_attribute where attrelid = $1::regclass and attnum > 0 and attidentity = ''",
        )
        .bind(table)
        .fetch_all(&mut raw)
        .await
        .unwrap();
        for (column, allowed) in columns {
            let update = format!("update {table} set {column} = {column} where gym_id = $1");
            let touched = touches(&mut raw, update, other).await;
            assert_eq!(touched, allowed.then_some(0), "{table}: update of {column}");
        }
        let steal = format!("update {table} set gym_id = $1");
        assert_eq!(
            touches(&mut raw, steal, other).await,
            None,
            "{table}: moving rows"
        );
        sqlx::raw_sql("commit").execute(&mut raw).await.unwrap();
        assert_eq!(rows(&mut admin, table, other).await, theirs, "{table}");
    }
}

async fn people_seen(connection: &mut PgConnection) -> i64 {
    sqlx::query_scalar("select count(*) from people")
        .fetch_one(connection)
        .await
        .expect("a used connection still answers")
}

async fn people_inside(mut tx: GymTx) -> (i64, GymTx) {
    (people_seen(tx.conn()).await, tx)
}

#[tokio::test]
async fn a_connection_that_was_in_a_gym_takes_nothing_of_it_along() {
    let database = Database::new().await;
    // One connection, so that it is certainly the same.
    let store = Store::connect(database.options(DatabaseRole::Server), 1)
        .await
        .unwrap();
    let (mine, other): (GymId, GymId) = (new_id(), new_id());
    fill(&store, mine).await;
    fill(&store, other).await;
    let me: AccountId = new_id();

    let (seen, tx) = people_inside(store.enter(mine, me).await.unwrap()).await;
    assert_eq!(seen, 1);
    tx.commit().await.unwrap();
    assert_eq!(people_seen(&mut store.outside().await.unwrap()).await, 0);

    // Dropped halfway: rolled back.
    let (seen, tx) = people_inside(store.enter(mine, me).await.unwrap()).await;
    assert_eq!(seen, 1);
    drop(tx);
    assert_eq!(people_seen(&mut store.outside().await.unwrap()).await, 0);

    // Failed inside.
    let mut tx = store.enter(mine, me).await.unwrap();
    sqlx::query("select 1 / 0")
        .execute(tx.conn())
        .await
        .unwrap_err();
    drop(tx);
    assert_eq!(people_seen(&mut store.outside().await.unwrap()).await, 0);
    let (_, mut tx) = people_inside(store.enter(other, me).await.unwrap()).await;
    let gyms: Vec<Uuid> = sqlx::query("select gym_id from gyms")
        .fetch_all(tx.conn())
        .await
        .unwrap()
        .iter()
        .map(|row| row.get(0))
        .collect();
    assert_eq!(gyms, [other.0]);
}

#[tokio::test]
async fn the_server_refuses_a_role_that_owns_tables() {
    let database = Database::new().await;
    let mut admin = database.connect(DatabaseRole::Admin).await;
    sqlx::raw_sql("alter table coach_notes owner to leverbook_server")
        .execute(&mut admin)
        .await
        .unwrap();
    let refused = Store::connect(database.options(DatabaseRole::Server), 1).await;
    match refused {
        Err(error @ ConnectError::Unsafe { .. }) => assert_eq!(
            error.to_string(),
            "the database role leverbook_server owns tables, so gyms would not be walled off from \
             each other; give leverbook_server no such right"
        ),
        other => panic!("{other:?}"),
    }
}

#[tokio::test]
async fn a_login_that_may_do_all_still_serves_as_the_bound_role() {
    let gym = TestGym::new().await;
    let store = Store::connect(gym.database.options(DatabaseRole::Admin), 1)
        .await
        .unwrap();
    let mut outside = store.outside().await.unwrap();
    let role: String = sqlx::query_scalar("select current_user::text")
        .fetch_one(&mut *outside)
        .await
        .unwrap();
    assert_eq!(role, "leverbook_server");
    assert_eq!(people_seen(&mut outside).await, 0);
}
