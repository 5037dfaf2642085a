"""A consultation: what to ask next, what each answer changes, and what is recorded in the end. No terminal in here."""
