-- Blocks and their planned sessions. A planned session is a chain of revisions; the newest counts,
-- and none is ever changed, so what an athlete saw is kept as it was.

create table blocks (
    gym_id uuid not null,
    block_id uuid not null,
    athlete_id uuid not null,
    movement_id uuid not null,
    hands text not null constraint blocks_hands_known check (hands in ('two', 'fingertip', 'one')),
    loading_id uuid not null,
    scheme jsonb not null,
    -- ISO weekdays, 1 = Monday.
    weekdays smallint[] not null constraint blocks_weekdays_some check (cardinality(weekdays) between 1 and 7),
    starts_on date not null,
    weeks smallint not null constraint blocks_weeks_sane check (weeks between 1 and 52),
    -- What the rules objected to when it was assigned, and the coach's reason for going on.
    objections jsonb not null default '[]',
    overruled_because text,
    assigned_by uuid not null,
    assigned_at timestamptz not null,
    -- Last day that counts, when it was ended early.
    ended_on date,
    ended_because text,
    primary key (gym_id, block_id),
    foreign key (gym_id, athlete_id) references athletes,
    foreign key (gym_id, movement_id) references movements,
    foreign key (gym_id, loading_id) references loadings
);
create index blocks_by_athlete on blocks (gym_id, athlete_id, starts_on);

create table planned_sessions (
    gym_id uuid not null,
    planned_id uuid not null,
    block_id uuid not null,
    athlete_id uuid not null,
    primary key (gym_id, planned_id),
    foreign key (gym_id, block_id) references blocks,
    foreign key (gym_id, athlete_id) references athletes
);
create index planned_sessions_by_athlete on planned_sessions (gym_id, athlete_id);
create index planned_sessions_by_block on planned_sessions (gym_id, block_id);

create table planned_revisions (
    gym_id uuid not null,
    planned_id uuid not null,
    revision integer not null constraint planned_revisions_from_one check (revision >= 1),
    athlete_id uuid not null,
    on_date date not null,
    state text not null constraint planned_revisions_state_known check (state in ('planned', 'skipped', 'ended')),
    prescription jsonb not null,
    reason text not null default '' constraint planned_revisions_reason_length check (length(reason) <= 400),
    decided_by uuid not null,
    decided_at timestamptz not null,
    primary key (gym_id, planned_id, revision),
    foreign key (gym_id, planned_id) references planned_sessions
);
create index planned_revisions_by_day on planned_revisions (gym_id, athlete_id, on_date);

-- When an athlete first had this revision on the screen.
create table planned_seen (
    gym_id uuid not null,
    planned_id uuid not null,
    revision integer not null,
    seen_at timestamptz not null,
    primary key (gym_id, planned_id, revision),
    foreign key (gym_id, planned_id, revision) references planned_revisions
);

-- O1: a coach opened one-hand work early, with a reason.
create table gate_openings (
    gym_id uuid not null,
    opening_id uuid not null,
    athlete_id uuid not null,
    movement_id uuid not null,
    on_date date not null,
    reason text not null constraint gate_openings_reason_length check (length(reason) between 1 and 400),
    decided_by uuid not null,
    decided_at timestamptz not null,
    primary key (gym_id, opening_id),
    foreign key (gym_id, athlete_id) references athletes,
    foreign key (gym_id, movement_id) references movements
);
create index gate_openings_by_athlete on gate_openings (gym_id, athlete_id);
