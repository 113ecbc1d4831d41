-- A gym, the people in it and what they may do there. From here on every table is a gym's own: its
-- key starts with gym_id and row security is forced, for the owner of the table too.

create table gyms (
    gym_id uuid primary key,
    name text not null constraint gyms_name_length check (length(name) between 1 and 120),
    time_zone text not null,
    created_at timestamptz not null
);

-- Everybody who has an account and a part in this gym. person_id is the account's id; no foreign
-- key leads out of the gym.
create table people (
    gym_id uuid not null references gyms,
    person_id uuid not null,
    name text not null constraint people_name_length check (length(name) between 1 and 120),
    email text not null,
    primary key (gym_id, person_id)
);

create table memberships (
    gym_id uuid not null,
    person_id uuid not null,
    role text not null constraint memberships_role_known check (role in ('coach', 'athlete', 'owner')),
    since timestamptz not null,
    primary key (gym_id, person_id, role),
    foreign key (gym_id, person_id) references people
);

create table athletes (
    gym_id uuid not null references gyms,
    athlete_id uuid not null,
    -- The athlete's own account, once the invitation was taken up.
    person_id uuid,
    name text not null constraint athletes_name_length check (length(name) between 1 and 120),
    started_on date not null constraint athletes_started_on_sane check (started_on between '1950-01-01' and '2200-01-01'),
    status text not null default 'active' constraint athletes_status_known check (status in ('active', 'paused', 'left')),
    status_since date not null,
    -- Health data: for the athlete's coaches only.
    notes text not null default '' constraint athletes_notes_length check (length(notes) <= 4000),
    -- A handle for files, so that an export imports again to the same person.
    handle text not null constraint athletes_handle_length check (length(handle) between 1 and 60),
    created_at timestamptz not null,
    primary key (gym_id, athlete_id),
    constraint athletes_handle_once unique (gym_id, handle),
    constraint athletes_person_once unique (gym_id, person_id),
    foreign key (gym_id, person_id) references people
);

-- Which coach looks after whom; an athlete may have several coaches.
create table rosters (
    gym_id uuid not null,
    coach_id uuid not null,
    athlete_id uuid not null,
    primary key (gym_id, coach_id, athlete_id),
    foreign key (gym_id, coach_id) references people (gym_id, person_id),
    foreign key (gym_id, athlete_id) references athletes
);
create index rosters_by_athlete on rosters (gym_id, athlete_id);

-- Days that do not count as missed: a pause, travel, illness, a competition.
create table excused (
    gym_id uuid not null,
    excused_id uuid not null,
    athlete_id uuid not null,
    first_day date not null,
    last_day date not null,
    reason text not null constraint excused_reason_length check (length(reason) between 1 and 400),
    decided_by uuid not null,
    decided_at timestamptz not null,
    primary key (gym_id, excused_id),
    foreign key (gym_id, athlete_id) references athletes,
    constraint excused_days_in_order check (first_day <= last_day)
);
create index excused_by_athlete on excused (gym_id, athlete_id);

-- Single use, and expires. Only the hash of the token is stored.
create table invitations (
    gym_id uuid not null references gyms,
    token_hash bytea not null constraint invitations_token_is_sha256 check (length(token_hash) = 32),
    role text not null constraint invitations_role_known check (role in ('coach', 'athlete', 'owner')),
    -- For an athlete: which one.
    athlete_id uuid,
    invited_by uuid not null,
    created_at timestamptz not null,
    expires_at timestamptz not null,
    used_at timestamptz,
    used_by uuid,
    primary key (gym_id, token_hash),
    foreign key (gym_id, athlete_id) references athletes,
    foreign key (gym_id, invited_by) references people (gym_id, person_id)
);

-- Thresholds in force, by version; version 0 is the policy as shipped and has no row.
create table policies (
    gym_id uuid not null references gyms,
    version integer not null constraint policies_version_positive check (version > 0),
    policy jsonb not null,
    decided_by uuid not null,
    decided_at timestamptz not null,
    primary key (gym_id, version)
);
