-- The newest decision counts, and two can carry the same instant: the order in which they were
-- written is kept too. A clock set back does not bring an old decision to the top.

alter table review_decisions add column nth bigint generated always as identity;
alter table flag_decisions add column nth bigint generated always as identity;
