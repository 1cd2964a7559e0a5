"""The page: its templates through Jinja2, its styles and modules as they stand in the folder."""

from fastapi import FastAPI
from fastapi.responses import HTMLResponse
from jinja2 import Environment, FileSystemLoader, StrictUndefined
from starlette.staticfiles import StaticFiles

from sprayout.assets import dashboard_folder


def serve_page(app: FastAPI) -> None:
    """Add the page and its files to the application."""
    folder = dashboard_folder()
    templates = Environment(
        loader=FileSystemLoader(folder / "templates"), autoescape=True, undefined=StrictUndefined
    )
    app.mount("/static", StaticFiles(directory=folder / "static"), name="static")

    @app.get("/", include_in_schema=False)
    def bench_page() -> HTMLResponse:
        return HTMLResponse(templates.get_template("bench.html").render())
