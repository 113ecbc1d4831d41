-- Movements and clubs.

create table movements (
    gym_id uuid not null references gyms,
    movement_id uuid not null,
    name text not null constraint movements_name_length check (length(name) between 1 and 60),
    cues text not null default '' constraint movements_cues_length check (length(cues) <= 4000),
    faults text not null default '' constraint movements_faults_length check (length(faults) <= 4000),
    position integer not null default 0,
    retired_at timestamptz,
    primary key (gym_id, movement_id),
    constraint movements_name_once unique (gym_id, name)
);

create table clubs (
    gym_id uuid not null references gyms,
    club_id uuid not null,
    name text not null constraint clubs_name_length check (length(name) between 1 and 60),
    -- Set where the club is an athlete's own.
    athlete_id uuid,
    -- A loadable club has fasteners to inspect and may have several loadings.
    loadable boolean not null default false,
    count integer not null default 1 constraint clubs_count_sane check (count between 1 and 500),
    created_at timestamptz not null,
    retired_at timestamptz,
    primary key (gym_id, club_id),
    foreign key (gym_id, athlete_id) references athletes
);
create index clubs_by_athlete on clubs (gym_id, athlete_id);

-- A club as loaded. The measure is what was measured or the shape it is built from; mechanics are
-- computed from it by the domain, never stored. Once swung with, a loading is not edited into
-- another thing: it is retired and a new one made.
create table loadings (
    gym_id uuid not null,
    loading_id uuid not null,
    club_id uuid not null,
    -- The name that files and plans use; for a fixed club it is the club's.
    name text not null constraint loadings_name_length check (length(name) between 1 and 80),
    measure jsonb not null,
    created_at timestamptz not null,
    retired_at timestamptz,
    primary key (gym_id, loading_id),
    constraint loadings_name_once unique (gym_id, name),
    foreign key (gym_id, club_id) references clubs
);
create index loadings_by_club on loadings (gym_id, club_id);
