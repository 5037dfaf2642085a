"""Practice as a dialogue: the trainee chooses what to look at, the assembly answers, minutes run.

It goes by `consulting/talking.py` as a consultation does, so that terminal and phone run the same.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Iterator, Sequence
from contextlib import suppress

from diagnose.cases.writing import written_size
from diagnose.consulting import screens
from diagnose.consulting.sitting import begin
from diagnose.consulting.stepping import Stage, is_open, stages
from diagnose.consulting.surroundings import Elsewhere, how_to_tell, open_facts
from diagnose.consulting.talking import Awaited, Conversing, Option, Takes, Talk, command_in, numbers_in
from diagnose.diagnosis.field_test import mended_at_the_test, occasions
from diagnose.diagnosis.looking import at_any_time, states_ahead
from diagnose.diagnosis.outcomes import askable
from diagnose.diagnosis.planning import terms_of
from diagnose.diagnosis.result import Diagnosis, cautions_for
from diagnose.diagnosis.runs import chained
from diagnose.diagnosis.wording import capital
from diagnose.engine.walking import names_in
from diagnose.model.work import Observation, Repair, State
from diagnose.plan.repairs import cautions_into
from diagnose.practice.hidden import Hidden
from diagnose.practice.marks import marks_page
from diagnose.practice.naming import KEYS, NUMBER, NUMBER_OR_BACK, Naming, chosen_of, obeyed
from diagnose.practice.ways import Move, Way, by_the_tool, entered, known_by, lasting, put_right, said_of, seen
from diagnose.sheet.blocks import Block, Entries, Entry, Heading, Paragraph
from diagnose.sheet.page import stage_text

NUMBERS = "Numbers (Enter: back to the list): "
INVENTED = "The case is invented: drawn from the rule base by its rates, none was seen on a site."
NAME, PUT_RIGHT = "name", "put right"
GO_ON: tuple[Option, ...] = (("go on", "go on into this state"), ("stay", "stay where you are"))
THE_PLACE: Option = ("place", "first look at what the cautions ask of the place")


class Practising:
    """One practice on a hidden assembly. `again` says how to get the same; pressures are shown in `unit`."""

    def __init__(self, hidden: Hidden, talk: Talk, again: Block, unit: str = "psid") -> None:
        self.hidden, self.ready, self.assembly = hidden, hidden.ready, hidden.ready.assembly
        self.talk, self.unit, self._again = talk, unit, again
        self.sitting = begin(hidden.complaint, self.assembly)
        self.result = Diagnosis(self.ready, self.sitting.case)
        self.moves: list[Move] = []
        self.passed: list[str] = []
        self._start = hidden
        self._terms = terms_of(self.assembly, hidden.case.size)
        self._where = stages(self.assembly)
        self._states = {row.name: row for row in self.assembly.states}
        self._said: frozenset[str] = frozenset()
        # The tool works beside the trainee, a move of its own after each of theirs: nobody waits for it in the end.
        self._tools = by_the_tool(hidden)
        self._tools_way: Way | None = None

    @property
    def minutes(self) -> float:
        """So far."""
        return sum(row.minutes for row in self.moves)

    def conversing(self) -> Conversing[None]:
        """The practice to its marks. Raises Stopped where the person stops."""
        self.talk.say(self._beginning())
        while True:
            chosen = yield from self._choose_group()
            if chosen == NAME:
                named = yield from Naming(self.hidden, self.talk, self._help).take()
                if named is not None:
                    break
            elif chosen == PUT_RIGHT:
                yield from self._put_right()
            else:
                with suppress(Elsewhere):
                    yield from self._look(chosen, self._groups()[chosen])
        mine = Way(tuple(self.moves), named, self._terms, self.hidden)
        self.talk.tell("The tool goes its own way on the same assembly to its end.")
        while self._tools_way is None:
            self._work_beside()
        self.talk.say(marks_page(self._start, mine, self._tools_way, self.passed, self.unit))
        self.talk.say([Heading("The same case again", 3), self._again])

    def _beginning(self) -> Iterator[Block]:
        case = self.sitting.case
        yield Heading(f"PRACTICE: {self.assembly.type}, {self.assembly.title}", 1)
        yield Paragraph(INVENTED)
        yield Paragraph(next((row.text for row in self.assembly.cautions if row.always), ""))
        yield Heading("What you are told", 3)
        rows = {row.name: row for row in self.assembly.observations}
        told = [f"{rows[name].title}: {seen(rows[name], answer, self.unit)}" for name, answer in case.answers]
        yield Entries(tuple(Entry("", text) for text in (*told, f"nominal size: {written_size(case.size)}")))
        yield Paragraph(
            "Find out what is wrong, if anything, and name the part, the cause and the first repair. Each look takes "
            "its minutes, and so does each state that you bring the assembly into."
        )

    # What to look at

    def _groups(self) -> dict[str, list[Observation]]:
        """What can be looked at now or further on, as a visit meets it: title -> rows."""
        possible = {row.name for row in askable(self.ready, self.result.chaining, dict(self.sitting.case.answers))}
        ahead = states_ahead(self.assembly, self._here.state)
        found: dict[str, list[Observation]] = {}
        for occasion in occasions(self.assembly):
            for row in occasion.observations:
                if row.name in possible and (row.state in ahead or self._is_open(row)):
                    found.setdefault(occasion.title, []).append(row)
        return found

    @property
    def _here(self) -> Stage:
        return self.sitting.reached[-1]

    def _is_open(self, row: Observation) -> bool:
        return is_open(row, self._where, self.sitting.reached, self.assembly)

    def _choose_group(self) -> Conversing[str]:
        groups = self._groups()
        options: list[Option] = [(title, f"{title}: {self._count(rows)}") for title, rows in groups.items()]
        if any(self._here.state in row.states for row in mended_at_the_test(self.ready.assembly)):
            options.append((PUT_RIGHT, "Put right what may spoil the test, and go on"))
        options.append((NAME, "Name what is wrong, and the first repair"))
        question = f"Practice, {lasting(self.minutes)} so far: what next?"
        self.talk.say([Heading(question, 1), Paragraph(f"You stand here: {self._standing()}.")])
        found = yield from chosen_of(self.talk, question, options, NUMBER, self._help)
        return found or (yield from self._choose_group())

    def _standing(self) -> str:
        return stage_text(self.assembly, self._here.state, self.sitting.case.parts)

    def _count(self, rows: Sequence[Observation]) -> str:
        deeper = [row for row in rows if not self._is_open(row)]
        least = min((self._minutes_to(row) for row in deeper), default=0.0)
        there = f", {lasting(least)} to get there" if least and len(deeper) == len(rows) else ""
        return f"{len(rows)} to look at{there}"

    def _minutes_to(self, row: Observation) -> float:
        return entered(self.ready, self._where[row.name], self.sitting.case.size, self._terms)[0]

    def _look(self, title: str, rows: Sequence[Observation]) -> Conversing[None]:
        """A list of checks, until the person goes back; those of single parts stand together behind their part."""
        names = {row.name for row in rows}
        while left := [row for some in self._groups().values() for row in some if row.name in names]:
            parts = self._parts_of(left)
            plain = [row for row in left if row.component not in parts]
            options = [(row.name, f"{row.title} ({lasting(row.minutes)})") for row in plain]
            options += [
                (name, f"{text}: {sum(row.component == name for row in left)} to look at")
                for name, text in parts.items()
            ]
            question = f"Practice: {title[:1].lower()}{title[1:]}"
            self.talk.say([Heading(question, 1), screens.numbered(options)])
            picked = yield from self._several(question, options, plain)
            if not picked:
                return
            for name in picked:
                if name in parts:
                    yield from self._look(parts[name], [row for row in left if row.component == name])
                else:
                    yield from self._ask(next(row for row in plain if row.name == name))

    def _parts_of(self, rows: Sequence[Observation]) -> dict[str, str]:
        """The parts that have a list of their own, each with its title: where there are several of both."""
        own = Counter(row.component for row in rows if row.component)
        usual = {row.name for some in occasions(self.assembly) if some.usual for row in some.observations}
        if len(own) < 2 or any(row.name in usual for row in rows):
            return {}
        return {row.name: row.title for row in self.assembly.components if own[row.name] > 1}

    def _several(self, question: str, options: Sequence[Option], plain: Sequence[Observation]) -> Conversing[list[str]]:
        """The options of one line of numbers; none: back."""
        while True:
            line = yield Awaited(NUMBERS, Takes.ONE, KEYS, tuple(options), left_out="back", question=question)
            try:
                if line.strip() in {"", "0"} or obeyed(line, self.talk, self._help, how_to_tell(plain)) == "b":
                    return []
                if command_in(line) is None:
                    numbers = numbers_in(line, len(options), "or Enter to go back")
                    if not numbers:
                        raise ValueError("type numbers of the list, as in 1 3, or Enter to go back")
                    return [options[number - 1][0] for number in numbers]
            except ValueError as error:
                self.talk.tell(f"{error}.")

    def _ask(self, row: Observation) -> Conversing[None]:
        """Looks at one thing, in its state. Raises Elsewhere where that is not gone into."""
        if row not in (one for some in self._groups().values() for one in some):
            self.talk.tell(f"{row.title}: passed over, since what was seen just now leaves nothing to look at there.")
            return
        if not self._is_open(row):
            yield from self._enter(self._where[row.name])
        wanted, row = row, self.hidden.met(row, dict(self.sitting.case.answers))
        answer = self.hidden.written(row.name)
        self.sitting = self.sitting.answered(row.name, answer)
        before = known_by(self.result)
        with suppress(ValueError):  # what does not count may fit nothing: what is known stays as it was
            self.result = Diagnosis(self.ready, self.sitting.case)
        self.moves.append(Move(wanted.minutes, before, known_by(self.result), observation=row))
        said = said_of(row, answer, self.unit)
        if wanted is not row:
            said = f"{wanted.title}: not answered yet, since another look comes before it. {capital(said)}"
        self.talk.tell(f"{said}. {lasting(wanted.minutes)}; {lasting(self.minutes)} so far.")
        self._work_beside()

    def _work_beside(self) -> None:
        if self._tools_way is None:
            try:
                next(self._tools)
            except StopIteration as end:
                self._tools_way = end.value

    # Going into states

    def _enter(self, stage: Stage) -> Conversing[None]:
        """Into a state by the states before it; what is passed over on the way is counted.

        Raises:
            Elsewhere: nobody may go into it as things stand, or the person does not want to.
        """
        state = self._states[stage.state]
        problem = self._refusal(state)
        if problem:
            early = {row.name for row in self.assembly.cautions if row.danger and row.said_when is None} - self._said
            texts = (problem, *(row.caution.text for row in cautions_for(self.result, early & {*state.cautions})))
            self.talk.say([Heading("You are stopped here", 3), Entries(tuple(Entry("!", text) for text in texts))])
            raise Elsewhere
        names = cautions_into(state.name, self._states)
        while True:
            facts = open_facts(self.result, names - self._said, ())
            question = f"Practice: go on to this? {stage_text(self.assembly, stage.state, [stage.component])}"
            minutes, terms = entered(self.ready, stage, self.sitting.case.size, self._terms)
            rows = [row.caution for row in cautions_for(self.result, names - self._said)]
            self.talk.say([Heading(question, 1), Paragraph(f"It takes {lasting(minutes)}.{self._lost(state)}")])
            here = "" if self._here.state == state.name else self._here.state
            self.talk.say(screens.cautions_page(self.assembly, state.name, rows, here))
            options = (*GO_ON[:1], *([THE_PLACE] if facts else []), *GO_ON[1:])
            chosen = yield from chosen_of(self.talk, question, options, NUMBER, self._help)
            if chosen == "place":
                for row in facts:
                    yield from self._ask(row)
            elif chosen != "go on":
                raise Elsewhere
            else:
                break
        self._count_passed(names - self._said)
        self._said |= names
        self._terms, self.sitting = terms, self.sitting.entered(stage)
        before, case = known_by(self.result), self.sitting.case
        self.result = self.result.in_state(case.state, case.parts)
        self.moves.append(Move(minutes, before, known_by(self.result), stage=stage))
        self._work_beside()

    def _lost(self, state: State) -> str:
        """That nobody comes back to what is left to look at before."""
        ahead, here = states_ahead(self.assembly, state.name), states_ahead(self.assembly, self._here.state)
        rows = [row for some in self._groups().values() for row in some if not at_any_time(self.assembly, row)]
        lost = sum(row.state in here - ahead for row in rows)
        return f" Nobody goes back from there: {lost} of the looks left can be had only before." if lost else ""

    def _refusal(self, state: State) -> str:
        """Why nobody goes into a state as things stand, "" where nothing is against it; what is dangerous counts."""
        reached = {row.state for row in self.sitting.reached}
        if state.takes_apart and state.after and state.after not in reached:
            before = self._states[state.after].text
            return f'Nobody goes on to "{state.text}" before this: {before}.'
        says = self._says_against(state, self.result)
        if not says and (says := self._says_against(state, Diagnosis(self.ready, self.hidden.everything))):
            self._passes(f'"{state.text}" was begun, though: {says}')
        return f"{says} While that is so nobody goes on to this: {state.text}." if says else ""

    def _passes(self, text: str) -> str:
        """Counts a caution that was passed over, each once."""
        self.passed += [text] if text not in self.passed else []
        return text

    def _says_against(self, state: State, result: Diagnosis) -> str:
        if state.not_while is None or result.chaining.value_of(state.not_while) is not True:
            return ""
        return " ".join(result.says[name] for name in sorted(names_in(state.not_while)) if name in result.says)

    def _count_passed(self, names: Collection[str]) -> None:
        """Cautions that hang on the place, hold here, and were left for what they may be: nobody looked."""
        truth, _ = chained(self.ready, self.hidden.everything)
        for row in cautions_for(self.result, names):
            premise = row.caution.said_when
            if not row.known and premise is not None and truth.value_of(premise):
                titles = [row.title for row in self.assembly.observations if row.name in names_in(premise)]
                self._passes(
                    f"It holds here, and you went on without a look at this: {', '.join(titles)}. {row.caution.text}"
                )

    def _put_right(self) -> Conversing[None]:
        done = {row.put_right for row in self.moves}
        rows: list[Repair] = [row for row in mended_at_the_test(self.ready.assembly) if row not in done]
        question = "Practice: what is to be put right?"
        options = [(row.name, f"{row.title} ({lasting(row.minutes)})") for row in rows]
        self.talk.say([Heading(question, 1)])
        chosen = yield from chosen_of(self.talk, question, options, NUMBER_OR_BACK, self._help)
        repair = next((row for row in rows if row.name == chosen), None)
        if repair is None:
            return
        before, known = known_by(self.result), dict(self.sitting.case.answers)
        minutes, self.hidden, self.sitting = put_right(self.hidden, self.sitting, repair, self._terms)
        self.result = Diagnosis(self.ready, self.sitting.case)
        self.moves.append(Move(minutes, before, known_by(self.result), put_right=repair))
        titles = [
            row.title
            for row in self.assembly.observations
            if row.name in known.keys() - dict(self.sitting.case.answers)
        ]
        again = f"To be looked at again: {', '.join(titles)}" if titles else "All that you have seen stands as it was"
        self.talk.tell(f"Done: {repair.title}, {lasting(minutes)}. {again}.")
        self._work_beside()

    def _help(self) -> Iterator[Block]:
        yield Heading("What you can type", 1)
        yield Paragraph(
            "The number of what you choose; in a list of checks several at once, as in 1 3 4. Enter or b goes back to "
            "the list before. In a list of checks ? tells how to look at each. h is this help; q stops, without marks."
        )
