"""Frozen types of rules, parts, cases and conclusions; places and problems. Imports nothing of the project."""
