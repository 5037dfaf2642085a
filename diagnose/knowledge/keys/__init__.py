"""Which keys rule files have, as tables: what may stand under each, whether it must be there, and what it means."""
