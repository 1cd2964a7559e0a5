"""Every output is held to the words: no figure of ours is called what no estimate can carry, and
whatever speaks of spraying shows the cautions beside it."""

import html
import json
import re
from collections.abc import Iterator
from pathlib import Path

import httpx
import pytest
from typer.testing import CliRunner

from sprayout.cli import build_app
from sprayout.mixing.card import CAUTION
from sprayout.safety.cautions import for_spraying, one_line
from sprayout.safety.wording import forbidden_words_in
from tests.test_safety_output_words import texts_of
from tests.web_bench import plan_of, served

ROOT = Path(__file__).resolve().parent.parent
#: Spells the words out for the guard; names a header of the web's standard.
SPELT_OUT = {"wording.py", "page.py"}
PROGRAMS = [
    *sorted((ROOT / "services").rglob("*.py")),
    *sorted((ROOT / "firmware_host").rglob("*.py")),
    *sorted((ROOT / "simulators").rglob("*.py")),
]
PAGES = [
    path
    for folder in ("dashboard", "docs", "services")
    for path in sorted((ROOT / folder).rglob("*"))
    if path.suffix in {".js", ".html", ".css", ".svg", ".md", ".csv"}
] + [ROOT / name for name in ("README.md", "CHANGELOG.md", "DEVELOPERS.md")]


def relative(path: Path) -> str:
    return str(path.relative_to(ROOT))


# -- what stands in the sources ----------------------------------------------------------------


def test_no_string_of_any_program_holds_them() -> None:
    held = [
        (relative(path), text)
        for path in PROGRAMS
        if path.name not in SPELT_OUT
        for text in texts_of(path.read_text("utf-8"))
        if forbidden_words_in(text)
    ]
    assert len(PROGRAMS) > 200 and held == []


def test_no_page_script_table_or_document_holds_them() -> None:
    held = [
        (relative(path), number, line)
        for path in PAGES
        for number, line in enumerate(path.read_text("utf-8").splitlines(), 1)
        if forbidden_words_in(line)
    ]
    assert len(PAGES) > 40 and held == []


# -- the command line --------------------------------------------------------------------------

LIMITS = {"name": "enamel", "dries_by": "cure", "flash_off_min": 10, "recoat_from_h": 2}
#: Commands whose answer is about spraying.
ABOUT_SPRAYING = (
    "blush --air-c 22 --rh-pct 70 --reducer toluene=50,acetone=50",
    "blush --air-c 22 --rh-pct 95 --reducer acetone=1 --metal steel --metal-mm 0.3",
    "air purge --volume-m3 30 --flow-m3h 300 --from 100 --to 1",
    "air dilution --substance toluene --evaporation-ml-min 1 --target-ppm 10",
    "air build-up --volume-m3 30 --flow-m3h 0 --generation-l-min 0.1 --minutes 9",
    "air face-velocity --flow-m3h 400 --width-m 0.5 --height-m 0.4",
    "air explosive --substance toluene --ml 10 --volume-m3 0.1",
    "air mixture --part 10/50",
    "air two-box --generation-mg-min 9 --flow-m3-min 1 --radius-m 1 --air-speed-m-min 3",
    "air cartridge --substance xylene --ppm 50 --rh-pct 60",
    "air respirator --substance toluene --ppm 1",
    "air substance toluene",
    "recoat --limits LIMITS --minutes 30 --air-c 22 --rh-pct 50",
)


@pytest.mark.parametrize("json_too", [False, True], ids=["words", "json"])
@pytest.mark.parametrize("line", ABOUT_SPRAYING)
def test_commands_about_spraying_show_the_cautions(
    tmp_path: Path, line: str, json_too: bool
) -> None:
    limits = tmp_path / "limits.json"
    limits.write_text(json.dumps(LIMITS), encoding="utf-8")
    words = line.replace("LIMITS", str(limits)).split()
    shown = CliRunner().invoke(build_app(words[:1]), [*words, *(["--json"] if json_too else [])])
    assert shown.exit_code == 0, shown.output
    assert forbidden_words_in(shown.stdout) == ()
    assert shows_cautions(shown.stdout)


def shows_cautions(text: str) -> bool:
    """All of the cautions, or all of them in the one line."""
    plain = re.sub(r"\s+", " ", text)
    whole = all(
        re.sub(r"\s+", " ", c.words).split(":")[1] in plain for c in for_spraying("us")[:-1]
    )
    return whole or one_line() in plain


def test_the_guard_on_cautions_sees_what_is_missing() -> None:
    assert shows_cautions("\n".join(caution.words for caution in for_spraying("us")))
    assert not shows_cautions("Ventilation: fan on. Rags under water.")
    assert not shows_cautions("\n".join(c.words for c in for_spraying("us") if c.key != "rags"))


# -- a bench and everything it answers ---------------------------------------------------------


@pytest.fixture(scope="module")
def store(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("words") / "bench.sqlite"


@pytest.fixture(scope="module")
def bench(store: Path) -> Iterator[httpx.Client]:
    """A bench with a cup, a booth, a flag and a coat with a finding on it."""
    with served(plan_of(store, room_volume_m3=40.0)) as (client, _):
        yield client


def post(bench: httpx.Client, path: str, **form: object) -> dict:
    answer = bench.post(path, json=form)
    assert answer.status_code == 200, (path, answer.text)
    assert forbidden_words_in(answer.text) == (), path
    return answer.json()


@pytest.fixture(scope="module")
def ids(bench: httpx.Client) -> dict[str, str]:
    """Play an evening without a board; the ids that the paths of the interface ask for."""
    target = post(bench, "/api/targets", name="pilot cutter hull blue", lab=[40, -2, -30])
    post(bench, "/api/paints", name="ice-van white", family="enamel", white=True)
    post(bench, "/api/paints/limits", paint="ice-van white", limits={"dries_by": "cure"})
    label = {"solvents": {"white spirit": 0.5}, "two_part": False, "solids_g_ml": 0.5}
    post(bench, "/api/paints/label", paint="ice-van white", **label)
    post(bench, "/api/reducers", name="slipway thinner", solvents={"toluene": 1.0})
    batch = post(bench, "/api/batches", name="cup of the evening")
    post(bench, "/api/batches/additions", paint="ice-van white", drops=40)
    post(bench, "/api/batches/thinning", reducer="slipway thinner", ml=1.0)
    post(bench, "/api/batches/efflux", cup="ISO 2431 4", seconds=30, temperature_c=22)
    booth = {"width_m": 0.5, "height_m": 0.4, "volume_m3": 0.12, "flow_m3h": 360}
    post(bench, "/api/booth", name="booth", exhaust="ducted", **booth)
    post(bench, "/api/cartridges", name="pair", type="organic vapour with P100")
    post(bench, "/api/cautions/read", person="A. Volunteer")
    coat = post(bench, "/api/coats", piece="clockwork pilot cutter", kind="tack coat")
    post(bench, f"/api/coats/{coat['id']}/end")
    return {"target_id": target["id"], "batch_id": batch["id"], "coat_id": coat["id"],
            "piece_id": coat["piece"], "piece": coat["piece"], "coat": coat["id"]}  # fmt: skip


NOT_HERE = {"/api/live", "/api/openapi.json"}  # a stream without an end; a document of its own
ASKED = {"/api/assessment": "?sprayed_ml=3&minutes=10", "/api/strip": "?channel=air_temperature"}
WITH_CAUTIONS = ("/api/bench", "/api/assessment", "/api/booth", "/api/probe-checks",
                 "/api/cartridges/log",
                 "/api/cartridges/log?substance=toluene&ppm=20",
                 "/api/pieces/{piece_id}/report")  # fmt: skip


def test_no_answer_of_the_interface_holds_them(bench: httpx.Client, ids: dict[str, str]) -> None:
    document = bench.get("/api/openapi.json")
    assert forbidden_words_in(document.text) == ()
    answered = []
    for path, operations in document.json()["paths"].items():
        if "get" in operations and path not in NOT_HERE:
            asked = re.sub(r"\{(\w+)\}", lambda m: ids.get(m[1], "none"), path)
            answer = bench.get(asked + ASKED.get(path, ""))
            assert answer.status_code < 500, (path, answer.text)
            assert forbidden_words_in(answer.text) == (), path
            answered.append((path, answer.status_code))
    assert sum(status == 200 for _, status in answered) > 15, answered


@pytest.mark.parametrize("path", WITH_CAUTIONS)
def test_answers_about_spraying_show_the_cautions(
    bench: httpx.Client, ids: dict[str, str], path: str
) -> None:
    asked = re.sub(r"\{(\w+)\}", lambda m: ids[m[1]], path)
    answer = bench.get(asked + ASKED.get(path, ""))
    assert answer.status_code == 200, answer.text
    assert shows_cautions(html.unescape(answer.text))


def test_the_page_shows_the_cautions_and_none_of_the_words(bench: httpx.Client) -> None:
    page = bench.get("/").text
    assert forbidden_words_in(page) == ()
    assert "cautions" in page.lower()


def test_the_cautions_stand_in_every_region(bench: httpx.Client) -> None:
    fields = {"volume_m3": 30, "flow_m3h": 300, "from": 100, "to": 1}
    for region in ("us", "uk", "eu"):
        body = bench.post("/api/air/purge", json={**fields, "region": region}).json()
        assert [c["key"] for c in body["cautions"]] == [c.key for c in for_spraying(region)]


def test_a_mixing_card_sends_the_reader_to_the_data_sheet(
    bench: httpx.Client, ids: dict[str, str]
) -> None:
    card = html.unescape(bench.get(f"/api/batches/{ids['batch_id']}/card").text)
    assert CAUTION in card and "data sheet" in CAUTION


@pytest.mark.parametrize("form", ["jsonl", "csv"])
def test_what_is_exported_holds_none_of_them(
    bench: httpx.Client, ids: dict[str, str], store: Path, form: str
) -> None:
    out = store.parent / f"export.{form}"
    words = ["export", "--store", str(store), "--format", form, "--out", str(out)]
    shown = CliRunner().invoke(build_app(["export"]), words)
    assert shown.exit_code == 0, shown.output
    files = sorted(out.iterdir()) if out.is_dir() else [out]
    written = "".join(file.read_text("utf-8") for file in files)
    assert ids["coat_id"] in written
    assert forbidden_words_in(written + shown.output) == ()
