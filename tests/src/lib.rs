//! What every end-to-end test shares.
