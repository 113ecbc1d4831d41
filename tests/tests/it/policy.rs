//! The gym's policy and the exceptions from it: what is told before saving is what happens, who may do
//! what, two people at once, wrong input, files.

use std::collections::{BTreeMap, BTreeSet};

use leverbook_domain::id::{AthleteId, MovementId};
use leverbook_domain::next_step::NextStep;
use leverbook_domain::policy::{
    AthletePolicy, Effect, Exception, Exceptions, ExceptionsNumber, FlagTurn, Policy,
    PolicyVersion, Threshold, file,
};
use leverbook_domain::roster::Status;
use leverbook_domain::rules::{Rule, Severity, Subject};
use leverbook_domain::text::Reason;
use leverbook_local_postgres::Role as DatabaseRole;
use leverbook_store::exceptions::{self, NewException};
use leverbook_store::people::Role;
use leverbook_store::policies::{self, NewVersion, NotChanged};
use leverbook_store::{athletes, flags};
use leverbook_tests::{Actor, Answer, NOW, TestGym};
use sqlx::Connection;
use time::Date;
use time::macros::date;

use crate::routes::all_that_is_stored;
use crate::story::{imported, named};

/// The day of the tests' clock.
const TODAY: Date = date!(2026 - 11 - 25);

/// A flag as it stands in the database.
type Standing = (AthleteId, Rule, Subject, Severity, Date);

/// What is asked of an athlete in a movement, as JSON.
type Steps = BTreeMap<(AthleteId, MovementId), String>;

async fn here(gym: &TestGym) -> Vec<AthleteId> {
    let mut all = athletes::all(&mut gym.enter().await).await.unwrap();
    all.retain(|athlete| athlete.status != Status::Left);
    all.iter().map(|athlete| athlete.id).collect()
}

async fn standing(gym: &TestGym, ids: &[AthleteId]) -> BTreeSet<Standing> {
    let mut tx = gym.enter().await;
    let kept = flags::standing_for(&mut tx, ids).await.unwrap();
    let found: Vec<Standing> = kept
        .into_iter()
        .map(|kept| {
            let flag = kept.flag;
            (
                kept.athlete,
                flag.rule,
                flag.subject,
                flag.severity,
                flag.since,
            )
        })
        .collect();
    let set: BTreeSet<Standing> = found.iter().cloned().collect();
    assert_eq!(set.len(), found.len());
    set
}

async fn steps(gym: &TestGym, ids: &[AthleteId]) -> Steps {
    let assessed = flags::assessments(&mut gym.enter().await, ids)
        .await
        .unwrap();
    assessed
        .into_values()
        .flat_map(|assessment| {
            let athlete = assessment.athlete;
            assessment.steps.into_iter().map(move |step| {
                let asked = asked(&step);
                ((athlete, step.movement), asked)
            })
        })
        .collect()
}

fn asked(step: &NextStep) -> String {
    serde_json::json!([step.hands, step.step, step.loading, step.not_before]).to_string()
}

/// What should stand once the effects have come about.
fn come_about(
    mut flags: BTreeSet<Standing>,
    mut steps: Steps,
    effects: &[(AthleteId, Effect)],
) -> (BTreeSet<Standing>, Steps) {
    for (athlete, effect) in effects {
        for turn in &effect.flags {
            let flag = turn.flag().clone();
            let now = (*athlete, flag.rule, flag.subject, flag.severity, flag.since);
            match turn {
                FlagTurn::Appears(_) => assert!(flags.insert(now), "{turn:?}"),
                FlagTurn::Disappears(_) => assert!(flags.remove(&now), "{turn:?}"),
                FlagTurn::Changes {
                    severity, since, ..
                } => {
                    let mut before = now.clone();
                    (before.3, before.4) = (*severity, *since);
                    assert!(flags.remove(&before) && flags.insert(now), "{turn:?}");
                }
            }
        }
        for turn in &effect.steps {
            let key = (*athlete, turn.movement);
            let asked = turn.to.as_ref().map(asked);
            let before = match asked {
                Some(asked) => steps.insert(key, asked),
                None => steps.remove(&key),
            };
            assert_eq!(before.is_some(), turn.from.is_some());
        }
    }
    (flags, steps)
}

fn kinds(effects: &[(AthleteId, Effect)]) -> [usize; 4] {
    let turns = || effects.iter().flat_map(|(_, effect)| &effect.flags);
    let count = |is: fn(&FlagTurn) -> bool| turns().filter(|turn| is(turn)).count();
    [
        count(|turn| matches!(turn, FlagTurn::Appears(_))),
        count(|turn| matches!(turn, FlagTurn::Disappears(_))),
        count(|turn| matches!(turn, FlagTurn::Changes { .. })),
        effects.iter().map(|(_, effect)| effect.steps.len()).sum(),
    ]
}

/// The form with every threshold of a policy.
fn filled(policy: &Policy, after: i32, act: &str, reason: &str) -> Vec<(String, String)> {
    let mut fields: Vec<(String, String)> = Threshold::ALL
        .iter()
        .map(|it| (it.name.to_owned(), it.of(policy).to_string()))
        .collect();
    for (name, value) in [
        ("after", after.to_string().as_str()),
        ("act", act),
        ("reason", reason),
    ] {
        fields.push((name.to_owned(), value.to_owned()));
    }
    fields
}

fn send(actor: &mut Actor, path: &str, fields: &[(String, String)]) -> Answer {
    let fields: Vec<(&str, &str)> = fields
        .iter()
        .map(|(name, value)| (name.as_str(), value.as_str()))
        .collect();
    actor.post(path, &fields)
}

fn save(actor: &mut Actor, gym: &TestGym, policy: &Policy, after: i32, reason: &str) -> Answer {
    send(
        actor,
        &gym.path("policy"),
        &filled(policy, after, "save", reason),
    )
}

/// The sentence at a field.
fn said_at<'a>(page: &'a Answer, field: &str) -> Option<&'a str> {
    let said = page.body.split_once(&format!("id=\"{field}-error\">"))?.1;
    Some(said.split_once('<')?.0)
}

async fn in_force(gym: &TestGym) -> Policy {
    policies::in_force(&mut gym.enter().await).await.unwrap()
}

/// Both ways: stricter from what is shipped, then looser from that.
#[tokio::test(flavor = "multi_thread")]
async fn what_is_told_before_saving_is_what_happens() {
    let gym = TestGym::new().await;
    imported(&gym).await;
    let ids = here(&gym).await;
    let mut coach = gym.coach().await;
    coach.get(&gym.path("policy")).expect(200);
    let strict = Policy {
        step_percent: 8.0,
        pain_stop: 2,
        gap_days: 7,
        symmetry_percent: 2.0,
        sessions_per_week: 3,
        earned_in_a_row: 4,
        effort_climbing: 6.0,
        ..Policy::default()
    };
    let loose = Policy {
        step_percent: 100.0,
        pain_stop: 8,
        gap_days: 60,
        gap_lighter_days: 90,
        symmetry_percent: 60.0,
        earned_in_a_row: 1,
        left_after_days: 200,
        ..Policy::default()
    };
    let mut seen = [0; 4];
    for (after, policy) in [strict, loose].into_iter().enumerate() {
        let before = (standing(&gym, &ids).await, steps(&gym, &ids).await);
        let effects = flags::foresee(&mut gym.enter().await, &ids, TODAY, |_| policy.clone())
            .await
            .unwrap();
        for (sum, count) in seen.iter_mut().zip(kinds(&effects)) {
            *sum += count;
        }
        let after = i32::try_from(after).unwrap();
        let fields = filled(&policy, after, "preview", "A try.");
        let page = send(&mut coach, &gym.path("policy"), &fields).expect(200);
        let words = page.words();
        let told = format!("{} of {} athletes would change", effects.len(), ids.len());
        assert!(words.contains(&told), "{told}: {words}");
        assert_eq!(
            standing(&gym, &ids).await,
            before.0,
            "a look changes nothing"
        );
        assert_eq!(in_force(&gym).await.version, PolicyVersion(after));

        let done = save(&mut coach, &gym, &policy, after, "A try.").expect(303);
        assert!(done.location().ends_with("policy?done=policy-changed"));
        let foretold = come_about(before.0, before.1, &effects);
        assert_eq!(standing(&gym, &ids).await, foretold.0);
        assert_eq!(steps(&gym, &ids).await, foretold.1);
        let version = PolicyVersion(after + 1);
        let assessed = flags::assessments(&mut gym.enter().await, &ids)
            .await
            .unwrap();
        assert!(assessed.values().all(|it| it.policy == version));
    }
    assert!(seen.iter().all(|count| *count > 0), "{seen:?}");
}

#[tokio::test(flavor = "multi_thread")]
async fn an_exception_is_one_athletes_and_leaves_its_history() {
    let gym = TestGym::new().await;
    imported(&gym).await;
    let ids = here(&gym).await;
    let bruno = named(&gym, "bruno").await;
    let path = gym.path(&format!("athletes/{bruno}/exceptions"));
    let mut coach = gym.coach().await;
    let before = (standing(&gym, &ids).await, steps(&gym, &ids).await);
    let page = coach.get(&path).expect(200);
    assert!(page.words().contains("No exception"), "{}", page.words());
    let exception = Exception {
        threshold: Threshold::named("gap_days").unwrap(),
        value: Some(2.0),
    };
    let effects = {
        let mut tx = gym.enter().await;
        let own = policies::of_athlete(&mut tx, bruno).await.unwrap();
        let own = own.with(exception).unwrap();
        flags::foresee(&mut tx, &[bruno], TODAY, |_| own.clone())
            .await
            .unwrap()
    };
    assert!(kinds(&effects)[0] > 0, "{effects:?}");
    let set = |act| {
        [
            ("act", act),
            ("what", "set"),
            ("threshold", "gap_days"),
            ("value", "2"),
            ("reason", "Loses the thread quickly."),
            ("after", "0"),
        ]
    };
    let told = coach.post(&path, &set("preview")).expect(200).words();
    assert!(told.contains("2 days instead of 14 days"), "{told}");
    assert!(told.contains("Appears"), "{told}");
    assert_eq!(standing(&gym, &ids).await, before.0);
    let done = coach.post(&path, &set("save")).expect(303);
    assert!(done.location().ends_with("exceptions?done=exception-made"));
    // Sent twice, made once.
    coach.post(&path, &set("save")).expect(303);

    let foretold = come_about(before.0.clone(), before.1.clone(), &effects);
    assert_eq!(standing(&gym, &ids).await, foretold.0);
    assert_eq!(steps(&gym, &ids).await, foretold.1);
    let assessed = flags::assessments(&mut gym.enter().await, &ids)
        .await
        .unwrap();
    for (athlete, assessment) in &assessed {
        let expected = i32::from(*athlete == bruno);
        assert_eq!(assessment.exceptions, ExceptionsNumber(expected));
        assert_eq!(assessment.policy, PolicyVersion(0));
    }
    let story = coach
        .get(&gym.path(&format!("athletes/{bruno}")))
        .expect(200)
        .words();
    let called = "version 0, with an exception for Bruno Ashgrove since Wed 25 Nov 2026";
    assert!(story.contains(called), "{story}");
    let numbers = coach
        .get(&gym.path(&format!("rules?athlete={bruno}")))
        .expect(200)
        .words();
    assert!(
        numbers.contains("A gap begins after 2 days (an exception; the gym’s is 14 days)"),
        "{numbers}"
    );
    assert!(numbers.contains(called), "{numbers}");
    let gyms = coach.get(&gym.path("rules")).expect(200).words();
    assert!(
        gyms.contains("A gap begins after 14 days Sets on return"),
        "{gyms}"
    );

    // It goes along with the gym's next policy.
    let policy = Policy {
        gap_days: 20,
        step_percent: 25.0,
        ..Policy::default()
    };
    save(&mut coach, &gym, &policy, 0, "Smaller steps.").expect(303);
    let own = policies::of_athlete(&mut gym.enter().await, bruno)
        .await
        .unwrap();
    assert_eq!((own.own().gap_days, own.own().step_percent), (2, 25.0));
    save(&mut coach, &gym, &Policy::default(), 1, "As before.").expect(303);

    // Ended, everything is as it was, but for the history.
    let form = coach.get(&format!("{path}?end=gap_days")).expect(200);
    assert!(
        form.words().contains("End an exception"),
        "{}",
        form.words()
    );
    let end = |act| {
        [
            ("act", act),
            ("what", "end"),
            ("threshold", "gap_days"),
            ("value", ""),
            ("reason", "Comes by himself now."),
            ("after", "1"),
        ]
    };
    let told = coach.post(&path, &end("preview")).expect(200).words();
    assert!(
        told.contains("14 days instead of 2 days, as for everybody again"),
        "{told}"
    );
    assert!(told.contains("Goes"), "{told}");
    coach.post(&path, &end("save")).expect(303);
    coach.post(&path, &end("save")).expect(303);
    assert_eq!(standing(&gym, &ids).await, before.0);
    assert_eq!(steps(&gym, &ids).await, before.1);
    let page = coach.get(&path).expect(200).words();
    for part in [
        "Loses the thread quickly.",
        "Comes by himself now.",
        "No exception",
    ] {
        assert!(page.contains(part), "{part}: {page}");
    }
    let none = coach
        .post(
            &path,
            &[
                ("act", "preview"),
                ("what", "end"),
                ("threshold", "gap_days"),
                ("reason", "Once more."),
                ("after", "2"),
            ],
        )
        .expect(422);
    assert!(
        none.words()
            .contains("has no exception that could be ended"),
        "{}",
        none.words()
    );
}

#[tokio::test]
async fn reasons_and_flags_are_for_the_athletes_coaches() {
    let gym = TestGym::new().await;
    imported(&gym).await;
    let bruno = named(&gym, "bruno").await;
    let path = gym.path(&format!("athletes/{bruno}/exceptions"));
    let mut coach = gym.coach().await;
    coach.get(&path).expect(200);
    let fields = [
        ("act", "save"),
        ("what", "set"),
        ("threshold", "gap_lighter_days"),
        ("value", "20"),
        ("reason", "A sore wrist last spring."),
        ("after", "0"),
    ];
    coach.post(&path, &fields).expect(303);

    let other = gym
        .person("Nils Oake", "nils@quarry.example", &[Role::Coach])
        .await;
    let mut owner = gym.owner().await;
    let mut other = gym.sign_in(&other).await;
    let mut athlete = gym.athlete().await;
    other.get(&path).expect(404);
    owner.get(&path).expect(403);
    athlete.get(&path).expect(403);
    athlete.get(&gym.path("policy")).expect(403);
    athlete.get(&gym.path("policy.toml")).expect(403);
    let policy = Policy {
        pain_stop: 2,
        gap_days: 7,
        ..Policy::default()
    };
    let preview = filled(&policy, 0, "preview", "A try.");
    for (actor, coaches, sees) in [
        (&mut owner, false, false),
        (&mut other, true, false),
        (&mut coach, true, true),
    ] {
        let page = send(actor, &gym.path("policy"), &preview)
            .expect(200)
            .words();
        // In a small gym a number alone tells who reported pain.
        assert_eq!(page.contains("athletes would change"), coaches, "{page}");
        assert_eq!(page.contains("As things stand"), coaches, "{page}");
        // A flag, and whose it is.
        assert_eq!(page.contains("right shoulder"), sees, "{page}");
        for name in ["Freya Munting", "Flags that", "sore wrist"] {
            assert!(sees || !page.contains(name), "{name}: {page}");
        }
    }
    // What does not go with the exception is told without a name, and without what it is about.
    let longer = Policy {
        gap_days: 21,
        ..Policy::default()
    };
    let preview = filled(&longer, 0, "preview", "Longer gaps.");
    let saved = filled(&longer, 0, "save", "Longer gaps.");
    let unnamed =
        "does not go with an exception for an athlete. Their coach can end or change it first";
    let named = "does not go with an exception for Bruno Ashgrove: “One club lighter after” would be under \
                 “A gap begins after”. Their coach can end or change it first";
    for (actor, told) in [
        (&mut owner, unnamed),
        (&mut other, unnamed),
        (&mut coach, named),
    ] {
        for fields in [&preview, &saved] {
            let page = send(actor, &gym.path("policy"), fields).expect(422);
            assert_eq!(said_at(&page, "gap_days"), Some(told));
            assert_eq!(page.field("gap_days").as_deref(), Some("21"));
        }
    }
    assert_eq!(in_force(&gym).await, Policy::default());
}

#[tokio::test]
async fn an_athlete_reads_their_own_numbers() {
    let gym = TestGym::new().await;
    let mut coach = gym.coach().await;
    let path = gym.path(&format!("athletes/{}/exceptions", gym.athlete_id));
    coach.get(&path).expect(200);
    let fields = [
        ("act", "save"),
        ("what", "set"),
        ("threshold", "pain_stop"),
        ("value", "3"),
        ("reason", "An old injury."),
        ("after", "0"),
    ];
    coach.post(&path, &fields).expect(303);
    let page = gym
        .athlete()
        .await
        .get(&gym.path("rules"))
        .expect(200)
        .words();
    assert!(
        page.contains("Pain that stops the work 3 of 10 (an exception; the gym’s is 4 of 10)"),
        "{page}"
    );
    assert!(
        page.contains("version 0, with an exception for you since"),
        "{page}"
    );
    assert!(!page.contains("old injury"), "{page}");
    assert!(!page.contains("Change the numbers"), "{page}");
}

#[tokio::test]
async fn of_two_people_at_once_the_second_is_told_what_the_first_saved() {
    let gym = TestGym::new().await;
    let (mut owner, mut coach) = (gym.owner().await, gym.coach().await);
    let path = gym.path("policy");
    owner.get(&path).expect(200);
    coach.get(&path).expect(200);
    let firsts = Policy {
        step_percent: 25.0,
        gap_days: 10,
        ..Policy::default()
    };
    let done = save(&mut owner, &gym, &firsts, 0, "Smaller steps here.");
    done.expect(303);
    // Sent twice, saved once.
    save(&mut owner, &gym, &firsts, 0, "Smaller steps here.").expect(303);
    assert_eq!(in_force(&gym).await.version, PolicyVersion(1));

    let seconds = Policy {
        pain_stop: 3,
        gap_days: 12,
        ..Policy::default()
    };
    for act in ["preview", "save"] {
        let page = send(&mut coach, &path, &filled(&seconds, 0, act, "Careful.")).expect(409);
        let words = page.words();
        for part in [
            "Version 1",
            "Maren Holt",
            "Smaller steps here.",
            "33 % 25 %",
        ] {
            assert!(words.contains(part), "{part}: {words}");
        }
        for (field, value) in [
            // Left alone: the first one's.
            ("step_percent", "25"),
            // Typed: still here.
            ("pain_stop", "3"),
            ("gap_days", "12"),
            ("after", "1"),
        ] {
            assert_eq!(page.field(field).as_deref(), Some(value), "{field}");
        }
        assert!(page.body.contains("Careful."));
        assert_eq!(
            said_at(&page, "gap_days"),
            Some("somebody made it 10 days while you typed")
        );
        assert_eq!(said_at(&page, "step_percent"), None);
        assert_eq!(in_force(&gym).await.version, PolicyVersion(1));
    }
    let both = Policy {
        pain_stop: 3,
        gap_days: 12,
        ..firsts
    };
    send(&mut coach, &path, &filled(&both, 1, "preview", "Careful.")).expect(200);
    save(&mut coach, &gym, &both, 1, "Careful.").expect(303);
    assert_eq!(
        in_force(&gym).await,
        Policy {
            version: PolicyVersion(2),
            ..both
        }
    );
    let history = owner.get(&gym.path("policy/history")).expect(200).words();
    for part in [
        "Version 2",
        "Tove Lind",
        "Careful.",
        "Version 1",
        "Maren Holt",
        "As shipped.",
    ] {
        assert!(history.contains(part), "{part}: {history}");
    }

    // A version that can never be.
    let last = i32::MAX;
    save(&mut coach, &gym, &firsts, last, "Careful.").expect(409);
    assert_eq!(in_force(&gym).await.version, PolicyVersion(2));

    // Exceptions, too.
    let path = gym.path(&format!("athletes/{}/exceptions", gym.athlete_id));
    let set = |value, after| {
        [
            ("act", "save"),
            ("what", "set"),
            ("threshold", "step_percent"),
            ("value", value),
            ("reason", "Light steps."),
            ("after", after),
        ]
    };
    coach.post(&path, &set("15", "0")).expect(303);
    let page = coach.post(&path, &set("12", "0")).expect(409);
    assert!(
        page.words().contains("Somebody was quicker"),
        "{}",
        page.words()
    );
    assert_eq!(page.field("value").as_deref(), Some("12"));
    assert_eq!(page.field("after").as_deref(), Some("1"));
    let never = last.to_string();
    coach.post(&path, &set("12", &never)).expect(409);
    coach.post(&path, &set("12", "1")).expect(303);
}

/// Flags that cannot be worked out in time, here because somebody holds an athlete, are worked out later: the
/// policy is saved, and the page says so.
#[tokio::test]
async fn a_policy_is_saved_whatever_becomes_of_the_flags() {
    let gym = TestGym::new().await;
    let mut coach = gym.coach().await;
    coach.get(&gym.path("policy")).expect(200);
    let mut admin = gym.database.connect(DatabaseRole::Admin).await;
    let mut held = admin.begin().await.unwrap();
    sqlx::query("select from athletes where athlete_id = $1 for update")
        .bind(gym.athlete_id.0)
        .execute(&mut *held)
        .await
        .unwrap();
    let policy = Policy {
        gap_days: 7,
        ..Policy::default()
    };
    let done = save(&mut coach, &gym, &policy, 0, "Sooner.").expect(303);
    assert!(done.location().ends_with("policy?done=policy-changed"));
    held.rollback().await.unwrap();
    assert_eq!(in_force(&gym).await.version, PolicyVersion(1));
    let done = flags::bring_up_to_date(&gym.store, gym.id, gym.coach.id, TODAY).await;
    assert_eq!(done.unwrap(), here(&gym).await.len());
}

#[tokio::test]
async fn of_two_transactions_at_once_one_waits_and_is_refused() {
    let gym = TestGym::new().await;
    let new = |reason: &str, step_percent| NewVersion {
        policy: Policy {
            step_percent,
            ..Policy::default()
        },
        after: PolicyVersion(0),
        reason: Reason::new(reason).unwrap(),
        at: NOW,
    };
    let mut first = gym.enter().await;
    policies::change(&mut first, &new("First.", 20.0))
        .await
        .unwrap();
    let store = gym.store.clone();
    let (id, actor, second) = (gym.id, gym.coach.id, new("Second.", 40.0));
    let waiting = tokio::spawn(async move {
        let mut tx = store.enter(id, actor).await.unwrap();
        policies::change(&mut tx, &second).await
    });
    tokio::time::sleep(std::time::Duration::from_millis(100)).await;
    assert!(!waiting.is_finished());
    first.commit().await.unwrap();
    assert!(matches!(waiting.await.unwrap(), Err(NotChanged::Meanwhile)));

    // An exception that would not go with the other's policy is refused, whoever comes first.
    let exception = NewException {
        athlete: gym.athlete_id,
        exception: Exception {
            threshold: Threshold::named("step_percent_min").unwrap(),
            value: Some(21.0),
        },
        after: ExceptionsNumber(0),
        reason: Reason::new("No small steps.").unwrap(),
        at: NOW,
        on: TODAY,
    };
    let mut tx = gym.enter().await;
    let refused = exceptions::record(&mut tx, &exception).await;
    assert!(matches!(refused, Err(NotChanged::OutOfOrder(who)) if who[0].0 == gym.athlete_id));
    assert_eq!(
        policies::of_athlete(&mut tx, gym.athlete_id).await.unwrap(),
        AthletePolicy::new(in_force(&gym).await, Exceptions::default())
    );
}

#[tokio::test]
async fn what_cannot_be_is_refused_at_its_field_and_nothing_is_written() {
    let gym = TestGym::new().await;
    let mut coach = gym.coach().await;
    let path = gym.path("policy");
    coach.get(&path).expect(200);
    let mut admin = gym.database.connect(DatabaseRole::Admin).await;
    let stored = all_that_is_stored(&mut admin).await;
    let policy = Policy {
        step_percent: 25.0,
        ..Policy::default()
    };
    for threshold in Threshold::ALL {
        for bad in [
            (threshold.least - 1.0).to_string(),
            (threshold.most + 0.5).to_string(),
            "many".to_owned(),
            String::new(),
        ] {
            let mut fields = filled(&policy, 0, "save", "A try.");
            for (name, value) in &mut fields {
                if name == threshold.name {
                    value.clone_from(&bad);
                }
            }
            let page = send(&mut coach, &path, &fields).expect(422);
            assert!(
                said_at(&page, threshold.name).is_some(),
                "{} {bad}",
                threshold.name
            );
            for (name, value) in fields
                .iter()
                .filter(|(name, _)| name != "act" && name != "reason")
            {
                assert_eq!(page.field(name).as_ref(), Some(value), "{name}");
            }
            assert!(page.body.contains("A try."));
        }
    }
    // Out of order with each other.
    let mut fields = filled(&policy, 0, "save", "A try.");
    for (name, value) in &mut fields {
        if name == "gap_days" {
            *value = "40".to_owned();
        }
    }
    let page = send(&mut coach, &path, &fields).expect(422);
    assert_eq!(
        said_at(&page, "gap_lighter_days"),
        Some(
            "must be a whole number from 40 to 366 days: not under “A gap begins after”, which is 40"
        )
    );
    // Without a reason; with nothing changed.
    let page = save(&mut coach, &gym, &policy, 0, " ").expect(422);
    assert_eq!(
        said_at(&page, "reason"),
        Some("say why: it stays in the history")
    );
    let page = send(
        &mut coach,
        &path,
        &filled(&Policy::default(), 0, "preview", "Nothing."),
    )
    .expect(422);
    assert!(
        page.words()
            .contains("No number here is different from what is in force"),
        "{}",
        page.words()
    );
    assert!(page.body.contains("Nothing.</textarea>"), "{}", page.body);

    let path = gym.path(&format!("athletes/{}/exceptions", gym.athlete_id));
    for (threshold, value, reason, field, said) in [
        (
            "",
            "3",
            "Why not.",
            "threshold",
            "choose a number from the list",
        ),
        (
            "pain_stop",
            "11",
            "Why not.",
            "value",
            "must be a whole number from 1 to 10",
        ),
        (
            "pain_stop",
            "a few",
            "Why not.",
            "value",
            "is not a number; write it like 12.5",
        ),
        (
            "pain_stop",
            "4",
            "Why not.",
            "value",
            "is what counts for them already",
        ),
        (
            "pain_stop",
            "3",
            "",
            "reason",
            "say why: it stays in the history",
        ),
        (
            "gap_days",
            "29",
            "Why not.",
            "value",
            "does not go with “One club lighter after”: that must be a whole number from 29 to 366 days: not under “A gap begins after”, which is 29",
        ),
    ] {
        for act in ["preview", "save"] {
            let fields = [
                ("act", act),
                ("what", "set"),
                ("threshold", threshold),
                ("value", value),
                ("reason", reason),
                ("after", "0"),
            ];
            if act == "save" && said == "is what counts for them already" {
                continue;
            }
            let page = coach.post(&path, &fields).expect(422);
            assert_eq!(said_at(&page, field), Some(said), "{threshold} {value}");
            assert_eq!(page.field("value").as_deref(), Some(value));
            let chosen = format!("value=\"{threshold}\" selected");
            assert!(page.body.contains(&chosen), "{chosen}");
        }
    }
    assert_eq!(all_that_is_stored(&mut admin).await, stored);
}

#[tokio::test]
async fn a_policy_goes_out_and_comes_in_as_a_file() {
    let gym = TestGym::new().await;
    let mut owner = gym.owner().await;
    owner.get(&gym.path("policy/file")).expect(200);
    let given = owner.get(&gym.path("policy.toml")).expect(200);
    assert_eq!(
        given.header("content-type"),
        "application/toml; charset=utf-8"
    );
    assert_eq!(
        given.header("content-disposition"),
        "attachment; filename=\"policy.toml\""
    );
    assert_eq!(given.body, file::write(&Policy::default()));
    let path = gym.path("policy/file");
    let upload = |owner: &mut Actor, text: &str, reason: &str| {
        let field = ("file", "policy.toml", text.as_bytes());
        owner.post_file(&path, &[("reason", reason)], field)
    };
    let page = upload(&mut owner, &given.body, "From a friend.").expect(422);
    assert_eq!(
        said_at(&page, "file"),
        Some("has no number that is different from what is in force")
    );

    let changed = given
        .body
        .replace("\nstep_percent = 33.0\n", "\nstep_percent = 25.0\n");
    let page = upload(&mut owner, &changed, "From a friend.").expect(200);
    assert!(page.words().contains("33 % 25 %"), "{}", page.words());
    assert_eq!(in_force(&gym).await, Policy::default(), "only a look");
    // The page's own form, as the button sends it.
    let mut fields: Vec<(String, String)> = Threshold::ALL
        .iter()
        .map(|it| it.name)
        .chain(["after", "reason"])
        .map(|name| (name.to_owned(), page.field(name).expect("a field")))
        .collect();
    fields.push(("act".to_owned(), "save".to_owned()));
    send(&mut owner, &gym.path("policy"), &fields).expect(303);
    let own = in_force(&gym).await;
    assert_eq!((own.version, own.step_percent), (PolicyVersion(1), 25.0));
    let given = owner.get(&gym.path("policy.toml")).expect(200);
    assert_eq!(file::read(&given.body), Ok(own.clone()));

    let wrong = "pain_stop = 0\n\nstep_percant = 60\n";
    let page = upload(&mut owner, wrong, "From a friend.").expect(422);
    let words = page.words();
    assert!(
        words.contains("1 pain_stop must be a whole number from 1 to 10"),
        "{words}"
    );
    assert!(words.contains("3 step_percant is no threshold"), "{words}");
    assert!(page.body.contains("From a friend."));
    let page = upload(&mut owner, &changed, "").expect(422);
    assert_eq!(
        said_at(&page, "reason"),
        Some("say why: it stays in the history")
    );
    let page = owner
        .post_file(&path, &[("reason", "No text.")], ("file", "x", b"\xff\xfe"))
        .expect(422);
    assert_eq!(said_at(&page, "file"), Some("is no text"));
    let large = format!("# {}\n", "x".repeat(1 << 20));
    let page = upload(&mut owner, &large, "A megabyte.").expect(422);
    assert_eq!(
        said_at(&page, "file"),
        Some("is larger than 256 KB, so it is no policy")
    );
    assert!(page.body.contains("A megabyte.</textarea>"));
    let page = owner.post(&path, &[("reason", "No file.")]).expect(422);
    assert_eq!(said_at(&page, "file"), Some("choose a file"));
    assert_eq!(in_force(&gym).await, own);
}
