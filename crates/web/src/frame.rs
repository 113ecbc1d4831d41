//! What is around every page: title, the rooms of the gym, who is signed in, a line of notice.

use leverbook_domain::id::{AccountId, GymId};
use leverbook_store::notes::Unread;
use leverbook_store::people::{Role, Roles};

use crate::assets;
use crate::parts::Room;

/// Where in the house a page is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Nav {
    /// The coach's week.
    Review,
    /// Everybody the coach looks after.
    Roster,
    /// A block for one athlete or many.
    Assign,
    /// Who trains together, and the class plan.
    Classes,
    /// What a coach and the athletes of their roster write to each other.
    Notes,
    /// What an athlete and their coaches write to each other.
    MyNotes,
    /// Clubs.
    Rack,
    /// Movements.
    Movements,
    /// Import and export.
    Files,
    /// The athlete's day.
    Today,
    /// The athlete's planned sessions.
    Plan,
    /// What an athlete’s phone holds; no room of the gym.
    Phone,
    /// The athlete's history.
    Mine,
    /// Who came.
    Attendance,
    /// Who has which role.
    People,
    /// The gym's name and zone.
    Gym,
    /// Every rule, explained.
    Rules,
    /// One's own account.
    Account,
    /// Before signing in, and between gyms.
    Nowhere,
}

impl Nav {
    /// Whether the room is one that coaches or owners work in, and not carried by a phone.
    const fn is_desk(self) -> bool {
        match self {
            Self::Review
            | Self::Roster
            | Self::Assign
            | Self::Classes
            | Self::Notes
            | Self::Rack
            | Self::Movements
            | Self::Files
            | Self::Attendance
            | Self::People
            | Self::Gym
            | Self::Rules => true,
            Self::Today
            | Self::Plan
            | Self::Phone
            | Self::Mine
            | Self::MyNotes
            | Self::Account
            | Self::Nowhere => false,
        }
    }
}

/// The rooms of a gym: where, its word, and who may enter.
const ROOMS: [(Nav, &str, &str, &[Role]); 16] = [
    (Nav::Review, "review", "Week", &[Role::Coach]),
    (Nav::Roster, "roster", "Roster", &[Role::Coach]),
    (Nav::Assign, "assign", "Assign", &[Role::Coach]),
    (Nav::Notes, "notes", "Notes", &[Role::Coach]),
    (
        Nav::Classes,
        "classes",
        "Classes",
        &[Role::Coach, Role::Owner],
    ),
    (Nav::Today, "today", "Today", &[Role::Athlete]),
    (Nav::Plan, "plan", "Plan", &[Role::Athlete]),
    (Nav::Mine, "mine", "My training", &[Role::Athlete]),
    (Nav::MyNotes, "mine/notes", "My notes", &[Role::Athlete]),
    (Nav::Rack, "rack", "Rack", &Role::ALL),
    (
        Nav::Movements,
        "movements",
        "Movements",
        &[Role::Coach, Role::Owner],
    ),
    (Nav::Files, "files", "Files", &[Role::Coach]),
    (
        Nav::Attendance,
        "attendance",
        "Attendance",
        &[Role::Coach, Role::Owner],
    ),
    (Nav::People, "people", "People", &[Role::Owner]),
    (Nav::Gym, "gym", "Gym", &[Role::Owner]),
    (Nav::Rules, "rules", "Rules", &Role::ALL),
];

/// The gym that a page is in.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct InGym {
    /// Its name.
    pub name: String,
    /// The address of its first page.
    pub href: String,
}

/// Whose training a phone carries.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Phone {
    /// Whose.
    pub account: AccountId,
    /// In which gym.
    pub gym: GymId,
}

/// What every page struct has in its field `frame`.
#[derive(Debug, Clone)]
pub struct Frame {
    /// The page's title.
    pub title: String,
    /// Where the page is.
    pub nav: Nav,
    /// The token that every form on the page carries.
    pub csrf: String,
    /// The gym, inside one.
    pub gym: Option<InGym>,
    /// The rooms of the gym that this person may enter.
    pub rooms: Vec<Room>,
    /// Who is signed in.
    pub person: Option<String>,
    /// On the pages of somebody who trains here: their phone carries the plan and the log.
    pub phone: Option<Phone>,
    /// What was just done.
    pub notice: Option<&'static str>,
}

impl Frame {
    /// The address of a file of `static/`, such as `css/page.css`.
    #[must_use]
    pub fn asset(&self, file: &str) -> String {
        assets::address(file)
    }

    /// The sheets of every page, and of the desk's besides; a page adds those of its own.
    #[must_use]
    pub fn sheets(&self) -> Vec<&'static str> {
        let mut sheets = vec![
            "css/tokens.css",
            "css/page.css",
            "css/parts.css",
            "css/charts.css",
        ];
        if self.nav.is_desk() {
            sheets.push("css/desk.css");
        }
        if self.phone.is_some() || self.gym.is_none() {
            sheets.push("css/phone.css");
        }
        sheets
    }

    /// An address inside the gym: `frame.to("roster")`.
    #[must_use]
    pub fn to(&self, room: &str) -> String {
        self.gym
            .as_ref()
            .map_or_else(|| "/".to_owned(), |gym| format!("{}/{room}", gym.href))
    }

    /// So many of what waited in a room are on the page itself.
    pub(crate) fn has_opened(&mut self, nav: Nav, many: i64) {
        let word = ROOMS.iter().find(|(room, ..)| *room == nav);
        for room in &mut self.rooms {
            if word.is_some_and(|(_, _, word, _)| *word == room.word) {
                room.new = (room.new - many).max(0);
            }
        }
    }

    pub(crate) fn in_gym(
        mut self,
        gym: GymId,
        name: &str,
        roles: Roles,
        unread: Unread,
        account: Option<AccountId>,
    ) -> Self {
        let home = format!("/g/{gym}");
        self.phone = account
            .filter(|_| roles.any(&[Role::Athlete]))
            .map(|account| Phone { account, gym });
        self.rooms = ROOMS
            .iter()
            .filter(|(_, _, _, who)| roles.any(who))
            .map(|(nav, path, word, _)| Room {
                href: format!("{home}/{path}"),
                word,
                here: *nav == self.nav,
                new: match nav {
                    Nav::Notes => unread.as_coach,
                    Nav::MyNotes => unread.as_athlete,
                    _ => 0,
                },
            })
            .collect();
        self.gym = Some(InGym {
            name: name.to_owned(),
            href: home,
        });
        self
    }
}

/// The sentence for `?done=key`, after a form was taken.
pub(crate) fn notice(key: &str) -> Option<&'static str> {
    Some(match key {
        "saved" => "Saved.",
        "week-mail-asked" => "You get the mail on Monday mornings.",
        "week-mail-stopped" => "The mail is stopped.",
        "note-written" => "The note is written.",
        "assigned" => "Assigned. It is on the athletes’ pages now.",
        "ended" => "The block is ended.",
        "class-planned" => "The plan is made.",
        "class-retired" => "Taken out of the week. Its plans are kept.",
        "changed" => "Changed. The athlete sees it from now on.",
        "moved" => "Moved. The athlete sees it from now on.",
        "changed-around" => "Changed. Those days do not count as missed.",
        "back" => "They are back. The athlete sees the plan from now on.",
        "change-taken-back" => "Taken back. Everything stands as before.",
        "opened" => "One-hand work is opened early. The reason stays in the history.",
        "decided" => "Decided.",
        "accepted-together" => "Accepted as proposed, all of them.",
        "together-taken-back" => "Taken back, all of them.",
        "week-closed" => "The week is closed.",
        "week-opened" => "The week is open again.",
        "logged" => "Logged.",
        "taken-back" => "Taken back. It no longer counts.",
        "flag-decided" => "Decided. It stands with the flag.",
        "signed-out" => "You are signed out.",
        "signed-out-everywhere" => "You are signed out everywhere.",
        "password-changed" => "Your password is changed, and every other browser is signed out.",
        "joined" => "Welcome. You have joined.",
        "role-given" => "The role is given.",
        "withdrawn" => "The invitation is withdrawn. Its link opens nothing any more.",
        "club-added" => "The club is in the rack.",
        "athlete-added" => "They are on the roster.",
        "taken-on" => "They are on your roster now.",
        "excused" => "Those days do not count as missed.",
        "excuse-taken-back" => "Taken back. Those days count again.",
        "retired" => "Taken out of use. Logs and plans still name it.",
        "inspected" => "Written down. The next inspection is counted from it.",
        "use-changed" => "Written down. From that day the plan and the rack go by it.",
        "club-retired" => "Retired: out of the rack for good. Logs and plans still name it.",
        "brought-back" => "Back in use.",
        "loading-replaced" => {
            "Kept as a new loading, because the old one is in a log or a plan and stays true there."
        }
        "calendar-time" => "Saved. Calendars show it when they next ask.",
        "calendar-revoked" => "Revoked. The link opens nothing any more.",
        "policy-changed" => "The policy is changed. Flags and next steps are worked out anew.",
        "exception-made" => "The exception is made. Their flags are worked out anew.",
        "exception-ended" => "The exception is ended. The gym’s number counts for them again.",
        "template-kept" => "Kept as a block template.",
        "template-changed" => {
            "Changed: the template has a new version. Blocks of the one before stay as they are."
        }
        "role-removed" => "The role is taken away.",
        _ => return None,
    })
}
