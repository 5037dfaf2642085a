"""The checks of a rule base, by what they look at; their pages, which `--explain` shows; and the report."""
