//! leverbook-store
