//! The days of the week a block trains on.

use time::{Date, Weekday};

/// Some of the seven days of the ISO week, at least one, each at most once, Monday first.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Weekdays(u8);

/// Why a choice of weekdays was refused.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum WeekdaysError {
    /// No day at all.
    #[error("choose at least one weekday")]
    None,
    /// A number that is no ISO weekday.
    #[error("a weekday is a number from 1 (Monday) to 7 (Sunday)")]
    Unknown,
    /// The same day twice.
    #[error("each weekday can be chosen once")]
    Twice,
}

impl Weekdays {
    /// Takes ISO weekday numbers, 1 = Monday to 7 = Sunday, in any order.
    ///
    /// # Errors
    /// [`WeekdaysError`] for no day, a number outside 1 to 7, or a day twice.
    pub fn from_iso(numbers: impl IntoIterator<Item = i64>) -> Result<Self, WeekdaysError> {
        let mut days = 0u8;
        for number in numbers {
            if !(1..=7).contains(&number) {
                return Err(WeekdaysError::Unknown);
            }
            let day = 1 << (number - 1);
            if days & day != 0 {
                return Err(WeekdaysError::Twice);
            }
            days |= day;
        }
        if days == 0 {
            return Err(WeekdaysError::None);
        }
        Ok(Self(days))
    }

    /// Whether this day of the week is one of them.
    pub const fn contains(self, day: Weekday) -> bool {
        self.0 & (1 << day.number_days_from_monday()) != 0
    }

    /// ISO numbers, rising.
    pub fn iso(self) -> impl Iterator<Item = u8> {
        (1..=7).filter(move |number| self.0 & (1 << (number - 1)) != 0)
    }

    /// How many there are: sessions in a full week.
    pub const fn per_week(self) -> u32 {
        self.0.count_ones()
    }

    /// The first of these days on or after a date.
    pub fn first_from(self, from: Date) -> Date {
        let mut day = from;
        while !self.contains(day.weekday()) {
            match day.next_day() {
                Some(next) => day = next,
                None => break,
            }
        }
        day
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use time::macros::date;

    #[test]
    fn a_choice_of_weekdays_is_some_distinct_iso_days() {
        let read = |numbers: &[i64]| Weekdays::from_iso(numbers.iter().copied());
        let days = read(&[4, 1]).unwrap();
        assert_eq!(days.iso().collect::<Vec<_>>(), [1, 4]);
        assert_eq!(days.per_week(), 2);
        assert_eq!(read(&[]), Err(WeekdaysError::None));
        assert_eq!(read(&[0]), Err(WeekdaysError::Unknown));
        assert_eq!(read(&[8]), Err(WeekdaysError::Unknown));
        assert_eq!(read(&[-1]), Err(WeekdaysError::Unknown));
        assert_eq!(read(&[2, 2]), Err(WeekdaysError::Twice));
    }

    /// ISO 8601: Monday is day 1, Sunday day 7. 2026-01-01 was a Thursday (any calendar).
    #[test]
    fn the_first_day_is_found_across_a_month_end() {
        let sundays = Weekdays::from_iso([7]).unwrap();
        assert_eq!(
            sundays.first_from(date!(2026 - 01 - 01)),
            date!(2026 - 01 - 04)
        );
        let thursdays = Weekdays::from_iso([4]).unwrap();
        assert_eq!(
            thursdays.first_from(date!(2026 - 01 - 01)),
            date!(2026 - 01 - 01)
        );
        assert_eq!(
            thursdays.first_from(date!(2026 - 01 - 30)),
            date!(2026 - 02 - 05)
        );
    }
}
