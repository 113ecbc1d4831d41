-- An athlete's plan as a calendar feed: whoever has the link reads it without a sign-in. Only the
-- hash of the link's token is stored; replacing or revoking it ends the old one.
create table calendar_links (
    gym_id uuid not null,
    athlete_id uuid not null,
    token_hash bytea not null constraint calendar_links_token_is_sha256 check (length(token_hash) = 32),
    -- When they train, in the gym's zone. Null: sessions stand in the calendar as whole days.
    starts_at time,
    made_at timestamptz not null,
    -- When anything here last changed what stands in the calendar.
    changed_at timestamptz not null,
    primary key (gym_id, athlete_id),
    constraint calendar_links_token_once unique (gym_id, token_hash),
    foreign key (gym_id, athlete_id) references athletes
);
alter table calendar_links enable row level security;
alter table calendar_links force row level security;
create policy one_gym on calendar_links
    using (gym_id = nullif(current_setting('app.gym_id', true), '')::uuid);
grant select, insert, delete on calendar_links to leverbook_server;
grant update (token_hash, starts_at, made_at, changed_at) on calendar_links to leverbook_server;
