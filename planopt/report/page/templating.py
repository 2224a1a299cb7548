"""The templates of all pages: one environment, names always as text."""

from __future__ import annotations

import base64
import hashlib
from functools import cache
from typing import Any

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup

from planopt.report.page.parts import css_string, readable


def _shown(value: object) -> object:
    """Return what a template shows: texts without what cannot be read, quantities unbroken.

    Markup of ours stays as it is.
    """
    if not isinstance(value, str) or isinstance(value, Markup):
        return value
    return readable(value)


@cache
def _environment() -> Environment:
    return Environment(
        loader=PackageLoader("planopt.report.page"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        finalize=_shown,
    )


def source(name: str) -> str:
    """Return the text of a template or style sheet as it is."""
    environment = _environment()
    assert environment.loader is not None
    return environment.loader.get_source(environment, name)[0]


def rendered(name: str, context: dict[str, Any]) -> str:
    """Return a page made of a template."""
    return _environment().get_template(name).render(context)


def rendered_text(text: str, context: dict[str, Any]) -> str:
    """Return a page made of a template of another part, which may use the macros of this one."""
    return _environment().from_string(text).render(context)


def policy(script: str = "") -> str:
    """Return a content policy that lets nothing in from outside and runs only our own script."""
    rules = "default-src 'none'; style-src 'unsafe-inline'"
    if not script:
        return rules
    digest = base64.b64encode(hashlib.sha256(script.encode()).digest()).decode()
    return f"{rules}; script-src 'sha256-{digest}'"


def page_footer(name: str, mark: str) -> Markup:
    """Return the style of printed feet: the plan and a mark of it, and the page of how many."""
    plan = css_string(f"{name} \N{MIDDLE DOT} {mark[:4]}")
    style = "font:7.5pt sans-serif"
    return Markup(
        f"@page{{@bottom-left{{content:{plan};{style}}}"
        f'@bottom-right{{content:counter(page)" of "counter(pages);{style}}}}}'
    )
