"""One record per act, against the real server with a virtual board: the same act sent twice, from
one screen or from two, before or after its answer; and what must stay two acts."""

import asyncio
import sqlite3
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor

import httpx
import pytest

from sprayout.commands.benchmarks.page_bench import PageBench, page_bench
from sprayout.web.once import KEPT_S, MOST_ACTS, MOST_BYTES, ActMemory, Once

WHITE, BLUE = "ice-van white", "deep-berth blue"
TABLES = (
    "target", "batch", "addition", "swatch", "paint", "reducer", "piece", "coat", "finding",
    "photo", "booth", "cartridge", "cautions",
)  # fmt: skip
KEY = iter(range(10_000))


def new_key() -> str:
    return f'"act-of-a-test-{next(KEY)}"'


@pytest.fixture(scope="module")
def bench(tmp_path_factory: pytest.TempPathFactory) -> Iterator[PageBench]:
    """Calibrated, with a target, two paints, a cup, the cautions read."""
    with page_bench(tmp_path_factory.mktemp("once"), speed=20.0) as running:
        running.calibrate()
        running.set_target()
        for name in (WHITE, BLUE):
            running.ask("/api/paints", {"name": name, "family": "enamel", "white": name == WHITE})
        running.ask("/api/reducers", {"name": "slipway thinner", "solvents": {"toluene": 1.0}})
        running.ask("/api/batches", {"name": "first cup"})
        running.world.fresh_cup()
        running.world.add_drops(WHITE, 20)
        running.world.place("cup")
        running.ask("/api/cautions/read", {"person": "A. Volunteer"})
        coat = running.ask("/api/coats", {"piece": "lifeboat", "kind": "tack coat"})
        running.ask(f"/api/coats/{coat['id']}/end", {})
        yield running


@pytest.fixture(scope="module")
def screen(bench: PageBench) -> Iterator[httpx.Client]:
    with httpx.Client(base_url=bench.address, timeout=60) as client:
        yield client


def counted(bench: PageBench) -> dict[str, int]:
    with sqlite3.connect(bench.folder / "bench.sqlite") as store:
        ask = "SELECT count(*) FROM {}"
        return {table: store.execute(ask.format(table)).fetchone()[0] for table in TABLES}


def seen_now(screen: httpx.Client) -> str:
    return str(screen.get("/api/bench").json()["acts"])


def made(before: dict[str, int], after: dict[str, int]) -> dict[str, int]:
    return {table: after[table] - before[table] for table in TABLES if after[table] > before[table]}


PIXEL = "iVBORw0KGgo="
ACTS = [
    ("/api/targets", {"name": "typed blue", "lab": [40, -2, -20]}, {"target": 1}),
    ("/api/targets", {"name": "seen blue", "measure": True}, {"target": 1, "swatch": 1}),
    ("/api/swatches", {}, {"swatch": 1}),
    ("/api/swatches", {"of": "dry card"}, {"swatch": 1}),
    ("/api/batches", {"name": "second cup"}, {"batch": 1}),
    ("/api/batches/additions", {"paint": WHITE, "drops": 3}, {"addition": 1}),
    (
        "/api/batches/additions",
        {"doses": [{"paint": WHITE, "drops": 3}, {"paint": "new red", "drops": 1}]},
        {"addition": 2, "paint": 1},
    ),
    ("/api/batches/thinning", {"reducer": "slipway thinner", "ml": 2}, {"addition": 1}),
    (
        "/api/batches/efflux",
        {"cup": "ISO 2431 4", "seconds": 60, "temperature_c": 23},
        {"addition": 1},
    ),
    ("/api/paints", {"name": "coal-hatch black", "family": "enamel"}, {"paint": 1}),
    ("/api/paints/swatches", {"parts": {WHITE: 20}}, {"swatch": 1}),
    ("/api/reducers", {"name": "quay thinner", "solvents": {"xylene": 1.0}}, {"reducer": 1}),
    ("/api/pieces", {"piece": "tin tram", "metal": "steel", "metal_mm": 0.3}, {"piece": 1}),
    ("/api/cautions/read", {"person": "B. Volunteer"}, {"cautions": 1}),
    (
        "/api/findings",
        {
            "piece": "lifeboat",
            "defect": "blush",
            "photo": {"media_type": "image/png", "data_base64": PIXEL},
        },
        {"finding": 1, "photo": 1},
    ),
    ("/api/booth", {"name": "window booth", "volume_m3": 0.3, "flow_m3h": 300}, {"booth": 1}),
    ("/api/cartridges", {"name": "left pair", "type": "A2P3"}, {"cartridge": 1}),
    ("/api/coats", {"piece": "lifeboat", "kind": "wet coat"}, {"coat": 1}),
]
NAMES = [f"{path} {' '.join(form)}" for path, form, _ in ACTS]


@pytest.mark.parametrize(("path", "form", "records"), ACTS, ids=NAMES)
def test_an_act_that_is_sent_again_is_done_once(bench, screen, path, form, records) -> None:
    before, key = counted(bench), {"Idempotency-Key": new_key()}
    with ThreadPoolExecutor(2) as taps:
        both = list(taps.map(lambda _: screen.post(path, json=form, headers=key), range(2)))
    again = screen.post(path, json=form, headers=key)
    assert [answer.status_code for answer in (*both, again)] == [200, 200, 200], again.text
    assert both[0].json() == both[1].json() == again.json()
    assert made(before, counted(bench)) == records


@pytest.mark.parametrize(("path", "form"), [("/api/swatches", {}), ("/api/batches/undo", {})])
def test_the_same_act_from_two_tablets_at_once_is_one(bench, screen, path, form) -> None:
    screen.post("/api/batches/additions", json={"paint": WHITE, "drops": 3})
    seen, before = seen_now(screen), counted(bench)
    heads = [{"Idempotency-Key": new_key(), "Acts-Seen": seen} for _ in range(2)]
    with ThreadPoolExecutor(2) as tablets:
        both = list(tablets.map(lambda head: screen.post(path, json=form, headers=head), heads))
    assert [answer.status_code for answer in both] == [200, 200]
    assert both[0].json() == both[1].json()
    assert sum(made(before, counted(bench)).values()) == (1 if path == "/api/swatches" else 0)


def test_a_tablet_that_had_not_heard_of_an_act_does_not_repeat_it(bench, screen) -> None:
    form = {"name": "hull blue again", "lab": [30, 0, -20]}
    seen, before = seen_now(screen), counted(bench)
    for _ in range(2):
        head = {"Idempotency-Key": new_key(), "Acts-Seen": seen}
        assert screen.post("/api/targets", json=form, headers=head).status_code == 200
    assert made(before, counted(bench)) == {"target": 1}
    # Whoever has seen it and does it again means it.
    head = {"Idempotency-Key": new_key(), "Acts-Seen": seen_now(screen)}
    assert screen.post("/api/targets", json=form, headers=head).status_code == 200
    assert made(before, counted(bench)) == {"target": 2}


def test_a_form_from_a_stale_screen_is_done_where_other_acts_came_between(bench, screen) -> None:
    """One tablet took X, then Y; another that had heard of neither takes X: X is in hand."""
    x, y = (
        screen.post("/api/targets", json={"name": name, "lab": [50, 0, 0]}).json()["id"]
        for name in ("X", "Y")
    )
    seen = seen_now(screen)
    for target in (x, y, x):
        head = {"Idempotency-Key": new_key(), "Acts-Seen": seen}
        answer = screen.post(f"/api/targets/{target}/choose", headers=head)
        assert answer.json()["id"] == target
        assert screen.get("/api/bench").json()["target"]["id"] == target


def test_another_form_under_a_used_key_is_refused_and_changes_nothing(bench, screen) -> None:
    key = {"Idempotency-Key": new_key()}
    assert screen.post("/api/cautions/read", json={"person": "C."}, headers=key).status_code == 200
    before = counted(bench)
    answer = screen.post("/api/cautions/read", json={"person": "D."}, headers=key)
    assert answer.status_code == 422 and "another form" in answer.json()["error"]
    short = screen.post("/api/cautions/read", json={}, headers={"Idempotency-Key": "1"})
    assert short.status_code == 400 and set(short.json()) == {"error", "field"}
    assert counted(bench) == before


def test_a_refused_act_can_be_sent_again_under_its_key(bench, screen) -> None:
    key = {"Idempotency-Key": new_key()}
    form = {"reducer": "late thinner", "ml": 1}
    assert screen.post("/api/batches/thinning", json=form, headers=key).status_code == 400
    screen.post("/api/reducers", json={"name": "late thinner", "solvents": {"toluene": 1}})
    assert screen.post("/api/batches/thinning", json=form, headers=key).status_code == 200


def test_a_dose_is_written_as_a_whole_or_not_at_all(bench, screen) -> None:
    before = counted(bench)
    dose = {"doses": [{"paint": WHITE, "drops": 3}, {"paint": " ", "drops": 1}]}
    assert screen.post("/api/batches/additions", json=dose).status_code == 400
    stale = {"doses": [{"paint": WHITE, "drops": 3}, {"paint": BLUE, "drops": 1}], "lines": 0}
    assert "another screen" in screen.post("/api/batches/additions", json=stale).json()["error"]
    assert counted(bench) == before


def test_an_act_whose_cable_was_cut_is_done_and_answered_on_the_next_try(bench, screen) -> None:
    """A measurement takes a while: the tablet goes away in the middle of it and asks again."""
    before, key = counted(bench), {"Idempotency-Key": new_key()}
    with pytest.raises(httpx.TimeoutException):
        screen.post("/api/swatches", json={}, headers=key, timeout=httpx.Timeout(60, read=0.01))
    answer = screen.post("/api/swatches", json={}, headers=key)
    assert answer.status_code == 200
    assert made(before, counted(bench)) == {"swatch": 1}


def test_the_memory_is_bounded_in_time_and_number() -> None:
    async def play() -> None:
        at_s, acts = 0.0, 0

        def count() -> int:
            nonlocal acts
            acts += 1
            return acts

        memory = ActMemory(lambda: at_s, count)
        for n in range(MOST_ACTS + 50):
            memory.end(memory.begin(f"key-{n}", b"form"), [{"status": 200}])
        assert memory.find("key-0", b"form", None) is None
        assert memory.find(f"key-{MOST_ACTS + 49}", b"form", None) is not None
        at_s = KEPT_S + 1
        assert memory.find(f"key-{MOST_ACTS + 49}", b"form", None) is None
        assert memory.find("another key", b"form", 0) is None

    asyncio.run(play())


def test_an_act_with_a_long_answer_is_known_and_the_oldest_give_way() -> None:
    async def play() -> None:
        memory = ActMemory(lambda: 0.0, iter(range(1, 100)).__next__)
        start = {"type": "http.response.start", "status": 200}
        for n, size in enumerate((70_000, MOST_BYTES // 2, MOST_BYTES // 2, 10)):
            body = {"type": "http.response.body", "body": bytes(size)}
            memory.end(memory.begin(f"key-{n}", b"form"), [start, body])
            assert memory.find(f"key-{n}", b"form", None) is not None
        known = [memory.find(f"key-{n}", b"form", None) is not None for n in range(4)]
        assert known == [False, False, True, True]
        body = {"type": "http.response.body", "body": bytes(MOST_BYTES + 1)}
        memory.end(memory.begin("huge", b"form"), [start, body])
        assert memory.find("huge", b"form", None) is not None
        assert memory.find("key-3", b"form", None) is None

    asyncio.run(play())


def test_a_fault_of_ours_is_not_tried_again_under_its_key() -> None:
    """The act was written before the bench failed: only a new tap, with a new key, does it anew."""
    written, count = [], iter(range(1, 100))

    async def failing(*_: object) -> None:
        written.append("line")
        raise RuntimeError("after the line was written")

    async def play() -> None:
        asyncio.get_running_loop().set_exception_handler(lambda *_: None)
        app = Once(failing, ActMemory(lambda: 0.0, count.__next__))
        transport = httpx.ASGITransport(app=app)
        async with httpx.AsyncClient(transport=transport, base_url="http://bench") as screen:
            for key, lines in (("first-tap", 1), ("first-tap", 1), ("second-tap", 2)):
                head = {"Idempotency-Key": key, "Acts-Seen": "0"}
                answer = await screen.post("/api/swatches", json={}, headers=head)
                assert answer.status_code == 500 and len(written) == lines
                words = answer.json()["error"]
                assert "the bench failed (RuntimeError)" in words and "look at the record" in words

    asyncio.run(play())
    assert next(count) == 1, "an act that failed is none that was done"
