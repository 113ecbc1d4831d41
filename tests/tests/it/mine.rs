//! One's own progress: what is drawn is what was logged, in each state that an athlete can be in.
//!
//! Every figure is held against the log itself, counted by other statements than the page's.

use leverbook_domain::id::LoadingId;
use leverbook_domain::rules::Rule;
use leverbook_domain::training::{Hands, SetDone, Side, Work};
use leverbook_domain::units::{Reps, Seconds};
use leverbook_store::flags;
use leverbook_tests::Answer;
use time::macros::date;
use time::{Date, Duration};

use crate::ahead::{FIRST, TODAY, says};
use crate::hall::Hall;

/// Three sets of half a minute on each side.
async fn against_the_clock(
    hall: &Hall,
    club: LoadingId,
    on: Date,
    left: [i64; 3],
    right: [i64; 3],
) {
    let set = |side, count| SetDone {
        movement: hall.mill,
        hands: Hands::Two,
        loading: club,
        side,
        work: Work::Interval {
            seconds: Seconds::new(30).unwrap(),
            reps: Reps::new(count).unwrap(),
        },
    };
    let sets = left.into_iter().zip(right);
    let sets = sets.flat_map(|(left, right)| [set(Side::Left, left), set(Side::Right, right)]);
    hall.recorded(on, sets.collect(), 0).await;
}

/// Sets of five with one hand, so many on each side.
async fn ladder(hall: &Hall, club: LoadingId, on: Date, left: usize, right: usize) {
    let set = |side| SetDone {
        movement: hall.mill,
        hands: Hands::One,
        loading: club,
        side,
        work: Work::Straight {
            reps: Reps::new(5).unwrap(),
            asked: None,
        },
    };
    let mut sets = vec![set(Side::Left); left];
    sets.extend(vec![set(Side::Right); right]);
    hall.recorded(on, sets, 0).await;
}

/// Mondays and Thursdays from the first day on.
fn day(session: i64) -> Date {
    FIRST + Duration::days(session / 2 * 7 + session % 2 * 3)
}

async fn mine(hall: &Hall) -> Answer {
    let mut athlete = hall.gym.athlete().await;
    athlete.get(&hall.gym.path("mine")).expect(200)
}

/// The rows of the table behind a chart, its first column left out, newest first.
fn table(page: &Answer, caption: &str) -> Vec<Vec<String>> {
    let at = page
        .body
        .find(&format!("<caption>{caption}"))
        .unwrap_or_else(|| panic!("no table {caption}: {}", page.words()));
    let body = &page.body[at..];
    let body = &body[body.find("<tbody>").unwrap()..body.find("</tbody>").unwrap()];
    body.split("<tr>")
        .skip(1)
        .map(|row| {
            let cells = row.split("<td class=\"amount\">").skip(1);
            cells
                .map(|cell| cell.split('<').next().unwrap().to_owned())
                .collect()
        })
        .collect()
}

/// What is drawn of a chart, from its title on.
fn drawing<'a>(page: &'a Answer, title: &str) -> &'a str {
    let at = page.body.find(&format!("<figcaption>{title}")).unwrap();
    let drawing = &page.body[at..];
    &drawing[..drawing.find("</figure>").unwrap()]
}

/// The newest session first: a number of sets and of reps on each side.
async fn logged(hall: &Hall) -> Vec<(Date, [(i64, i64); 2])> {
    let mut tx = hall.gym.enter().await;
    let rows: Vec<(Date, i64, i64, i64, i64)> = sqlx::query_as(
        "select s.on_date, count(*) filter (where t.side = 'left'),
             coalesce(sum(t.reps) filter (where t.side = 'left'), 0),
             count(*) filter (where t.side = 'right'),
             coalesce(sum(t.reps) filter (where t.side = 'right'), 0)
         from logged_sessions s
         join logged_sets t on t.gym_id = s.gym_id and t.revision_id = s.revision_id
         where s.gym_id = $1 group by s.on_date, s.session_id order by s.on_date desc",
    )
    .bind(hall.gym.id.0)
    .fetch_all(tx.conn())
    .await
    .expect("the log");
    rows.into_iter()
        .map(|(on, left_sets, left, right_sets, right)| {
            (on, [(left_sets, left), (right_sets, right)])
        })
        .collect()
}

#[tokio::test]
async fn before_the_first_session_nothing_is_drawn_and_nothing_said() {
    let hall = Hall::new().await;
    let page = mine(&hall).await;
    says(&page, &["Nothing logged yet"]);
    assert!(!page.body.contains("<figure"), "{}", page.words());
    for heading in [
        "What comes next",
        "Both sides",
        "Training days",
        "Welcome back",
    ] {
        assert!(!page.words().contains(heading), "{}", page.words());
    }
}

/// T2: a count of a set is reps by sets. By hand: 60 × 252 reps by 540 s make 28.0 a minute in the median
/// session, 1.2 times that (T3) are 33.6 a minute or 16.8 in half a minute.
#[tokio::test]
async fn the_counts_drawn_are_the_counts_logged() {
    let hall = Hall::new().await;
    let counts = [
        ([14, 14, 13], [14, 13, 13]),
        ([14, 14, 14], [14, 14, 14]),
        ([15, 14, 14], [14, 14, 14]),
        ([15, 15, 14], [15, 14, 14]),
        ([15, 15, 15], [15, 15, 14]),
        ([16, 15, 15], [15, 15, 15]),
        ([16, 16, 15], [16, 15, 15]),
        ([16, 16, 16], [16, 16, 15]),
    ];
    for (session, (left, right)) in (0..).zip(counts) {
        against_the_clock(&hall, hall.light, day(session), left, right).await;
    }
    let page = mine(&hall).await;
    let log = logged(&hall).await;
    assert_eq!(log.len(), 8);
    let expected: Vec<Vec<String>> = log
        .iter()
        .map(|(_, sides)| {
            sides
                .iter()
                .map(|(sets, reps)| format!("{:.1}", *reps as f64 / *sets as f64))
                .collect()
        })
        .collect();
    let title = "Reps a set of 30 seconds, left and right";
    assert_eq!(table(&page, title), expected);
    let drawn = drawing(&page, title);
    for (mark, shape) in [("mark series-1", "<circle"), ("mark series-2", "<path")] {
        // One a session, and two in the key: left and right are told by shape, not by colour alone, and
        // so is that they were the same, as in the second session.
        assert_eq!(drawn.matches(mark).count(), 8 + 2, "{mark}");
        let at = drawn.find(mark).unwrap();
        assert_eq!(
            &drawn[drawn[..at].rfind('<').unwrap()..][..shape.len()],
            shape
        );
    }
    says(
        &page,
        &[
            "In your last session, on Thu 19 Nov 2026: 16.0 reps a set on the left and 15.7 on the right.",
            "The goal is 16.8 reps in 30 seconds on average, on both sides.",
            "Left Right both sides the same",
            "Lately the count climbs by about",
            // By hand: 47 reps in the last session, and 48 on the left, are 15.8 a set.
            "15.8 reps a set with Ash 5, 15.7 on the slower side; the goal is 16.8. Rule T4",
            "15.8 reps a set of 30 seconds",
            "Test mill, two hands, with Ash 5",
            "Ash 5: 5 kg, 600 mm, balance 400 mm from the knob",
            "Your log speaks for going on as planned with Ash 5.",
            "Your coach decides. Until then do what is planned, and nothing more.",
        ],
    );
    // One thing in one unit: counts by the minute are the coach's.
    assert!(!page.words().contains("a minute"), "{}", page.words());
    // What the coach reads of the same begins as a sentence.
    let story = hall.gym.path(&format!("athletes/{}", hall.gym.athlete_id));
    let coach = hall.gym.coach().await.get(&story).expect(200);
    assert!(
        coach.body.contains("<p>Test mill with Ash 5: the goal of "),
        "{}",
        coach.words()
    );
}

/// V1: a set counts once both sides have done it.
#[tokio::test]
async fn the_ladder_drawn_is_the_ladder_logged() {
    let hall = Hall::new().await;
    for (session, (left, right)) in (0..).zip([(5, 5), (5, 5), (6, 6), (6, 5), (7, 7), (7, 7)]) {
        ladder(&hall, hall.light, day(session), left, right).await;
    }
    let page = mine(&hall).await;
    let expected: Vec<Vec<String>> = logged(&hall)
        .await
        .iter()
        .map(|(_, [left, right])| {
            vec![
                format!("{} sets of 5", left.0.min(right.0)),
                left.1.to_string(),
                right.1.to_string(),
            ]
        })
        .collect();
    assert_eq!(table(&page, "Sets on each side"), expected);
    let drawn = drawing(&page, "Sets on each side");
    // Steps: across and then down or up, never straight from mark to mark.
    let path = drawn
        .split("<path d=\"M")
        .nth(1)
        .unwrap()
        .split('"')
        .next()
        .unwrap();
    assert_eq!(path.matches('H').count(), 5, "{path}");
    assert!(!path.contains('L'), "{path}");
    says(
        &page,
        &[
            "In your last session, on Thu 12 Nov 2026: 7 sets of 5 on each side.",
            "Sets are added little by little; reps in a set stay as they are.",
            "7 sets of 5 on each side",
        ],
    );
}

/// B2: SI = 100·|L − R| / (0.5·(L + R)) (Robinson et al. 1987), of the reps of the last 28 days, today with
/// them; counted here from the log.
#[tokio::test]
async fn both_sides_are_those_of_the_last_28_days() {
    let hall = Hall::new().await;
    // The day before the 28 days begin, and the first of them.
    against_the_clock(
        &hall,
        hall.light,
        TODAY - Duration::days(28),
        [30; 3],
        [1; 3],
    )
    .await;
    for days in [27, 20, 13, 6] {
        let on = TODAY - Duration::days(days);
        against_the_clock(&hall, hall.light, on, [14, 14, 14], [12, 12, 12]).await;
    }
    let log = logged(&hall).await;
    let sum = |side: usize| -> i64 {
        let lately = log
            .iter()
            .filter(|(on, _)| *on > TODAY - Duration::days(28));
        lately.map(|(_, sides)| sides[side].1).sum()
    };
    let (left, right) = (sum(0), sum(1));
    assert_eq!((left, right), (168, 144), "by hand");
    let index = 100.0 * (left - right).abs() as f64 / (0.5 * (left + right) as f64);
    let page = mine(&hall).await;
    assert_eq!(
        table(&page, "Reps on each side in the last 28 days"),
        [[left.to_string(), right.to_string(), format!("{index:.1} %")]]
    );
    says(
        &page,
        &[
            "Test mill, two hands: 168 left and 144 right: 24 more on the left. Same number on each side \
             from here, as near as you can: let the weaker side set the count, if your coach agrees.",
        ],
    );
}

/// Common practice, no source: with another club the count starts lower, and nobody is to read that as a
/// loss.
#[tokio::test]
async fn whoever_just_stepped_is_told_that_the_count_begins_anew() {
    let hall = Hall::new().await;
    for session in 0..6 {
        against_the_clock(&hall, hall.light, day(session), [17; 3], [17; 3]).await;
    }
    against_the_clock(&hall, hall.middle, day(6), [13; 3], [13; 3]).await;
    let page = mine(&hall).await;
    says(
        &page,
        &[
            "Test mill, two hands, with Elm 6",
            "Elm 6 is new: the count starts lower with another club, and that is as it should be.",
            "13.0 reps a set, both sides the same.",
            "both sides the same, every time",
            "The first 3 sessions with a club set its goal; 1 of them is done.",
            "It takes a few more sessions to see which way the count goes.",
        ],
    );
    // Only what is in use is drawn.
    assert_eq!(
        table(&page, "Reps a set of 30 seconds, left and right"),
        [["13.0", "13.0"]]
    );
    assert!(
        !page.words().contains("Test mill, two hands, with Ash 5"),
        "{}",
        page.words()
    );
    // What was done with the club before stays a best.
    says(&page, &["17.0 reps a set of 30 seconds"]);
}

/// A1: fourteen days without a session are a gap. Whoever comes back is welcome, and hears of no days missed.
#[tokio::test]
async fn whoever_comes_back_is_welcome() {
    let hall = Hall::new().await;
    for session in 0..4 {
        against_the_clock(&hall, hall.light, day(session), [14; 3], [14; 3]).await;
    }
    assert_eq!(TODAY - day(3), Duration::days(20));
    let page = mine(&hall).await;
    says(
        &page,
        &[
            "Welcome back",
            "Your last session was on Thu 5 Nov 2026.",
            "An easy way back in: 2 sets on each side with Ash 5.",
            // Of before the gap; nothing is said about a trend.
            "The goal is 16.8 reps in 30 seconds on average, on both sides. Reps a set",
            "You trained on 4 days in the last 5 weeks",
        ],
    );
    let words = page.words().to_lowercase();
    for word in ["missed", "absent", "quiet here", "fail", "behind"] {
        assert!(!words.contains(word), "{word}: {words}");
    }
    // A day short of the gap nobody is welcomed back.
    let hall = Hall::new().await;
    against_the_clock(
        &hall,
        hall.light,
        TODAY - Duration::days(13),
        [14; 3],
        [14; 3],
    )
    .await;
    assert!(!mine(&hall).await.words().contains("Welcome back"));
}

/// L4: pain of 4 or more stops the work: what comes next is the coach, and a licensed clinician.
#[tokio::test]
async fn whoever_hurts_is_sent_to_the_coach_and_a_clinician() {
    let hall = Hall::new().await;
    for session in 0..4 {
        against_the_clock(&hall, hall.light, day(session), [14; 3], [14; 3]).await;
    }
    let set = SetDone {
        movement: hall.mill,
        hands: Hands::Two,
        loading: hall.light,
        side: Side::Left,
        work: Work::Interval {
            seconds: Seconds::new(30).unwrap(),
            reps: Reps::new(14).unwrap(),
        },
    };
    hall.recorded(date!(2026 - 11 - 24), vec![set], 5).await;
    // A1 stands too: under two sessions in each of the last two weeks.
    {
        let mut tx = hall.gym.enter().await;
        let standing = flags::standing_for(&mut tx, &[hall.gym.athlete_id])
            .await
            .unwrap();
        let quiet = standing.iter().filter(|kept| kept.flag.rule == Rule::A1);
        assert_eq!(quiet.count(), 1, "{standing:?}");
    }
    let page = mine(&hall).await;
    says(
        &page,
        &[
            "This one waits for your coach.",
            "see a licensed clinician about it",
            "Your coach decides. Until then this work waits.",
        ],
    );
    assert!(
        !page.words().contains("What would change it"),
        "{}",
        page.words()
    );
    // Nobody who hurts is asked to come back, however few the sessions of the last weeks.
    for sentence in ["It has been quiet here", "Welcome back"] {
        assert!(!page.words().contains(sentence), "{}", page.words());
    }
    // One set on one side: the other has no count, and none is made up.
    says(&page, &["14.0 reps a set on the left and – on the right"]);
}

/// The days drawn as trained are the days logged, each once.
#[tokio::test]
async fn the_days_drawn_are_the_days_logged() {
    let hall = Hall::new().await;
    for session in 0..8 {
        against_the_clock(&hall, hall.light, day(session), [14; 3], [14; 3]).await;
    }
    // Twice on one day is one day.
    ladder(&hall, hall.light, day(7), 3, 3).await;
    let page = mine(&hall).await;
    let mut days: Vec<Date> = logged(&hall).await.into_iter().map(|(on, _)| on).collect();
    days.dedup();
    let drawn = drawing(&page, "Training days");
    // One in the key.
    assert_eq!(drawn.matches("day-done\"").count(), days.len() + 1);
    // Today, in the key and in this week's row, which is told to the end.
    assert_eq!(drawn.matches("day-today\"").count(), 2);
    assert_eq!(drawn.matches(">23 Nov<").count(), 1);
    assert!(!drawn.contains(">30 Nov<"), "nothing is planned: {drawn}");
    let by_week: Vec<String> = table(&page, "Training days")
        .into_iter()
        .map(|row| row[0].clone())
        .collect();
    // This week, and the four logged, newest first.
    assert_eq!(by_week, ["0", "2", "2", "2", "2"]);
    says(
        &page,
        &[
            "You trained on 8 days in the last 5 weeks, this one with them. In 4 of the weeks you trained 2 days or more.",
        ],
    );
}

/// Each page of an athlete is theirs alone: of the other sessions of the gym there is not a word.
#[tokio::test]
async fn nobody_is_compared_with_anybody() {
    let hall = Hall::new().await;
    against_the_clock(&hall, hall.light, day(7), [14; 3], [14; 3]).await;
    let words = mine(&hall).await.words().to_lowercase();
    for word in [
        "rank",
        "place ",
        "than others",
        "average athlete",
        "leader",
        "percentile",
    ] {
        assert!(!words.contains(word), "{word}: {words}");
    }
}
