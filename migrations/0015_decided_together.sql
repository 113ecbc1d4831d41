-- Several athletes' weeks accepted in one go carry the id of that one act, so that it can be taken
-- back in one go too.

alter table review_decisions add column together uuid;
