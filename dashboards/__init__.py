"""The web pages: what `eventlens dashboard` shows. Nothing happens on import; nothing leaves the computer.

`create_app` takes a review or an archive and returns the Dash application; `serve` puts it on an address.
"""

from __future__ import annotations

from html import escape
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

if TYPE_CHECKING:
    from dash import Dash

    from dashboards.data import Archive, Review

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
THREADS: Final = 8
"""A browser asks for some six files at once when it opens the page."""
_HEADERS: Final = {
    # the page may only talk to the server it came from; the chart and list libraries need inline code and styles
    "Content-Security-Policy": "default-src 'self'; script-src 'self' 'unsafe-inline' 'unsafe-eval'; "
    "style-src 'self' 'unsafe-inline'; img-src 'self' data: blob:; font-src 'self' data:; worker-src 'self' blob:; "
    "frame-ancestors 'none'; base-uri 'self'; form-action 'self'",
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "no-referrer",
}

__all__ = ["create_app", "serve"]


def create_app(shown: Review | Archive, *, demonstration: bool = False) -> Dash:
    """The application that shows a review, or the machines of an archive. Its `.server` is the WSGI application.

    demonstration: whether the start page says what was put into the demonstration, and leads through it.
    """
    from dash import Dash

    from dashboards import shell
    from dashboards.data import source_of

    source = source_of(shown, demonstration=demonstration)
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
    shell.register(app, source)

    app.server.after_request(_guarded)
    return app


def _guarded(response: Any) -> Any:
    """The answer with headers that keep the browser from asking anybody else."""
    response.headers.update(_HEADERS)
    return response


def serve(app: Dash, host: str = "127.0.0.1", port: int = 8050) -> None:
    """Serves the application until it is interrupted. The default address is this computer only."""
    import waitress

    waitress.serve(app.server, host=host, port=port, threads=THREADS, ident=None)
