-- Care of clubs: inspections of what has fasteners, and clubs that are out of use for a while.

-- What was found, by whom, and in how many days to look again. Never changed, only added to.
create table club_inspections (
    gym_id uuid not null,
    inspection_id uuid not null,
    club_id uuid not null,
    on_date date not null,
    found text not null
        constraint club_inspections_found_known check (found in ('in_order', 'taken_out')),
    note text not null constraint club_inspections_note_length check (length(note) <= 400),
    next_in_days smallint not null
        constraint club_inspections_next_sane check (next_in_days between 1 and 365),
    inspected_by uuid not null,
    recorded_at timestamptz not null,
    primary key (gym_id, inspection_id),
    foreign key (gym_id, club_id) references clubs
);
create index club_inspections_by_club on club_inspections (gym_id, club_id, on_date);

-- Out of use from a day, and back from a day. Of a club's or loading's rows the one with the latest day
-- counts; of two with the same day, the one written last. Never changed, only added to.
create table use_changes (
    gym_id uuid not null,
    change_id uuid not null,
    club_id uuid not null,
    -- Null where it is about the whole club.
    loading_id uuid,
    from_date date not null,
    -- Null where it is back in use.
    why text constraint use_changes_why_known check (why in ('broken', 'in_repair', 'lent', 'other')),
    note text not null constraint use_changes_note_length check (length(note) <= 400),
    decided_by uuid not null,
    decided_at timestamptz not null,
    primary key (gym_id, change_id),
    foreign key (gym_id, club_id) references clubs,
    foreign key (gym_id, loading_id) references loadings
);
create index use_changes_by_club on use_changes (gym_id, club_id);

do $$
declare
    gym_table text;
begin
    foreach gym_table in array array['club_inspections', 'use_changes'] loop
        execute format('alter table %I enable row level security', gym_table);
        execute format('alter table %I force row level security', gym_table);
        execute format(
            'create policy one_gym on %I using (gym_id = nullif(current_setting(''app.gym_id'', true), '''')::uuid)',
            gym_table
        );
        execute format('grant select, insert on %I to leverbook_server', gym_table);
    end loop;
end
$$;
