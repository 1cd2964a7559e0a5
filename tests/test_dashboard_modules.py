"""The page's modules: pure functions under node; selectors and strings held against templates."""

import asyncio
import re
import subprocess
from collections.abc import Callable
from pathlib import Path

import httpx
import pytest
from fastapi import FastAPI

from sprayout.web.page import FOR_GOOD, say, serve_page

ROOT = Path(__file__).resolve().parent.parent
STATIC = ROOT / "dashboard" / "static"
TESTS = sorted((ROOT / "tests").glob("dashboard*.test.mjs"))


Get = Callable[..., httpx.Response]


@pytest.fixture(scope="module")
def get() -> Get:
    app = FastAPI()
    serve_page(app)

    async def ask(path: str, headers: dict[str, str]) -> httpx.Response:
        transport = httpx.ASGITransport(app=app)
        async with httpx.AsyncClient(transport=transport, base_url="http://bench") as client:
            return await client.get(path, headers=headers)

    return lambda path, **headers: asyncio.run(ask(path, headers))


@pytest.mark.needs("node")
@pytest.mark.parametrize("test", TESTS, ids=lambda path: path.name)
def test_pure_functions(test: Path) -> None:
    done = subprocess.run(
        ["node", "--test", str(test)], capture_output=True, text=True, timeout=120, check=False
    )
    assert done.returncode == 0, done.stdout[-4000:]
    assert re.search(r"^# pass [1-9]", done.stdout, flags=re.MULTILINE), done.stdout


def ids_of_the_map() -> list[str]:
    text = (STATIC / "selectors.js").read_text(encoding="utf-8")
    return text.partition("const IDS = `")[2].partition("`")[0].split()


def test_every_element_the_program_touches_is_on_the_page(get: Get) -> None:
    html = get("/").text
    on_page = set(re.findall(r'\bid="([^"]+)"', html))
    assert len(ids_of_the_map()) > 100
    assert [name for name in ids_of_the_map() if name not in on_page] == []


def test_every_element_the_program_names_is_in_the_map() -> None:
    camel = {re.sub(r"[-_](\w)", lambda m: m[1].upper(), name) for name in ids_of_the_map()}
    used = {
        name
        for path in STATIC.glob("*.js")
        for name in re.findall(r"\belements\.(\w+)", path.read_text(encoding="utf-8"))
        if path.name not in ("act.js", "selectors.js")
    }
    # `form.elements.name` and `field.elements` are fields of a form, not of the page.
    fields = {
        name
        for path in STATIC.glob("*.js")
        for name in re.findall(r"(?:form|Form)\.elements\.(\w+)", path.read_text(encoding="utf-8"))
    }
    assert used - camel - fields == set()


def test_no_id_stands_twice(get: Get) -> None:
    ids = re.findall(r'\bid="([^"]+)"', get("/").text)
    assert sorted({name for name in ids if ids.count(name) > 1}) == []


def leaves(node: object) -> list[str]:
    if isinstance(node, dict):
        return [leaf for value in node.values() for leaf in leaves(value)]
    return [str(v) for v in node] if isinstance(node, list) else [str(node)]


def test_no_sentence_calls_anything_safe() -> None:
    sentences = [text for text in leaves(say(STATIC)) if "safety data sheet" not in text]
    assert [text for text in sentences if re.search(r"\bsafe", text, re.IGNORECASE)] == []


def test_every_string_the_modules_ask_for_exists() -> None:
    strings = say(STATIC)
    missing = []
    for path in STATIC.glob("*.js"):
        for dotted in re.findall(
            r"\bstrings\.(?!js\b)([a-z_]+(?:\.[a-z_]+)*)", path.read_text("utf-8")
        ):
            node: object = strings
            for key in dotted.split("."):
                node = node.get(key) if isinstance(node, dict) else None
            if node is None:
                missing.append((path.name, dotted))
    assert missing == []


def test_the_page_is_asked_for_anew_and_its_files_are_kept_for_good(get: Get) -> None:
    page = get("/")
    assert page.headers["cache-control"] == "no-cache"
    again = get("/", **{"If-None-Match": page.headers["etag"]})
    assert again.status_code == 304 and again.content == b""
    path = re.search(r'src="(/static/[^"]+/main\.js)"', page.text)
    assert path is not None
    script = get(path[1])
    assert script.headers["cache-control"] == FOR_GOOD
    assert script.headers["content-encoding"] == "gzip"
    plain = get(path[1], **{"Accept-Encoding": "identity"})
    assert plain.content == (STATIC / "main.js").read_bytes() == script.content


@pytest.mark.parametrize("name", ["..%2Fstrings.js", "nothing.js", "%2e%2e", "selectors.js%00"])
def test_no_other_file_is_served(get: Get, name: str) -> None:
    assert get(f"/static/x/{name}").status_code == 404
