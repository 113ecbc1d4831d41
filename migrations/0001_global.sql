-- Sign-in: the few tables that are no gym's. They never point at a gym's tables.
--
-- The server's role is made by `leverbook migrate` before this runs. It owns nothing and bypasses
-- nothing; what it may do is granted here, table by table.

create table accounts (
    account_id uuid primary key,
    email text not null constraint accounts_email_form check (email = lower(email) and length(email) between 3 and 254),
    name text not null constraint accounts_name_length check (length(name) between 1 and 120),
    password_hash text not null,
    units text not null default 'kilogram' constraint accounts_units_known check (units in ('kilogram', 'pound')),
    created_at timestamptz not null,
    disabled_at timestamptz,
    constraint accounts_email_once unique (email)
);

-- A directory, so that sign-in knows which doors to offer. The truth about who may enter is each
-- gym's own `memberships`; a stale row here opens nothing.
create table account_gyms (
    account_id uuid not null references accounts,
    gym_id uuid not null,
    primary key (account_id, gym_id)
);

create table sign_ins (
    token_hash bytea primary key constraint sign_ins_token_is_sha256 check (length(token_hash) = 32),
    account_id uuid not null references accounts,
    csrf_token text not null,
    created_at timestamptz not null,
    last_seen_at timestamptz not null,
    expires_at timestamptz not null,
    device text not null default ''
);
create index sign_ins_by_account on sign_ins (account_id);

grant select, insert, update on accounts to leverbook_server;
grant select, insert, delete on account_gyms to leverbook_server;
grant select, insert, update, delete on sign_ins to leverbook_server;
