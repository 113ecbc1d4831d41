//! Assigning by each athlete's own log: what is proposed, what the coach changes in the grid, reasons a
//! row, the last block again, and block templates.

use leverbook_domain::id::{AthleteId, BlockId, BlockTemplateId, ClassId, LoadingId};
use leverbook_domain::plan::{Scheme, usual_scheme};
use leverbook_domain::policy::Policy;
use leverbook_domain::training::{Hands, Pain, SetDone, Side, Work};
use leverbook_domain::units::{Pain as PainScore, Reps, Seconds};
use leverbook_store::blocks::{self, Block};
use leverbook_store::log::Done;
use leverbook_store::people::Role;
use leverbook_tests::{Actor, Answer, new_id};
use time::Date;
use time::macros::date;

use crate::hall::Hall;
use crate::plan::{post, set};

/// Mondays and Thursdays before the Wednesday on which the clock stands.
const DAYS: [Date; 5] = [
    date!(2026 - 11 - 09),
    date!(2026 - 11 - 12),
    date!(2026 - 11 - 16),
    date!(2026 - 11 - 19),
    date!(2026 - 11 - 23),
];

impl Hall {
    /// Five 30 s sets a side with so many reps each.
    fn with_count(&self, on: Date, loading: LoadingId, reps: i64) -> Done {
        let mut done = self.done(on, loading);
        let set = |side| SetDone {
            movement: self.mill,
            hands: Hands::Two,
            loading,
            side,
            work: Work::Interval {
                seconds: Seconds::new(30).unwrap(),
                reps: Reps::new(reps).unwrap(),
            },
        };
        done.sets = (0..5).flat_map(|_| Side::BOTH.map(set)).collect();
        done
    }

    /// T3, T4: 10 reps in 30 s are 20 a minute, the goal is 24; 12 reps twice running earn a step. By hand.
    async fn earns_a_step(&self, athlete: AthleteId) {
        for (on, reps) in DAYS.into_iter().zip([10, 10, 10, 12, 12]) {
            self.logged(athlete, self.with_count(on, self.light, reps))
                .await;
        }
    }

    /// T3: the goal is 24, and the count is under it.
    async fn climbs(&self, athlete: AthleteId) {
        for (on, reps) in DAYS.into_iter().zip([10, 10, 10, 11, 11]) {
            self.logged(athlete, self.with_count(on, self.light, reps))
                .await;
        }
    }

    async fn hurts(&self, athlete: AthleteId) {
        let mut done = self.with_count(DAYS[4], self.light, 10);
        done.pain = vec![Pain {
            score: PainScore::new(6).unwrap(),
            place: None,
        }];
        self.logged(athlete, done).await;
    }

    fn own(&self, athletes: &[AthleteId]) -> Vec<(String, String)> {
        let mut fields = self.fields(athletes, self.light);
        set(&mut fields, "club", "next");
        set(&mut fields, "by", "own");
        fields
    }

    async fn blocks(&self, athlete: AthleteId) -> Vec<Block> {
        let mut tx = self.gym.enter().await;
        blocks::of_athletes(&mut tx, &[athlete]).await.unwrap()
    }

    async fn three(&self) -> [AthleteId; 3] {
        let names = ["Ines Marrow".to_owned(), "Olu Strand".to_owned()];
        let more = self.roster(&self.gym.coach, &names).await;
        [self.gym.athlete_id, more[0], more[1]]
    }
}

fn value(fields: &[(String, String)], what: &str, athlete: AthleteId) -> Option<String> {
    let name = format!("{what}-{athlete}");
    let found = fields.iter().find(|(other, _)| *other == name);
    found.map(|(_, value)| value.clone())
}

fn set_of(fields: &mut Vec<(String, String)>, what: &str, athlete: AthleteId, value: &str) {
    set(fields, &format!("{what}-{athlete}"), value);
}

fn look(coach: &mut Actor, hall: &Hall, fields: &[(String, String)]) -> Answer {
    post(coach, &hall.gym.path("assign"), fields)
}

fn assigns(coach: &mut Actor, hall: &Hall, mut fields: Vec<(String, String)>) -> Answer {
    set(&mut fields, "step", "assign");
    post(coach, &hall.gym.path("assign"), &fields)
}

#[tokio::test]
async fn each_is_proposed_what_their_own_log_says() {
    let hall = Hall::new().await;
    let [steps, climbs, hurts] = hall.three().await;
    hall.earns_a_step(steps).await;
    hall.climbs(climbs).await;
    hall.hurts(hurts).await;
    let mut coach = hall.gym.coach().await;
    let page = look(&mut coach, &hall, &hall.own(&[steps, climbs, hurts])).expect(200);
    let fields = page.main_form();
    // T4, W2: the next club, whose goal is not set yet; T3: the goal that the first sessions set.
    assert_eq!(value(&fields, "club", steps), Some(hall.middle.to_string()));
    assert_eq!(value(&fields, "goal", steps).as_deref(), Some(""));
    assert_eq!(value(&fields, "club", climbs), Some(hall.light.to_string()));
    assert_eq!(value(&fields, "goal", climbs).as_deref(), Some("24.0"));
    // L4: whoever waits for the coach is left out until the coach ticks them, and why stands there.
    assert_eq!(value(&fields, "in", climbs).as_deref(), Some("yes"));
    assert_eq!(value(&fields, "in", hurts), None);
    assert!(
        page.body.contains("see a licensed clinician"),
        "{}",
        page.words()
    );
    assert!(page.body.contains("1 left out"), "{}", page.words());

    assigns(&mut coach, &hall, fields).expect(303);
    let [stepped, climbed] = [&hall.blocks(steps).await[0], &hall.blocks(climbs).await[0]];
    assert_eq!(
        (stepped.loading, climbed.loading),
        (hall.middle, hall.light)
    );
    assert_eq!(stepped.scheme.goal(), None);
    assert_eq!(climbed.scheme.goal().map(|goal| goal.rpm()), Some(24.0));
    assert!(hall.blocks(hurts).await.is_empty());
}

#[tokio::test]
async fn nobody_ticked_is_nobody_assigned() {
    let hall = Hall::new().await;
    let [one, other, _] = hall.three().await;
    hall.climbs(one).await;
    let mut coach = hall.gym.coach().await;
    // The other has no log, so no club can be told: asked for, but no hindrance once left out.
    let page = look(&mut coach, &hall, &hall.own(&[one, other])).expect(422);
    assert!(page.body.contains("Nothing of Test mill in the log"));
    let mut fields = page.main_form();
    fields.retain(|(name, _)| !name.starts_with("in-"));
    let refused = assigns(&mut coach, &hall, fields.clone()).expect(422);
    assert!(refused.body.contains("tick at least one athlete"));
    assert_eq!(hall.count("blocks").await, 0);
    set_of(&mut fields, "in", one, "yes");
    assigns(&mut coach, &hall, fields).expect(303);
    assert_eq!(hall.count("blocks").await, 1);
}

/// What the coach changed stays; what was only proposed follows the form.
#[tokio::test]
async fn the_coach_changes_one_athletes_values() {
    let hall = Hall::new().await;
    let [one, other, _] = hall.three().await;
    hall.climbs(one).await;
    hall.climbs(other).await;
    let mut coach = hall.gym.coach().await;
    let page = look(&mut coach, &hall, &hall.own(&[one, other])).expect(200);
    let mut fields = page.main_form();
    for (what, typed) in [("sets", "7"), ("first", "4"), ("goal", "26.5")] {
        set_of(&mut fields, what, one, typed);
    }
    for (what, wrong) in [
        ("sets", "0"),
        ("sets", "41"),
        ("sets", "many"),
        ("first", "41"),
        ("goal", "121"),
        ("hands", "three"),
        ("club", "nonsense"),
    ] {
        let mut fields = fields.clone();
        set_of(&mut fields, what, one, wrong);
        let refused = assigns(&mut coach, &hall, fields).expect(422);
        let at = format!("id=\"{what}-{one}-error\"");
        assert!(refused.body.contains(&at), "{what} {wrong}");
        assert!(
            what == "goal" || refused.field(&format!("goal-{one}")).as_deref() == Some("26.5"),
            "{what} {wrong}"
        );
    }
    assert_eq!(hall.count("blocks").await, 0);
    // The form asks for the middle club now: both get it, and the changes stay.
    set(&mut fields, "step", "preview");
    set(&mut fields, "club", &hall.middle.to_string());
    let page = look(&mut coach, &hall, &fields).expect(200);
    let mut fields = page.main_form();
    for athlete in [one, other] {
        assert_eq!(
            value(&fields, "club", athlete),
            Some(hall.middle.to_string())
        );
    }
    assert_eq!(value(&fields, "sets", one).as_deref(), Some("7"));
    assert_eq!(value(&fields, "sets", other).as_deref(), Some("5"));
    // T3: the goal of the light club is none of the middle one's.
    assert_eq!(value(&fields, "goal", other).as_deref(), Some(""));
    // And one of them goes to the fingertips instead.
    set_of(&mut fields, "hands", other, "fingertip");
    set(&mut fields, "because", "Agreed with both.");
    set(&mut fields, "step", "preview");
    let page = look(&mut coach, &hall, &fields).expect(200);
    let mut fields = page.main_form();
    set(&mut fields, "because", "Agreed with both.");
    assigns(&mut coach, &hall, fields).expect(303);
    let [block, fingertip] = [&hall.blocks(one).await[0], &hall.blocks(other).await[0]];
    assert_eq!(block.scheme.sets(), 7);
    assert_eq!(block.scheme.goal().map(|goal| goal.rpm()), Some(26.5));
    let planned = hall.planned(block.block).await;
    let sets: Vec<u8> = planned
        .iter()
        .map(|one| one.standing.prescription.sets)
        .collect();
    assert_eq!(sets[..4], [4, 4, 7, 7], "week 1 has its own sets");
    let usual = usual_scheme(Hands::Fingertip, &Policy::default());
    assert_eq!(fingertip.scheme, usual);
}

/// T3: a goal is about one club. Whoever is given another club in the grid gets none of it.
#[tokio::test]
async fn a_club_chosen_in_a_row_leaves_the_goal_of_the_other_behind() {
    let hall = Hall::new().await;
    let one = hall.gym.athlete_id;
    hall.climbs(one).await;
    let mut coach = hall.gym.coach().await;
    let page = look(&mut coach, &hall, &hall.own(&[one])).expect(200);
    let mut fields = page.main_form();
    assert_eq!(value(&fields, "goal", one).as_deref(), Some("24.0"));
    set_of(&mut fields, "club", one, &hall.middle.to_string());
    // What that makes is looked at before it is assigned.
    set(&mut fields, "because", "Agreed.");
    let again = assigns(&mut coach, &hall, fields).expect(422);
    assert_eq!(hall.count("blocks").await, 0);
    let mut fields = again.main_form();
    assert_eq!(
        value(&fields, "club", one),
        Some(hall.middle.to_string()),
        "what the coach chose stays"
    );
    assert_eq!(value(&fields, "goal", one).as_deref(), Some(""));
    set(&mut fields, "because", "Agreed.");
    assigns(&mut coach, &hall, fields).expect(303);
    let block = hall.blocks(one).await.remove(0);
    assert_eq!((block.loading, block.scheme.goal()), (hall.middle, None));
}

/// What is assigned is what the coach looked at: a session logged meanwhile moves the proposal on (T4).
#[tokio::test]
async fn what_is_proposed_otherwise_meanwhile_is_looked_at_again() {
    let hall = Hall::new().await;
    let one = hall.gym.athlete_id;
    for (on, reps) in DAYS.into_iter().zip([10, 10, 10, 12]) {
        hall.logged(one, hall.with_count(on, hall.light, reps))
            .await;
    }
    let mut coach = hall.gym.coach().await;
    let page = look(&mut coach, &hall, &hall.own(&[one])).expect(200);
    let fields = page.main_form();
    assert_eq!(value(&fields, "club", one), Some(hall.light.to_string()));
    hall.logged(one, hall.with_count(DAYS[4], hall.light, 12))
        .await;
    let refused = assigns(&mut coach, &hall, fields).expect(422);
    let said = "what is proposed has changed since you looked";
    assert!(refused.body.contains(said), "{}", refused.words());
    assert_eq!(hall.count("blocks").await, 0);
    let fields = refused.main_form();
    assert_eq!(value(&fields, "club", one), Some(hall.middle.to_string()));
    // Read again, it is assigned; sent twice, it is assigned once.
    for _ in 0..2 {
        assigns(&mut coach, &hall, fields.clone()).expect(303);
    }
    assert_eq!(hall.count("blocks").await, 1);
    assert_eq!(hall.blocks(one).await[0].loading, hall.middle);
}

#[tokio::test]
async fn each_row_has_its_reason_or_the_one_for_all() {
    let hall = Hall::new().await;
    let athletes = hall.three().await;
    for athlete in athletes {
        hall.climbs(athlete).await;
    }
    let mut coach = hall.gym.coach().await;
    let mut fields = hall.own(&athletes);
    // Common practice, no source: 100 % is over the limit of 33 (W1), and 6 kg was skipped (W2).
    set(&mut fields, "club", &hall.heavy.to_string());
    let page = look(&mut coach, &hall, &fields).expect(200);
    for athlete in athletes {
        assert!(page.body.contains(&format!("id=\"{athlete}-W1\"")));
    }
    let mut fields = page.main_form();
    set_of(&mut fields, "because", athletes[0], "Swings it at home.");
    let refused = assigns(&mut coach, &hall, fields.clone()).expect(422);
    let said = "say why this goes ahead despite what the rules object to";
    assert!(refused.body.contains(said), "{}", refused.words());
    assert!(refused.body.contains("Swings it at home."));
    // A reason each, without one for all.
    for athlete in &athletes[1..] {
        set_of(&mut fields, "because", *athlete, "Under my eyes.");
    }
    let long = "x".repeat(401);
    let mut too_long = fields.clone();
    set_of(&mut too_long, "because", athletes[1], &long);
    let refused = assigns(&mut coach, &hall, too_long).expect(422);
    assert!(
        refused
            .body
            .contains(&format!("id=\"because-{}-error\"", athletes[1]))
    );
    assert_eq!(hall.count("blocks").await, 0);
    // Or the one for all, where a row has none.
    set_of(&mut fields, "because", athletes[2], "");
    set(&mut fields, "because", "A test week.");
    assigns(&mut coach, &hall, fields).expect(303);
    let mut said = Vec::new();
    for athlete in athletes {
        let block = hall.blocks(athlete).await.remove(0);
        said.push(block.overruled_because.unwrap());
    }
    assert_eq!(
        said,
        ["Swings it at home.", "Under my eyes.", "A test week."]
    );
}

#[tokio::test]
async fn the_last_block_again_one_step_on() {
    let hall = Hall::new().await;
    let [one, other, never] = hall.three().await;
    let mut coach = hall.gym.coach().await;
    let first = hall.assigned(&mut coach, one).await;
    hall.assigned(&mut coach, other).await;
    hall.earns_a_step(one).await;
    // From its own page: the next block begins on the day after the last one's, a Monday.
    let page = coach
        .get(&hall.gym.path(&format!("blocks/{first}")))
        .expect(200);
    let address = hall
        .gym
        .path(&format!("assign?by=again&from_block={first}&step=preview"));
    assert!(
        page.body.contains(&address.replace('&', "&#38;")),
        "{}",
        page.body
    );
    let page = coach.get(&address).expect(200);
    assert_eq!(hall.count("blocks").await, 2, "a look writes nothing");
    let mut fields = page.main_form();
    set(&mut fields, "because", "Earned.");
    assigns(&mut coach, &hall, fields).expect(303);
    let again = hall.blocks(one).await.remove(0);
    assert_ne!(again.block, first);
    // 2026-11-30 and eight weeks end on Sunday 2027-01-24.
    assert_eq!(again.starts_on, date!(2027 - 01 - 25));
    assert_eq!(again.loading, hall.middle, "one step on (T4)");
    assert_eq!(
        (again.weeks, again.weekdays.iso().collect()),
        (8, vec![1, 4])
    );

    // For a selection: whoever has no block is shown, and left out.
    let address = format!("assign?by=again&athlete={other}&athlete={never}&step=preview");
    let page = coach.get(&hall.gym.path(&address));
    assert!(
        page.body.contains("No block to go on from"),
        "{}",
        page.words()
    );
    let fields = page.main_form();
    assert_eq!(value(&fields, "in", other).as_deref(), Some("yes"));
    assert_eq!(value(&fields, "in", never), None);
}

/// A block that ended long ago is followed from the next Monday on.
#[tokio::test]
async fn a_block_that_is_over_is_followed_next_monday() {
    let hall = Hall::new().await;
    let athlete = hall.gym.athlete_id;
    let mut coach = hall.gym.coach().await;
    let first = hall.assigned(&mut coach, athlete).await;
    let end = hall.gym.path(&format!("blocks/{first}/end"));
    let fields = [("last_day", "2026-11-24"), ("reason", "A new hall.")];
    coach.post(&end, &fields).expect(303);
    let address = format!("assign?by=again&athlete={athlete}&step=preview");
    let page = coach.get(&hall.gym.path(&address)).expect(200);
    let mut fields = page.main_form();
    set(&mut fields, "because", "On we go.");
    assigns(&mut coach, &hall, fields).expect(303);
    assert_eq!(
        hall.blocks(athlete).await[0].starts_on,
        date!(2026 - 11 - 30)
    );
}

#[tokio::test]
async fn the_blocks_that_run_are_ended_the_day_before() {
    let hall = Hall::new().await;
    let [one, other, _] = hall.three().await;
    let mut coach = hall.gym.coach().await;
    let mut running = Vec::new();
    for athlete in [one, other] {
        hall.climbs(athlete).await;
        running.push(hall.assigned(&mut coach, athlete).await);
    }
    let mut fields = hall.own(&[one, other]);
    set(&mut fields, "starts_on", "2026-12-07");
    let page = look(&mut coach, &hall, &fields).expect(200);
    let mut fields = page.main_form();
    set(&mut fields, "end_running", "yes");
    set(&mut fields, "because", "A change of plan.");
    assigns(&mut coach, &hall, fields.clone()).expect(303);
    // Once more ends nothing twice, not even what was just made.
    assigns(&mut coach, &hall, fields).expect(303);
    for (athlete, old) in [one, other].into_iter().zip(running) {
        let blocks = hall.blocks(athlete).await;
        assert_eq!(blocks.len(), 2);
        assert_eq!(blocks[0].ended, None);
        let ended = blocks[1].ended.as_ref().map(|(on, _)| *on);
        assert_eq!((blocks[1].block, ended), (old, Some(date!(2026 - 12 - 06))));
        let states: Vec<&str> = hall
            .planned(old)
            .await
            .iter()
            .map(|one| one.standing.state.word())
            .collect();
        assert_eq!(states[..3], ["planned", "planned", "ended"]);
        assert_eq!(states.len(), 16);
    }
}

fn place<T: std::str::FromStr>(page: &Answer, before: &str) -> T {
    let at = page.body.split_once(before).expect("the place").1;
    let id = at.split(['"', '/', '?', '&']).next().unwrap();
    id.parse().ok().expect("an id")
}

#[tokio::test]
async fn a_block_template_is_kept_used_changed_and_retired() {
    let hall = Hall::new().await;
    let athlete = hall.gym.athlete_id;
    hall.climbs(athlete).await;
    let mut coach = hall.gym.coach().await;
    let list = hall.gym.path("block-templates");
    let empty = coach.get(&list).expect(200);
    assert!(empty.body.contains("No block template yet"));

    // Kept from the form, once however often it is sent.
    let mut fields = hall.own(&[]);
    let id: BlockTemplateId = new_id();
    set(&mut fields, "template_id", &id.to_string());
    let nameless = post(&mut coach, &list, &fields).expect(422);
    assert!(nameless.body.contains("id=\"template_name-error\""));
    set(&mut fields, "template_name", "Count upwards");
    for _ in 0..2 {
        post(&mut coach, &list, &fields).expect(303);
    }
    let page = coach.get(&list).expect(200);
    assert_eq!(page.body.matches("Assign from this").count(), 1);
    assert!(page.body.contains("not used yet"));
    assert_eq!(place::<BlockTemplateId>(&page, "assign?template="), id);

    // Used: the form is filled in from it, and the block knows its version.
    let form = coach
        .get(
            &hall
                .gym
                .path(&format!("assign?template={id}&athlete={athlete}")),
        )
        .expect(200);
    assert!(form.body.contains("Count upwards"), "{}", form.words());
    assert!(form.body.contains("Count out loud."));
    let mut fields = hall.own(&[athlete]);
    set(&mut fields, "template", &id.to_string());
    set(&mut fields, "template_version", "1");
    let page = look(&mut coach, &hall, &fields).expect(200);
    let done = assigns(&mut coach, &hall, page.main_form()).expect(303);
    let block = hall.blocks(athlete).await.remove(0);
    let from = block.template.expect("a template");
    assert_eq!((from.template, from.version), (id, 1));
    let page = coach.get(done.location()).expect(200);
    assert!(page.body.contains("Count upwards, version 1"));

    // Changed: a new version; the old one stays as it was, and what came from it.
    let own_page = format!("{list}/{id}");
    let page = coach.get(&own_page).expect(200);
    let mut change = hall.own(&[]);
    set(&mut change, "template_name", "Count upwards, longer");
    set(&mut change, "weeks", "12");
    set(&mut change, "after", &page.field("after").unwrap());
    let mut late = change.clone();
    for _ in 0..2 {
        post(&mut coach, &own_page, &change).expect(303);
    }
    set(&mut late, "weeks", "6");
    let late = post(&mut coach, &own_page, &late).expect(409);
    assert!(late.body.contains("Somebody changed this template"));
    let page = coach.get(&own_page).expect(200);
    for said in [
        "Count upwards, longer",
        "for 12 weeks",
        "for 8 weeks",
        "used for 1 block",
    ] {
        assert!(page.body.contains(said), "{said}: {}", page.words());
    }
    assert_eq!(hall.blocks(athlete).await[0].template, Some(from));

    // Taken out of use and brought back.
    coach.post(&format!("{own_page}/retire"), &[]).expect(303);
    let page = coach.get(&list).expect(200);
    assert!(!page.body.contains("Assign from this") && page.body.contains("Bring back"));
    coach
        .post(&format!("{own_page}/retire"), &[("bring", "back")])
        .expect(303);
    assert!(
        coach
            .get(&list)
            .expect(200)
            .body
            .contains("Assign from this")
    );
}

#[tokio::test]
async fn a_block_is_kept_as_a_template() {
    let hall = Hall::new().await;
    let mut coach = hall.gym.coach().await;
    let block: BlockId = hall.assigned(&mut coach, hall.gym.athlete_id).await;
    let path = hall.gym.path(&format!("blocks/{block}/template"));
    let fields = [("template_name", "Winter start")];
    coach.post(&path, &fields).expect(303);
    let page = coach.get(&hall.gym.path("block-templates")).expect(200);
    assert!(page.body.contains("Winter start"));
    let id: BlockTemplateId = place(&page, "assign?template=");
    let form = coach
        .get(&hall.gym.path(&format!("assign?template={id}")))
        .expect(200);
    assert_eq!(form.field("weeks").as_deref(), Some("8"));
    assert_eq!(form.field("interval_sets").as_deref(), Some("5"));
    // What is not there cannot be used.
    let nothing: BlockTemplateId = new_id();
    for page in [
        format!("assign?template={nothing}"),
        format!("block-templates/{nothing}"),
        format!("assign?by=again&from_block={nothing}"),
    ] {
        coach.get(&hall.gym.path(&page)).expect(404);
    }
}

#[tokio::test]
async fn those_ticked_on_the_roster_are_assigned_a_block() {
    let hall = Hall::new().await;
    let [one, other, third] = hall.three().await;
    let mut coach = hall.gym.coach().await;
    let roster = coach.get(&hall.gym.path("roster")).expect(200);
    for athlete in [one, other, third] {
        let tick = format!("form=\"pick\" name=\"athlete\" value=\"{athlete}\"");
        assert!(roster.body.contains(&tick), "{}", roster.words());
    }
    let form = coach
        .get(
            &hall
                .gym
                .path(&format!("assign?athlete={one}&athlete={third}")),
        )
        .expect(200);
    let ticked = |page: &Answer, athlete: AthleteId| {
        page.body.contains(&format!("value=\"{athlete}\" checked"))
    };
    assert_eq!(
        [one, other, third].map(|athlete| ticked(&form, athlete)),
        [true, false, true]
    );
    let mut fields = hall.own(&[one]);
    set(&mut fields, "step", "all");
    let form = look(&mut coach, &hall, &fields).expect(200);
    for athlete in [one, other, third] {
        assert!(ticked(&form, athlete));
    }
}

#[tokio::test]
async fn those_of_a_class_are_assigned_a_block() {
    let hall = Hall::new().await;
    let [one, other, third] = hall.three().await;
    let elsewhere = hall
        .gym
        .person("Piet Marsh", "piet@quarry.example", &[Role::Coach])
        .await;
    let theirs = hall.roster(&elsewhere, &["Nils Harrow".to_owned()]).await[0];
    let mut coach = hall.gym.coach().await;
    let class: ClassId = new_id();
    let mut fields: Vec<(String, String)> = [
        ("class", class.to_string()),
        ("name", "Evening".to_owned()),
        ("day", "4".to_owned()),
        ("starts_at", "18:30".to_owned()),
        ("minutes", "60".to_owned()),
        ("at_once", "6".to_owned()),
    ]
    .map(|(name, value)| (name.to_owned(), value))
    .into();
    for member in [one, third, theirs] {
        fields.push(("member".to_owned(), member.to_string()));
    }
    post(&mut coach, &hall.gym.path("classes/new"), &fields).expect(303);
    let plan = hall.gym.path(&format!("classes/{class}/plan"));
    let address = hall.gym.path(&format!("assign?class={class}"));
    assert!(coach.get(&plan).expect(200).body.contains(&address));
    let form = coach.get(&address).expect(200);
    let ticked = |athlete: AthleteId| form.body.contains(&format!("value=\"{athlete}\" checked"));
    assert_eq!([one, other, third].map(ticked), [true, false, true]);
    assert!(!form.body.contains("Nils Harrow"), "on another roster");
    let nothing: ClassId = new_id();
    for class in [nothing.to_string(), "evening".to_owned()] {
        let address = format!("assign?class={class}");
        coach.get(&hall.gym.path(&address)).expect(404);
    }
}

/// A ladder that stands for another club than the one asked for keeps its scheme's kind.
#[tokio::test]
async fn a_template_of_a_ladder_fills_in_the_ladder() {
    let hall = Hall::new().await;
    let mut coach = hall.gym.coach().await;
    let mut fields = hall.own(&[]);
    for (name, value) in [
        ("hands", "one"),
        ("ladder_reps", "4"),
        ("ladder_start", "6"),
        ("ladder_add", "2"),
        ("ladder_target", "12"),
        ("ladder_rest", "75"),
        ("ladder_light", "yes"),
        ("template_name", "Ladder"),
    ] {
        set(&mut fields, name, value);
    }
    let list = hall.gym.path("block-templates");
    post(&mut coach, &list, &fields).expect(303);
    let page = coach.get(&list).expect(200);
    let id: BlockTemplateId = place(&page, "assign?template=");
    let form = coach
        .get(&hall.gym.path(&format!("assign?template={id}")))
        .expect(200);
    for (name, value) in [
        ("ladder_reps", "4"),
        ("ladder_start", "6"),
        ("ladder_add", "2"),
        ("ladder_target", "12"),
        ("ladder_rest", "75"),
    ] {
        assert_eq!(form.field(name).as_deref(), Some(value), "{name}");
    }
    assert!(
        form.body
            .contains("name=\"ladder_light\" value=\"yes\" checked")
    );
    let mut tx = hall.gym.enter().await;
    let kept = leverbook_store::block_templates::versions(&mut tx, id)
        .await
        .unwrap();
    let Scheme::SetLadder(ladder) = kept[0].pattern.scheme else {
        panic!("a ladder");
    };
    assert!(ladder.light_fourth_week && ladder.start_sets == 6);
}
