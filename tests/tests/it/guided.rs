//! The guided session, by itself in node and in a real browser on a phone's screen; and what of it is
//! in the log afterwards. What a session must do is the trade's common practice (no source).

use leverbook_domain::plan::{Scheme, SetLadder};
use leverbook_domain::units::Reps;
use serde_json::{Value, json};
use time::OffsetDateTime;
use time::format_description::well_known::Rfc3339;
use time::macros::datetime;

use crate::browser::{self, ATHLETE, Stage};

#[test]
fn the_session_by_itself_keeps_time_and_sides() {
    browser::passes_in_node("session.test.mjs");
}

impl Stage {
    /// Plays one scene of the guided session; gives what it wrote on its last line, as JSON.
    async fn scene(&self, scene: &str) -> Value {
        let now = self.gym.clock.now().format(&Rfc3339).expect("an instant");
        let said = self.run(
            "train.mjs",
            &[
                ("LEVERBOOK_TEST_SCENE", scene.to_owned()),
                ("LEVERBOOK_TEST_NOW", now),
                ("LEVERBOOK_TEST_INTERVALS", self.planned("two").await),
                ("LEVERBOOK_TEST_LADDER", self.planned("one").await),
            ],
        );
        let last = said.trim().lines().last().unwrap_or("null");
        serde_json::from_str(last).expect("the scene's last line")
    }

    /// The session planned for today in this way of holding; empty where there is none.
    async fn planned(&self, hands: &str) -> String {
        let mut tx = self.gym.enter().await;
        let id: Option<uuid::Uuid> = sqlx::query_scalar(
            "select planned_id from planned_revisions
             where gym_id = $1 and athlete_id = $2 and on_date = '2026-11-25'
                 and prescription ->> 'hands' = $3",
        )
        .bind(self.gym.id.0)
        .bind(self.bruno.0)
        .bind(hands)
        .fetch_optional(tx.conn())
        .await
        .expect("the plan");
        id.map(|id| id.to_string()).unwrap_or_default()
    }

    /// Everything that Bruno logged by himself, in the order in which it came.
    async fn logged(&self) -> Vec<Value> {
        let mut tx = self.gym.enter().await;
        sqlx::query_scalar(
            "select jsonb_build_object(
                 'on', s.on_date, 'planned', s.planned_id is not null,
                 'first', s.replaces is null, 'minutes', s.minutes,
                 'half_steps', s.effort_half_steps, 'pain', s.pain, 'note', s.note,
                 'withdrawn', s.withdrawn,
                 'sets', (
                     select coalesce(jsonb_agg(
                         jsonb_build_array(t.side, t.seconds, t.reps, t.asked_reps)
                         order by t.position), '[]')
                     from logged_sets t
                     where t.gym_id = s.gym_id and t.revision_id = s.revision_id))
             from logged_sessions s
             join people p on p.gym_id = s.gym_id and p.person_id = s.logged_by
             where s.gym_id = $1 and p.email = $2
             order by s.logged_at, s.withdrawn, s.replaces is not null",
        )
        .bind(self.gym.id.0)
        .bind(ATHLETE)
        .fetch_all(tx.conn())
        .await
        .expect("the log")
    }
}

/// A ladder of fives that begins today.
fn ladder() -> Scheme {
    Scheme::SetLadder(SetLadder {
        reps: Reps::new(5).expect("reps"),
        start_sets: 5,
        add_per_week: 1,
        target_sets: 10,
        light_fourth_week: false,
        rest_seconds: 60,
    })
}

/// Interval sets of one length with these counts, left first, as the log has them.
fn intervals(counts: &[i64]) -> Value {
    let side = |index: usize| {
        if index.is_multiple_of(2) {
            "left"
        } else {
            "right"
        }
    };
    let sets = counts.iter().enumerate();
    sets.map(|(index, count)| json!([side(index), 30, count, null]))
        .collect()
}

#[tokio::test(flavor = "multi_thread")]
async fn five_interval_sets_take_few_taps_and_are_logged_as_counted() {
    let stage = Stage::new().await;
    let shown = stage.scene("interval").await;
    let counts: Vec<i64> = serde_json::from_value(shown).expect("counts");
    assert_eq!(counts.len(), 10);
    assert_eq!(counts[4], 12, "tapped along");
    let [logged] = &stage.logged().await[..] else {
        panic!("one session, sent once")
    };
    assert_eq!(logged["sets"], intervals(&counts));
    assert_eq!(logged["on"], "2026-11-25");
    assert_eq!(logged["half_steps"], 12);
    assert_eq!(logged["pain"], json!([{"score": 0, "place": null}]));
    assert_eq!(logged["note"], "");
    assert_eq!(logged["planned"], true);
    // Ten sides of 10 s lead-in and 30 s swing take at least 6 min 40 s.
    let minutes = logged["minutes"].as_i64().expect("minutes");
    assert!((6..=12).contains(&minutes), "{minutes}");
}

#[tokio::test(flavor = "multi_thread")]
async fn work_of_ones_own_choice_with_a_new_club_begins_with_what_to_mind() {
    let stage = Stage::new().await;
    stage.scene("chosen").await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_full_phone_says_so_and_keeps_what_was_done_as_soon_as_it_can() {
    let stage = Stage::new().await;
    stage.scene("full").await;
    let [logged] = &stage.logged().await[..] else {
        panic!("one session, sent once")
    };
    assert_eq!(logged["pain"], json!([{"score": 6, "place": null}]));
}

/// L4: what hurt waits for the coach, also what is under way.
#[tokio::test(flavor = "multi_thread")]
async fn a_session_under_way_ends_when_pain_is_told_elsewhere() {
    let stage = Stage::new().await;
    stage.plan(ladder()).await;
    stage.scene("halted").await;
    let logged = stage.logged().await;
    let sets: Vec<&Value> = logged.iter().map(|session| &session["sets"]).collect();
    assert!(sets.contains(&&intervals(&[13])), "{sets:?}");
    assert_eq!(logged.len(), 2);
}

#[tokio::test(flavor = "multi_thread")]
async fn every_signal_can_be_turned_off() {
    let stage = Stage::new().await;
    stage.scene("quiet").await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_session_works_by_keys_and_tells_a_screen_reader_where_it_is() {
    let stage = Stage::new().await;
    stage.scene("keys").await;
}

/// L5: pain has to be said after a session with pain; 0 is an answer.
#[tokio::test(flavor = "multi_thread")]
async fn after_pain_the_question_has_to_be_answered() {
    let stage = Stage::new().await;
    stage.plan(ladder()).await;
    stage.scene("asked").await;
    let logged = stage.logged().await;
    let pain: Vec<&Value> = logged.iter().map(|session| &session["pain"]).collect();
    let two = json!([{"score": 3, "place": "left wrist"}, {"score": 1, "place": null}]);
    assert!(pain.contains(&&two), "{pain:?}");
    assert!(
        pain.contains(&&json!([{"score": 0, "place": null}])),
        "{pain:?}"
    );
    assert_eq!(pain.len(), 2);
}

#[tokio::test(flavor = "multi_thread")]
async fn a_ladder_is_one_tap_a_set_and_each_number_can_be_corrected() {
    let stage = Stage::new().await;
    stage.plan(ladder()).await;
    stage.scene("ladder").await;
    let [logged] = &stage.logged().await[..] else {
        panic!("one session, sent once")
    };
    let row = |side: &str, reps: u8| json!([side, null, reps, 5]);
    let mut sets: Vec<Value> = (0..5)
        .flat_map(|_| [row("left", 5), row("right", 5)])
        .collect();
    sets[3] = row("right", 4);
    sets[4] = row("left", 6);
    assert_eq!(logged["sets"], json!(sets));
    assert_eq!(
        logged["half_steps"],
        Value::Null,
        "effort may be left unsaid"
    );
    assert_eq!(logged["pain"], json!([]), "and so may pain");
    assert_eq!(logged["planned"], true);
}

/// L4: from the gym's score on the session stops, and the coach is told by a flag.
#[tokio::test(flavor = "multi_thread")]
async fn pain_stops_the_session_keeps_what_was_done_and_tells_the_coach() {
    let stage = Stage::new().await;
    stage.scene("pain").await;
    let [logged] = &stage.logged().await[..] else {
        panic!("one session, sent once")
    };
    assert_eq!(
        logged["pain"],
        json!([{"score": 2, "place": null}, {"score": 4, "place": "left elbow"}]),
        "what hurt is not undone"
    );
    assert_eq!(logged["sets"][0], json!(["left", 30, 17, null]));
    let broken = &logged["sets"][1];
    assert_eq!((&broken[0], &broken[2]), (&json!("right"), &json!(3)));
    let seconds = broken[1].as_i64().expect("seconds");
    assert!((9..30).contains(&seconds), "{seconds}");
    assert_eq!(
        logged["note"],
        format!("Set 1, right, was broken off after {seconds} s.")
    );
    let mut tx = stage.gym.enter().await;
    let flags: i64 = sqlx::query_scalar(
        "select count(*) from flags where gym_id = $1 and athlete_id = $2
             and rule = 'L4' and severity = 'stop' and since = '2026-11-25'",
    )
    .bind(stage.gym.id.0)
    .bind(stage.bruno.0)
    .fetch_one(tx.conn())
    .await
    .expect("flags");
    assert_eq!(flags, 1);
}

#[tokio::test(flavor = "multi_thread")]
async fn skipping_undoing_and_ending_early_are_logged_with_their_reasons() {
    let stage = Stage::new().await;
    stage.scene("skip").await;
    let [logged] = &stage.logged().await[..] else {
        panic!("one session, sent once")
    };
    assert_eq!(
        logged["sets"],
        json!([["left", 30, 11, null], ["right", 30, 12, null]])
    );
    let note = logged["note"].as_str().expect("a note");
    let (broken, rest) = note.split_once('\n').expect("lines");
    // It was paused in the first second or two.
    assert!(
        broken.starts_with("Set 1, left, was broken off after "),
        "{note}"
    );
    assert_eq!(
        rest,
        "Set 1 was skipped: club or space was not free.\nSet 2 was skipped on the right.\n\
         Ended before set 3, left: the school run.\nGood hands. 🏋"
    );
    assert_eq!(logged["half_steps"], 7);
    assert_eq!(logged["minutes"], 28);
}

#[tokio::test(flavor = "multi_thread")]
async fn a_phone_that_dies_in_an_interval_loses_nothing() {
    let stage = Stage::new().await;
    stage.scene("killed").await;
    let [logged] = &stage.logged().await[..] else {
        panic!("one session, sent once")
    };
    assert_eq!(
        logged["sets"],
        json!([["left", 30, 13, null], ["right", 30, 14, null]])
    );
}

#[tokio::test(flavor = "multi_thread")]
async fn a_reload_or_a_moved_clock_changes_no_interval() {
    let stage = Stage::new().await;
    stage.scene("reload").await;
    assert!(stage.logged().await.is_empty(), "it was thrown away");
}

#[tokio::test(flavor = "multi_thread")]
async fn a_session_counts_in_one_window_at_a_time() {
    let stage = Stage::new().await;
    stage.scene("windows").await;
    let [logged] = &stage.logged().await[..] else {
        panic!("one session, sent once")
    };
    assert_eq!(logged["sets"], intervals(&[15, 16]));
}

/// Lisbon is at UTC in winter and an hour ahead in summer; in 2026 its clocks went ahead on 29 March
/// and go back on 25 October, both at 01:00 UTC (Directive 2000/84/EC).
#[tokio::test(flavor = "multi_thread")]
async fn a_session_belongs_to_the_day_it_began_whatever_the_clocks_do() {
    let stage = Stage::new().await;
    // When it begins, its day, the day on which it ends.
    let crossings: [(OffsetDateTime, &str, &str, &str); 4] = [
        (
            datetime!(2026-03-28 23:57 UTC),
            "2026-03-28",
            "Sat 28 Mar 2026",
            "2026-03-29",
        ),
        (
            datetime!(2026-03-29 00:57 UTC),
            "2026-03-29",
            "Sun 29 Mar 2026",
            "2026-03-29",
        ),
        (
            datetime!(2026-10-24 22:57 UTC),
            "2026-10-24",
            "Sat 24 Oct 2026",
            "2026-10-25",
        ),
        (
            datetime!(2026-10-25 00:57 UTC),
            "2026-10-25",
            "Sun 25 Oct 2026",
            "2026-10-25",
        ),
    ];
    for (begins, day, weekday, ends_on) in crossings {
        let clock = &stage.gym.clock;
        clock.advance(begins - clock.now());
        let shown = stage.scene("crossing").await;
        assert_eq!(shown["day"], day);
        assert_eq!(shown["kept"], day);
        assert_eq!(shown["weekday"], format!("Day: {weekday}"));
        assert_eq!(shown["today"], ends_on);
    }
    let logged = stage.logged().await;
    let days: Vec<&Value> = logged.iter().map(|session| &session["on"]).collect();
    assert_eq!(days, crossings.map(|(_, day, ..)| day));
    for session in logged {
        assert_eq!(
            session["sets"],
            json!([["right", 60, 21, null], ["left", 60, 22, null]])
        );
        assert_eq!(session["planned"], false);
        // Two lead-ins and intervals of 60 s, and ten minutes of a pause with a lead-in after it.
        let minutes = session["minutes"].as_i64().expect("minutes");
        assert!((12..=16).contains(&minutes), "{minutes}");
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn a_slow_phone_drops_no_tap() {
    let stage = Stage::new().await;
    stage.scene("throttled").await;
    let [logged] = &stage.logged().await[..] else {
        panic!("one session, sent once")
    };
    assert_eq!(logged["sets"], intervals(&[57]));
}

#[tokio::test(flavor = "multi_thread")]
async fn a_whole_session_without_signal_is_sent_when_there_is_some() {
    let stage = Stage::new().await;
    stage.scene("offline").await;
    let [logged] = &stage.logged().await[..] else {
        panic!("one session, sent once")
    };
    assert_eq!(
        logged["sets"],
        json!([["left", 2, 18, null], ["right", 2, 19, null]])
    );
    assert_eq!(logged["half_steps"], 10);
}

#[tokio::test(flavor = "multi_thread")]
async fn what_was_kept_is_changed_and_taken_back() {
    let stage = Stage::new().await;
    stage.plan(ladder()).await;
    stage.scene("change").await;
    let logged = stage.logged().await;
    let [first, change, taken_back] = &logged[..] else {
        panic!("three revisions: {logged:?}")
    };
    let row = |side: &str, reps: u8| json!([side, null, reps, 5]);
    assert_eq!(first["sets"], json!([row("left", 5), row("right", 5)]));
    assert_eq!(first["on"], "2026-11-25");
    assert_eq!(
        change["sets"],
        json!([row("left", 5), row("right", 4), row("left", 3)])
    );
    assert_eq!(change["on"], "2026-11-24");
    assert_eq!(change["pain"], json!([{"score": 2, "place": "left wrist"}]));
    assert_eq!(taken_back["withdrawn"], true);
    let firsts = logged.iter().map(|one| one["first"] == true);
    assert_eq!(firsts.collect::<Vec<_>>(), [true, false, false]);
}
