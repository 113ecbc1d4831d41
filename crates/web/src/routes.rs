//! The one table of routes. Each states who may call it; a guard built from that statement stands
//! before the handler, and a test walks the table with every kind of caller.

use axum::handler::Handler;
use axum::http::Method;
use axum::routing::{self, MethodRouter};
use leverbook_store::people::Role;

use crate::coach::{athletes, movements, rack, roster};
use crate::{
    App, account, assets, athlete, coach, notes, owner, policy, rules, sample_parts, week_mail,
};

/// Who may call a route.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Who {
    /// Everybody.
    Anyone,
    /// Whoever is signed in.
    SignedIn,
    /// Whoever has one of these roles in the gym of the address. To all others it does not exist,
    /// but to people of the gym it says that it is not for their role.
    Gym(&'static [Role]),
}

/// Everybody of the gym.
const MEMBERS: Who = Who::Gym(&Role::ALL);
const ATHLETE: Who = Who::Gym(&[Role::Athlete]);
const COACH: Who = Who::Gym(&[Role::Coach]);
const OWNER: Who = Who::Gym(&[Role::Owner]);
/// Attendance: an owner reads the whole gym's, a coach that of their roster. Invitations: an owner
/// to every role, a coach to train. The rack and the movements: everybody reads, these two keep. The
/// classes: these two keep, and only the coach sees clubs and plans.
const COACH_OR_OWNER: Who = Who::Gym(&[Role::Coach, Role::Owner]);

/// A route.
pub struct Route {
    /// `GET` or `POST`.
    pub method: Method,
    /// Its path, with parameters in braces.
    pub path: &'static str,
    /// Who may call it.
    pub who: Who,
    /// The largest body it takes, where that is not the usual.
    pub body_bytes: Option<usize>,
    pub(crate) handler: MethodRouter<App>,
}

impl Route {
    /// Takes a body of so many bytes instead of the usual.
    #[must_use]
    pub fn taking(mut self, bytes: usize) -> Self {
        self.body_bytes = Some(bytes);
        self
    }
}

fn get<H, T>(path: &'static str, who: Who, handler: H) -> Route
where
    H: Handler<T, App>,
    T: 'static,
{
    Route {
        method: Method::GET,
        path,
        who,
        body_bytes: None,
        handler: routing::get(handler),
    }
}

fn post<H, T>(path: &'static str, who: Who, handler: H) -> Route
where
    H: Handler<T, App>,
    T: 'static,
{
    Route {
        method: Method::POST,
        path,
        who,
        body_bytes: None,
        handler: routing::post(handler),
    }
}

/// All routes.
#[must_use]
pub fn table() -> Vec<Route> {
    vec![
        // account
        get("/", Who::SignedIn, account::home::choose_gym),
        get("/sign-in", Who::Anyone, account::sign_in::show),
        post("/sign-in", Who::Anyone, account::sign_in::sign_in),
        post("/sign-out", Who::Anyone, account::sign_in::sign_out),
        get("/g/{gym}", MEMBERS, account::home::first_page),
        get("/account", Who::SignedIn, account::own::show),
        post("/account", Who::SignedIn, account::own::describe),
        post(
            "/account/password",
            Who::SignedIn,
            account::own::change_password,
        ),
        post(
            "/account/sign-out-everywhere",
            Who::SignedIn,
            account::own::sign_out_everywhere,
        ),
        get(
            "/invitation/{gym}/{token}",
            Who::Anyone,
            account::invitation::show,
        ),
        post(
            "/invitation/{gym}/{token}",
            Who::Anyone,
            account::invitation::take_up,
        ),
        get(
            "/week-mail/{gym}/{stop}",
            Who::Anyone,
            week_mail::pages::stopping,
        ),
        post(
            "/week-mail/{gym}/{stop}",
            Who::Anyone,
            week_mail::pages::stop,
        ),
        get("/service-worker.js", Who::Anyone, assets::service_worker),
        // everybody of the gym
        get("/g/{gym}/rules", MEMBERS, rules::show),
        // whoever changes a part
        get("/g/{gym}/parts", COACH_OR_OWNER, sample_parts::show),
        // policy
        get("/g/{gym}/policy", COACH_OR_OWNER, policy::show),
        post("/g/{gym}/policy", COACH_OR_OWNER, policy::change),
        get("/g/{gym}/policy/history", COACH_OR_OWNER, policy::history),
        get("/g/{gym}/policy/file", COACH_OR_OWNER, policy::file_form),
        post("/g/{gym}/policy/file", COACH_OR_OWNER, policy::take).taking(policy::UPLOAD_BYTES),
        get("/g/{gym}/policy.toml", COACH_OR_OWNER, policy::give),
        get(
            "/g/{gym}/athletes/{athlete}/exceptions",
            COACH,
            coach::exceptions::show,
        ),
        post(
            "/g/{gym}/athletes/{athlete}/exceptions",
            COACH,
            coach::exceptions::change,
        ),
        // athlete
        get("/g/{gym}/today", ATHLETE, athlete::today),
        get("/g/{gym}/plan", ATHLETE, athlete::plan),
        get("/g/{gym}/calendar", ATHLETE, athlete::calendar::show),
        post("/g/{gym}/calendar", ATHLETE, athlete::calendar::make),
        post(
            "/g/{gym}/calendar/time",
            ATHLETE,
            athlete::calendar::set_time,
        ),
        post(
            "/g/{gym}/calendar/revoke",
            ATHLETE,
            athlete::calendar::revoke,
        ),
        get(
            "/calendar/{gym}/{feed}/plan.ics",
            Who::Anyone,
            athlete::calendar_feed::give,
        ),
        get("/g/{gym}/mine", ATHLETE, athlete::mine),
        get("/g/{gym}/mine/notes", ATHLETE, notes::thread),
        post("/g/{gym}/mine/notes", ATHLETE, notes::write),
        // the athlete's phone
        get(
            "/g/{gym}/manifest.webmanifest",
            ATHLETE,
            athlete::phone::manifest,
        ),
        get("/g/{gym}/train", ATHLETE, athlete::phone::train),
        get("/g/{gym}/phone", ATHLETE, athlete::phone::show),
        get("/g/{gym}/carry", ATHLETE, athlete::carry::give),
        post("/g/{gym}/log/carried", ATHLETE, athlete::carried::take)
            .taking(athlete::carried::MOST_BYTES),
        get("/g/{gym}/log/new", ATHLETE, athlete::new),
        post("/g/{gym}/log/new", ATHLETE, athlete::send),
        get("/g/{gym}/log/{session}", ATHLETE, athlete::session),
        get("/g/{gym}/log/{session}/edit", ATHLETE, athlete::edit),
        post("/g/{gym}/log/{session}/edit", ATHLETE, athlete::change),
        post(
            "/g/{gym}/log/{session}/take-back",
            ATHLETE,
            athlete::take_back,
        ),
        get("/g/{gym}/athletes/{athlete}/log/new", COACH, athlete::new),
        post("/g/{gym}/athletes/{athlete}/log/new", COACH, athlete::send),
        get(
            "/g/{gym}/athletes/{athlete}/log/{session}",
            COACH,
            athlete::session,
        ),
        get(
            "/g/{gym}/athletes/{athlete}/log/{session}/edit",
            COACH,
            athlete::edit,
        ),
        post(
            "/g/{gym}/athletes/{athlete}/log/{session}/edit",
            COACH,
            athlete::change,
        ),
        post(
            "/g/{gym}/athletes/{athlete}/log/{session}/take-back",
            COACH,
            athlete::take_back,
        ),
        // coach
        get("/g/{gym}/assign", COACH, coach::assign::show),
        post("/g/{gym}/assign", COACH, coach::assign::submit),
        get(
            "/g/{gym}/block-templates",
            COACH,
            coach::block_templates::list,
        ),
        post(
            "/g/{gym}/block-templates",
            COACH,
            coach::block_templates::add,
        ),
        get(
            "/g/{gym}/block-templates/{template}",
            COACH,
            coach::block_templates::show,
        ),
        post(
            "/g/{gym}/block-templates/{template}",
            COACH,
            coach::block_templates::change,
        ),
        post(
            "/g/{gym}/block-templates/{template}/retire",
            COACH,
            coach::block_templates::retire,
        ),
        post(
            "/g/{gym}/blocks/{block}/template",
            COACH,
            coach::block_templates::add_from_block,
        ),
        get("/g/{gym}/blocks/{block}", COACH, coach::blocks::show),
        post("/g/{gym}/blocks/{block}/end", COACH, coach::blocks::end),
        get("/g/{gym}/planned/{planned}", COACH, coach::planned::show),
        post("/g/{gym}/planned/{planned}", COACH, coach::planned::change),
        post(
            "/g/{gym}/planned/{planned}/move",
            COACH,
            coach::moving::send,
        ),
        get("/g/{gym}/athletes/{athlete}/plan", COACH, coach::plan::show),
        get("/g/{gym}/away", COACH, coach::away::show),
        post("/g/{gym}/away", COACH, coach::away::send),
        get("/g/{gym}/athletes/{athlete}/back", COACH, coach::back::show),
        post("/g/{gym}/athletes/{athlete}/back", COACH, coach::back::send),
        get("/g/{gym}/changes/{act}", COACH, coach::changes::show),
        post(
            "/g/{gym}/changes/{act}/take-back",
            COACH,
            coach::changes::take_back,
        ),
        get(
            "/g/{gym}/athletes/{athlete}/open-early",
            COACH,
            coach::open_early::show,
        ),
        post(
            "/g/{gym}/athletes/{athlete}/open-early",
            COACH,
            coach::open_early::open,
        ),
        get("/g/{gym}/review", COACH, coach::review::show),
        post("/g/{gym}/review/close", COACH, coach::review::close),
        post("/g/{gym}/review/together", COACH, coach::review::together),
        post("/g/{gym}/review/{athlete}", COACH, coach::review::decide),
        get("/g/{gym}/athletes/{athlete}", COACH, coach::athlete::show),
        get(
            "/g/{gym}/athletes/{athlete}/flags/{flag}",
            COACH,
            coach::athlete::flags::show,
        ),
        post(
            "/g/{gym}/athletes/{athlete}/flags/{flag}",
            COACH,
            coach::athlete::flags::decide,
        ),
        get("/g/{gym}/files", COACH, coach::files::show),
        post("/g/{gym}/files", COACH, coach::files::take).taking(coach::files::UPLOAD_BYTES),
        get("/g/{gym}/files/{name}", COACH, coach::files::give),
        // roster
        get("/g/{gym}/roster", COACH, roster::show),
        get("/g/{gym}/athletes/new", COACH, athletes::add_form),
        post("/g/{gym}/athletes/new", COACH, athletes::add),
        get(
            "/g/{gym}/athletes/{athlete}/edit",
            COACH,
            athletes::change_form,
        ),
        post("/g/{gym}/athletes/{athlete}/edit", COACH, athletes::change),
        post(
            "/g/{gym}/athletes/{athlete}/take-on",
            COACH,
            roster::take_on,
        ),
        post(
            "/g/{gym}/athletes/{athlete}/excused",
            COACH,
            athletes::excuse,
        ),
        post(
            "/g/{gym}/athletes/{athlete}/excused/{excused}/take-back",
            COACH,
            athletes::take_back_excuse,
        ),
        // classes
        get("/g/{gym}/classes", COACH_OR_OWNER, coach::classes::show),
        get(
            "/g/{gym}/classes/new",
            COACH_OR_OWNER,
            coach::classes::add_form,
        ),
        post("/g/{gym}/classes/new", COACH_OR_OWNER, coach::classes::add),
        get(
            "/g/{gym}/classes/{class}/edit",
            COACH_OR_OWNER,
            coach::classes::change_form,
        ),
        post(
            "/g/{gym}/classes/{class}/edit",
            COACH_OR_OWNER,
            coach::classes::change,
        ),
        post(
            "/g/{gym}/classes/{class}/retire",
            COACH_OR_OWNER,
            coach::classes::retire,
        ),
        get(
            "/g/{gym}/classes/{class}/plan",
            COACH,
            coach::classes::show_plan,
        ),
        post("/g/{gym}/classes/{class}/plan", COACH, coach::classes::make),
        get("/g/{gym}/week-mail", COACH, week_mail::pages::show),
        post("/g/{gym}/week-mail", COACH, week_mail::pages::set),
        // notes
        get("/g/{gym}/notes", COACH, notes::people),
        get("/g/{gym}/athletes/{athlete}/notes", COACH, notes::thread),
        post("/g/{gym}/athletes/{athlete}/notes", COACH, notes::write),
        // rack
        get("/g/{gym}/rack", MEMBERS, rack::show),
        get("/g/{gym}/rack/clubs/new", COACH_OR_OWNER, rack::add_form),
        post("/g/{gym}/rack/clubs/new", COACH_OR_OWNER, rack::add),
        get("/g/{gym}/rack/clubs/{club}", MEMBERS, rack::show_club),
        get(
            "/g/{gym}/rack/clubs/{club}/edit",
            COACH_OR_OWNER,
            rack::change_form,
        ),
        post(
            "/g/{gym}/rack/clubs/{club}/edit",
            COACH_OR_OWNER,
            rack::change,
        ),
        post(
            "/g/{gym}/rack/clubs/{club}/retire",
            COACH_OR_OWNER,
            rack::retire,
        ),
        get(
            "/g/{gym}/rack/clubs/{club}/inspections",
            COACH_OR_OWNER,
            rack::inspect_form,
        ),
        post(
            "/g/{gym}/rack/clubs/{club}/inspections",
            COACH_OR_OWNER,
            rack::inspect,
        ),
        get(
            "/g/{gym}/rack/clubs/{club}/use",
            COACH_OR_OWNER,
            rack::change_use_form,
        ),
        post(
            "/g/{gym}/rack/clubs/{club}/use",
            COACH_OR_OWNER,
            rack::change_use,
        ),
        get(
            "/g/{gym}/rack/clubs/{club}/loadings/new",
            COACH_OR_OWNER,
            rack::add_loading_form,
        ),
        post(
            "/g/{gym}/rack/clubs/{club}/loadings/new",
            COACH_OR_OWNER,
            rack::add_loading,
        ),
        get(
            "/g/{gym}/rack/loadings/{loading}/edit",
            COACH_OR_OWNER,
            rack::remeasure_form,
        ),
        post(
            "/g/{gym}/rack/loadings/{loading}/edit",
            COACH_OR_OWNER,
            rack::remeasure,
        ),
        post(
            "/g/{gym}/rack/loadings/{loading}/retire",
            COACH_OR_OWNER,
            rack::retire_loading,
        ),
        get("/g/{gym}/movements", MEMBERS, movements::show),
        get(
            "/g/{gym}/movements/new",
            COACH_OR_OWNER,
            movements::add_form,
        ),
        post("/g/{gym}/movements/new", COACH_OR_OWNER, movements::add),
        get(
            "/g/{gym}/movements/{movement}/edit",
            COACH_OR_OWNER,
            movements::change_form,
        ),
        post(
            "/g/{gym}/movements/{movement}/edit",
            COACH_OR_OWNER,
            movements::change,
        ),
        post(
            "/g/{gym}/movements/{movement}/retire",
            COACH_OR_OWNER,
            movements::retire,
        ),
        // owner
        get(
            "/g/{gym}/attendance",
            COACH_OR_OWNER,
            owner::attendance::show,
        ),
        get(
            "/g/{gym}/attendance.csv",
            COACH_OR_OWNER,
            owner::attendance::csv,
        ),
        get("/g/{gym}/people", OWNER, owner::people::show),
        post(
            "/g/{gym}/people/{person}/give",
            OWNER,
            owner::people::give_role,
        ),
        post(
            "/g/{gym}/people/{person}/remove",
            OWNER,
            owner::people::remove_role,
        ),
        get(
            "/g/{gym}/people/invite",
            COACH_OR_OWNER,
            owner::invite::show,
        ),
        post(
            "/g/{gym}/people/invite",
            COACH_OR_OWNER,
            owner::invite::invite,
        ),
        post(
            "/g/{gym}/people/invitations/{invitation}/withdraw",
            COACH_OR_OWNER,
            owner::invite::withdraw,
        ),
        get("/g/{gym}/gym", OWNER, owner::gym::show),
        post("/g/{gym}/gym", OWNER, owner::gym::change),
    ]
}
