//! A block of one athlete, assigned as the pages do it.

use leverbook_domain::id::{AthleteId, BlockId};
use leverbook_domain::plan::{BlockDraft, Swung, preview};
use leverbook_domain::policy::Policy;
use leverbook_store::GymTx;
use leverbook_store::blocks::{self, Assignment, NewBlock};
use time::OffsetDateTime;

use crate::new_id;

/// Assigns a block that nothing was objected to, by the usual policy.
///
/// # Panics
/// If the store refuses it.
pub async fn assign(
    tx: &mut GymTx,
    athlete: AthleteId,
    draft: BlockDraft,
    swung: Swung<'_>,
    now: OffsetDateTime,
) -> BlockId {
    let block = new_id();
    let new = NewBlock {
        block,
        athlete,
        loading: swung.loading,
        planned: preview(&draft, &Policy::default(), swung),
        objections: Vec::new(),
        overruled_because: None,
    };
    let assignment = Assignment {
        draft,
        blocks: vec![new],
    };
    blocks::assign(tx, &assignment, now)
        .await
        .expect("an assignment");
    block
}
