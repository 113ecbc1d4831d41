-- The training log. Append-only: an edit is a new revision that names the one it replaces. The
-- server may insert and read, nothing else. Ids come from whoever logged, so that sending twice
-- stores once.

create table logged_sessions (
    gym_id uuid not null,
    revision_id uuid not null,
    -- The session through all its revisions.
    session_id uuid not null,
    replaces uuid,
    athlete_id uuid not null,
    on_date date not null constraint logged_sessions_on_date_sane check (on_date between '1950-01-01' and '2200-01-01'),
    planned_id uuid,
    planned_revision integer,
    minutes smallint constraint logged_sessions_minutes_sane check (minutes between 1 and 600),
    -- CR10 in half steps, 0 to 20.
    effort_half_steps smallint constraint logged_sessions_effort_sane check (effort_half_steps between 0 and 20),
    -- [{"score": 3, "place": "left elbow"}]
    pain jsonb not null default '[]',
    note text not null default '' constraint logged_sessions_note_length check (length(note) <= 2000),
    -- A revision that takes the session back; it has no sets.
    withdrawn boolean not null default false,
    logged_by uuid not null,
    logged_at timestamptz not null,
    -- SHA-256 of the content as sent, so that the same id with other content is seen.
    content_hash bytea not null,
    primary key (gym_id, revision_id),
    foreign key (gym_id, athlete_id) references athletes,
    foreign key (gym_id, replaces) references logged_sessions (gym_id, revision_id),
    foreign key (gym_id, planned_id) references planned_sessions,
    -- Two edits of the same revision cannot both be the newest.
    constraint logged_sessions_replaced_once unique (gym_id, replaces),
    constraint logged_sessions_first_is_session check (replaces is not null or session_id = revision_id)
);
create index logged_sessions_by_athlete on logged_sessions (gym_id, athlete_id, on_date);
create index logged_sessions_by_session on logged_sessions (gym_id, session_id);
create index logged_sessions_by_day on logged_sessions (gym_id, on_date);
create index logged_sessions_by_planned on logged_sessions (gym_id, planned_id) where planned_id is not null;

create table logged_sets (
    gym_id uuid not null,
    revision_id uuid not null,
    position smallint not null,
    movement_id uuid not null,
    hands text not null constraint logged_sets_hands_known check (hands in ('two', 'fingertip', 'one')),
    loading_id uuid not null,
    side text not null constraint logged_sets_side_known check (side in ('left', 'right')),
    -- Null for straight sets.
    seconds smallint constraint logged_sets_seconds_sane check (seconds between 1 and 3600),
    reps smallint not null constraint logged_sets_reps_sane check (reps between 0 and 1000),
    asked_reps smallint constraint logged_sets_asked_sane check (asked_reps between 1 and 1000),
    primary key (gym_id, revision_id, position),
    foreign key (gym_id, revision_id) references logged_sessions,
    foreign key (gym_id, movement_id) references movements,
    foreign key (gym_id, loading_id) references loadings
);
