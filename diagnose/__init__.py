"""Fault diagnosis of backflow prevention assemblies, from symptoms to likely cause."""

__version__ = "0.2.0"
