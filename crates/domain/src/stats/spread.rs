//! Middle and spread.

/// The mean. `None` of nothing.
#[must_use]
pub fn mean(values: &[f64]) -> Option<f64> {
    (!values.is_empty()).then(|| values.iter().sum::<f64>() / values.len() as f64)
}

/// The standard deviation of a sample, with n − 1. `None` of fewer than two.
#[must_use]
pub fn sample_sd(values: &[f64]) -> Option<f64> {
    if values.len() < 2 {
        return None;
    }
    let mean = mean(values)?;
    let squares: f64 = values.iter().map(|value| (value - mean).powi(2)).sum();
    Some((squares / (values.len() - 1) as f64).sqrt())
}

/// The median; of an even number the mean of the middle two. `None` of nothing.
#[must_use]
pub fn median(values: &[f64]) -> Option<f64> {
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    median_of_sorted(&sorted)
}

/// [`median`] of values already in order.
pub(super) fn median_of_sorted(sorted: &[f64]) -> Option<f64> {
    let upper = *sorted.get(sorted.len() / 2)?;
    if sorted.len() % 2 == 1 {
        Some(upper)
    } else {
        Some(f64::midpoint(sorted[sorted.len() / 2 - 1], upper))
    }
}

/// The sizes of groups of equal values, of those that hold more than one.
pub(super) fn tie_groups(values: &[f64]) -> Vec<f64> {
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    sorted
        .chunk_by(|a, b| a == b)
        .filter(|group| group.len() > 1)
        .map(|group| group.len() as f64)
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn short_series_have_no_answer() {
        assert_eq!((mean(&[]), median(&[]), sample_sd(&[])), (None, None, None));
        assert_eq!(
            (mean(&[4.0]), median(&[4.0]), sample_sd(&[4.0])),
            (Some(4.0), Some(4.0), None)
        );
    }

    // By hand: 2, 4, 4, 4, 5, 5, 7, 9 have mean 5, squares 32, median 4.5.
    #[test]
    fn middle_and_spread_by_hand() {
        let values = [9.0, 2.0, 4.0, 5.0, 4.0, 7.0, 4.0, 5.0];
        assert_eq!(mean(&values), Some(5.0));
        assert_eq!(median(&values), Some(4.5));
        assert!((sample_sd(&values).unwrap() - (32.0f64 / 7.0).sqrt()).abs() < 1e-12);
        assert_eq!(median(&[3.0, 1.0, 2.0]), Some(2.0));
        assert_eq!(tie_groups(&values), [3.0, 2.0]);
    }
}
