//! leverbook-domain
