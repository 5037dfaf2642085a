"""The nearest right name to a wrong one, lists of names in a sentence, and sentences that commas have cut."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence

MOST_LISTED = 12
# Of more names than are listed, so many are offered.
MOST_OFFERED = 5
MOST_COMPARED = 80
# Among thousands of names one is somewhat like any word: there a guess has to be nearer than among a few.
LIKE, VERY_LIKE = 0.6, 0.75


def nearest(wrong: str, names: Iterable[str], least: float = LIKE) -> str | None:
    """The known name that is most like `wrong`, if any is like it at all; `least` (0 to 1) says how much it must be."""
    from difflib import get_close_matches  # noqa: PLC0415  costs start-up time, and is needed only when something is wrong

    by_folded = {name.casefold(): name for name in names}
    found = get_close_matches(wrong[:MOST_COMPARED].casefold().replace(" ", "_"), by_folded, n=1, cutoff=least)
    found = found or get_close_matches(wrong[:MOST_COMPARED].casefold(), by_folded, n=1, cutoff=least)
    return by_folded[found[0]] if found else None


def misspelt(name: str, known: Iterable[str]) -> str | None:
    """The known name of which this is another spelling: word for word the same or like it, or written without a `_`.

    A name with a word more, or with another word in its place, is a name of its own.
    """
    words = name.split("_")
    for one in known:
        others = one.split("_")
        pairs = zip(words, others, strict=False)
        if "".join(words) == "".join(others) or (
            len(words) == len(others) and all(nearest(word, [other]) for word, other in pairs)
        ):
            return one
    return None


def one_of(names: Iterable[str]) -> str:
    """`a`, `b or c`, and no more than a few of many."""
    listed = sorted(names)
    if len(listed) > MOST_LISTED:
        return ", ".join(listed[:MOST_LISTED]) + f" or {len(listed) - MOST_LISTED} more"
    return " or ".join(filter(None, [", ".join(listed[:-1]), *listed[-1:]]))


def expected(wrong: str, names: Iterable[str]) -> str:
    """A clause that helps: names that end or begin with this, else the nearest name, else what may stand here."""
    known = list(names)
    ending = [f"'{name}'" for name in known if name.endswith(f".{wrong}")]
    begun = [f"'{name}'" for name in known if name.startswith(f"{wrong}_")]
    whole = ending or (begun if len(begun) <= MOST_OFFERED else [])
    if whole and wrong:
        return f"did you mean {one_of(whole)}?"
    near = nearest(wrong, known, LIKE if len(known) <= MOST_LISTED else VERY_LIKE)
    if near is not None:
        return f"did you mean '{near}'?"
    if len(known) > MOST_LISTED:
        few = most_alike(wrong, known)
        *most, last = [f"'{name}'" for name in few] if any(" " in name for name in few) else few
        return f"of {len(known)} names the nearest are {', '.join(most)} and {last}"
    return f"expected {one_of(known)}" if known else "nothing of the kind is known here"


def lacking(name: str, known: Iterable[str]) -> str:
    """The first part of a name, as in 'bypass.check_1.leaks', with which no known one goes on."""
    begun, head = {f"{one}." for one in known}, ""
    for part in name.split("."):
        head += f"{part}."
        if not any(one.startswith(head) for one in begun):
            return part
    return name


def cut_by_commas(sentences: Sequence[str]) -> Iterator[tuple[int, str]]:
    """Where the rest of a cut sentence stands among these, and the whole one.

    Behind no stop a small letter goes on, and a capital one too where the last of them ends with a stop: so would each.
    Where the first of them begins small, all may, and nothing is told.
    """
    if not sentences or not sentences[0][:1].isupper():
        return
    # In quotes or brackets a stop stands before the sign that closes them.
    stops = [text.rstrip("\"')")[-1:] in ".!?" for text in sentences]
    start = 0
    for at in range(1, len(sentences) + 1):
        if at < len(sentences) and not stops[at - 1] and (stops[-1] or not sentences[at][:1].isupper()):
            continue
        if at - start > 1:
            yield start + 1, ", ".join(sentences[start:at])
        start = at


def most_alike(wrong: str, names: Iterable[str]) -> list[str]:
    """The few names that have most pairs of letters in common with `wrong`, though none may be like it."""
    sought = _pairs(wrong[:MOST_COMPARED])

    def apart(name: str) -> tuple[float, str]:
        pairs = _pairs(name)
        shared = len(sought & pairs)
        # What is sought as a part of a longer name counts more than what is as long and less alike.
        return -shared / len(sought) - shared / (len(sought) + len(pairs)), name

    return sorted(names, key=apart)[:MOST_OFFERED]


def _pairs(text: str) -> set[str]:
    """The pairs of neighboring letters, the beginning and the end of each word counting as one."""
    marked = f" {re.sub('[^a-z0-9]+', ' ', text.casefold()).strip()} "
    return {marked[at : at + 2] for at in range(len(marked) - 1)}
