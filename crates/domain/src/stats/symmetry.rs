//! B2: how unequal the two sides are.

/// B2: `SI = 100·|L − R| / (0.5·(L + R))`, percent, from 0 to 200 (Robinson et al., J Manipulative Physiol Ther
/// 1987;10:172). `None` when neither side did anything.
#[must_use]
pub fn symmetry_index(left: u32, right: u32) -> Option<f64> {
    let (left, right) = (f64::from(left), f64::from(right));
    (left + right > 0.0).then(|| 100.0 * (left - right).abs() / (0.5 * (left + right)))
}

#[cfg(test)]
mod tests {
    use super::*;

    // 100(X_R − X_L)/(0.5(X_R + X_L)), BMC Sports Sci Med Rehabil doi 10.1186/s13102-021-00355-4 eq. 1; figures recomputed.
    #[test]
    fn the_index_of_six_pairs() {
        let pairs = [
            (45, 50, 10.526_3),
            (50, 45, 10.526_3),
            (100, 85, 16.216_2),
            (60, 60, 0.0),
            (0, 40, 200.0),
            (850, 1000, 16.216_2),
        ];
        for (left, right, expected) in pairs {
            assert!((symmetry_index(left, right).unwrap() - expected).abs() < 5e-5);
        }
        // 0 over 0 is no number, and is shown as none.
        assert_eq!(symmetry_index(0, 0), None);
        // The same index whichever side does more, and however much both do.
        for (left, right) in [(9u32, 10u32), (1, 7), (0, 3)] {
            assert_eq!(symmetry_index(left, right), symmetry_index(right, left));
            assert_eq!(
                symmetry_index(left, right),
                symmetry_index(100 * left, 100 * right)
            );
        }
        assert!(symmetry_index(u32::MAX, u32::MAX).is_some());
    }
}
