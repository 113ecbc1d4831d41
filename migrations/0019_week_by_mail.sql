-- The week that ended, by e-mail to coaches who ask for it.

create table digest_wishes (
    gym_id uuid not null,
    coach_id uuid not null,
    -- Stands in every mail. Whoever has it can end the mails and do nothing else, so it is kept as it is.
    stop_token text not null constraint digest_wishes_token_form check (stop_token ~ '^[0-9a-f]{64}$'),
    asked_at timestamptz not null,
    primary key (gym_id, coach_id),
    constraint digest_wishes_token_once unique (gym_id, stop_token),
    foreign key (gym_id, coach_id) references people (gym_id, person_id)
);
alter table digest_wishes enable row level security;
alter table digest_wishes force row level security;
create policy one_gym on digest_wishes
    using (gym_id = nullif(current_setting('app.gym_id', true), '')::uuid);
grant select, insert, delete on digest_wishes to leverbook_server;

-- What is to be sent, for every gym's server alike: no gym's, and nothing of what a mail says. What
-- it says is worked out inside the gym as it is sent.
create table digest_jobs (
    gym_id uuid not null,
    coach_id uuid not null,
    iso_year smallint not null,
    iso_week smallint not null constraint digest_jobs_week_sane check (iso_week between 1 and 53),
    made_at timestamptz not null,
    -- When it is tried next; whoever takes it moves this on first, so that nobody takes it twice.
    due_at timestamptz not null,
    attempts smallint not null default 0,
    sent_at timestamptz,
    given_up_at timestamptz,
    -- What the last attempt met, in our words: no address, nothing of the mail.
    last_error text not null default '' constraint digest_jobs_error_length check (length(last_error) <= 200),
    primary key (gym_id, coach_id, iso_year, iso_week)
);
create index digest_jobs_waiting on digest_jobs (due_at) where sent_at is null and given_up_at is null;
grant select, insert on digest_jobs to leverbook_server;
grant update (due_at, attempts, sent_at, given_up_at, last_error) on digest_jobs to leverbook_server;
