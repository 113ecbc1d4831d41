//! Broken UTF-8 in each field that a person types into, in every kind of form: refused at its field,
//! with everything else still there as typed and nothing written.

use leverbook_local_postgres::Role as DatabaseRole;
use leverbook_store::people::Role;
use leverbook_tests::{Answer, PASSWORD, new_id};
use uuid::Uuid;

use crate::routes::{Caller, House, all_that_is_stored};

/// A form filled in soundly. `typed` are the fields that a person types into, `around` those that
/// are chosen or come with the page; an example of the house stands in braces.
struct Filled {
    who: Role,
    path: &'static str,
    around: &'static [(&'static str, &'static str)],
    typed: &'static [(&'static str, &'static str)],
}

const FORMS: [Filled; 39] = [
    Filled {
        who: Role::Coach,
        path: "/g/{gym}/athletes/{athlete}/notes",
        around: &[("id", "{new}"), ("about", "flag:{flag}")],
        typed: &[("words", "Even the sides out.")],
    },
    Filled {
        who: Role::Athlete,
        path: "/g/{gym}/mine/notes",
        around: &[("id", "{new}"), ("about", "session:{session}")],
        typed: &[("words", "The last set was rushed.")],
    },
    Filled {
        who: Role::Coach,
        path: "/g/{gym}/assign",
        around: &[
            ("athlete", "{athlete}"),
            ("movement", "{movement}"),
            ("club", "{loading}"),
            ("hands", "two"),
            ("weekday", "2"),
            ("weekday", "5"),
        ],
        typed: &[
            ("interval_sets", "5"),
            ("interval_seconds", "30"),
            ("interval_rest", "60"),
            ("interval_goal", "24"),
            ("starts_on", "2026-12-01"),
            ("weeks", "4"),
            ("note", "Count out loud."),
        ],
    },
    Filled {
        who: Role::Coach,
        path: "/g/{gym}/assign",
        around: &[
            ("athlete", "{athlete}"),
            ("movement", "{movement}"),
            ("club", "{loading}"),
            ("hands", "one"),
            ("weekday", "2"),
        ],
        typed: &[
            ("ladder_reps", "5"),
            ("ladder_start", "5"),
            ("ladder_add", "1"),
            ("ladder_target", "10"),
            ("ladder_rest", "60"),
            ("starts_on", "2026-12-01"),
            ("weeks", "4"),
            ("note", ""),
        ],
    },
    Filled {
        who: Role::Coach,
        path: "/g/{gym}/assign",
        around: &[
            ("athlete", "{athlete}"),
            ("movement", "{movement}"),
            ("club", "{loading}"),
            ("hands", "fingertip"),
            ("weekday", "2"),
        ],
        typed: &[
            ("fingertip_sets", "5"),
            ("fingertip_reps", "5"),
            ("fingertip_rest", "60"),
            ("starts_on", "2026-12-01"),
            ("weeks", "4"),
        ],
    },
    Filled {
        who: Role::Coach,
        path: "/g/{gym}/assign",
        around: &[
            ("athlete", "{athlete}"),
            ("movement", "{movement}"),
            ("by", "same"),
            ("club", "{loading}"),
            ("hands", "two"),
            ("weekday", "2"),
            ("starts_on", "2026-12-01"),
            ("weeks", "4"),
            ("interval_sets", "5"),
            ("interval_seconds", "30"),
            ("interval_rest", "60"),
            ("interval_goal", "24"),
        ],
        typed: &[
            ("sets-{athlete}", "6"),
            ("first-{athlete}", "3"),
            ("goal-{athlete}", "28"),
        ],
    },
    Filled {
        who: Role::Coach,
        path: "/g/{gym}/block-templates",
        around: &[
            ("movement", "{movement}"),
            ("by", "own"),
            ("hands", "one"),
            ("weekday", "2"),
        ],
        typed: &[
            ("template_name", "Autumn ladder"),
            ("ladder_reps", "5"),
            ("ladder_start", "5"),
            ("ladder_add", "1"),
            ("ladder_target", "10"),
            ("ladder_rest", "60"),
            ("weeks", "4"),
            ("note", "Breathe."),
        ],
    },
    Filled {
        who: Role::Coach,
        path: "/g/{gym}/block-templates/{template}",
        around: &[
            ("after", "1"),
            ("movement", "{movement}"),
            ("by", "same"),
            ("hands", "two"),
            ("weekday", "2"),
        ],
        typed: &[
            ("template_name", "Autumn"),
            ("interval_sets", "5"),
            ("interval_seconds", "30"),
            ("interval_rest", "60"),
            ("interval_goal", "24"),
            ("weeks", "4"),
            ("note", "Breathe."),
        ],
    },
    Filled {
        who: Role::Coach,
        path: "/g/{gym}/blocks/{block}/template",
        around: &[],
        typed: &[("template_name", "Autumn")],
    },
    Filled {
        who: Role::Coach,
        path: "/g/{gym}/planned/{planned}",
        around: &[("revision", "1"), ("what", "edit"), ("club", "{loading}")],
        typed: &[
            ("sets", "3"),
            ("note", "Quiet elbows."),
            ("reason", "Less time."),
        ],
    },
    Filled {
        who: Role::Coach,
        path: "/g/{gym}/planned/{planned}",
        around: &[("revision", "1"), ("what", "move")],
        typed: &[("on", "2026-12-01"), ("reason", "Away that day.")],
    },
    Filled {
        who: Role::Coach,
        path: "/g/{gym}/planned/{planned}/move",
        around: &[("revision", "1")],
        typed: &[("on", "2026-12-01"), ("reason", "Away that day.")],
    },
    Filled {
        who: Role::Coach,
        path: "/g/{gym}/away",
        around: &[
            ("athlete", "{athlete}"),
            ("kind", "travel"),
            ("afterwards", "move-on"),
        ],
        typed: &[
            ("first_day", "2026-12-01"),
            ("last_day", "2026-12-03"),
            ("week", ""),
            ("reason", "A wedding."),
        ],
    },
    Filled {
        who: Role::Coach,
        path: "/g/{gym}/athletes/{athlete}/back",
        around: &[("afterwards", "move-on")],
        typed: &[("on", "2026-12-01"), ("reason", "Rested.")],
    },
    Filled {
        who: Role::Coach,
        path: "/g/{gym}/blocks/{block}/end",
        around: &[],
        typed: &[("last_day", "2026-12-01"), ("reason", "A new hall.")],
    },
    Filled {
        who: Role::Coach,
        path: "/g/{gym}/review/{athlete}",
        around: &[
            ("week", "2026-W48"),
            ("decision", "{new}"),
            ("verdict", "change"),
            ("step", "step_back"),
            ("club", ""),
        ],
        typed: &[
            ("reason", "Flat for weeks."),
            ("note", "Two lighter weeks."),
        ],
    },
    Filled {
        who: Role::Coach,
        path: "/g/{gym}/athletes/{athlete}/flags/{flag}",
        around: &[("decision", "{new}"), ("verdict", "quiet")],
        typed: &[("reason", "Seen it."), ("until", "2026-12-01")],
    },
    Filled {
        who: Role::Coach,
        path: "/g/{gym}/athletes/{athlete}/open-early",
        around: &[("opening", "{new}"), ("movement", "{movement}")],
        typed: &[("reason", "Ten years elsewhere.")],
    },
    Filled {
        who: Role::Coach,
        path: "/g/{gym}/athletes/new",
        around: &[("coach", "{coach}")],
        typed: &[
            ("name", "Ida Marsh"),
            ("started_on", "2026-11-02"),
            ("notes", "Left-handed."),
        ],
    },
    Filled {
        who: Role::Coach,
        path: "/g/{gym}/athletes/{athlete}/edit",
        around: &[("coach", "{coach}"), ("status", "active")],
        typed: &[
            ("name", "Ida Marsh"),
            ("started_on", "2026-11-02"),
            ("status_since", "2026-11-03"),
            ("notes", "Left-handed."),
        ],
    },
    Filled {
        who: Role::Coach,
        path: "/g/{gym}/athletes/{athlete}/excused",
        around: &[("kind", "travel")],
        typed: &[
            ("first_day", "2026-12-01"),
            ("last_day", "2026-12-03"),
            ("reason", "A wedding."),
        ],
    },
    Filled {
        who: Role::Coach,
        path: "/g/{gym}/classes/new",
        around: &[
            ("class", "{new}"),
            ("day", "4"),
            ("taken_by", "{coach}"),
            ("member", "{athlete}"),
        ],
        typed: &[
            ("name", "Early class"),
            ("starts_at", "07:15"),
            ("minutes", "45"),
            ("at_once", "5"),
        ],
    },
    Filled {
        who: Role::Owner,
        path: "/g/{gym}/classes/{class}/edit",
        around: &[("day", "4"), ("taken_by", "{coach}")],
        typed: &[
            ("name", "Early class"),
            ("starts_at", "07:15"),
            ("minutes", "45"),
            ("at_once", "5"),
        ],
    },
    Filled {
        who: Role::Coach,
        path: "/g/{gym}/classes/{class}/plan",
        around: &[
            ("on", "2026-11-25"),
            ("revision", "0"),
            ("here", "{athlete}"),
        ],
        typed: &[("at_once", "5")],
    },
    Filled {
        who: Role::Coach,
        path: "/g/{gym}/movements/new",
        around: &[],
        typed: &[
            ("name", "Front swing"),
            ("cues", "Hips first."),
            ("faults", "A bent back."),
        ],
    },
    Filled {
        who: Role::Owner,
        path: "/g/{gym}/movements/{movement}/edit",
        around: &[],
        typed: &[
            ("name", "Front swing"),
            ("cues", "Hips first."),
            ("faults", "A bent back."),
        ],
    },
    Filled {
        who: Role::Coach,
        path: "/g/{gym}/rack/clubs/new",
        around: &[("how", "measured"), ("loadable", "yes")],
        typed: &[
            ("name", "Iron 12"),
            ("count", "2"),
            ("loading_name", "Iron 12 bare"),
            ("mass", "12"),
            ("length", "800"),
            ("balance", "500"),
            ("grip", "60"),
        ],
    },
    Filled {
        who: Role::Coach,
        path: "/g/{gym}/rack/clubs/{club}/inspections",
        around: &[("inspection", "{new}"), ("found", "in_order")],
        typed: &[
            ("inspected_on", "2026-11-24"),
            ("note", "Collar of the long sleeve worn."),
            ("next_in_days", "14"),
        ],
    },
    Filled {
        who: Role::Owner,
        path: "/g/{gym}/rack/clubs/{club}/use",
        around: &[
            ("change", "{new}"),
            ("what", "club"),
            ("turn", "out"),
            ("why", "lent"),
        ],
        typed: &[("from", "2026-12-01"), ("note", "At the fair.")],
    },
    Filled {
        who: Role::Owner,
        path: "/g/{gym}/rack/clubs/{club}/edit",
        around: &[],
        typed: &[("name", "Iron 12"), ("count", "2")],
    },
    Filled {
        who: Role::Coach,
        path: "/g/{gym}/rack/clubs/{club}/loadings/new",
        around: &[("how", "measured")],
        typed: &[
            ("loading_name", "Oak 6 + 1"),
            ("mass", "7"),
            ("length", "700"),
        ],
    },
    Filled {
        who: Role::Owner,
        path: "/g/{gym}/policy",
        around: &[("after", "0"), ("act", "save")],
        typed: &[
            ("step_percent_min", "2"),
            ("settled_sessions", "4"),
            ("left_after_days", "28"),
            ("interval_seconds", "30"),
            ("goal_over_start", "1.2"),
            ("goal_start_sessions", "3"),
            ("earned_in_a_row", "2"),
            ("earned_effort_at_most", "7"),
            ("earned_pain_at_most", "2"),
            ("opening_clubs", "3"),
            ("opening_months", "12"),
            ("opening_sessions_per_week", "2"),
            ("fingertip_sessions", "4"),
            ("ladder_reps_min", "3"),
            ("ladder_reps_max", "5"),
            ("ladder_start_sets", "5"),
            ("ladder_added_sets_max", "2"),
            ("ladder_targets[0]", "10"),
            ("ladder_targets[1]", "20"),
            ("no_add_effort", "9"),
            ("no_add_pain", "3"),
            ("hold_every_weeks", "4"),
            ("light_week_share", "0.6"),
            ("symmetry_percent", "10"),
            ("symmetry_days", "28"),
            ("symmetry_sessions", "2"),
            ("step_percent", "25"),
            ("assumed_rest_seconds", "60"),
            ("assumed_rep_seconds", "3"),
            ("load_spike_ratio", "1.5"),
            ("load_mean_weeks", "4"),
            ("load_weeks_before", "3"),
            ("effort_climbing", "9"),
            ("pain_stop", "4"),
            ("pain_in_a_row", "2"),
            ("pain_free_sessions", "2"),
            ("sessions_per_week", "2"),
            ("gap_days", "14"),
            ("return_share", "0.6"),
            ("gap_lighter_days", "28"),
            ("reason", "Smaller steps."),
        ],
    },
    Filled {
        who: Role::Coach,
        path: "/g/{gym}/policy/file",
        around: &[],
        typed: &[("reason", "From a friend.")],
    },
    Filled {
        who: Role::Coach,
        path: "/g/{gym}/athletes/{athlete}/exceptions",
        around: &[
            ("after", "0"),
            ("act", "save"),
            ("what", "set"),
            ("threshold", "step_percent"),
        ],
        typed: &[("value", "15"), ("reason", "A sore wrist.")],
    },
    Filled {
        who: Role::Coach,
        path: "/account",
        around: &[("units", "kilogram")],
        typed: &[("name", "Tove Lindgren")],
    },
    Filled {
        who: Role::Owner,
        path: "/g/{gym}/gym",
        around: &[],
        typed: &[("name", "Quarry Lane"), ("zone", "Europe/Dublin")],
    },
    Filled {
        who: Role::Owner,
        path: "/g/{gym}/people/invite",
        around: &[],
        typed: &[("role", "athlete"), ("athlete", "new")],
    },
    Filled {
        who: Role::Athlete,
        path: "/g/{gym}/calendar/time",
        around: &[],
        typed: &[("starts_at", "18:30")],
    },
    Filled {
        who: Role::Athlete,
        path: "/account",
        around: &[],
        typed: &[("name", "Ansel"), ("units", "pound")],
    },
];

/// A field's tag on the page, and what follows it.
fn tag_of<'a>(page: &'a Answer, field: &str) -> Option<(&'a str, &'a str)> {
    let at = page.body.find(&format!(" name=\"{field}\""))?;
    let (before, after) = page.body.split_at(at);
    let (rest, following) = after.split_once('>')?;
    let start = before.rfind('<')?;
    Some((&page.body[start..at + rest.len()], following))
}

/// What stands in a field that is typed into; `None` where there is nothing to see of it.
fn stands_in(page: &Answer, field: &str) -> Option<String> {
    let (tag, following) = tag_of(page, field)?;
    if tag.starts_with("<textarea") {
        let text = following.split_once("</textarea>")?.0;
        // HTML drops the first line break of a text area.
        return Some(text.strip_prefix('\n').unwrap_or(text).to_owned());
    }
    page.field(field)
}

/// The sentence that stands at a field as its error, by the way a screen reader goes: from the
/// field, or the group that it is in, to the element that describes it.
fn sentence_at(page: &Answer, field: &str) -> Option<String> {
    let described = |tag: &str| {
        let ids = tag.split_once("aria-describedby=\"")?.1.split_once('"')?.0;
        ids.split(' ')
            .find(|id| id.ends_with("-error"))
            .map(str::to_owned)
    };
    let (tag, _) = tag_of(page, field)?;
    let id = described(tag).or_else(|| {
        let group = page
            .body
            .split_once(&format!("<fieldset class=\"field\" id=\"{field}\""))?
            .1;
        described(group.split_once('>')?.0)
    })?;
    let said = page.body.split_once(&format!("id=\"{id}\">"))?.1;
    Some(said.split_once('<')?.0.to_owned())
}

#[tokio::test]
async fn broken_text_is_refused_at_its_field_in_every_form() {
    let mut house = House::new().await;
    let coach = house.gym.coach.id.to_string();
    house.examples.insert("coach", coach);
    house.examples.insert("new", new_id::<Uuid>().to_string());
    let mut admin = house.gym.database.connect(DatabaseRole::Admin).await;
    let mut wrong = Vec::new();
    for form in &FORMS {
        let address = house.filled(form.path);
        let mut actor = house.actor(Caller::Member(form.who)).await;
        let stored = all_that_is_stored(&mut admin).await;
        let fields = |fields: &[(&str, &str)]| -> Vec<(String, String)> {
            let field = |(name, value): &(&str, &str)| (house.filled(name), house.filled(value));
            fields.iter().map(field).collect()
        };
        let (around, typed) = (fields(form.around), fields(form.typed));
        for (broken, _) in &typed {
            let mut body = format!("csrf={}", actor.csrf());
            for (name, value) in around.iter().chain(&typed) {
                let value: String = form_urlencoded::byte_serialize(value.as_bytes()).collect();
                let end = if name == broken { "%FF" } else { "" };
                body.push_str(&format!("&{name}={value}{end}"));
            }
            let kind = [("content-type", "application/x-www-form-urlencoded")];
            let page = actor.send("POST", &address, &kind, body.as_bytes());
            let at = format!("{} {broken}", form.path);
            let said = sentence_at(&page, broken);
            let refused = "has characters that could not be read: type it again";
            if page.status != 422 || said.as_deref() != Some(refused) {
                wrong.push(format!("{at}: {} and {said:?}", page.status));
            }
            for (name, value) in typed.iter().filter(|(name, _)| name != broken) {
                let stands = stands_in(&page, name);
                let chosen = format!("value=\"{value}\"");
                let kept = stands.as_ref() == Some(value)
                    || page.body.contains(&format!("{chosen} selected"))
                    || page.body.contains(&format!("{chosen} checked"));
                if !kept {
                    wrong.push(format!("{at}: {name} became {stands:?}"));
                }
            }
            if all_that_is_stored(&mut admin).await != stored {
                wrong.push(format!("{at} wrote something"));
            }
        }
    }
    assert!(wrong.is_empty(), "\n{}", wrong.join("\n"));
}

/// What cannot be read would be another text than the one that was typed: no password.
#[tokio::test]
async fn a_password_that_cannot_be_read_is_refused() {
    let house = House::new().await;
    let mut admin = house.gym.database.connect(DatabaseRole::Admin).await;
    let mut coach = house.gym.coach().await;
    let mut newcomer = house.gym.anon();
    let invitation = house.filled("/invitation/{gym}/{token}");
    newcomer.get(&invitation).expect(200);
    let stored = all_that_is_stored(&mut admin).await;
    let good = "granite+lantern+otter";
    let change = format!("password_now={}", PASSWORD.replace(' ', "+"));
    let join = "with=new&name=Ida+Marsh&email=ida%40quarry.example";
    for (actor, path, others, field) in [
        (
            &mut coach,
            "/account/password",
            change.as_str(),
            "password_new",
        ),
        (&mut newcomer, invitation.as_str(), join, "password"),
    ] {
        let body = format!("csrf={}&{others}&{field}={good}%FF", actor.csrf());
        let kind = [("content-type", "application/x-www-form-urlencoded")];
        let page = actor.send("POST", path, &kind, body.as_bytes()).expect(422);
        let said = sentence_at(&page, field).expect("a sentence at the field");
        assert!(said.contains("could not be read"), "{path}: {said}");
        assert_eq!(page.field(field).as_deref(), Some(""), "{path}");
    }
    assert_eq!(all_that_is_stored(&mut admin).await, stored);
}
