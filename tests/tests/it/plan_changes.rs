//! Changing plans: moved on the calendar, around days away, paused and come back to, taken back whole.

use leverbook_domain::id::{AthleteId, BlockId, DecisionId};
use leverbook_domain::plan::{BlockDraft, BlockWish, PlannedState, Scheme, SetLadder, Swung};
use leverbook_domain::policy::Policy;
use leverbook_domain::training::{Hands, Note, SetDone, Side, Work};
use leverbook_domain::units::{Effort, Reps};
use leverbook_store::blocks::{self, Planned};
use leverbook_store::log::{self, Done, NewRevision, PlannedSeen};
use leverbook_store::{GymTx, athletes, flags, roster};
use leverbook_tests::{Actor, Answer, NOW, assign, new_id};
use time::macros::date;
use time::{Date, Duration};

use crate::hall::Hall;

/// The day on which every test's clock stands: a Wednesday.
const TODAY: Date = date!(2026 - 11 - 25);

impl Hall {
    async fn as_coach(&self) -> GymTx {
        let gym = &self.gym;
        gym.store.enter(gym.id, gym.coach.id).await.unwrap()
    }

    /// A ladder on Mondays and Thursdays for six weeks from the Monday after: 5, 6, 7, 7, 8, 9 sets.
    async fn ladder(&self, athlete: AthleteId) -> BlockId {
        let wish = BlockWish {
            movement: self.mill,
            scheme: Scheme::SetLadder(SetLadder {
                reps: Reps::new(5).unwrap(),
                start_sets: 5,
                add_per_week: 1,
                target_sets: 10,
                light_fourth_week: false,
                rest_seconds: 60,
            }),
            weekdays: vec![1, 4],
            starts_on: date!(2026 - 11 - 30),
            weeks: 6,
            note: String::new(),
        };
        let draft = BlockDraft::new(wish, &Policy::default(), TODAY).unwrap();
        let swung = Swung {
            movement_name: "Test mill",
            loading: self.middle,
            club_name: "Elm 6",
        };
        let mut tx = self.as_coach().await;
        let block = assign(&mut tx, athlete, draft, swung, NOW).await;
        tx.commit().await.unwrap();
        block
    }

    /// So many sets a side on a day, with one hand; for a planned session, if it answers one.
    async fn one_hand(&self, on: Date, sets: usize, planned: Option<&Planned>) {
        let athlete = self.gym.athlete_id;
        let set = |side| SetDone {
            movement: self.mill,
            hands: Hands::One,
            loading: self.middle,
            side,
            work: Work::Straight {
                reps: Reps::new(5).unwrap(),
                asked: None,
            },
        };
        let done = Done {
            on,
            planned: planned.map(|planned| PlannedSeen {
                planned: planned.planned,
                revision: planned.revision,
            }),
            minutes: None,
            effort: Some(Effort::new(6.0).unwrap()),
            pain: Vec::new(),
            note: Note::default(),
            sets: (0..sets).flat_map(|_| Side::BOTH.map(set)).collect(),
        };
        let revision = NewRevision {
            revision: new_id(),
            replaces: None,
            athlete,
            done: Some(done),
            logged_at: NOW,
        };
        let mut tx = self.as_coach().await;
        log::record(&mut tx, &revision).await.unwrap();
        flags::reassess(&mut tx, athlete, TODAY).await.unwrap();
        tx.commit().await.unwrap();
    }

    /// Day, sets and whether it is planned, of every session of a block.
    async fn told(&self, block: BlockId) -> Vec<(Date, u8, bool)> {
        let planned = self.planned(block).await;
        let tell = |one: &Planned| {
            let standing = &one.standing;
            let is_planned = standing.state == PlannedState::Planned;
            (standing.on, standing.prescription.sets, is_planned)
        };
        planned.iter().map(tell).collect()
    }
}

fn days_of(told: &[(Date, u8, bool)]) -> Vec<i64> {
    told.iter()
        .map(|(on, _, _)| (*on - TODAY).whole_days())
        .collect()
}

fn sets_of(told: &[(Date, u8, bool)]) -> Vec<u8> {
    told.iter().map(|(_, sets, _)| *sets).collect()
}

fn change(answer: &Answer) -> DecisionId {
    let place = answer.location().rsplit_once("/changes/").unwrap().1;
    place.split('?').next().unwrap().parse().unwrap()
}

/// Looks at what a form would do, then does it.
fn look_and_do(actor: &mut Actor, path: &str, fields: &[(&str, &str)]) -> Answer {
    let look: Vec<(&str, &str)> = fields.iter().copied().chain([("step", "look")]).collect();
    let page = actor.post(path, &look).expect(200);
    let mark = page
        .field("looked_at")
        .expect("a mark of what was looked at");
    let act = page.field("act").expect("an act");
    let mut done: Vec<(&str, &str)> = fields.to_vec();
    done.extend([("step", "do"), ("looked_at", &mark), ("act", &act)]);
    actor.post(path, &done)
}

#[tokio::test]
async fn a_session_is_moved_once_however_often_it_is_sent_and_taken_back_whole() {
    let hall = Hall::new().await;
    let block = hall.ladder(hall.gym.athlete_id).await;
    let mut coach = hall.gym.coach().await;
    let page = coach
        .get(&hall.gym.path(&format!("blocks/{block}")))
        .expect(200);
    let first = hall.planned(block).await[0].clone();
    assert!(page.body.contains(&format!(
        "data-move=\"{}\"",
        hall.gym.path(&format!("planned/{}/move", first.planned))
    )));
    let act: DecisionId = new_id();
    let path = hall.gym.path(&format!("planned/{}/move", first.planned));
    let act = act.to_string();
    let back = format!("blocks/{block}");
    let moves = [
        ("act", act.as_str()),
        ("revision", "1"),
        ("on", "2026-12-02"),
        ("back", &back),
    ];
    for _ in 0..2 {
        let done = coach.post(&path, &moves).expect(303);
        let place = format!("{back}?done=moved#planned-{}", first.planned);
        assert!(done.location().ends_with(&place), "{}", done.location());
    }
    let moved = hall.planned(block).await[0].clone();
    assert_eq!(
        (moved.standing.on, moved.revision),
        (date!(2026 - 12 - 02), 2)
    );
    assert_eq!(moved.standing.prescription, first.standing.prescription);

    // Somebody with the old page: told what stands, and nothing is overwritten.
    let other: DecisionId = new_id();
    let other = other.to_string();
    let late = [
        ("act", other.as_str()),
        ("revision", "1"),
        ("on", "2026-12-05"),
    ];
    let refused = coach.post(&path, &late).expect(409);
    assert!(
        refused.body.contains("changed it meanwhile"),
        "{}",
        refused.words()
    );
    assert!(
        refused.body.contains("Wed 2 Dec 2026"),
        "{}",
        refused.words()
    );
    assert_eq!(hall.planned(block).await[0].revision, 2);

    // The athlete reads that it moved, on its new day.
    let mut athlete = hall.gym.athlete().await;
    let plan = athlete.get(&hall.gym.path("plan")).expect(200);
    assert!(plan.body.contains("Wed 2 Dec 2026") && plan.body.contains("Changed by your coach"));
    assert!(!plan.body.contains("Mon 30 Nov 2026"), "{}", plan.words());

    let undo = hall.gym.path(&format!("changes/{act}/take-back"));
    for _ in 0..2 {
        coach.post(&undo, &[("back", &back)]).expect(303);
    }
    let restored = hall.planned(block).await[0].clone();
    assert_eq!((restored.standing, restored.revision), (first.standing, 3));
}

#[tokio::test]
async fn a_session_moves_only_where_it_may() {
    let hall = Hall::new().await;
    let block = hall.ladder(hall.gym.athlete_id).await;
    let mut coach = hall.gym.coach().await;
    let planned = hall.planned(block).await;
    let path = hall
        .gym
        .path(&format!("planned/{}/move", planned[0].planned));
    for (on, words) in [
        ("2026-11-24", "cannot be in the past"),
        ("2026-11-30", "on that day already"),
        ("2026-12-03", "one session of it a day"),
        ("2027-02-01", "too far from its block"),
        ("soon", "needs a day"),
    ] {
        let refused = coach
            .post(&path, &[("revision", "1"), ("on", on)])
            .expect(422);
        assert!(refused.body.contains(words), "{on}: {}", refused.words());
        assert!(
            refused.body.contains(&format!("value=\"{on}\"")),
            "{on} was lost"
        );
    }
    // The same rules hold for the form of one session.
    let form = hall.gym.path(&format!("planned/{}", planned[0].planned));
    let upon = [
        ("revision", "1"),
        ("what", "move"),
        ("on", "2026-12-03"),
        ("scope", "this"),
    ];
    let refused = coach.post(&form, &upon).expect(422);
    assert!(
        refused.body.contains("one session of it a day"),
        "{}",
        refused.words()
    );
    hall.one_hand(TODAY, 5, Some(&planned[0])).await;
    let refused = coach
        .post(&path, &[("revision", "1"), ("on", "2026-12-02")])
        .expect(409);
    assert!(
        refused.body.contains("logged meanwhile"),
        "{}",
        refused.words()
    );
    assert!(
        hall.planned(block)
            .await
            .iter()
            .all(|one| one.revision == 1)
    );
}

// V2 and V6 (common practice, no source): 5, 6, 7, 7, 8, 9 sets; days by hand.
#[tokio::test]
async fn a_week_away_moves_plans_on_for_several_and_is_taken_back_whole() {
    let hall = Hall::new().await;
    let gym = &hall.gym;
    let (_, ida) = gym.another_athlete("Ida Marsh", "ida@quarry.example").await;
    let mut tx = gym.enter().await;
    athletes::set_coaches(&mut tx, ida, &[gym.coach.id])
        .await
        .unwrap();
    tx.commit().await.unwrap();
    let (one, two) = (hall.ladder(gym.athlete_id).await, hall.ladder(ida).await);
    let before = (hall.told(one).await, hall.told(two).await);
    let mut coach = gym.coach().await;
    let (who, ida_text) = (gym.athlete_id.to_string(), ida.to_string());
    let fields = [
        ("athlete", who.as_str()),
        ("athlete", ida_text.as_str()),
        ("week", "2026-W50"),
        ("kind", "illness"),
        ("afterwards", "move-on"),
        ("reason", "A fever went round."),
    ];
    let done = look_and_do(&mut coach, &gym.path("away"), &fields).expect(303);
    for (block, before) in [(one, &before.0), (two, &before.1)] {
        let after = hall.told(block).await;
        let days: Vec<i64> = days_of(&after)
            .iter()
            .zip(days_of(before))
            .map(|(a, b)| a - b)
            .collect();
        assert_eq!(days, [0, 0, 7, 7, 7, 7, 7, 7, 7, 7, 7, 7]);
        assert_eq!(sets_of(&after), sets_of(before));
    }
    // The block runs a week longer.
    let mut tx = hall.as_coach().await;
    let block = blocks::block(&mut tx, one).await.unwrap();
    assert_eq!(block.until(), date!(2027 - 01 - 10) + Duration::WEEK);
    let excused = roster::excused(&mut tx, ida).await.unwrap();
    let days: Vec<(Date, Date)> = excused
        .iter()
        .map(|days| (days.first_day, days.last_day))
        .collect();
    assert_eq!(days, [(date!(2026 - 12 - 07), date!(2026 - 12 - 13))]);
    drop(tx);

    // The owner sees that they are excused, and never why.
    let mut owner = gym.owner().await;
    let month = owner.get(&gym.path("attendance?month=2026-12")).expect(200);
    assert_eq!(month.body.matches("aria-label=\"excused\"").count(), 14);
    for health in ["illness", "fever"] {
        assert!(!month.body.contains(health), "{health}");
    }
    owner
        .get(&gym.path(&format!("changes/{}", change(&done))))
        .expect(403);

    // What the athlete reads.
    let mut athlete = gym.athlete().await;
    let plan = athlete.get(&gym.path("plan")).expect(200);
    assert!(
        plan.body.contains("A fever went round."),
        "{}",
        plan.words()
    );

    let undo = gym.path(&format!("changes/{}/take-back", change(&done)));
    coach.post(&undo, &[]).expect(303);
    assert_eq!((hall.told(one).await, hall.told(two).await), before);
    let mut tx = hall.as_coach().await;
    assert_eq!(
        blocks::block(&mut tx, one).await.unwrap().until(),
        date!(2027 - 01 - 10)
    );
    let excused = roster::excused(&mut tx, ida).await.unwrap();
    assert!(excused.iter().all(|days| days.taken_back));
}

#[tokio::test]
async fn what_is_left_out_is_not_added_over() {
    let hall = Hall::new().await;
    let block = hall.ladder(hall.gym.athlete_id).await;
    let mut coach = hall.gym.coach().await;
    let who = hall.gym.athlete_id.to_string();
    let fields = [
        ("athlete", who.as_str()),
        ("first_day", "2026-12-07"),
        ("last_day", "2026-12-10"),
        ("kind", "competition"),
        ("afterwards", "leave-out"),
    ];
    let path = hall.gym.path("away");
    let look: Vec<(&str, &str)> = fields.iter().copied().chain([("step", "look")]).collect();
    let page = coach.post(&path, &look).expect(200);
    assert!(
        page.body.contains("2 sessions left out"),
        "{}",
        page.words()
    );
    assert_eq!(
        hall.told(block).await.iter().filter(|one| one.2).count(),
        12,
        "a look changes nothing"
    );

    // Somebody moves a session between look and deed: it is told, and nothing is written.
    let third = hall.planned(block).await[2].planned;
    let to = [("revision", "1"), ("on", "2026-12-08")];
    coach
        .post(&hall.gym.path(&format!("planned/{third}/move")), &to)
        .expect(303);
    let mark = page.field("looked_at").unwrap();
    let mut late = fields.to_vec();
    late.extend([("step", "do"), ("looked_at", mark.as_str())]);
    let refused = coach.post(&path, &late).expect(409);
    assert!(
        refused.body.contains("changed since you looked"),
        "{}",
        refused.words()
    );

    look_and_do(&mut coach, &path, &fields).expect(303);
    let after = hall.told(block).await;
    let planned: Vec<bool> = after.iter().map(|one| one.2).collect();
    assert_eq!(planned[..5], [true, true, false, false, true]);
    // As if the week had not been: 5, 5, then 6, 6, 7, 7, 7, 7, 8, 8.
    assert_eq!(sets_of(&after)[4..], [6, 6, 7, 7, 7, 7, 8, 8]);
    let reasons: Vec<String> = hall
        .planned(block)
        .await
        .into_iter()
        .map(|one| one.reason)
        .collect();
    assert_eq!(reasons[2], "competition");

    // Today, the carried plan and the calendar have no skipped session.
    let mut athlete = hall.gym.athlete().await;
    let carried = athlete.get(&hall.gym.path("carry")).expect(200);
    let book: serde_json::Value = serde_json::from_str(&carried.body).unwrap();
    let days: Vec<&str> = book["planned"]
        .as_array()
        .unwrap()
        .iter()
        .map(|one| one["on"].as_str().unwrap())
        .collect();
    assert_eq!(days, ["2026-11-30", "2026-12-03"]);
}

// A1 (common practice, no source): 60 % of 5 sets are 3, of 10 are 6; one club lighter after 28 days.
#[tokio::test]
async fn a_pause_waits_and_a_return_begins_with_fewer_sets() {
    let hall = Hall::new().await;
    let gym = &hall.gym;
    hall.one_hand(date!(2026 - 11 - 19), 5, None).await;
    hall.one_hand(date!(2026 - 11 - 23), 5, None).await;
    let block = hall.ladder(gym.athlete_id).await;
    let before = hall.told(block).await;
    let mut coach = gym.coach().await;
    let who = gym.athlete_id.to_string();
    let pause = [
        ("athlete", who.as_str()),
        ("first_day", "2026-11-25"),
        ("kind", "illness"),
        ("afterwards", "move-on"),
    ];
    let later = [
        ("athlete", who.as_str()),
        ("first_day", "2026-12-02"),
        ("kind", "pause"),
        ("afterwards", "move-on"),
        ("step", "look"),
    ];
    let refused = coach.post(&gym.path("away"), &later).expect(422);
    assert!(
        refused.body.contains("needs its last day"),
        "{}",
        refused.words()
    );
    let paused = look_and_do(&mut coach, &gym.path("away"), &pause).expect(303);
    assert!(
        hall.told(block).await.iter().all(|one| !one.2),
        "all of it waits"
    );
    let page = coach
        .get(&gym.path(&format!("athletes/{who}/plan")))
        .expect(200);
    assert!(page.body.contains("They are paused"), "{}", page.words());

    // Taken back, all stands as before; then paused again, in earnest.
    coach
        .post(
            &gym.path(&format!("changes/{}/take-back", change(&paused))),
            &[],
        )
        .expect(303);
    assert_eq!(hall.told(block).await, before);
    look_and_do(&mut coach, &gym.path("away"), &pause).expect(303);

    // Thirty days later, on 25 December: 32 days since the last session.
    gym.clock.advance(Duration::days(30));
    let mut coach = gym.coach().await;
    let back = gym.path(&format!("athletes/{who}/back"));
    let page = coach.get(&back).expect(200);
    for words in [
        "licensed clinician",
        "one club lighter",
        "with Ash 5",
        "3 sets a side",
    ] {
        assert!(page.body.contains(words), "{words}: {}", page.words());
    }
    let fields = [
        ("on", "2026-12-25"),
        ("afterwards", "move-on"),
        ("reason", "Cleared by the clinic."),
    ];
    look_and_do(&mut coach, &back, &fields).expect(303);
    let after = hall.told(block).await;
    assert!(after.iter().all(|one| one.2), "all of it is planned again");
    // 25 November to 24 December are 30 days: five weeks on. 60 % of 5 sets, then one more a week.
    let moved: Vec<i64> = days_of(&after)
        .iter()
        .zip(days_of(&before))
        .map(|(a, b)| a - b)
        .collect();
    assert_eq!(moved, [35; 12]);
    assert_eq!(sets_of(&after), [3, 3, 4, 4, 5, 5, 6, 6, 7, 7, 8, 8]);
    let clubs: Vec<_> = hall
        .planned(block)
        .await
        .iter()
        .map(|one| one.standing.prescription.loading)
        .collect();
    assert_eq!(clubs, [hall.light; 12]);
    let mut tx = hall.as_coach().await;
    let athlete = athletes::get(&mut tx, gym.athlete_id).await.unwrap();
    assert_eq!(athlete.status.word(), "active");
    let excused = roster::excused(&mut tx, gym.athlete_id).await.unwrap();
    let counts: Vec<_> = excused
        .iter()
        .filter(|days| !days.taken_back)
        .map(|days| (days.first_day, days.last_day, days.kind.word()))
        .collect();
    assert_eq!(counts, [(TODAY, date!(2026 - 12 - 24), "illness")]);
}
