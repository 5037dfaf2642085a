"""The commands: each reads, calls and prints."""
