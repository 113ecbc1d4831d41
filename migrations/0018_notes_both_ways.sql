-- Notes go both ways: an athlete answers their coaches, about a logged session, a flag or nothing in
-- particular. What stands in the table was written by coaches, about nothing in particular.

alter table coach_notes
    add column written_as text not null default 'coach'
        constraint coach_notes_written_as_known check (written_as in ('coach', 'athlete')),
    -- No foreign keys: a session has many revisions, and a note outlives a flag that an edited log
    -- no longer raises.
    add column session_id uuid,
    add column flag_id uuid,
    -- Two can carry the same instant: the order in which they were written is kept too.
    add column nth bigint generated always as identity,
    add constraint coach_notes_about_one_thing check (num_nonnulls(session_id, flag_id) <= 1);
create index coach_notes_in_order on coach_notes (gym_id, athlete_id, nth);
-- How many are unread is asked with every page of a coach.
create index coach_notes_from_athletes on coach_notes (gym_id, athlete_id) where written_as = 'athlete';

-- When somebody whom a note is for first opened it.
create table note_reads (
    gym_id uuid not null,
    reader_id uuid not null,
    note_id uuid not null,
    read_at timestamptz not null,
    primary key (gym_id, reader_id, note_id),
    foreign key (gym_id, note_id) references coach_notes
);
create index note_reads_by_note on note_reads (gym_id, note_id);
alter table note_reads enable row level security;
alter table note_reads force row level security;
create policy one_gym on note_reads
    using (gym_id = nullif(current_setting('app.gym_id', true), '')::uuid);
grant select, insert on note_reads to leverbook_server;
