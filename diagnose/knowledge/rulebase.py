"""Reading a whole rule base: the folder rules/ -> one Assembly for each type."""

from __future__ import annotations

from pathlib import Path
from typing import NamedTuple

from diagnose.knowledge.assemblies import Builder, Known
from diagnose.knowledge.context import Context, Vocabulary
from diagnose.knowledge.fields import Problems, unknown
from diagnose.knowledge.limits import Limits, limits_used, one_default, read_gauge, read_profile
from diagnose.knowledge.parts import read_part, read_site
from diagnose.knowledge.settings import read_settings
from diagnose.knowledge.shipped import rule_files
from diagnose.knowledge.yamltext import Mapping, Node, read_file
from diagnose.model.assembly import Assembly
from diagnose.model.places import Place, Problem, ProblemsFoundError

SITE_FILES = ("conditions", "validity", "circumstances")
FIXED_FILES = {f"{name}.yaml" for name in ("scales", "sources", "states", "cautions", "retired", "limits/gauge")} | {
    f"site/{name}.yaml" for name in SITE_FILES
}


class RuleBase(NamedTuple):
    """Every type of assembly that the folder describes."""

    folder: str
    assemblies: dict[str, Assembly]


def read_rule_base(folder: Path) -> RuleBase:
    """Reads everything.

    Raises:
        ProblemsFoundError: with all problems of all files.
    """
    return _Reader(folder).read()


class _Reader:
    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.problems: Problems = []
        self.nodes: dict[str, Node] = {}

    def read(self) -> RuleBase:
        if not self.folder.is_dir():
            raise ProblemsFoundError([Problem(Place(str(self.folder)), "is not a folder; expected a rule base")])
        for path in rule_files(self.folder):
            self._open(path)
        self._places()
        if self.problems:
            raise ProblemsFoundError(self.problems)
        settings = read_settings(self.nodes.__getitem__, self.problems)
        context = Context(settings, Vocabulary(), self.problems)
        limits = self._limits(context)
        parts = {name: read_part(node, name, context) for name, node in self._under("parts").items()}
        site = read_site([(name, self.nodes[f"site/{name}.yaml"]) for name in SITE_FILES], context)
        assemblies = Builder(list(self._under("assemblies").values()), Known(context, limits, parts, site)).all()
        if not self.problems:
            self._unused_limits(limits_used(assemblies.values()))
        if self.problems:
            raise ProblemsFoundError(self.problems)
        return RuleBase(str(self.folder), assemblies)

    def _open(self, path: Path) -> None:
        try:
            self.nodes[path.relative_to(self.folder).as_posix()] = read_file(path)
        except ProblemsFoundError as error:
            self.problems += error.problems

    def _places(self) -> None:
        """Every file stands where it is read, and none is missing. Unreadable files were reported before."""
        if self.problems:
            return
        for path in sorted(self.folder.rglob("*.yml")):
            self.problems.append(Problem(Place(str(path)), "is not read; a rule file ends in .yaml"))
        for name in sorted(FIXED_FILES - set(self.nodes)):
            self.problems.append(Problem(Place(str(self.folder / name)), "the file is missing"))
        for name, node in self.nodes.items():
            if name not in FIXED_FILES and Path(name).parent.as_posix() not in ("parts", "assemblies", "limits"):
                expected = "assemblies/, parts/, limits/, or one of " + ", ".join(sorted(FIXED_FILES))
                self.problems.append(Problem(node.place, f"no rule file has this place; expected {expected}"))

    def _under(self, folder: str) -> dict[str, Node]:
        prefix = folder + "/"
        return {Path(name).stem: node for name, node in self.nodes.items() if name.startswith(prefix)}

    def _unused_limits(self, used: set[str]) -> None:
        """A limit that nothing uses is most likely misspelt; passed over, it would leave comparisons unknown."""
        for node in self._under("limits").values():
            for key, inner in node.entries if isinstance(node, Mapping) else ():
                for limit, _ in inner.entries if key.text == "limits" and isinstance(inner, Mapping) else ():
                    if limit.text not in used:
                        sentence = "limits: no reading and no rule uses a limit"
                        unknown(self.problems, limit.place, sentence, limit.text, used)

    def _limits(self, context: Context) -> Limits:
        gauge = read_gauge(self.nodes["limits/gauge.yaml"], context)
        found = [read_profile(node, context) for name, node in self._under("limits").items() if name != "gauge"]
        default = one_default(found, context)
        profiles = tuple(profile for profile, _ in found)
        context.vocabulary.limits |= {limit.name for profile in profiles for limit in profile.limits}
        return Limits(profiles, default, gauge)
