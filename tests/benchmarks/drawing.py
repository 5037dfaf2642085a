"""How long a diagram takes beside working the case through, in milliseconds: `python -m tests.benchmarks.drawing`.

The rule base is loaded and the plan made beforehand; wrapped texts are forgotten before each run. "picture" chooses and
fits, "place" puts boxes and lines on the canvas, "svg" writes it, "png" starts the packaged renderer. "all" is picture,
place and svg; the ratio is that to working the case through. Each figure is the least of several runs.
"""

from __future__ import annotations

from functools import partial
from pathlib import Path

from diagnose.cases.reading import read_case, read_type
from diagnose.diagnosis.library import Library
from diagnose.diagnosis.result import Diagnosis
from diagnose.drawing.diagram import diagram
from diagnose.drawing.lettering import wrapped
from diagnose.drawing.reasoning import draw_everything, draw_reasoning
from diagnose.drawing.render import rendered
from diagnose.knowledge.yamltext import read_file
from tests.benchmarks.ranking import least

EXAMPLES = Path(__file__).resolve().parents[2] / "examples"


def measured(library: Library, path: Path) -> str:
    """One line of figures for a case."""
    node = read_file(path)
    ready = library.get(read_type(node, library.types()))
    case = read_case(node, ready.assembly)
    result = Diagnosis(ready, case)
    assert result.plan.cautions
    graph = draw_reasoning(result)
    canvas = diagram(graph)
    work = least(partial(Diagnosis, ready, case))
    picture = least(partial(draw_reasoning, result), wrapped.cache_clear)
    placed = least(partial(diagram, graph), wrapped.cache_clear)
    svg, png = least(partial(rendered, canvas, "svg")), least(partial(rendered, canvas, "png"))
    every = least(lambda: rendered(diagram(draw_everything(result)), "svg"), wrapped.cache_clear)
    drawn = picture + placed + svg
    parts = f"{len(graph.nodes):5} {work:8.1f} {picture:8.1f} {placed:6.1f} {svg:6.1f} {png:6.0f}"
    return f"{path.stem:37}{parts} {drawn:6.1f} {drawn / work:6.2f} {every:9.0f}"


def main() -> None:
    """Prints one line for each example."""
    library = Library()
    print(f"{'case':37}nodes  examine  picture  place    svg    png    all  ratio  unfolded")
    for path in sorted(EXAMPLES.glob("*.yaml")):
        print(measured(library, path))


if __name__ == "__main__":
    main()
