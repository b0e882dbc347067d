"""The web pages: what `eventlens dashboard` shows. Nothing happens on import; nothing leaves the computer.

`create_app` takes a review, an archive or nothing and returns the Dash application.
"""

from __future__ import annotations

import secrets
from html import escape
from pathlib import Path
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from dash import Dash
    from flask import Flask

    from dashboards.data import Archive, Building, Review, StateFolder

_ICON: Final = (
    "data:image/svg+xml,%3Csvg xmlns='http://www.w3.org/2000/svg' viewBox='0 0 16 16'%3E"
    "%3Crect width='16' height='16' rx='3' fill='%233b474f'/%3E"
    "%3Cpath d='M3 5h3v6h4V5h3' fill='none' stroke='white' stroke-width='1.6'/%3E%3C/svg%3E"
)
_FRAME: Final = f"""<!DOCTYPE html>
<html lang="en">
<head>
{{%metas%}}
<meta name="viewport" content="width=device-width, initial-scale=1">
<title>{{%title%}}</title>
<link rel="icon" href="{_ICON}">
{{%css%}}
</head>
<body>
{{%app_entry%}}
<footer>{{%config%}}{{%scripts%}}{{%renderer%}}</footer>
</body>
</html>"""
__all__ = ["create_app"]


def create_app(
    shown: Review | Archive | StateFolder | None,
    *,
    demonstration: bool = False,
    folder: Path | None = None,
    password_hash: str | None = None,
    visitors_add: bool = False,
    building: Building | None = None,
) -> Dash:
    """The application that shows a review, the machines of an archive, a machine that is followed (its state folder),
    or what is brought in to it (None). Its `.server` is the WSGI application.

    folder: where the dumps lie that visitors bring in, and the key that signs their visits; None: nothing is brought
    in. password_hash: of werkzeug.security, for servers that others can reach; None: no password is asked for,
    and only requests under a name of this computer are answered. visitors_add: whether who knows the password may
    add what he brings in to the archive that is shown; the user of this computer may. demonstration: whether the
    start page says what was put into the demonstration, and leads through it. building: who fills the archive while
    its pages are served.
    """
    from dash import Dash

    from dashboards import shell
    from dashboards.data import source_of
    from dashboards.data.adding import adding_to
    from dashboards.guard import Guard, key_in
    from dashboards.intake import Intake
    from dashboards.shelf import Shelf

    source = source_of(shown, demonstration=demonstration, building=building)
    if folder is not None:
        adding = None if demonstration else adding_to(source, own=password_hash is None, visitors=visitors_add)
        source.intake = Intake(Shelf(folder / "dumps"), adding=adding)
        source.intake.shelf.clear()
    app = Dash(
        __name__,
        title=escape(f"{source.name}: eventlens"),  # the frame takes it as it is
        update_title="",
        assets_folder=str(Path(__file__).parent / "assets"),
        index_string=_FRAME,
        serve_locally=True,
        suppress_callback_exceptions=True,  # the parts of a page are there while it is shown
        on_error=shell.trouble,
    )
    app.layout = shell.layout(source)
    Guard(secrets.token_bytes(32) if folder is None else key_in(folder), password_hash).on(app.server)
    shell.register(app, source)
    _compress(app.server)
    return app


def _compress(server: Flask) -> None:
    """Charts in answers are sent in a tenth of their bytes; scripts are fetched once, and stay as they are."""
    from flask_compress import Compress

    server.config |= {
        "COMPRESS_MIMETYPES": ["application/json"],
        "COMPRESS_ALGORITHM": ["gzip"],
        "COMPRESS_LEVEL": 1,
        "COMPRESS_MIN_SIZE": 10_000,
    }
    Compress(server)
