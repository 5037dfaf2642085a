"""The checks of a rule base: one module for each kind of doubt, with the page that explains it."""
