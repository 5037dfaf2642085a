"""The nearest right name to a wrong one, and lists of names in a sentence."""

from __future__ import annotations

from collections.abc import Iterable

MOST_LISTED = 8


def nearest(wrong: str, names: Iterable[str]) -> str | None:
    """The known name that is most like `wrong`, if any is like it at all."""
    from difflib import get_close_matches  # noqa: PLC0415  costs start-up time, and is needed only when something is wrong

    by_folded = {name.casefold(): name for name in names}
    found = get_close_matches(wrong[:80].casefold().replace(" ", "_"), by_folded, n=1, cutoff=0.6)
    found = found or get_close_matches(wrong[:80].casefold(), by_folded, n=1, cutoff=0.6)
    return by_folded[found[0]] if found else None


def one_of(names: Iterable[str]) -> str:
    """`a`, `b or c`, and no more than a few of many."""
    listed = sorted(names)
    if len(listed) > MOST_LISTED:
        return ", ".join(listed[:MOST_LISTED]) + f" or {len(listed) - MOST_LISTED} more"
    return " or ".join(filter(None, [", ".join(listed[:-1]), *listed[-1:]]))


def expected(wrong: str, names: Iterable[str]) -> str:
    """A clause that helps: full names whose last part this is, else the nearest name, else what may stand here."""
    known = list(names)
    full = sorted(f"'{name}'" for name in known if name.endswith(f".{wrong}"))
    if full and wrong:
        return f"did you mean {one_of(full)}?"
    near = nearest(wrong, known)
    if near is not None:
        return f"did you mean '{near}'?"
    return f"expected {one_of(known)}" if known else "nothing of the kind is known here"
