"""Pressures and flows at rest, from textbook relations: what a picture of an assembly shows and a gauge would read.

Pressures are psi against the open air, bores inches, flows gpm. All places are taken at one height.
"""
