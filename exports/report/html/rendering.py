"""Templates to a page: everything escaped, one script whose hash the page's own policy names."""

from __future__ import annotations

import base64
import hashlib
import re
from pathlib import Path

import jinja2

FOLDER = Path(__file__).parent
TEMPLATES = FOLDER / "templates"
OWN_STYLE = "style.css"

_ENDS_SCRIPT = re.compile(r"<(?=/script|!--)", re.IGNORECASE)


def fill_template(template: str, *, script: str, style: str, **values: object) -> str:
    """Return a template with its values, the same bytes for the same values.

    Parameters
    ----------
    template : str
        File name in `templates`.
    script : str
        What the page runs; empty where it is not built.
    style : str
        Rules that the script brings with it, behind the page's own.
    **values
        Whatever the template names. All text is escaped, but for what the template itself declares ready.
    """
    environment = jinja2.Environment(
        loader=jinja2.FileSystemLoader(TEMPLATES),
        autoescape=True,
        undefined=jinja2.StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    own = (FOLDER / OWN_STYLE).read_text(encoding="utf-8")
    runs = quote_script(script.strip())
    return environment.get_template(template).render(
        script=runs, policy=_policy(runs), style=f"{own}\n{style}".strip(), **values
    )


def quote_script(script: str) -> str:
    """Return a script in which nothing ends the element that it stands in.

    Parameters
    ----------
    script : str
        Such marks may only stand in its strings and comments, where the escape means the same.
    """
    return _ENDS_SCRIPT.sub(r"\\x3C", script)


def _policy(script: str) -> str:
    """Return the page's policy: nothing is loaded from anywhere, and no other script runs."""
    digest = base64.b64encode(hashlib.sha256(script.encode("utf-8")).digest()).decode("ascii")
    runs = f"'sha256-{digest}'" if script else "'none'"
    return (
        f"default-src 'none'; script-src {runs}; style-src 'unsafe-inline'; img-src data: blob:; "
        "base-uri 'none'; form-action 'none'"
    )
