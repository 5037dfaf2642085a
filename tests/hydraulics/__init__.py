"""Pressures and flows of the assemblies from textbook hydraulics: a judge of the rules that knows nothing of them.

Pressures are psi against the open air, differentials psid, flows gpm, bores and heights inches, times minutes.
"""
