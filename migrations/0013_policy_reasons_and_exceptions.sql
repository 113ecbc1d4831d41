-- Why each version of a gym's policy was made, and what a coach set otherwise for one athlete.

alter table policies
    add column reason text not null default '' constraint policies_reason_length check (length(reason) <= 400);

-- Each exception made, changed or ended is a new row.
create table policy_exceptions (
    gym_id uuid not null,
    athlete_id uuid not null,
    -- Counts an athlete's rows from 1, so that of two people only one can write the next.
    nth integer not null constraint policy_exceptions_from_one check (nth >= 1),
    threshold text not null,
    -- Null where the gym's own value counts again.
    value double precision,
    -- Health data: for the athlete's coaches only.
    reason text not null constraint policy_exceptions_reason_length check (length(reason) between 1 and 400),
    decided_by uuid not null,
    decided_at timestamptz not null,
    -- The day in the gym's zone.
    decided_on date not null,
    primary key (gym_id, athlete_id, nth),
    foreign key (gym_id, athlete_id) references athletes
);
alter table policy_exceptions enable row level security;
alter table policy_exceptions force row level security;
create policy one_gym on policy_exceptions
    using (gym_id = nullif(current_setting('app.gym_id', true), '')::uuid);
grant select, insert on policy_exceptions to leverbook_server;

-- What was worked out names both: the gym's version and the athlete's last row.
alter table flags add column exceptions integer not null default 0;
alter table assessments add column exceptions integer not null default 0;
grant update (exceptions) on flags, assessments to leverbook_server;
