"""For who writes rules: checks, trials, coverage, comparisons and look-ups over a whole rule base."""
