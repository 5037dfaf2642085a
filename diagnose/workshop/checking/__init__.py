"""Checking a rule base: what the checks share, running them, and telling what they found."""
