//! The way ahead, as the pages tell it: to the coach of an athlete, of a block and of one to come, and to
//! the athlete.

use leverbook_domain::training::{Hands, Note, Pain, SetDone, Side, Work};
use leverbook_domain::units::{Pain as PainScore, Reps, Seconds};
use leverbook_store::flags;
use leverbook_store::log::{self, Done, NewRevision};
use leverbook_tests::{Answer, NOW, new_id};
use time::macros::date;
use time::{Date, Duration};

use crate::hall::Hall;

/// The day of the tests' clock, a Wednesday.
pub(crate) const TODAY: Date = date!(2026 - 11 - 25);

/// The Monday on which the log begins.
pub(crate) const FIRST: Date = date!(2026 - 10 - 26);

impl Hall {
    /// One ten-minute set a side, so that a count of r is r / 10 a minute.
    async fn counted(&self, on: Date, count: i64, pain: i64) {
        let set = |side| SetDone {
            movement: self.mill,
            hands: Hands::Two,
            loading: self.light,
            side,
            work: Work::Interval {
                seconds: Seconds::new(600).unwrap(),
                reps: Reps::new(count).unwrap(),
            },
        };
        self.recorded(on, Side::BOTH.map(set).to_vec(), pain).await;
    }

    /// So many sets of five reps on each side, one hand.
    async fn swung(&self, on: Date, sets: usize) {
        let set = |side| SetDone {
            movement: self.mill,
            hands: Hands::One,
            loading: self.light,
            side,
            work: Work::Straight {
                reps: Reps::new(5).unwrap(),
                asked: None,
            },
        };
        self.recorded(on, Side::BOTH.map(set).repeat(sets), 0).await;
    }

    pub(crate) async fn recorded(&self, on: Date, sets: Vec<SetDone>, pain: i64) {
        let pain = (pain > 0).then(|| Pain {
            score: PainScore::new(pain).unwrap(),
            place: None,
        });
        let athlete = self.gym.athlete_id;
        let revision = NewRevision {
            revision: new_id(),
            replaces: None,
            athlete,
            done: Some(Done {
                on,
                planned: None,
                minutes: None,
                effort: None,
                pain: pain.into_iter().collect(),
                note: Note::default(),
                sets,
            }),
            logged_at: NOW,
        };
        let mut tx = self.gym.enter().await;
        log::record(&mut tx, &revision).await.unwrap();
        flags::reassess(&mut tx, athlete, TODAY).await.unwrap();
        tx.commit().await.unwrap();
    }

    /// Eight sessions on Mondays and Thursdays: 20 a minute, and a tenth more each day.
    async fn climbing(&self) {
        for days in [0, 3, 7, 10, 14, 17, 21, 24] {
            self.counted(FIRST + Duration::days(days), 200 + days, 0)
                .await;
        }
    }

    fn athlete(&self) -> String {
        self.gym.path(&format!("athletes/{}", self.gym.athlete_id))
    }

    /// A block's fields, as the form sends them.
    fn block<'a>(
        &'a self,
        own: &[(&'a str, &'a str)],
        ids: &'a [String; 3],
    ) -> Vec<(&'a str, &'a str)> {
        let mut fields = vec![
            ("athlete", ids[0].as_str()),
            ("movement", &ids[1]),
            ("club", &ids[2]),
            ("weekday", "1"),
            ("weekday", "4"),
            ("starts_on", "2026-11-30"),
            ("weeks", "8"),
        ];
        fields.extend(own);
        fields
    }

    fn ids(&self) -> [String; 3] {
        [
            self.gym.athlete_id.to_string(),
            self.mill.to_string(),
            self.light.to_string(),
        ]
    }
}

#[track_caller]
pub(crate) fn says(page: &Answer, sentences: &[&str]) {
    for sentence in sentences {
        assert!(
            page.words().contains(sentence),
            "{sentence}: {}",
            page.words()
        );
    }
}

/// By hand. 20.0, 20.3 and 20.7 make a goal of 1.2 × 20.3 = 24.36 (T3), which the line reaches on its 44th
/// day, Wednesday 9 December. Two sessions there are Thursday and Monday the 14th; with the next week
/// missed, Thursday and Monday the 21st. Three clubs cannot be finished: from 6 to 10 kg is over a third.
#[tokio::test]
async fn an_athletes_pages_say_when_the_goal_and_the_next_club_are_to_be_expected() {
    let hall = Hall::new().await;
    let mut coach = hall.gym.coach().await;
    let mut athlete = hall.gym.athlete().await;
    let nothing = coach.get(&hall.athlete()).expect(200);
    assert!(
        !nothing.words().contains("The way ahead"),
        "{}",
        nothing.words()
    );
    let nothing = athlete.get(&hall.gym.path("mine")).expect(200);
    assert!(
        !nothing.words().contains("The way ahead"),
        "{}",
        nothing.words()
    );

    hall.counted(FIRST, 200, 0).await;
    let page = coach.get(&hall.athlete()).expect(200);
    // The last session is 30 days ago (A1).
    says(
        &page,
        &[
            "The way ahead",
            "Cannot be said after 30 days without a session: the return comes first.",
        ],
    );
    let page = athlete.get(&hall.gym.path("mine")).expect(200);
    says(&page, &["The way ahead", "First come back, gently."]);

    let hall = Hall::new().await;
    hall.climbing().await;
    let mut coach = hall.gym.coach().await;
    let mut athlete = hall.gym.athlete().await;
    let dates = [
        "24.4 a minute with Ash 5, on both sides",
        "between 14 December 2026 and 21 December 2026",
        "Next club: Elm 6",
        "between 17 December 2026 and 28 December 2026",
    ];
    let page = coach.get(&hall.athlete()).expect(200);
    says(&page, &dates);
    says(
        &page,
        &[
            "Test mill, two hands, with Ash 5",
            "not with this rack: Oak 10 is over the limit",
            "training on Monday and Thursday",
            "The late end misses one week in four.",
        ],
    );
    assert!(page.body.contains("#T4\">T4</a>") && page.body.contains("#W2\">W2</a>"));
    let page = athlete.get(&hall.gym.path("mine")).expect(200);
    says(
        &page,
        &[
            // By hand: 24.36 a minute are 243.6 in ten minutes.
            "243.6 reps a set with Ash 5, on both sides: earliest 14 December 2026, latest 21 December 2026",
            "Next club: Elm 6 : earliest 17 December 2026, latest 28 December 2026 ( Rule W2 )",
            "The days are for training as you do now. Weeks off move them. How this is worked out",
            "your coach will say",
            "No date is a promise",
        ],
    );

    // L4: pain comes before dates.
    hall.counted(date!(2026 - 11 - 24), 230, 5).await;
    let page = coach.get(&hall.athlete()).expect(200);
    says(&page, &["Cannot be said while a stop flag stands."]);
    // Once, and with nothing assumed.
    let words = page.words();
    assert!(!words.contains("Next club: Elm 6 cannot"), "{words}");
    assert!(!words.contains("The late end"), "{words}");
    let page = athlete.get(&hall.gym.path("mine")).expect(200);
    says(&page, &["Pain comes first: speak with your coach."]);
}

/// By hand. The coach's goal of 25 a minute is on the line on its 50th day, Tuesday 15 December: Thursday and
/// Monday, or a week later. One set a side of ten minutes is 1200 s, or 1260 with a rest of a minute between.
#[tokio::test]
async fn a_block_against_the_clock_says_where_it_leads_before_and_after() {
    let hall = Hall::new().await;
    hall.climbing().await;
    let mut coach = hall.gym.coach().await;
    let ids = hall.ids();
    let mut fields = hall.block(
        &[
            ("hands", "two"),
            ("interval_sets", "1"),
            ("interval_seconds", "600"),
            ("interval_rest", "60"),
            ("interval_goal", "25"),
        ],
        &ids,
    );
    let expected = [
        "The way ahead",
        "A session takes 20–21 min all through.",
        "25.0 a minute with Ash 5, on both sides",
        "between 21 December 2026 and 28 December 2026",
    ];
    fields.push(("step", "preview"));
    let assign = hall.gym.path("assign");
    let preview = coach.post(&assign, &fields).expect(200);
    says(&preview, &expected);
    fields.pop();
    let looked_at = preview.field("looked_at").unwrap();
    fields.push(("looked_at", &looked_at));
    fields.push(("because", "Agreed."));
    fields.push(("step", "assign"));
    let done = coach.post(&assign, &fields).expect(303);
    let block = done.location().split('?').next().unwrap().to_owned();
    says(&coach.get(&block).expect(200), &expected);
    // Over, it leads nowhere.
    let ended = [
        ("last_day", "2026-11-25"),
        ("reason", "Another one begins."),
    ];
    coach.post(&format!("{block}/end"), &ended).expect(303);
    let over = coach.get(&block).expect(200);
    assert!(!over.words().contains("The way ahead"), "{}", over.words());
}

/// By hand, one more set a week from 30 November on, the fourth week holding: 10 sets in week 7, from Monday
/// 11 January 2027; with weeks 2, 6 and 10 missed in week 11, from 8 February. 5 sets of 5 a side are 50 reps
/// of 2 to 4 s with four to nine rests of a minute, 340 to 740 s; 10 sets are 740 to 1540 s.
#[tokio::test]
async fn a_ladders_preview_says_minutes_and_sets() {
    let hall = Hall::new().await;
    hall.climbing().await;
    let mut coach = hall.gym.coach().await;
    let ids = hall.ids();
    let fields = hall.block(
        &[
            ("hands", "one"),
            ("ladder_reps", "5"),
            ("ladder_start", "5"),
            ("ladder_add", "1"),
            ("ladder_target", "10"),
            ("ladder_rest", "60"),
            ("step", "preview"),
        ],
        &ids,
    );
    let preview = coach.post(&hall.gym.path("assign"), &fields).expect(200);
    says(
        &preview,
        &[
            "A session takes 6–13 min in the first week and 13–26 min in the last.",
            "10 one-hand sets a side between 11 January 2027 and 8 February 2027",
            "sets added every week, with every 4 weeks one that holds",
        ],
    );
}

/// Common practice, no source: ten sets a side earn the next club, whose ladder begins anew at five, so that
/// twenty with this one are only reached by staying.
#[tokio::test]
async fn a_ladders_way_leads_to_the_next_club_before_its_last_target() {
    let hall = Hall::new().await;
    for days in [0, 3, 7, 10, 14, 17, 21, 24] {
        hall.swung(FIRST + Duration::days(days), 6).await;
    }
    let page = hall.gym.coach().await.get(&hall.athlete()).expect(200);
    let words = page.words();
    let at = |said: &str| {
        words
            .find(said)
            .unwrap_or_else(|| panic!("{said}: {words}"))
    };
    let last = at("20 one-hand sets a side, if the club stays");
    assert!(at("10 one-hand sets a side between") < at("Next club: Elm 6 between"));
    assert!(at("Next club: Elm 6 between") < last);
}
