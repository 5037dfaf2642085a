"""One sitting over a case: what is known, how deep one has gone, what was left out. Every move gives a new sitting."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import NamedTuple

from diagnose.consulting.stepping import Skipped, Stage, first_stage
from diagnose.model.assembly import Assembly
from diagnose.model.case import Answer, Case


class Sitting(NamedTuple):
    """`reached` are the stages gone into, the present one last."""

    case: Case
    reached: tuple[Stage, ...]
    skipped: Skipped = Skipped()

    def answered(self, name: str, answer: Answer) -> Sitting:
        """With this answer, in the place of an earlier one if there is one."""
        answers = dict(self.case.answers) | {name: answer}
        return self._replace(case=self.case._replace(answers=tuple(answers.items())))._asked_again(name)

    def told_of_place(self, facts: Mapping[str, Answer], left_out: Iterable[str], size: float = 0.0) -> Sitting:
        """With what was told of the place; what was `left_out` is not asked again in this sitting."""
        answers = tuple((dict(self.case.answers) | dict(facts)).items())
        case = self.case._replace(answers=answers, size=size or self.case.size)
        skipped = self.skipped._replace(unknown=self.skipped.unknown | {*left_out})
        return self._replace(case=case, skipped=skipped)

    def withdrawn(self, name: str) -> Sitting:
        """Without an answer, and not asked again in this sitting."""
        answers = tuple((key, answer) for key, answer in self.case.answers if key != name)
        skipped = self.skipped._replace(unknown=self.skipped.unknown | {name}, later=self.skipped.later - {name})
        return self._replace(case=self.case._replace(answers=answers), skipped=skipped)

    def put_off(self, name: str) -> Sitting:
        """Asked again before it goes deeper; put off a second time it counts as not known."""
        if name in self.skipped.later:
            return self.withdrawn(name)
        return self._replace(skipped=self.skipped._replace(later=self.skipped.later | {name}))

    def entered(self, stage: Stage) -> Sitting:
        """In a deeper stage; what was declined before may be offered again."""
        open_ = {*(self.case.parts if self.case.state == stage.state else ()), stage.component} - {""}
        case = self.case._replace(state=stage.state, parts=tuple(sorted(open_)))
        return self._replace(
            case=case, reached=(*self.reached, stage), skipped=self.skipped._replace(stages=frozenset())
        )

    def stayed(self, stage: Stage) -> Sitting:
        """Not going into that stage."""
        return self._replace(skipped=self.skipped._replace(stages=self.skipped.stages | {stage}))

    def _asked_again(self, name: str) -> Sitting:
        skipped = self.skipped
        return self._replace(skipped=skipped._replace(unknown=skipped.unknown - {name}, later=skipped.later - {name}))


def begin(case: Case, assembly: Assembly) -> Sitting:
    """A sitting starts in the state that the case has been left in; else where nothing has been touched."""
    first = first_stage(assembly)
    if case.state in {"", first.state}:
        return Sitting(case, (first,))
    return Sitting(case, (first, *(Stage(case.state, part) for part in case.parts or ("",))))


def empty_case(assembly: Assembly) -> Case:
    """A case that knows nothing yet, judged by the usual limits."""
    return Case(assembly.type, "", 0.0, assembly.default_profile, "", None, ())
