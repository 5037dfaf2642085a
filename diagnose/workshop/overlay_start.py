"""Starting an overlay: a folder with a name and with examples of what can be changed, all of them comments."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path

from diagnose.knowledge.files import write_whole
from diagnose.knowledge.rulebase import read_nodes
from diagnose.knowledge.shapes import is_name
from diagnose.knowledge.shipped import OVERLAY_FILE
from diagnose.knowledge.yamltext import Node, entries_of, flat, value_of
from diagnose.model.places import Place, Problem, ProblemsFoundError

HEAD = """\
# Your own rules beside the shipped ones. A file here adds to, or changes, the shipped file of the same name.
# docs/overlay.md says how; `diagnose rules overlay check FOLDER` says what is wrong and what comes of it.
overlay: {name}
title: {title}    # stands on every sheet made with it
"""
SOURCES = """\
# Where your own statements come from. Take the '#' away from the lines that you fill in.
# sources:
#   OWN_RECORDS:
#     title: our own repair records, and for which years
#     where: where a colleague can look them up
#     mark: read
"""
CHANGING = """\
# Names that stand in the shipped file are changed under 'changed'; only what differs is written.
# A changed thing says its own source, which is 'estimate' where it is your own guess.
"""
PROFILE = """\
# A profile of your own. To make it the one that is used when a case names none, write 'default: yes' here,
# and 'changed: {{default: no}}' in limits/{default}.yaml beside this file.
# profile: {name}
# title: who asks for these values
# explains: What differs from the other profiles.
# limits:
#   {limit}:
#     {relation}: {amount}
#     source: estimate
#     checked: {checked}
"""


def start_overlay(folder: Path, rules: Path) -> tuple[Path, ...]:
    """Makes the folder with its first files, taking its examples from the rule base; the files made.

    Raises:
        ProblemsFoundError: the folder holds something already, cannot be written, or the rule base cannot be read.
    """
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise _refused(folder, "holds something already; nothing was written")
    written = dict(_files(folder, read_nodes(rules)))
    try:
        for name, text in written.items():
            (folder / name).parent.mkdir(parents=True, exist_ok=True)
            write_whole(folder / name, text.encode())
    except OSError as error:
        raise _refused(folder, f"cannot be written: {error.strerror or type(error).__name__}") from error
    return tuple(folder / name for name in written)


def _refused(folder: Path, message: str) -> ProblemsFoundError:
    return ProblemsFoundError([Problem(Place(str(folder)), message)])


def _files(folder: Path, nodes: dict[str, Node]) -> Iterator[tuple[str, str]]:
    called = folder.resolve().name
    name = called if called and is_name(called) else "own_rules"
    yield OVERLAY_FILE, HEAD.format(name=name, title=json.dumps(f"{name.replace('_', ' ')}, own rules"))
    yield "sources.yaml", SOURCES
    yield from _change(nodes)
    found = _profile(name, nodes)
    if found is not None:
        yield found


def _change(nodes: dict[str, Node]) -> Iterator[tuple[str, str]]:
    """The first part file whose causes have shares, with a change of one share and of the minutes of a repair."""
    for file in sorted(nodes):
        lines = []
        for section, key in (("causes", "share"), ("repairs", "minutes")):
            for thing, value in entries_of(nodes[file], section)[:1]:
                lines += [
                    f"  {section}:",
                    f"    {thing.text}: {{{key}: {flat(value_of(value, key))}, source: estimate}}",
                ]
        if file.startswith("parts/") and lines:
            yield file, CHANGING + "".join(f"# {line}\n" for line in ("changed:", *lines))
            return


def _profile(name: str, nodes: dict[str, Node]) -> tuple[str, str] | None:
    for file in sorted(nodes):
        if file.startswith("limits/") and flat(value_of(nodes[file], "default")) == "yes":
            for limit, value in entries_of(nodes[file], "limits"):
                relation = "above" if flat(value_of(value, "above")) else "at least"
                return f"limits/{name}.yaml", PROFILE.format(
                    name=name,
                    default=Path(file).stem,
                    limit=limit.text,
                    relation=relation,
                    amount=flat(value_of(value, relation)),
                    checked=flat(value_of(value, "checked")),
                )
    return None
