"""Two versions of a rule base compared."""
