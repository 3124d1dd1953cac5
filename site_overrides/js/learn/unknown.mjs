// The unknown case: asks, answers, scores.
