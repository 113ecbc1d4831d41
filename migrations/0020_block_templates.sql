-- Blocks that a gym uses again and again. A change is a new version; none is ever overwritten, and a
-- block knows which one it came from.

create table block_templates (
    gym_id uuid not null,
    template_id uuid not null,
    made_by uuid not null,
    made_at timestamptz not null,
    -- Not offered any more; what came from it stays.
    retired_at timestamptz,
    primary key (gym_id, template_id),
    foreign key (gym_id) references gyms
);

create table block_template_versions (
    gym_id uuid not null,
    template_id uuid not null,
    -- Counts from 1, so that of two people only one can write the next.
    version integer not null constraint block_template_versions_from_one check (version >= 1),
    name text not null constraint block_template_versions_name_length check (length(name) between 1 and 80),
    movement_id uuid not null,
    -- Whether each athlete's values come from their own log.
    each_their_own boolean not null,
    scheme jsonb not null,
    -- ISO weekdays, 1 = Monday.
    weekdays smallint[] not null
        constraint block_template_versions_weekdays_some check (cardinality(weekdays) between 1 and 7),
    weeks smallint not null constraint block_template_versions_weeks_sane check (weeks between 1 and 52),
    note text not null default '' constraint block_template_versions_note_length check (length(note) <= 400),
    made_by uuid not null,
    made_at timestamptz not null,
    primary key (gym_id, template_id, version),
    foreign key (gym_id, template_id) references block_templates,
    foreign key (gym_id, movement_id) references movements
);

do $$
declare
    gym_table text;
begin
    foreach gym_table in array array['block_templates', 'block_template_versions'] loop
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
grant update (retired_at) on block_templates to leverbook_server;

alter table blocks
    add column template_id uuid,
    add column template_version integer,
    add constraint blocks_template_known
        foreign key (gym_id, template_id, template_version) references block_template_versions,
    add constraint blocks_template_whole check ((template_id is null) = (template_version is null));
create index blocks_by_template on blocks (gym_id, template_id) where template_id is not null;
