"""`diagnose draw`."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from diagnose.cli.shared import ChosenRules, form_of, load_case, load_type, put_out, rule_base_options, unit_option
from diagnose.diagnosis.result import Diagnosis
from diagnose.drawing.diagram import diagram
from diagnose.drawing.render import rendered, with_named_signs
from diagnose.model.foreign import cut
from diagnose.model.places import refused

if TYPE_CHECKING:
    from diagnose.diagnosis.library import Library
    from diagnose.drawing.graph import Graph

FORMS = {".svg": "svg", ".png": "png", ".dot": "dot"}
SECTION_FORMS = {".svg": "svg", ".png": "png", ".html": "html"}
case_path = click.Path(dir_okay=False, allow_dash=True)


@click.command("draw")
@click.argument("case_file", metavar="[CASE]", type=case_path, required=False)
@click.option("--cause", metavar="NAME", help="Only what bears on this cause, failure mode or part.")
@click.option("--why-not", metavar="NAME", help="What speaks against it, what is likelier, and what would decide.")
@click.option("--all", "everything", is_flag=True, help="Fold nothing; the page becomes as tall as it takes.")
@click.option("--title", default="", help="What stands over the picture, in the place of its own title.")
@click.option("--compare", "other", metavar="CASE2", type=case_path, help="What differs from CASE to CASE2.")
@click.option(
    "--rules",
    "about",
    metavar="[PART|TYPE]",
    is_flag=False,
    flag_value="",
    default=None,
    help="Instead of a case: a map of the rule base, or of what concerns a part or type.",
)
@click.option("--network", "type_name", metavar="TYPE", help="Instead of a case: what causes what, with how likely.")
@click.option("--section", "cut", metavar="TYPE", help="Instead of a case: an assembly cut open, with its pressures.")
@click.option("--situation", metavar="NAME", help="With --section: in which situation; the first if left out.")
@click.option("--parts", is_flag=True, help="With --section: the parts, each with its name.")
@click.option("--blank", is_flag=True, help="With --section: the parts with numbers, to be filled in.")
@click.option(
    "-o",
    "--output",
    metavar="FILE",
    default="-",
    help="Where to; .svg, .png or .dot; a section .html too. Else standard output.",
)
@click.option(
    "--format",
    "form",
    type=click.Choice([*FORMS.values(), "html"]),
    help="Instead of the suffix; dot if neither, svg for a section.",
)
@click.option(
    "--layout-by",
    type=click.Choice(["package", "system"]),
    default="package",
    show_default=True,
    help="A .png is drawn by the program installed along with this one, or by the system's Graphviz.",
)
@unit_option
@rule_base_options
def command(
    case_file: str | None,
    about: str | None,
    type_name: str | None,
    cut: str | None,
    situation: str | None,
    parts: bool,
    blank: bool,
    title: str,
    output: str,
    form: str | None,
    layout_by: str,
    unit: str,
    chosen: ChosenRules,
    **picture: str | bool | None,
) -> None:
    """Draw the reasoning of a case as a graph: seen, means, likely wrong, do.

    CASE is a YAML file, or - for standard input. Boxes that hardly matter are folded together and say so.
    """
    asked: dict[str, str | bool] = {name: value for name, value in picture.items() if value}
    _only_one_subject(case_file, about, type_name, cut, asked)
    if title and case_file is None:
        raise click.UsageError("--title needs a CASE")
    types = chosen.library()
    if cut is not None:
        form = form_of(output, form, SECTION_FORMS, "svg", ", or use --format svg")
        put_out(output, _section(cut, situation, form, unit, layout_by, types, parts=parts, blank=blank), types)
        return
    if situation or parts or blank:
        raise click.UsageError("--situation, --parts and --blank need --section TYPE")
    form = form_of(output, form, FORMS, "dot", ", or use --format dot")
    if form not in FORMS.values():
        raise click.UsageError("only a section can be drawn as html")
    if about is not None or type_name is not None:
        from diagnose.drawing.maps.map_picture import map_picture
        from diagnose.drawing.maps.network_map import network_map
        from diagnose.drawing.maps.rule_map import rule_map

        found = rule_map(types, about) if about is not None else network_map(load_type(str(type_name), types))
        drawn = rendered(map_picture(found), form, layout_by)
    else:
        graph = _picture(str(case_file), asked, types, unit)
        graph = graph._replace(title=title or graph.title)
        canvas = diagram(with_named_signs(graph) if (form, layout_by) == ("png", "package") else graph)
        drawn = rendered(canvas, form, layout_by)
    cases = (str(name) for name in (case_file, asked.get("other")) if name)
    put_out(output, drawn, types, *cases)


def _section(
    name: str, situation: str | None, form: str, unit: str, layout_by: str, types: Library, *, parts: bool, blank: bool
) -> str | bytes:
    """An assembly cut open: in one situation or with its parts named; as a page in all of them, one after the other."""
    from diagnose.drawing.schematic.parts_sheet import parts_sheet
    from diagnose.drawing.schematic.section import section, shown_lines

    if form not in SECTION_FORMS.values():
        raise click.UsageError(f"a section is drawn as svg, png or html, not as {form}")
    if sum(map(bool, (situation, parts, blank))) > 1 or (form == "html" and (situation or parts or blank)):
        raise click.UsageError("--situation, --parts, --blank and a page with all are different; ask for one of them")
    assembly = load_type(name, types).assembly
    if not shown_lines(assembly.drawn):
        raise refused(assembly.type, "its file does not say how it is drawn")
    if form == "html":
        from diagnose.pages.section import section_page

        return section_page(assembly, unit)
    rows = {row.name: row for row in assembly.drawn.situations}
    if situation and situation not in rows:
        known = f"there are {', '.join(rows)}"
        raise refused("--situation", f"{assembly.type} has no situation '{cut(situation)}'; {known}")
    chosen = rows[situation] if situation else next(iter(rows.values()), None)
    if parts or blank or chosen is None:
        return rendered(parts_sheet(assembly, blank=blank), form, layout_by)
    return rendered(section(assembly, chosen, unit), form, layout_by)


def _picture(case_file: str, asked: dict[str, str | bool], types: Library, unit: str) -> Graph:
    """The picture of a case that the options ask for."""
    result = Diagnosis(*load_case(case_file, types))
    if "other" in asked:
        from diagnose.drawing.comparison_picture import draw_comparison

        return draw_comparison(result, Diagnosis(*load_case(str(asked["other"]), types)), unit)
    if "cause" in asked:
        from diagnose.drawing.cause_picture import draw_cause

        return draw_cause(result, str(asked["cause"]), unit)
    if "why_not" in asked:
        from diagnose.drawing.cause_picture import draw_why_not

        return draw_why_not(result, str(asked["why_not"]), unit)
    from diagnose.drawing.reasoning import draw_everything, draw_reasoning

    return draw_everything(result, unit) if "everything" in asked else draw_reasoning(result, unit)


def _only_one_subject(
    case_file: str | None, about: str | None, type_name: str | None, cut: str | None, asked: dict[str, str | bool]
) -> None:
    subjects = {"CASE": case_file, "--rules": about, "--network": type_name, "--section": cut}
    given = [name for name, value in subjects.items() if value is not None]
    if not given:
        raise click.UsageError("nothing to draw: name a CASE, or use --rules, --network TYPE or --section TYPE")
    if len(given) > 1:
        another = " (another rule base is named by --rule-base)" if about is not None else ""
        raise click.UsageError(f"{' and '.join(given)} are different pictures; ask for one of them{another}")
    if asked and case_file is None:
        raise click.UsageError("--cause, --why-not, --all and --compare need a CASE")
    if len(asked) > 1:
        raise click.UsageError("--cause, --why-not, --all and --compare are different pictures; ask for one of them")
