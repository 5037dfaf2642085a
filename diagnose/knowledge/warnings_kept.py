"""An overlay may add warnings; it cannot take away those that the shipped rule base gives."""

from __future__ import annotations

from diagnose.knowledge.fields import Problems, complain
from diagnose.knowledge.yamltext import Node, Scalar, Sequence
from diagnose.model.foreign import cut

SECTION = "cautions"


def fewer_warnings(path: tuple[str, ...], key: Scalar, old: Node | None, new: Node, problems: Problems) -> None:
    """Notes each warning that `new` in place of `old` would take away; `key` is the shipped key.

    A list of cautions keeps those it has, and a repair the states it needs, whose cautions it would lose. A caution
    that is always read stays so, and one that is read on every assembly, or on those with a part, is still read there.
    What it is said on, at the site or by size, stays as it is, and so does what keeps people out of a state.
    """
    word, gone = "caution", list[str]()
    if path[-1] == "cautions":
        gone = sorted(_texts(old) - _texts(new))
    elif path[0] == "repairs" and path[-1] == "states":
        word, gone = "state", sorted(_texts(old) - _texts(new))
    elif path[0] == SECTION and path[-1] == "always":
        gone = [path[1]] if _texts(old) == {"yes"} and _texts(new) != {"yes"} else []
    elif path[0] == SECTION and path[-1] == "parts":
        gone = [path[1]] if old is None or _texts(old) - _texts(new) else []
    elif path[0] == SECTION and path[-1] in {"said when", "from size"}:
        gone = [path[1]]
    elif path[0] == "states" and path[-1] == "not while" and old is not None:
        word, gone = "finding", sorted(_texts(old) - _texts(new))
    for name in gone:
        message = f"{cut(', '.join(path), 120)}: the {word} '{cut(name)}' cannot be taken away, only others added"
        complain(problems, new.place, message, (key.place, "the rule base gives it here"))


def _texts(node: Node | None) -> set[str]:
    items = node.items if isinstance(node, Sequence) else (node,)
    return {item.text.strip() for item in items if isinstance(item, Scalar) and item.text.strip()}
