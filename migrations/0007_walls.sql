-- One gym, one wall: row security forced on every gym table, and what the server may do.

do $$
declare
    gym_table text;
begin
    foreach gym_table in array array[
        'gyms', 'people', 'memberships', 'athletes', 'rosters', 'excused', 'invitations', 'policies',
        'movements', 'clubs', 'loadings', 'blocks', 'planned_sessions', 'planned_revisions',
        'planned_seen', 'gate_openings', 'logged_sessions', 'logged_sets', 'flags', 'assessments',
        'flag_decisions', 'review_decisions', 'review_closings', 'coach_notes'
    ] loop
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

-- gym_id never changes, so no update may name it: updates are granted column by column.
grant update (name, time_zone) on gyms to leverbook_server;
grant update (name, email) on people to leverbook_server;
grant delete on memberships, rosters to leverbook_server;
grant update (person_id, name, started_on, status, status_since, notes) on athletes to leverbook_server;
grant update (used_at, used_by) on invitations to leverbook_server;
grant update (name, cues, faults, position, retired_at) on movements to leverbook_server;
grant update (name, athlete_id, loadable, count, retired_at) on clubs to leverbook_server;
grant update (name, measure, retired_at) on loadings to leverbook_server;
grant update (ended_on, ended_because) on blocks to leverbook_server;
-- Flags and assessments are derived: they may be rewritten and cleared.
grant update (severity, since, until, flag, policy_version), delete on flags to leverbook_server;
grant update (as_of, next_steps, policy_version) on assessments to leverbook_server;
grant delete on review_closings to leverbook_server;
