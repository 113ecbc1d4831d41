-- Classes: who trains together at an hour of the week, and who swung what, when, on each day.

create table classes (
    gym_id uuid not null references gyms,
    class_id uuid not null,
    name text not null constraint classes_name_length check (length(name) between 1 and 60),
    -- ISO weekday, 1 = Monday, and the time in the gym's zone.
    weekday smallint not null constraint classes_weekday_known check (weekday between 1 and 7),
    starts_at time not null,
    minutes smallint not null constraint classes_minutes_sane check (minutes between 10 and 300),
    -- How many the room lets swing at once, with clear space around each.
    at_once smallint not null constraint classes_at_once_sane check (at_once between 1 and 200),
    coach_id uuid,
    created_at timestamptz not null,
    retired_at timestamptz,
    primary key (gym_id, class_id),
    constraint classes_once unique (gym_id, name, weekday, starts_at),
    foreign key (gym_id, coach_id) references people (gym_id, person_id)
);
create index classes_by_coach on classes (gym_id, coach_id);

-- Who usually comes.
create table class_members (
    gym_id uuid not null,
    class_id uuid not null,
    athlete_id uuid not null,
    primary key (gym_id, class_id, athlete_id),
    foreign key (gym_id, class_id) references classes,
    foreign key (gym_id, athlete_id) references athletes
);
create index class_members_by_athlete on class_members (gym_id, athlete_id);

-- The plan of a class on a day: who was expected, with which clubs, and the rotations. A plan that is
-- made again is a new revision; the newest counts, and none is ever changed.
create table class_plans (
    gym_id uuid not null,
    class_id uuid not null,
    on_date date not null,
    revision integer not null constraint class_plans_from_one check (revision >= 1),
    at_once smallint not null constraint class_plans_at_once_sane check (at_once between 1 and 200),
    expected jsonb not null,
    plan jsonb not null,
    made_by uuid not null,
    made_at timestamptz not null,
    primary key (gym_id, class_id, on_date, revision),
    foreign key (gym_id, class_id) references classes
);

alter table classes enable row level security;
alter table classes force row level security;
create policy one_gym on classes
    using (gym_id = nullif(current_setting('app.gym_id', true), '')::uuid);
grant select, insert on classes to leverbook_server;
grant update (name, weekday, starts_at, minutes, at_once, coach_id, retired_at) on classes to leverbook_server;

alter table class_members enable row level security;
alter table class_members force row level security;
create policy one_gym on class_members
    using (gym_id = nullif(current_setting('app.gym_id', true), '')::uuid);
grant select, insert, delete on class_members to leverbook_server;

alter table class_plans enable row level security;
alter table class_plans force row level security;
create policy one_gym on class_plans
    using (gym_id = nullif(current_setting('app.gym_id', true), '')::uuid);
grant select, insert on class_plans to leverbook_server;
