//! leverbook-local-postgres
