//! The page of all parts, looked at in a real browser.

use crate::browser::Stage;

/// Its pictures are always kept, in target/pictures.
#[tokio::test(flavor = "multi_thread")]
async fn every_part_is_within_reach_in_all_its_states() {
    let stage = Stage::new().await;
    stage.run("parts.mjs", &[]);
}
