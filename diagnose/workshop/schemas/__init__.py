"""JSON Schemas with which editors complete and check files."""
