-- A loading that was swung with is not edited into another thing; this finds whether it was.
create index logged_sets_by_loading on logged_sets (gym_id, loading_id);
create index blocks_by_loading on blocks (gym_id, loading_id);
