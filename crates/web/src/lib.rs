//! leverbook-web
