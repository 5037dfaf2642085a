"""A diagnosis -> the picture of its reasoning, folded to what a projector shows legibly, or in full."""

from __future__ import annotations

from diagnose.diagnosis.result import Diagnosis
from diagnose.drawing.fault_band import wrong_nodes, wrong_nodes_in_full
from diagnose.drawing.graph import Graph
from diagnose.drawing.picture import Aspect, Picture
from diagnose.drawing.placing import fitted
from diagnose.drawing.rests_on import Justifications
from diagnose.drawing.selection import BOUNDLESS, Room, choose, choose_all
from diagnose.model.work import Observation

ROOMIEST = Room(observations=6, findings=6, modes=4, causes=5, repairs=3, conditions=2)


def draw_reasoning(result: Diagnosis, unit: str = "psid") -> Graph:
    """The picture of one case, at most MOST_NODES nodes on a page of the usual size; pressures in `unit`."""
    justifications = Justifications(result)
    asked = _asked(result)

    def drawn(room: Room) -> Graph:
        picture = Picture(justifications, choose(result, room), room, unit)
        return picture.graph(list(wrong_nodes(result, picture.selection)), asked)

    return fitted(drawn, ROOMIEST)


def draw_everything(result: Diagnosis, unit: str = "psid") -> Graph:
    """The picture of one case with nothing folded, on a page as tall as it takes; pressures in `unit`."""
    picture = Picture(Justifications(result), choose_all(result), BOUNDLESS, unit, Aspect(keeps=True))
    return picture.graph(list(wrong_nodes_in_full(result, picture.selection)), _asked(result))


def _asked(result: Diagnosis) -> list[Observation]:
    """The check that the sheet tells to make next, if there is one."""
    return [result.advice.check.observation] if result.advice.check else []
