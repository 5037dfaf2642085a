"""What of an assembly decides rankings, plans and cautions: all but places, sources and texts."""

from __future__ import annotations

from typing import Any

from diagnose.model.assembly import Assembly
from diagnose.model.places import Place

# Fields that people alone read; what is computed is the same whatever they say.
READ_ONLY = {
    *("title", "text", "question", "how", "says", "reason", "confused_with", "disputed", "explains", "note"),
    *("retest", "steps", "last_step", "sources", "words", "checked", "written", "where", "drawn"),
}


def meaning(assembly: Assembly) -> Any:
    """Equal for two assemblies of which every case comes out the same."""
    return _bare(assembly)


def altered_repairs(old: Assembly, new: Assembly) -> set[str]:
    """The repairs that are not the same work in both: all of them where what they have in common differs."""
    common = [tuple(_bare(getattr(row, name)) for name in _IN_COMMON) for row in (old, new)]
    before, after = ({repair.name: _bare(repair) for repair in row.repairs} for row in (old, new))
    names = {*before, *after}
    return names if common[0] != common[1] else {name for name in names if before.get(name) != after.get(name)}


_IN_COMMON = ("states", "cautions", "size_minutes", "plan_minutes")


def _bare(value: Any) -> Any:
    if isinstance(value, Place):
        return None
    if hasattr(value, "_fields"):
        return (
            type(value).__name__,
            *(_field(name, row) for name, row in zip(value._fields, value, strict=True) if name not in READ_ONLY),
        )
    return tuple(map(_bare, value)) if isinstance(value, tuple) else value


def _field(name: str, value: Any) -> Any:
    """The names of an observation's answers count, what they mean in words does not."""
    if name == "answers":
        return tuple(answer if isinstance(answer, str) else answer[0] for answer in value)
    return _bare(value)
