"""Ordering names so that each comes after what it rests on, or naming the circle that forbids it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping


class CircleFoundError(ValueError):
    """Names that rest on each other in a circle.

    `names` holds them in order: each rests on the next, the last on the first; the alphabetically first
    leads.
    """

    def __init__(self, names: tuple[str, ...]) -> None:
        self.names = names
        super().__init__(" rests on ".join((*names, names[0])))


def ordered(rests_on: Mapping[str, Iterable[str]]) -> tuple[str, ...]:
    """Every key, after all the keys it rests on; the same for any order of the mapping.

    Names that are no key rest on nothing and are left out. Raises `CircleFoundError`. Not recursive, so any
    depth works.
    """
    finished: dict[str, None] = {}
    for root in sorted(rests_on):
        if root not in finished:
            _finish(root, rests_on, finished)
    return tuple(finished)


def _finish(root: str, rests_on: Mapping[str, Iterable[str]], finished: dict[str, None]) -> None:
    """Walk depth-first from `root`, adding each name to `finished` once all it rests on is there."""
    path: dict[str, Iterator[str]] = {root: _next_names(root, rests_on)}
    while path:
        name, coming = next(reversed(path.items()))
        for lower in coming:
            if lower in path:
                raise CircleFoundError(_circle(tuple(path), lower))
            if lower not in finished:
                path[lower] = _next_names(lower, rests_on)
                break
        else:
            finished[name] = None
            del path[name]


def _next_names(name: str, rests_on: Mapping[str, Iterable[str]]) -> Iterator[str]:
    return iter(sorted(lower for lower in set(rests_on[name]) if lower in rests_on))


def _circle(path: tuple[str, ...], entry: str) -> tuple[str, ...]:
    circle = path[path.index(entry) :]
    first = circle.index(min(circle))
    return circle[first:] + circle[:first]
