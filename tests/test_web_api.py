"""The HTTP interface: its own OpenAPI tried to break it, and the rooms' answers over it."""

from collections.abc import Iterator

import httpx
import pytest
import schemathesis
from hypothesis import HealthCheck, Phase, given, settings

from sprayout.safety.cautions import forbidden_words_in
from tests.web_bench import plan_of, served

NO_BOARD = 503


@pytest.fixture(scope="module")
def bench(tmp_path_factory: pytest.TempPathFactory) -> Iterator[httpx.Client]:
    """A bench without a board, served on a free port; the journal is a real file."""
    store = tmp_path_factory.mktemp("web") / "bench.sqlite"
    with served(plan_of(store)) as (client, _):
        yield client


def test_the_openapi_document_is_served(bench: httpx.Client) -> None:
    document = bench.get("/api/openapi.json").json()
    assert document["info"]["title"] == "sprayout"
    paths = set(document["paths"])
    assert {"/api/bench", "/api/live", "/api/coats", "/api/blush", "/api/air/{kind}"} <= paths


def test_blush_answers_as_the_command_does_and_shows_the_cautions(bench: httpx.Client) -> None:
    fields = {"air_c": 22, "rh_pct": 70, "reducer": "toluene=50,acetone=50"}
    answer = bench.post("/api/blush", json=fields)
    assert answer.status_code == 200, answer.text
    body = answer.json()
    assert {"film_low_c", "dew_point_c", "margin_k", "blush_rh_pct", "level", "cautions"} <= set(
        body
    )
    assert forbidden_words_in(answer.text) == ()


def test_air_answers_as_the_command_does(bench: httpx.Client) -> None:
    # ACGIH Industrial Ventilation, rate of purging (W21 of the worked examples: memory).
    fields = {"volume_m3": 2831.685, "flow_m3h": 3398.02, "from": 100, "to": 25}
    answer = bench.post("/api/air/purge", json=fields)
    assert answer.status_code == 200, answer.text
    assert answer.json()["minutes"] == pytest.approx(69.3, rel=1e-3)


def test_an_assessment_without_figures_reassures_nobody(bench: httpx.Client) -> None:
    answer = bench.post("/api/assess", json={})
    assert answer.status_code == 200, answer.text
    assert answer.json()["level"] not in ("no reason found to stop", "caution")
    assert forbidden_words_in(answer.text) == ()


@pytest.mark.parametrize(
    ("path", "form", "words"),
    [
        ("/api/blush", {"air_c": 22}, "rh_pct"),
        ("/api/blush", {"air_c": 22, "rh_pct": 140, "reducer": "toluene=1"}, "140"),
        ("/api/air/nothing", {}, "nothing"),
        ("/api/recipe", {}, "target"),
        ("/api/convert", {}, "unit"),
        ("/api/steer", {"task": 3}, "first line"),
        ("/api/reducers", {"name": "thinner", "solvents": {"moonshine": 1.0}}, "moonshine"),
        ("/api/pieces", {"piece": "van", "metal": "steel"}, "metal_mm"),
        ("/api/batches/thinning", {"reducer": "none", "ml": 1}, "no batch"),
        ("/api/batches/undo", {}, "nothing to take back"),
    ],
)
def test_bad_input_is_named(bench: httpx.Client, path: str, form: object, words: str) -> None:
    answer = bench.post(path, json=form)
    assert 400 <= answer.status_code < 500, answer.text
    assert words in answer.json()["error"]


def test_what_is_not_there_is_said_in_the_same_shape(bench: httpx.Client) -> None:
    answer = bench.get("/api/nowhere")
    assert answer.status_code == 404 and set(answer.json()) == {"error", "field"}


def test_everything_the_bench_shows_keeps_to_the_words(bench: httpx.Client) -> None:
    text = bench.get("/api/bench").text
    assert forbidden_words_in(text) == ()
    assert "Ventilat" in text


# Last, for it fills the bench with nonsense.
TRIED = settings(
    max_examples=12,
    deadline=None,
    derandomize=True,
    database=None,
    phases=(Phase.explicit, Phase.generate),
    suppress_health_check=list(HealthCheck),
)


def test_no_request_brings_the_bench_down(bench: httpx.Client) -> None:
    """Every operation of the OpenAPI document with inputs made from it, right and wrong ones.

    A bench without a board says 503 and stays up; any other 5xx is a fault of ours.
    """
    schema = schemathesis.openapi.from_url(str(bench.base_url.join("/api/openapi.json")))
    tried = 0
    for result in schema.get_all_operations():
        operation = result.ok()
        if operation.path != "/api/live":  # a stream without an end; see test_web_live
            TRIED(given(operation.as_strategy())(_is_answered))()
            tried += 1
    assert tried > 30


def _is_answered(case: schemathesis.Case) -> None:
    answer = case.call()
    assert answer.status_code < 500 or answer.status_code == NO_BOARD, (case.path, answer.text)
    if answer.status_code >= 400:
        body = answer.json()
        assert set(body) == {"error", "field"}, (case.path, body)
        assert "\n" not in body["error"]
