//! Who came when: names and days, nothing else. Effort, pain and notes never leave here.

use std::collections::BTreeMap;

use leverbook_domain::id::{AccountId, AthleteId};
use sqlx::FromRow;
use time::{Date, Month};
use uuid::Uuid;

use crate::{GymTx, StoreError};

/// A calendar month.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct CalendarMonth {
    first: Date,
}

/// Why a month was refused.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error("a month is written as year and month, such as 2026-11, from 1950 to 2199")]
pub struct MonthError;

impl CalendarMonth {
    /// The month that a day lies in.
    #[must_use]
    pub fn of(day: Date) -> Self {
        Self {
            first: day.replace_day(1).unwrap_or(day),
        }
    }

    /// Its first day.
    #[must_use]
    pub const fn first(self) -> Date {
        self.first
    }

    /// As a person reads it: "November 2026".
    #[must_use]
    pub fn words(self) -> String {
        format!("{} {}", self.first.month(), self.first.year())
    }

    /// Its last day.
    #[must_use]
    pub fn last(self) -> Date {
        let length = self.first.month().length(self.first.year());
        self.first.replace_day(length).unwrap_or(self.first)
    }

    /// Its days in order.
    pub fn days(self) -> impl Iterator<Item = Date> {
        std::iter::successors(Some(self.first), |day| day.next_day())
            .take(usize::from(self.first.month().length(self.first.year())))
    }

    /// The month before.
    #[must_use]
    pub fn before(self) -> Self {
        Self::of(self.first.previous_day().unwrap_or(self.first))
    }

    /// The month after.
    #[must_use]
    pub fn after(self) -> Self {
        Self::of(self.last().next_day().unwrap_or(self.first))
    }
}

impl std::str::FromStr for CalendarMonth {
    type Err = MonthError;

    fn from_str(text: &str) -> Result<Self, MonthError> {
        let (year, month) = text.split_once('-').ok_or(MonthError)?;
        let digits =
            |part: &str, count| part.len() == count && part.bytes().all(|b| b.is_ascii_digit());
        if !digits(year, 4) || !digits(month, 2) {
            return Err(MonthError);
        }
        let year: i32 = year.parse().map_err(|_| MonthError)?;
        let month: u8 = month.parse().map_err(|_| MonthError)?;
        let month = Month::try_from(month).map_err(|_| MonthError)?;
        if !(1950..2200).contains(&year) {
            return Err(MonthError);
        }
        Date::from_calendar_date(year, month, 1)
            .map(Self::of)
            .map_err(|_| MonthError)
    }
}

impl std::fmt::Display for CalendarMonth {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(
            f,
            "{:04}-{:02}",
            self.first.year(),
            u8::from(self.first.month())
        )
    }
}

/// The days of one person in a month.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Person {
    /// Who.
    pub athlete: AthleteId,
    /// The handle in files.
    pub handle: String,
    /// The name.
    pub name: String,
    /// The days with at least one session in the log, in order.
    pub days: Vec<Date>,
    /// The days excused, in order; never why: that may be health data.
    pub excused: Vec<Date>,
}

/// A month of a gym.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Attendance {
    /// Which month.
    pub month: CalendarMonth,
    /// Everybody who came, and everybody active who did not, by name.
    pub people: Vec<Person>,
}

impl Attendance {
    /// How many people came on each day of the month.
    #[must_use]
    pub fn by_day(&self) -> BTreeMap<Date, usize> {
        let mut count: BTreeMap<Date, usize> = self.month.days().map(|day| (day, 0)).collect();
        for day in self.people.iter().flat_map(|person| &person.days) {
            *count.entry(*day).or_default() += 1;
        }
        count
    }

    /// Visits in the month: a person on a day counts once.
    #[must_use]
    pub fn visits(&self) -> usize {
        self.people.iter().map(|person| person.days.len()).sum()
    }
}

#[derive(FromRow)]
struct Row {
    athlete_id: Uuid,
    handle: String,
    name: String,
    days: Vec<Date>,
    excused: Vec<Date>,
}

/// The month of the whole gym, or of one coach's roster.
///
/// # Errors
/// [`StoreError::Db`] if the database fails.
pub async fn month(
    tx: &mut GymTx,
    month: CalendarMonth,
    roster_of: Option<AccountId>,
) -> Result<Attendance, StoreError> {
    let gym = tx.gym().0;
    let rows: Vec<Row> = sqlx::query_as(
        "select a.athlete_id, a.handle, a.name,
                coalesce(came.days, '{}') as days,
                array(
                    select distinct day::date from (
                        select e.first_day, e.last_day from excused e
                        where e.gym_id = $1 and e.athlete_id = a.athlete_id
                            and e.taken_back_at is null
                        union all
                        select a.status_since, $3 where a.status = 'paused'
                    ) away
                    cross join lateral generate_series(
                        greatest(away.first_day, $2)::timestamp, least(away.last_day, $3)::timestamp,
                        interval '1 day'
                    ) as day
                    order by 1
                ) as excused
         from athletes a
         left join lateral (
             select array_agg(distinct s.on_date order by s.on_date) as days
             from logged_sessions s
             where s.gym_id = $1 and s.athlete_id = a.athlete_id
                 and s.on_date between $2 and $3 and not s.withdrawn
                 and not exists (
                     select from logged_sessions later
                     where later.gym_id = $1 and later.replaces = s.revision_id
                 )
         ) came on true
         where a.gym_id = $1
             and (a.status = 'active' and a.started_on <= $3 or came.days is not null)
             and ($4::uuid is null or exists (
                 select from rosters r
                 where r.gym_id = $1 and r.coach_id = $4 and r.athlete_id = a.athlete_id
             ))
         order by a.name, a.handle",
    )
    .bind(gym)
    .bind(month.first())
    .bind(month.last())
    .bind(roster_of.map(|coach| coach.0))
    .fetch_all(tx.conn())
    .await?;
    let people = rows
        .into_iter()
        .map(|row| Person {
            athlete: AthleteId(row.athlete_id),
            handle: row.handle,
            name: row.name,
            days: row.days,
            excused: row.excused,
        })
        .collect();
    Ok(Attendance { month, people })
}

#[cfg(test)]
mod tests {
    use time::macros::date;

    use super::*;

    // ISO 8601 for the form; month lengths are those of the Gregorian calendar.
    #[test]
    fn months_read_and_print() {
        for text in ["2026-11", "2024-02", "1950-01", "2199-12"] {
            assert_eq!(text.parse::<CalendarMonth>().unwrap().to_string(), text);
        }
        for text in [
            "",
            "2026",
            "2026-13",
            "2026-00",
            "26-11",
            "2026-1",
            "+026-11",
            "2026-11-01",
            "2200-01",
            "1949-12",
            "２026-11",
        ] {
            assert_eq!(text.parse::<CalendarMonth>(), Err(MonthError), "{text}");
        }
    }

    #[test]
    fn a_month_knows_its_days_and_neighbours() {
        let february: CalendarMonth = "2024-02".parse().unwrap();
        assert_eq!(february.last(), date!(2024 - 02 - 29));
        assert_eq!(february.days().count(), 29);
        assert_eq!(february.before().to_string(), "2024-01");
        assert_eq!(february.after().to_string(), "2024-03");
        let december: CalendarMonth = "2026-12".parse().unwrap();
        assert_eq!(december.after().to_string(), "2027-01");
    }
}
