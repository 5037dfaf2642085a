"""Templates -> pages that stand alone: one file, with no address of anything else in it."""

from __future__ import annotations

import base64
import hashlib
import re
from collections.abc import Iterable
from functools import cache
from importlib.resources import files
from typing import Any

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup

from diagnose.diagnosis.wording import clean
from diagnose.drawing import styles
from diagnose.sheet.blocks import Block


def styled_page(template: str, style: str, script: str = "", **values: Any) -> str:
    """The page of a template; its style sheet, a template too, and its script are all that a browser will apply or run.

    The template finds them as `style` and `script`, and in `policy` what its Content-Security-Policy has to say.
    """
    sheet = Markup(environment().get_template(style).render(color=colors()))  # noqa: S704  no text of a case in it
    text = files("diagnose.pages").joinpath(script).read_text(encoding="utf-8") if script else ""
    code = Markup(text)  # noqa: S704  our own
    policy = _policy(sheet, code)
    return environment().get_template(template).render(style=sheet, script=code, policy=policy, **values)


def blocks_html(blocks: Iterable[Block]) -> Markup:
    """Blocks as a piece of a page."""
    macros = filled("blocks.html.j2")
    return Markup("").join(macros.block(block) for block in blocks)


def filled(template: str, **values: Any) -> Any:
    """The macros of a template, to be called with what they are about; `values` are what they read besides."""
    return environment().get_template(template).make_module(values)


# A number and its per cent sign stay on one line.
_PER_CENT = re.compile(r"(?<=[0-9]) %")


@cache
def environment(package: str = "diagnose.pages", folder: str = "") -> Environment:
    """The templates in a folder of a package.

    Whatever they show is escaped, and characters that steer the text around them are made visible first.
    """
    return Environment(
        loader=PackageLoader(package, folder),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        finalize=_visible,
    )


def _visible(value: object) -> object:
    if isinstance(value, str) and not isinstance(value, Markup):
        return _PER_CENT.sub("\u00a0%", clean(value))
    return value


def _policy(style: str, script: str) -> str:
    """Nothing may be loaded or sent; of styles and scripts only these count."""
    styles, scripts = (f"-src 'sha256-{digest(text)}'" for text in (style, script))
    return f"default-src 'none'; style{styles}; script{scripts}; base-uri 'none'; form-action 'none'"


def digest(text: str) -> str:
    """The SHA-256 by which a browser knows a style sheet or a script, and a page what was filled in on it."""
    return base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()


def colors() -> dict[str, str]:
    """The colors of the house by what pages call them."""
    return {
        "blue": styles.BLUE,
        "sky_blue": styles.SKY_BLUE,
        "vermillion": styles.VERMILLION,
        "pale_blue": styles.tint(styles.SKY_BLUE),
        "pale_orange": styles.tint(styles.ORANGE),
        "pale_red": styles.tint(styles.VERMILLION),
        "pale_green": styles.tint(styles.BLUISH_GREEN),
        "orange": styles.ORANGE,
    }
