"""DOT text -> a drawn file. The one module of the drawings that starts another program."""

from __future__ import annotations

import shutil
import subprocess
import sys
from pathlib import Path

from diagnose.model.places import Place, Problem, ProblemsFoundError

PURE, SYSTEM = "graphviz-pure", "dot"
SECONDS = 60


def rendered(dot: str, form: str, layout_by: str = "package", seconds: float = SECONDS) -> bytes:
    """The picture as `form` ("svg" or "png"); "dot" gives the text itself.

    `layout_by`: "package" uses the program that pip installs with this project, "system" the `dot` on the search path.

    Raises:
        ProblemsFoundError: the program is missing, takes longer than `seconds`, or refuses the text.
    """
    if form == "dot":
        return dot.encode()
    program = _program(layout_by)
    try:
        done = subprocess.run(  # noqa: S603  one of two fixed programs; the text is never an argument
            [program, f"-T{form}"], input=dot.encode(), capture_output=True, timeout=seconds, check=False
        )
    except subprocess.TimeoutExpired as error:
        raise _problem(program, f"drawing took longer than {seconds:g} seconds and was stopped") from error
    except OSError as error:
        raise _problem(program, f"this program cannot be started: {error.strerror}") from error
    if done.returncode != 0 or not done.stdout:
        said = " ".join(done.stderr.decode(errors="replace").split())[:300]
        raise _problem(program, f"the drawing failed with exit code {done.returncode}: {said or 'no message'}")
    return done.stdout


def _program(layout_by: str) -> str:
    if layout_by == "system":
        found = shutil.which(SYSTEM)
        advice = "install Graphviz, or leave out --layout-by"
    else:
        found = shutil.which(PURE, path=str(Path(sys.executable).parent)) or shutil.which(PURE)
        advice = f"install it with `pip install {PURE}`, or use --layout-by system, or ask for --format dot"
    if found is None:
        name = SYSTEM if layout_by == "system" else PURE
        raise _problem(name, f"the program that draws pictures is not installed; {advice}")
    return found


def _problem(place: str, message: str) -> ProblemsFoundError:
    return ProblemsFoundError([Problem(Place(place), message)])
