-- Where each movement's work stands, kept beside the next steps so that the weekly review reads no
-- history. Derived like them, and rewritten with them.

alter table assessments add column progress jsonb not null default '[]';
grant update (progress) on assessments to leverbook_server;
