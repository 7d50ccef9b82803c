//! Labels moved apart, as little as possible.

/// Moves centres of labels apart so that no two overlap, with the least sum of squared moves,
/// within `(low, high)` if there is room for all, beyond `high` if not.
///
/// `sizes` holds the room that each label takes along the line, gap included. With the room of all
/// labels before it taken off each centre, this is isotonic regression: pooling of adjacent
/// violators (Ayer and others, Annals of Mathematical Statistics 26 (1955) 641).
pub(super) fn spread(wanted: &[f64], sizes: &[f64], (low, high): (f64, f64)) -> Vec<f64> {
    let mut order: Vec<(usize, f64, f64)> = wanted
        .iter()
        .zip(sizes)
        .enumerate()
        .map(|(place, (at, size))| (place, *at, *size))
        .collect();
    order.sort_by(|a, b| a.1.total_cmp(&b.1));
    let total: f64 = sizes.iter().sum();
    let mut pools: Vec<(f64, usize)> = Vec::new();
    let mut taken = 0.0;
    for (_, at, size) in &order {
        let mut pool = (at - 0.5 * size - taken, 1);
        taken += size;
        while let Some(&(mean, count)) = pools.last()
            && mean > pool.0
        {
            pools.pop();
            let both = count + pool.1;
            pool = (
                (mean * count as f64 + pool.0 * pool.1 as f64) / both as f64,
                both,
            );
        }
        pools.push(pool);
    }
    let settled = pools
        .iter()
        .flat_map(|(mean, count)| core::iter::repeat_n(mean.min(high - total).max(low), *count));
    let mut centres = vec![0.0; wanted.len()];
    let mut taken = 0.0;
    for ((place, _, size), base) in order.iter().zip(settled) {
        if let Some(centre) = centres.get_mut(*place) {
            *centre = base + taken + 0.5 * size;
        }
        taken += size;
    }
    centres
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn labels_apart_stay_and_labels_together_part_evenly() {
        let both = [16.0, 16.0];
        assert_eq!(spread(&[10.0, 50.0], &both, (0.0, 100.0)), [10.0, 50.0]);
        assert_eq!(spread(&[50.0, 50.0], &both, (0.0, 100.0)), [42.0, 58.0]);
        assert_eq!(spread(&[100.0, 99.0], &both, (0.0, 100.0)), [92.0, 76.0]);
        assert_eq!(
            spread(&[50.0, 50.0], &[40.0, 20.0], (0.0, 100.0)),
            [35.0, 65.0]
        );
        assert!(spread(&[], &[], (0.0, 100.0)).is_empty());
    }

    proptest! {
        #[test]
        fn labels_never_overlap_and_stay_inside(
            labels in proptest::collection::vec((0.0_f64..400.0, 4.0_f64..16.0), 0..24),
        ) {
            let (wanted, sizes): (Vec<f64>, Vec<f64>) = labels.into_iter().unzip();
            let centres = spread(&wanted, &sizes, (0.0, 400.0));
            let mut all: Vec<(f64, f64)> =
                centres.iter().zip(&sizes).map(|(c, s)| (c - 0.5 * s, c + 0.5 * s)).collect();
            all.sort_by(|a, b| a.0.total_cmp(&b.0));
            prop_assert!(all.windows(2).all(|w| w[1].0 >= w[0].1 - 1e-9));
            prop_assert!(all.iter().all(|(low, high)| *low >= -1e-9 && *high <= 400.0 + 1e-9));
        }
    }
}
