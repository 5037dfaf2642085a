"""Maps of the rule base and of the network of a type."""
