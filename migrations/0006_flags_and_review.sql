-- What the rules found, kept so that a page is fast, and what coaches decided about it.

-- Exactly what the domain's episodes give for the log as it stands; rebuilt from nothing to the
-- same rows. Nothing here is a person's decision.
create table flags (
    gym_id uuid not null,
    flag_id uuid not null,
    athlete_id uuid not null,
    rule text not null,
    severity text not null constraint flags_severity_known check (severity in ('note', 'look', 'stop')),
    since date not null,
    until date,
    -- The domain's flag: subject and evidence.
    flag jsonb not null,
    policy_version integer not null,
    primary key (gym_id, flag_id),
    foreign key (gym_id, athlete_id) references athletes
);
create index flags_by_athlete on flags (gym_id, athlete_id, until);

-- The state of one athlete as of a day: next steps, and the day they were computed for.
create table assessments (
    gym_id uuid not null,
    athlete_id uuid not null,
    as_of date not null,
    next_steps jsonb not null,
    policy_version integer not null,
    primary key (gym_id, athlete_id),
    foreign key (gym_id, athlete_id) references athletes
);

-- Seen, quieted, closed, reopened: each is a new row with who, when and why. No foreign key to
-- flags: a decision outlives a flag that an edited log no longer raises.
create table flag_decisions (
    gym_id uuid not null,
    decision_id uuid not null,
    flag_id uuid not null,
    athlete_id uuid not null,
    kind text not null constraint flag_decisions_kind_known check (kind in ('seen', 'quieted', 'closed', 'reopened')),
    -- Quieted until this day.
    quiet_until date,
    -- The severity it had then: it comes back if it worsens.
    severity text not null,
    reason text not null default '' constraint flag_decisions_reason_length check (length(reason) <= 400),
    decided_by uuid not null,
    decided_at timestamptz not null,
    primary key (gym_id, decision_id),
    foreign key (gym_id, athlete_id) references athletes
);
create index flag_decisions_by_flag on flag_decisions (gym_id, flag_id);
create index flag_decisions_by_athlete on flag_decisions (gym_id, athlete_id);

-- A coach's decision about one athlete's next step in one ISO week. The newest row counts.
create table review_decisions (
    gym_id uuid not null,
    decision_id uuid not null,
    athlete_id uuid not null,
    iso_year smallint not null,
    iso_week smallint not null constraint review_decisions_week_sane check (iso_week between 1 and 53),
    kind text not null constraint review_decisions_kind_known check (kind in ('accept', 'change', 'hold', 'undo')),
    -- The proposal as it stood, and what was decided instead where it was changed.
    proposal jsonb not null,
    decided jsonb,
    reason text not null default '' constraint review_decisions_reason_length check (length(reason) <= 400),
    decided_by uuid not null,
    decided_at timestamptz not null,
    primary key (gym_id, decision_id),
    foreign key (gym_id, athlete_id) references athletes
);
create index review_decisions_by_week on review_decisions (gym_id, iso_year, iso_week, athlete_id);
create index review_decisions_by_athlete on review_decisions (gym_id, athlete_id);

create table review_closings (
    gym_id uuid not null,
    coach_id uuid not null,
    iso_year smallint not null,
    iso_week smallint not null,
    closed_at timestamptz not null,
    primary key (gym_id, coach_id, iso_year, iso_week),
    foreign key (gym_id, coach_id) references people (gym_id, person_id)
);

-- A coach's note to an athlete. Health data.
create table coach_notes (
    gym_id uuid not null,
    note_id uuid not null,
    athlete_id uuid not null,
    body text not null constraint coach_notes_body_length check (length(body) between 1 and 2000),
    written_by uuid not null,
    written_at timestamptz not null,
    primary key (gym_id, note_id),
    foreign key (gym_id, athlete_id) references athletes
);
create index coach_notes_by_athlete on coach_notes (gym_id, athlete_id, written_at);
