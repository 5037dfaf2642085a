"""The reasoning of one case as a picture: what was seen, what it means, what is likely wrong, what to do."""
