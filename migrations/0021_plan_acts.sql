-- One thing that a coach did to an athlete's plan, with all the revisions that it made: a move, days away,
-- a pause, a return. It carries its own id, so that sending it twice stores it once, and is taken back whole.
-- Its kind of reason may be an illness: health data, for the athlete and their coaches only.
create table plan_acts (
    gym_id uuid not null,
    -- The same for everybody whom one act is about.
    act_id uuid not null,
    athlete_id uuid not null,
    what text not null constraint plan_acts_what_known check (what in ('move', 'away', 'pause', 'return')),
    kind text constraint plan_acts_kind_known
        check (kind in ('pause', 'travel', 'illness', 'competition', 'other')),
    first_day date not null,
    -- Null: until they are back.
    last_day date,
    reason text not null default '' constraint plan_acts_reason_length check (length(reason) <= 400),
    -- The weeks by which the blocks concerned moved on.
    weeks smallint not null default 0 constraint plan_acts_weeks_sane check (weeks between 0 and 60),
    -- The days that it excused.
    excused_id uuid,
    -- Whether they trained, and since when, before a pause or a return.
    status_before text,
    status_since_before date,
    decided_by uuid not null,
    decided_at timestamptz not null,
    taken_back_at timestamptz,
    -- Two can carry the same instant.
    nth bigint generated always as identity,
    primary key (gym_id, act_id, athlete_id),
    constraint plan_acts_days_in_order check (last_day is null or first_day <= last_day),
    foreign key (gym_id, athlete_id) references athletes
);
create index plan_acts_by_athlete on plan_acts (gym_id, athlete_id, nth);

alter table plan_acts enable row level security;
alter table plan_acts force row level security;
create policy one_gym on plan_acts
    using (gym_id = nullif(current_setting('app.gym_id', true), '')::uuid);
grant select, insert on plan_acts to leverbook_server;
grant update (taken_back_at) on plan_acts to leverbook_server;

-- The act that made a revision, where there was one.
alter table planned_revisions
    add column act_id uuid,
    add constraint planned_revisions_act foreign key (gym_id, act_id, athlete_id) references plan_acts;
create index planned_revisions_by_act on planned_revisions (gym_id, act_id) where act_id is not null;

-- Weeks by which what was left of a block moved on: it runs that much longer than assigned.
alter table blocks
    add column moved_on_weeks smallint not null default 0
        constraint blocks_moved_on_sane check (moved_on_weeks >= 0);
grant update (moved_on_weeks) on blocks to leverbook_server;
