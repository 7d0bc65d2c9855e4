"""Pages of HTML: a template of ours and what it tells in, the text of one file out; the one way to write a page.

Whatever is told is text: the engine escapes it, so that no name or title can be taken for a tag. Data for a page's
script stand in an element that they cannot end. A page's policy lets only its own script and style run, each named by
its digest, and asks nothing of a network. What a page tells is left to those who write it.
"""

from __future__ import annotations

import base64
import functools
import hashlib
from collections.abc import Mapping
from pathlib import Path
from typing import Any, Final

from jinja2 import Environment, FileSystemLoader, StrictUndefined

import drape

NOTHING: Final = "default-src 'none'; base-uri 'none'; form-action 'none'"


def page_text(template: str, told: Mapping[str, Any], *, style: str, script: str = "", images: str = "data:") -> str:
    """The page. template: its file, from drape's folder on, which extends page.html. images: where they may come from,
    as a content security policy says it.
    """
    ours = f"style-src '{digest(style)}'" + (f"; script-src '{digest(script)}'" if script else "")
    policy = f"{NOTHING}; img-src {images}; {ours}"
    return _engine().get_template(template).render(told, policy=policy, style=style, script=script)


def fragment_text(template: str, told: Mapping[str, Any]) -> str:
    """A page, or a part of one, whose policy its server states. template: its file, from drape's folder on."""
    return _engine().get_template(template).render(told)


def digest(text: str) -> str:
    """What a policy calls a script or a style by: SHA-256 in base64 (Content Security Policy Level 3)."""
    return "sha256-" + base64.b64encode(hashlib.sha256(text.encode()).digest()).decode("ascii")


@functools.cache
def _engine() -> Environment:
    engine = Environment(
        loader=FileSystemLoader(Path(drape.__file__).parent), autoescape=True, undefined=StrictUndefined,
        trim_blocks=True, lstrip_blocks=True, keep_trailing_newline=True,
    )  # fmt: skip
    engine.filters["base64"] = lambda data: base64.b64encode(data).decode("ascii")
    engine.policies["json.dumps_kwargs"] = {"separators": (",", ":"), "allow_nan": False}
    return engine
