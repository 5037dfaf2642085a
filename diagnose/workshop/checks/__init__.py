"""The checks of a rule base: one module for each kind of doubt, with its page; what they share; and the report."""
