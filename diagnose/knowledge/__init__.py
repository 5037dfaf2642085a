"""Reading the rule base: YAML with places, units, names, and every problem at once."""
