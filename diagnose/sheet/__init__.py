"""Sheets that people read: text, Markdown, and the same as data."""
