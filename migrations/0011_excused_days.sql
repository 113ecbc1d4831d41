-- Why days are excused, in one word beside the coach's own; and a period noted by mistake can be
-- taken back. Rows stay, so that it is known what stood when.
alter table excused
    add column kind text not null default 'other'
        constraint excused_kind_known check (kind in ('pause', 'travel', 'illness', 'competition', 'other')),
    add column taken_back_at timestamptz;

grant update (taken_back_at) on excused to leverbook_server;

-- The roster is read by name, a page at a time.
create index athletes_by_name on athletes (gym_id, lower(name), athlete_id);
