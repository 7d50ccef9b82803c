//! A bench to test against, richer than the estimator: two nodes, lags, warm-up, real noise.
