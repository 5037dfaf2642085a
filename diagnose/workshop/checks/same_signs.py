"""A cause that no observation can separate from another."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from diagnose.knowledge.piece import own_name
from diagnose.model.assembly import Assembly
from diagnose.model.causes import Cause
from diagnose.model.places import Place
from diagnose.workshop.checks.checked_base import CheckedBase, Doubt, Example, RuleCheck

Signs = dict[str, list[str]]
Signatures = dict[tuple[str, str], dict[Place, str]]


def _find(base: CheckedBase) -> Iterator[Doubt]:
    causes: dict[Place, Cause] = {}
    signatures: Signatures = {}
    for name, assembly in base.assemblies.items():
        signs, kinds = _signs(assembly), _kinds(assembly)
        for cause in assembly.causes:
            causes.setdefault(cause.place, cause)
            signatures.setdefault((name, cause.component), {})[cause.place] = _signature(cause, signs, kinds)
    for first, place in sorted(_pairs(signatures)):
        yield _doubt(causes[first], causes[place])


def _pairs(signatures: Signatures) -> set[tuple[Place, Place]]:
    """Causes of one part with the same signature in every component that has them; each beside the first like it."""
    everywhere: dict[Place, list[str]] = {}
    homes: dict[Place, list[tuple[str, str]]] = {}
    for home, rows in signatures.items():
        for place, signature in rows.items():
            everywhere.setdefault(place, []).append(signature)
            homes.setdefault(place, []).append(home)
    groups: dict[tuple[object, ...], list[Place]] = {}
    for place in sorted(everywhere):
        groups.setdefault((*homes[place], *everywhere[place]), []).append(place)
    return {(rows[0], place) for rows in groups.values() for place in rows[1:]}


def _doubt(first: Cause, cause: Cause) -> Doubt:
    message = (
        f"no observation can separate cause '{own_name(cause.name)}' from '{own_name(first.name)}': both bring about "
        "the same and are seen by the same, so their ratio never changes"
    )
    return Doubt(cause.place, message, ((first.place, f"cause '{own_name(first.name)}' stands here"),))


def _signature(cause: Cause, signs: Signs, kinds: Mapping[tuple[str, str], frozenset[str]]) -> str:
    """All that evidence could tell of a cause: what shows it, itself or through the modes that it brings about."""
    shown = sorted((chance, sorted(signs[mode])) for mode, chance in cause.brings if mode in signs)
    weighed = kinds.get((cause.component, cause.kind), frozenset())
    return repr((shown, sorted(signs.get(cause.name, [])), sorted(weighed)))


def _signs(assembly: Assembly) -> Signs:
    """What each mode, cause and condition shows or hides; those that stand nowhere show nothing."""
    found: Signs = {}
    for row in assembly.findings:
        for reason in row.reasons:
            for name in reason.all_of:
                partners = sorted(set(reason.all_of) - {name})
                found.setdefault(name, []).append(f"{row.name} shown {partners} {reason.at_least}")
        for name, factor in row.hidden_by:
            found.setdefault(name, []).append(f"{row.name} hidden {factor}")
    return found


def _kinds(assembly: Assembly) -> dict[tuple[str, str], frozenset[str]]:
    """For a component and a kind of cause, the circumstances that weigh it and how much."""
    components = ["", *(row.name for row in assembly.components)]
    found: dict[tuple[str, str], set[str]] = {}
    for row in assembly.findings:
        for kind, decibans in row.weighs:
            for component in row.weighs_on or components:
                found.setdefault((component, kind), set()).add(f"{row.name} {decibans}")
    return {key: frozenset(names) for key, names in found.items()}


CHECK = RuleCheck(
    name="same-signs",
    about="A cause that no observation can separate from another.",
    means="""
Two causes bring about the same failure modes with the same probabilities, are seen by the same sights or by
none, and are weighed by the same circumstances. Whatever is answered, one stays as many times likelier than the
other as the base rates say.
""",
    matters="""
The ranking between the two is the guess of their shares and nothing else, and it is shown as if it were a
finding. Nobody can ask a question that decides.
""",
    example=Example(
        "parts/check_valve.yaml",
        """\
causes:
  gasket_hard:
    text: gasket under the seat of the {component} gone hard
    kind: rubber
    share: 1
    brings: {leaks: 0.95}
    source: estimate
  gasket_pinched:
    text: gasket under the seat of the {component} pinched
    kind: rubber
    share: 1
    brings: {leaks: 0.95}
    source: estimate
""",
        "no observation can separate cause 'gasket_pinched' from 'gasket_hard': both bring about the same and are seen "
        "by the same, so their ratio never changes",
    ),
    mend="""
Add what is seen on the opened part: an observation, a finding with this cause as its reason, and a rule. If
nothing can be seen and the repair is the same, make one cause of the two. If the difference matters only for
the repair, say so with `deliberate`.
""",
    find=_find,
)
