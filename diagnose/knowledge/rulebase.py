"""Reading a whole rule base: the folder rules/, with overlays or without -> one Assembly for each type."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from pathlib import Path
from typing import NamedTuple

from diagnose.knowledge.answers import written_out
from diagnose.knowledge.assemblies import Builder, Known
from diagnose.knowledge.context import Context, Vocabulary
from diagnose.knowledge.fields import Problems, unknown
from diagnose.knowledge.files import files_below
from diagnose.knowledge.laying import Laying
from diagnose.knowledge.overlay import Overlay, read_head
from diagnose.knowledge.parts import read_part, read_site
from diagnose.knowledge.piece import own_name
from diagnose.knowledge.settings import (
    Limits,
    bounds_out_of_range,
    limits_out_of_range,
    limits_used,
    one_default,
    read_edition,
    read_gauge,
    read_profile,
    read_settings,
    said_when,
)
from diagnose.knowledge.shipped import VERSION_FILE, overlay_files, rule_files
from diagnose.knowledge.yamltext import Node, Scalar, entries_of, kind_of, read_rules_file, value_of
from diagnose.model.assembly import Assembly
from diagnose.model.causes import PLAIN_GRADES
from diagnose.model.places import Place, Problem, ProblemsFoundError, refused

# What editors make of a rule file's ending; such a file would be passed over.
OTHER_ENDINGS = (".yml", ".YAML", ".YML", ".yaml.txt", ".yml.txt")
SITE_FILES = ("conditions", "validity", "circumstances")
FIXED_FILES = {f"{name}.yaml" for name in ("scales", "sources", "states", "cautions", "retired", "limits/gauge")} | {
    f"site/{name}.yaml" for name in SITE_FILES
}


class RuleBase(NamedTuple):
    """Every type of assembly that the folder describes, and the overlays that were laid over it.

    `edition` is the version that the rule base gives itself, "" where it gives none.
    """

    folder: str
    assemblies: dict[str, Assembly]
    overlays: tuple[Overlay, ...] = ()
    edition: str = ""


def read_rule_base(folder: Path, overlays: Sequence[Path] = (), shown: str | None = None) -> RuleBase:
    """Reads everything; `shown` stands for the folder's path in places, where the folder is not the one to mend.

    Raises:
        ProblemsFoundError: with all problems of all files.
    """
    return _Reader(folder, overlays, shown).read()


def read_nodes(folder: Path, shown: str | None = None, overlays: Sequence[Path] = ()) -> dict[str, Node]:
    """The rule files of a folder as they are written, by their names below it, before any meaning is given to them.

    With overlays, what the files would hold had they been edited; each value has the place where it was written.

    Raises:
        ProblemsFoundError: with the problems of all files that are not YAML, or of laying the overlays over them.
    """
    reader = _Reader(folder, overlays, shown)
    reader.open_all(folder, rule_files(folder), reader.nodes)
    reader.stop()
    if overlays:
        reader.lay_over()
    reader.problems += reader.of_answers
    reader.stop()
    return reader.nodes


class _Reader:
    def __init__(self, folder: Path, overlays: Sequence[Path], shown: str | None) -> None:
        self.folder, self.overlays, self.shown = folder, overlays, shown
        self.problems: Problems = []
        self.of_answers: Problems = []  # told with those of reading, not before
        self.nodes: dict[str, Node] = {}

    def read(self) -> RuleBase:
        if not self.folder.is_dir():
            raise refused(self._shown(self.folder), "is not a folder; expected a rule base")
        self.open_all(self.folder, rule_files(self.folder), self.nodes)
        self._places(self.folder, self.nodes)
        self.stop()
        overlays = self.lay_over() if self.overlays else ()
        self.problems += self.of_answers
        edition = read_edition(self.nodes[VERSION_FILE], self.problems) if VERSION_FILE in self.nodes else ""
        settings = read_settings(self.nodes.__getitem__, self.problems)
        context = Context(settings, Vocabulary(), self.problems)
        limits = self._limits(context)
        parts = {name: read_part(node, name, context) for name, node in self._under("parts").items()}
        site = read_site([(name, self.nodes[f"site/{name}.yaml"]) for name in SITE_FILES], context)
        at_site = said_when(self.nodes["cautions.yaml"], context._replace(vocabulary=site.words))
        context = at_site._replace(vocabulary=context.vocabulary)
        assemblies = Builder(list(self._under("assemblies").values()), Known(context, limits, parts, site)).all()
        if not self.problems:
            # A limit that nothing uses is most likely misspelt; passed over, it would leave comparisons unknown.
            used = limits_used(assemblies.values())
            for node in self._under("limits").values():
                for limit, _ in entries_of(node, "limits"):
                    if limit.text not in used:
                        sentence = "limits: no reading and no rule uses a limit"
                        unknown(self.problems, limit.place, sentence, limit.text, used)
            self.problems += limits_out_of_range(assemblies.values())
            self.problems += bounds_out_of_range(assemblies.values())
            self._unused_parts({row.part for assembly in assemblies.values() for row in assembly.components})
            self._states_barred(assemblies.values())
        self.stop()
        return RuleBase(str(self.folder), assemblies, overlays, edition)

    def stop(self) -> None:
        """Ends reading where there are problems."""
        if self.problems:
            # What is wrong with an answer may show again in the finding and the rule that are written out of it.
            told = {(row.place, row.message.partition(": ")[2] or row.message): row for row in reversed(self.problems)}
            raise ProblemsFoundError(told.values())

    def _shown(self, path: Path) -> str:
        if self.shown is None:
            return str(path)
        below = path.relative_to(self.folder).as_posix()
        return self.shown if below == "." else f"{self.shown}/{below}"

    def open_all(self, folder: Path, files: list[Path], nodes: dict[str, Node]) -> None:
        """Reads files of a folder into `nodes`; what cannot be read is noted."""
        for path in files:
            try:
                shown = self._shown(path) if folder == self.folder else None
                nodes[path.relative_to(folder).as_posix()] = written_out(read_rules_file(path, shown), self.of_answers)
            except ProblemsFoundError as error:
                self.problems += error.problems

    def lay_over(self) -> tuple[Overlay, ...]:
        """Lays the overlays over the files read; what each adds and changes."""
        laying = Laying(self.nodes, self.problems)
        heads = []
        for folder in self.overlays:
            heads.append(read_head(folder, self.problems))
            written = self._written(folder) if folder.is_dir() else {}
            laying.lay(heads[-1], {name: node for name, node in written.items() if _has_place(name)})
        self.stop()
        self.nodes = laying.nodes
        return tuple(head._replace(touches=laying.touches_of(head.name)) for head in heads)

    def _written(self, folder: Path) -> dict[str, Node]:
        """The files of an overlay. One of comments alone says nothing yet; the starter of an overlay has such."""
        nodes: dict[str, Node] = {}
        self.open_all(folder, overlay_files(folder), nodes)
        if VERSION_FILE in nodes:
            message = "an overlay does not change the version of the rule base; name yours in the title of overlay.yaml"
            self.problems.append(Problem(nodes.pop(VERSION_FILE).place, message))
        written = {name: node for name, node in nodes.items() if kind_of(node) != "nothing"}
        self._stray(folder, written)
        return written

    def _places(self, folder: Path, nodes: dict[str, Node]) -> None:
        """Every file stands where it is read, and none is missing. Unreadable files were reported before."""
        if self.problems:
            return
        for name in sorted(FIXED_FILES - set(nodes)):
            self.problems.append(Problem(Place(self._shown(folder / name)), "the file is missing"))
        self._stray(folder, nodes)

    def _stray(self, folder: Path, nodes: dict[str, Node]) -> None:
        for path in files_below(folder, *OTHER_ENDINGS, hidden=folder == self.folder):
            shown = self._shown(path) if folder == self.folder else str(path)
            self.problems.append(Problem(Place(shown), "is not read; a rule file ends in .yaml"))
        for name, node in nodes.items():
            if not _has_place(name):
                expected = "assemblies/, parts/, limits/, or one of " + ", ".join(sorted(FIXED_FILES))
                self.problems.append(Problem(node.place, f"no rule file has this place; expected {expected}"))

    def _under(self, folder: str) -> dict[str, Node]:
        prefix = folder + "/"
        return {Path(name).stem: node for name, node in self.nodes.items() if name.startswith(prefix)}

    def _states_barred(self, assemblies: Collection[Assembly]) -> None:
        """A finding that keeps people out of a state stands in some type; misspelt, it would keep nobody out."""
        known = {
            own_name(row.name) for assembly in assemblies for row in assembly.findings if row.grades == PLAIN_GRADES
        }
        for key, row in entries_of(self.nodes["states.yaml"], "states"):
            node = value_of(row, "not while")
            if isinstance(node, Scalar) and node.text.strip() not in known:
                sentence = f"state '{key.text}', not while: no type has a finding"
                unknown(self.problems, node.place, sentence, node.text.strip(), known)

    def _unused_parts(self, used: set[str]) -> None:
        """Of a part that no type has nothing can be asked; its cases would tell one name after another."""
        for kind, node in self._under("parts").items():
            if kind not in used:
                place = next((key.place for key, _ in entries_of(node) if key.text == "part"), node.place)
                message = f"no type has a part '{kind}'; name it under components of the types that have it"
                self.problems.append(Problem(place, message))

    def _limits(self, context: Context) -> Limits:
        gauge = read_gauge(self.nodes["limits/gauge.yaml"], context)
        found = [read_profile(node, context) for name, node in self._under("limits").items() if name != "gauge"]
        default = one_default(found, context)
        profiles = tuple(profile for profile, _ in found)
        context.vocabulary.limits |= {limit.name for profile in profiles for limit in profile.limits}
        return Limits(profiles, default, gauge)


def _has_place(name: str) -> bool:
    return (
        name in FIXED_FILES or name == VERSION_FILE or Path(name).parent.as_posix() in ("parts", "assemblies", "limits")
    )
