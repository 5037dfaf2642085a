"""What the cases exercise of a rule base."""
