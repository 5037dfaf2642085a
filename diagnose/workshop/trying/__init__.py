"""Running the cases beside the rules."""
