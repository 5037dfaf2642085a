"""A canvas -> a file. The one module of the drawings that starts another program, for pictures of pixels."""

from __future__ import annotations

import shutil
import subprocess
import sys
import unicodedata
from pathlib import Path

from diagnose.drawing.canvas import OWN_FACE, SYSTEM_FACE, Canvas
from diagnose.drawing.graph import Graph
from diagnose.drawing.node_text import PAGE_WIDTH
from diagnose.model.places import refused

PURE, SYSTEM = "graphviz-pure", "dot"
SECONDS = 60
# At so many dots an inch a page of 1280 x 720 points is 1920 pixels wide.
DOTS = 108
# What the face has, found by drawing each letter and comparing it with the empty box: Latin, Greek, Cyrillic, Hebrew,
# punctuation, currency, letter-like signs.
_HAS = ((0x0000, 0x052F), (0x05BE, 0x05F4), (0x1D00, 0x20BE), (0x2100, 0x214F))
_HAS_ALSO = set("\u2190\u2191\u2192\u2193\u2194\u2195\u2202\u2206\u2211\u2212\u221a\u221e\u2248\u2260\u2264\u2265")
LONGEST_NAME = 28


def rendered(canvas: Canvas, form: str, layout_by: str = "package") -> bytes:
    """The picture as `form`: "svg", "dot" or "png"; `layout_by` as in `as_png`.

    An SVG as wide as a projector's page, 16:9 or wider, is as large as the window that shows it.
    """
    if form == "dot":
        return canvas.dot().encode()
    if form == "png":
        return as_png(canvas.dot(OWN_FACE if layout_by == "package" else SYSTEM_FACE), layout_by)
    fits = canvas.width <= PAGE_WIDTH and canvas.width * 9 >= (canvas.height - 1) * 16
    size = ("100%", "100%") if fits else (f"{canvas.width:.0f}pt", f"{canvas.height:.0f}pt")
    return canvas.svg(width=size[0], height=size[1]).encode()


def as_png(dot: str, layout_by: str = "package", seconds: float = SECONDS) -> bytes:
    """A picture of pixels from DOT text.

    `layout_by`: "package" uses the program that pip installs with this project, "system" the `dot` on the search path.

    Raises:
        ProblemsFoundError: the program is missing, takes longer than `seconds`, or refuses the text.
    """
    program = _program(layout_by)
    try:
        done = subprocess.run(  # noqa: S603  one of two fixed programs; the text is never an argument
            [program, "-Tpng", f"-Gdpi={DOTS}"],
            input=dot.encode(),
            capture_output=True,
            timeout=seconds,
            check=False,
        )
    except subprocess.TimeoutExpired as error:
        raise refused(program, f"drawing took longer than {seconds:g} seconds and was stopped") from error
    except OSError as error:
        raise refused(program, f"this program cannot be started: {error.strerror}") from error
    if done.returncode != 0 or not done.stdout:
        said = " ".join(done.stderr.decode(errors="replace").split())[:300]
        raise refused(program, f"the drawing failed with exit code {done.returncode}: {said or 'no message'}")
    return done.stdout


def _program(layout_by: str) -> str:
    if layout_by == "system":
        found = shutil.which(SYSTEM)
        advice = "install Graphviz, or leave out --layout-by"
    else:
        found = shutil.which(PURE, path=str(Path(sys.executable).parent)) or shutil.which(PURE)
        advice = f"install it with `pip install {PURE}`, or use --layout-by system, or ask for --format svg"
    if found is None:
        name = SYSTEM if layout_by == "system" else PURE
        raise refused(name, f"the program that draws pictures is not installed; {advice}")
    return found


def with_named_signs(graph: Graph) -> Graph:
    """The picture with every sign that the face lacks written out; for PNG, where no other face can stand in."""
    nodes = tuple(node._replace(paragraphs=tuple(map(named, node.paragraphs))) for node in graph.nodes)
    frames = tuple(frame._replace(title=named(frame.title)) for frame in graph.frames)
    return graph._replace(
        title=named(graph.title),
        subtitle=named(graph.subtitle),
        against=named(graph.against),
        notes=tuple(map(named, graph.notes)),
        nodes=nodes,
        frames=frames,
    )


def named(text: str) -> str:
    """The text with each sign that the face lacks in angle brackets: by its name where that is short, else by code."""
    return text if text.isascii() else "".join(map(_named, text))


def _named(char: str) -> str:
    code, name = ord(char), unicodedata.name(char, "")
    # Joiners and variation selectors only change how the sign beside them looks.
    if char == "\u200d" or "VARIATION SELECTOR" in name:
        return ""
    if any(low <= code <= high for low, high in _HAS) or char in _HAS_ALSO:
        return char
    short = 0 < len(name) <= LONGEST_NAME and f"{code:04X}" not in name
    return f"<{name.lower()}>" if short else f"<U+{code:04X}>"
