-- An invitation that went astray can be withdrawn. Its row stays, so that it is known what was given out.
alter table invitations
    add column withdrawn_at timestamptz,
    add column withdrawn_by uuid,
    add foreign key (gym_id, withdrawn_by) references people (gym_id, person_id);

grant update (withdrawn_at, withdrawn_by) on invitations to leverbook_server;
