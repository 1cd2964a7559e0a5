"""The page: its templates through Jinja2, its styles and modules as they stand in the folder.

The files lie under a path that changes with them, so a browser keeps them for good and asks for
nothing but the page itself; that is asked for anew each time.
"""

import gzip
import hashlib
import json
import re
from functools import lru_cache
from pathlib import Path

from fastapi import FastAPI, Request
from fastapi.responses import HTMLResponse, Response
from jinja2 import Environment, FileSystemLoader, StrictUndefined
from starlette.exceptions import HTTPException
from starlette.middleware.gzip import GZipMiddleware

from sprayout.assets import dashboard_folder
from sprayout.climate.solvents import all_solvents
from sprayout.mixing.viscosity import cups
from sprayout.safety.cautions import one_line

MEDIA_TYPES = {".js": "text/javascript", ".css": "text/css", ".svg": "image/svg+xml"}
FOR_GOOD = "public, max-age=31536000, immutable"
SMALLEST_PACKED_BYTES = 1000
_IMPORTED = re.compile(r'^import .*? from "\./(\w+\.js)";$', re.MULTILINE)
#: No script, style or connection but the bench's own; inline styles are set by our modules.
ONLY_OURS = (
    "default-src 'none'; script-src 'self'; style-src 'self' 'unsafe-inline'; img-src 'self' "
    "data:; connect-src 'self'; base-uri 'none'; form-action 'self'; frame-ancestors 'none'"
)
PAGE_HEADERS = {
    "Cache-Control": "no-cache",
    "Content-Security-Policy": ONLY_OURS,
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "no-referrer",
}


def serve_page(app: FastAPI) -> None:
    """Add the page and its files to the application."""
    folder = dashboard_folder()
    static = folder / "static"
    templates = Environment(
        loader=FileSystemLoader(folder / "templates"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    # The live stream is left as it is: the middleware packs no event stream.
    app.add_middleware(GZipMiddleware, minimum_size=SMALLEST_PACKED_BYTES, compresslevel=5)

    @app.get("/", include_in_schema=False)
    def bench_page(request: Request) -> Response:
        version = version_of(static)
        html = _page(templates, static, version)
        mark = f'"{hashlib.sha256(html.encode()).hexdigest()[:20]}"'
        headers = {**PAGE_HEADERS, "ETag": mark}
        if request.headers.get("if-none-match") == mark:
            return Response(status_code=304, headers=headers)
        return HTMLResponse(html, headers=headers)

    @app.get("/static/{version}/{name}", include_in_schema=False)
    def static_file(request: Request, version: str, name: str) -> Response:
        return _file(static, name, "gzip" in request.headers.get("accept-encoding", ""))


def version_of(static: Path) -> str:
    """Return a name that changes whenever one of the files does."""
    marks = sorted(
        (path.name, path.stat().st_mtime_ns, path.stat().st_size) for path in static.iterdir()
    )
    return hashlib.sha256(repr(marks).encode()).hexdigest()[:12]


def say(static: Path) -> dict[str, object]:
    """Return the page's strings: the one object of `strings.js`, which is written as JSON."""
    text = (static / "strings.js").read_text(encoding="utf-8")
    begins = text.index("{", text.index("export const strings ="))
    return dict(json.loads(text[begins : text.rindex("}") + 1]))


def _page(templates: Environment, static: Path, version: str) -> str:
    return templates.get_template("bench.html").render(
        say=say(static),
        static=f"/static/{version}",
        modules=needed_first(static),
        cautions_line=one_line(),
        solvents=[solvent.name for solvent in all_solvents()],
        viscosity_cups=[cup.name for cup in cups()],
    )


def needed_first(static: Path) -> list[str]:
    """Return the modules that `main.js` rests on, itself left out: fetched with the page."""
    found: list[str] = []
    waiting = ["main.js"]
    while waiting:
        text = (static / waiting.pop()).read_text(encoding="utf-8")
        new = [name for name in _IMPORTED.findall(text) if name not in found]
        found += new
        waiting += new
    return sorted(found)


def _file(static: Path, name: str, packed: bool) -> Response:
    # Only what lies in the folder itself: a name is never joined to a path before it is found.
    path = next((path for path in static.iterdir() if path.name == name), None)
    if path is None or path.suffix not in MEDIA_TYPES:
        raise HTTPException(404, "there is no such file")
    plain, small = _read(path, path.stat().st_mtime_ns)
    headers = {"Cache-Control": FOR_GOOD, "Vary": "Accept-Encoding"}
    if packed:
        headers["Content-Encoding"] = "gzip"
    media_type = MEDIA_TYPES[path.suffix]
    return Response(small if packed else plain, media_type=media_type, headers=headers)


@lru_cache(maxsize=128)
def _read(path: Path, changed_ns: int) -> tuple[bytes, bytes]:
    """Return a file plain and packed; `changed_ns` makes a changed file a new entry."""
    del changed_ns
    plain = path.read_bytes()
    return plain, gzip.compress(plain, 9, mtime=0)
