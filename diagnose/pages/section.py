"""A page for a class that shows an assembly cut open in each of its situations, one after the other."""

from __future__ import annotations

from markupsafe import Markup

from diagnose import __version__
from diagnose.drawing.schematic.parts_sheet import parts_sheet
from diagnose.drawing.schematic.section import section
from diagnose.model.assembly import Assembly
from diagnose.pages.templates import styled_page


def section_page(assembly: Assembly, unit: str) -> str:
    """The page: the parts with their names, then every situation; pressures in `unit`."""
    pictures = [("The parts", Markup(parts_sheet(assembly, blank=False).svg()))]  # noqa: S704  the drawing escapes
    pictures += [
        (row.title, Markup(section(assembly, row, unit).svg()))  # noqa: S704  the drawing escapes
        for row in assembly.drawn.situations
    ]
    return styled_page(
        "section.html.j2",
        "section.css.j2",
        "section.js",
        title=assembly.title,
        pictures=pictures,
        version=__version__,
    )
