"""One case worked through: chaining, ranking and planning brought together into one result."""
