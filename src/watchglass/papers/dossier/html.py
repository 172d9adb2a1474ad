"""A paper as one HTML file that asks nothing of anywhere and works without scripts."""

from __future__ import annotations

from importlib.resources import files

from watchglass.errors import CannotRun
from watchglass.papers.dossier.blocks import Paper, plain

TEMPLATE = "page.html"


def html_of(paper: Paper) -> str:
    """The whole file.

    Raises:
        CannotRun: The extra `report` is not installed.
    """
    try:
        from jinja2 import Environment, StrictUndefined
        from markupsafe import Markup
    except ImportError:
        raise CannotRun("dossier --html needs: pip install 'watchglass[report]'") from None
    template = files("watchglass.papers.dossier").joinpath(TEMPLATE).read_text("utf-8")
    environment = Environment(autoescape=True, undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True)
    # Our own pictures are the only markup that is not escaped; the words in them were escaped where they were drawn.
    return environment.from_string(template).render(paper=plain(paper), picture=Markup) + "\n"
