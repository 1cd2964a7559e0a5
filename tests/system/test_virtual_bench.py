"""The whole path: chip counts, cable, broker, station, journal, live stream; real serial port and
MQTT broker, fixed start of the clock, fixed seeds."""

import asyncio
import contextlib
import json
import random
from collections.abc import AsyncIterator, Iterator
from contextlib import ExitStack, asynccontextmanager
from dataclasses import dataclass
from pathlib import Path

import httpx
import numpy as np
import paho.mqtt.publish
import pytest

from sprayout.clock import ScaledClock
from sprayout.colour.profile_json import profile_from_json
from sprayout.commands.embedded_broker import embedded_broker
from sprayout.commands.running import Plan, Running, running_bench
from sprayout.intake.broker import Broker
from sprayout.journal.reader import Reader
from sprayout.journal.records import (
    Calibration,
    CautionsAcknowledged,
    ClockStep,
    Flag,
    Swatch,
)
from sprayout.journal.records_json import parse_time
from sprayout.settings import ForeignProbe, Settings, override, read_settings
from sprayout.sim.pty_cable import serve_on_pty
from sprayout.sim.virtual_board import VirtualBoard
from sprayout.sim.world import World

STARTED_MS = 1_788_542_400_000  # 2026-09-04T17:20:00Z
SPEED = 10.0
TOPIC = "workshop/yard-door-sensor/state"
WAIT_S = 20.0


@dataclass(frozen=True)
class Bench:
    """A virtual bench with everything that is plugged into it."""

    running: Running
    world: World
    cable: object
    broker_port: int
    store: Path
    http: httpx.AsyncClient


def settings() -> Settings:
    usual = override(
        read_settings(environment={}), port=0, bench="harbour-museum", colour_interval_s=1.0
    )
    probe = {"topic": TOPIC, "pointer": "/hum", "channel": "relative_humidity", "unit": "%RH"}
    return Settings(usual.values, (ForeignProbe(probe),))


@asynccontextmanager
async def virtual_bench(
    store: Path, seed: int = 7, started_ms: int = STARTED_MS
) -> AsyncIterator[Bench]:
    with ExitStack() as stack:
        port = stack.enter_context(embedded_broker())
        clock = ScaledClock(started_ms, SPEED)
        world = World(seed, clock.seconds)
        board = VirtualBoard(world, clock=clock.seconds, speed=SPEED, seed=seed)
        cable = stack.enter_context(serve_on_pty(board))
        plan = Plan(
            settings(), store, clock, random.Random(seed), serial=cable.path,
            broker=Broker("127.0.0.1", port),
        )  # fmt: skip
        async with (
            running_bench(plan) as running,
            httpx.AsyncClient(base_url=running.address, timeout=WAIT_S) as http,
        ):
            bench = Bench(running, world, cable, port, store, http)
            await state_where(bench, lambda s: s["calibration"]["state"] != "no board")
            await state_where(
                bench, lambda s: any(d["device"].startswith("broker") for d in s["devices"])
            )
            yield bench


async def events(bench: Bench) -> AsyncIterator[tuple[str, dict]]:
    """The live stream, event by event."""
    async with bench.http.stream("GET", "/api/live") as answer:
        kind = ""
        async for line in answer.aiter_lines():
            if line.startswith("event: "):
                kind = line.removeprefix("event: ")
            elif line.startswith("data: "):
                yield kind, json.loads(line.removeprefix("data: "))


async def event_where(bench: Bench, wanted: str, holds) -> dict:
    async with asyncio.timeout(WAIT_S), contextlib.aclosing(events(bench)) as stream:
        async for kind, data in stream:
            if kind == wanted and holds(data):
                return data
    raise AssertionError("the stream ended")


async def state_where(bench: Bench, holds) -> dict:
    return await event_where(bench, "state", holds)


async def act(bench: Bench, path: str, form: object, status: int = 200) -> dict:
    answer = await bench.http.post(path, json=form)
    assert answer.status_code == status, answer.text
    return answer.json()


async def calibrate(bench: Bench) -> None:
    bench.world.place("light trap")
    await act(bench, "/api/calibration/dark", {})
    bench.world.place("white tile")
    tile = bench.world.white_certificate
    form = {"wavelength_nm": tile.wavelength_nm, "reflectance": tile.reflectance}
    await act(bench, "/api/calibration/white", form)


@contextlib.contextmanager
def reading_back(store: Path) -> Iterator[Reader]:
    reader = Reader(store)
    try:
        yield reader
    finally:
        reader.close()


def test_from_chip_counts_to_the_live_stream_and_the_journal(tmp_path: Path) -> None:
    async def run() -> dict:
        async with virtual_bench(tmp_path / "bench.sqlite") as bench:
            await calibrate(bench)
            bench.world.place("pilot cutter hull blue")
            await act(bench, "/api/targets", {"name": "pilot cutter hull blue", "measure": True})
            return await event_where(bench, "colour", lambda c: c is not None)

    live = asyncio.run(run())
    with reading_back(tmp_path / "bench.sqlite") as reader:
        calibration = reader.all(Calibration)[0]
        profile = profile_from_json(calibration.unit)
        at_ms = parse_time(live["at"])
        rows = reader.readings("harbour-museum", at_ms, at_ms + 1, device=live["device"])
        counts = {row.channel: row.value for row in rows}
        # The very row behind the event: its raw counts give the streamed Lab again.
        row = np.array([[counts[c] for c in profile.unit.channels]])
        ambient = np.array([[counts[f"{c}/ambient"] for c in profile.unit.channels]])
        lab = profile.estimate(row, ambient=ambient)[0].lab_d65_10
        np.testing.assert_allclose(lab, live["lab"], atol=0.0051)  # streamed with two places
        assert counts["gain"] == profile.unit.gain
        swatch = reader.all(Swatch)[0]
        assert swatch.counts and swatch.calibration == calibration.id
    assert live["de00"] is not None and live["de00"] < 0.5  # the same surface, read again


def test_a_foreign_probe_lands_in_the_journal_and_rubbish_is_named(tmp_path: Path) -> None:
    async def run() -> None:
        async with virtual_bench(tmp_path / "bench.sqlite") as bench:
            await asyncio.to_thread(publish, bench.broker_port, b'{"hum": 61.5}')
            for rubbish, words in (
                (b'{"hum": "n/a"}', "/hum is 'n/a', wanted a number"),
                (b'{"hum": NaN}', "NaN is not JSON"),
                (b'{"hum": 140}', "reads 140 %RH"),
                (b"\xff\x00", "wanted text in UTF-8"),
            ):
                await asyncio.to_thread(publish, bench.broker_port, rubbish)
                await state_where(
                    bench, lambda s, w=words: any(w in n["words"] for n in s["notices"])
                )

    asyncio.run(run())
    with reading_back(tmp_path / "bench.sqlite") as reader:
        rows = reader.readings("harbour-museum", 0, STARTED_MS + 3_600_000)
        foreign = [row for row in rows if not row.device.startswith("board")]
        assert [(row.channel, row.value, row.unit) for row in foreign] == [
            ("relative_humidity", 61.5, "%RH")
        ]


def publish(port: int, payload: bytes) -> None:
    paho.mqtt.publish.single(TOPIC, payload, qos=1, hostname="127.0.0.1", port=port)


def test_a_coat_is_on_record_with_the_conditions_it_was_sprayed_in(tmp_path: Path) -> None:
    async def run() -> dict:
        async with virtual_bench(tmp_path / "bench.sqlite") as bench:
            await event_where(bench, "booth", lambda b: b["dew_point_c"] is not None)
            refused = await act(
                bench, "/api/coats", {"piece": "goods van", "kind": "tack coat"}, 400
            )
            assert "cautions have not been read" in refused["error"]
            await act(bench, "/api/cautions/read", {"person": "A. Volunteer"})
            coat = await act(bench, "/api/coats", {"piece": "goods van", "kind": "tack coat"})
            twice = await act(bench, "/api/coats", {"piece": "goods van", "kind": "wet coat"}, 400)
            assert "end it first" in twice["error"]
            await event_where(bench, "booth", lambda b: b["air_c"]["at"] > coat["start"])
            await event_where(bench, "booth", lambda b: True)
            return await act(bench, f"/api/coats/{coat['id']}/end", {})

    coat = asyncio.run(run())
    channels = {c["channel"]: c for c in coat["conditions"]["channels"]}
    air = channels["air_temperature"]
    assert air["n"] >= 1 and air["low"] <= air["mean"] <= air["high"]
    assert {"relative_humidity", "dew_point", "margin_to_dew_point"} <= set(channels)
    with reading_back(tmp_path / "bench.sqlite") as reader:
        assert [entry.coat.kind for entry in reader.coats()] == ["tack coat"]
        assert [signed.person for signed in reader.all(CautionsAcknowledged)] == ["A. Volunteer"]


def test_two_tablets_that_start_a_coat_at_once_start_one(tmp_path: Path) -> None:
    async def run() -> list[int]:
        async with virtual_bench(tmp_path / "bench.sqlite") as bench:
            await act(bench, "/api/cautions/read", {"person": "A. Volunteer"})
            form = {"piece": "goods van", "kind": "tack coat"}
            answers = await asyncio.gather(
                *(bench.http.post("/api/coats", json=form) for _ in range(4))
            )
            return sorted(answer.status_code for answer in answers)

    assert asyncio.run(run()) == [200, 400, 400, 400]
    with reading_back(tmp_path / "bench.sqlite") as reader:
        assert len(reader.coats()) == 1


def test_a_pulled_cable_raises_probe_silent_and_the_replug_clears_it(tmp_path: Path) -> None:
    async def run() -> tuple[dict, dict]:
        async with virtual_bench(tmp_path / "bench.sqlite") as bench:
            await state_where(bench, lambda s: s["booth"]["air_c"] and not flag(s, "probe_silent"))
            bench.cable.pull()
            silent = await state_where(bench, lambda s: flag(s, "probe_silent"))
            bench.cable.replug()
            back = await state_where(bench, lambda s: not flag(s, "probe_silent"))
            return silent, back

    silent, back = asyncio.run(run())
    assert silent["booth"]["air_c"]["silent"] and silent["booth"]["dew_point_c"] is None
    assert back["booth"]["dew_point_c"] is not None
    with reading_back(tmp_path / "bench.sqlite") as reader:
        (kept,) = [f for f in reader.all(Flag) if f.key == "probe_silent" and "ago" in f.words][:1]
        assert kept.raised_ms < (kept.cleared_ms or 0)


def flag(state: dict, key: str) -> bool:
    return any(f["key"] == key and f["cleared"] is None for f in state["flags"])


def test_a_flag_is_acknowledged_by_name_and_only_once(tmp_path: Path) -> None:
    async def run() -> None:
        async with virtual_bench(tmp_path / "bench.sqlite") as bench:
            state = await state_where(bench, lambda s: flag(s, "calibration_due"))
            due = next(f for f in state["flags"] if f["key"] == "calibration_due")
            path = f"/api/flags/{due['id']}/acknowledge"
            await act(bench, path, {"person": "  "}, 400)
            read = await act(bench, path, {"person": "A. Volunteer"})
            assert read["acknowledged_by"] == "A. Volunteer"
            await act(bench, "/api/flags/flag-none/acknowledge", {"person": "B."}, 400)

    asyncio.run(run())


def test_a_coat_that_was_running_goes_on_after_a_restart(tmp_path: Path) -> None:
    store = tmp_path / "bench.sqlite"

    async def first() -> str:
        async with virtual_bench(store) as bench:
            await act(bench, "/api/cautions/read", {"person": "A. Volunteer"})
            coat = await act(bench, "/api/coats", {"piece": "goods van", "kind": "tack coat"})
            return coat["id"]

    async def second() -> dict:
        # A board computer without a clock battery: after the restart it is an hour earlier.
        async with virtual_bench(store, started_ms=STARTED_MS - 3_600_000) as bench:
            state = (await bench.http.get("/api/bench")).json()
            await act(bench, f"/api/coats/{state['coat']['id']}/end", {})
            return state

    coat_id = asyncio.run(first())
    state = asyncio.run(second())
    assert state["coat"]["id"] == coat_id
    with reading_back(store) as reader:
        (entry,) = reader.coats()
        assert entry.coat.end_ms is not None and entry.coat.end_ms >= entry.coat.start_ms
        assert [step.reason for step in reader.all(ClockStep)] == ["no clock battery"]
    assert state["cautions"]["read_by"] == "A. Volunteer"


@pytest.mark.parametrize(
    ("path", "form", "words"),
    [
        ("/api/coats", {"piece": "van", "kind": "blue coat"}, "kind: got 'blue coat'"),
        ("/api/coats", {"piece": "", "kind": "tack coat"}, "piece: got ''"),
        ("/api/targets", {"name": "x", "lab": [140, 0, 0]}, "L* 140, wanted 0 to 100"),
        ("/api/targets", {"name": "x", "lab": [50, 0, 400]}, "stronger than any surface"),
        ("/api/targets", {"name": "x"}, "munsell or measure"),
        ("/api/swatches", {}, "not calibrated"),
        ("/api/calibration/white", {}, "measure the light trap first"),
        ("/api/batches/additions", {"paint": "x", "drops": 0}, "drops: got 0"),
        ("/api/batches/additions", {"paint": "x", "drops": 3}, "start one first"),
        ("/api/coats/none/end", {}, "not running"),
        ("/api/cautions/read", {"person": "x", "extra": 1}, "extra: got 1"),
    ],
)
def test_bad_input_is_one_line_and_changes_nothing(
    tmp_path: Path, path: str, form: object, words: str
) -> None:
    async def run() -> httpx.Response:
        async with virtual_bench(tmp_path / "bench.sqlite") as bench:
            return await bench.http.post(path, json=form)

    answer = asyncio.run(run())
    assert 400 <= answer.status_code < 500
    error = answer.json()["error"]
    assert words in error and "\n" not in error and "Traceback" not in error
    with reading_back(tmp_path / "bench.sqlite") as reader:
        assert reader.coats() == [] and reader.all(Swatch) == []
        assert reader.all(CautionsAcknowledged) == []


def test_a_calibration_with_patches_check_tile_and_placements(tmp_path: Path) -> None:
    """The guided act with a printed chart: each step kept or refused, the result better than ±2."""

    async def run() -> dict:
        async with virtual_bench(tmp_path / "bench.sqlite") as bench:
            refused = await act(bench, "/api/calibration/patches", {"name": "grey"}, 400)
            assert "begin with dark" in refused["error"]
            await calibrate(bench)
            white_only = (await bench.http.get("/api/bench")).json()["calibration"]
            assert "white tile only" in white_only["words"]
            for certificate in bench.world.chart_certificates[:6]:
                bench.world.place(certificate.name)
                form = {
                    "name": certificate.name,
                    "wavelength_nm": certificate.wavelength_nm,
                    "reflectance": certificate.reflectance,
                }
                await act(bench, "/api/calibration/patches", form)
            await act(bench, "/api/calibration/finish", {})
            bench.world.place("check tile")
            first = await act(bench, "/api/calibration/check", {"name": "grey tile"})
            second = await act(bench, "/api/calibration/check", {"name": "grey tile"})
            assert first["de00"] is None and second["de00"] < 0.5
            for _ in range(3):
                bench.world.place("pilot cutter hull blue")
                await act(bench, "/api/placements", {})
            target = await act(bench, "/api/targets", {"name": "hull blue", "measure": True})
            assert target["measured"]
            return (await bench.http.get("/api/bench")).json()

    state = asyncio.run(run())
    assert "6 patches" in state["calibration"]["words"]
    assert state["calibration"]["placements"] == 0 and state["calibration"]["due"] == []
    with reading_back(tmp_path / "bench.sqlite") as reader:
        assert len(reader.all(Calibration)) == 2


def test_the_cup_in_hand_is_assessed_from_the_record_and_no_gap_reassures(tmp_path: Path) -> None:
    async def run() -> tuple[dict, dict, dict]:
        async with virtual_bench(tmp_path / "bench.sqlite") as bench:
            ask = {"sprayed_ml": 5, "minutes": 4, "coats": 1}
            nothing = (await bench.http.get("/api/assessment", params=ask)).json()
            await act(bench, "/api/paints", {"name": "smokebox red oxide", "family": "enamel"})
            await act(bench, "/api/reducers", {"name": "thinner", "solvents": {"toluene": 1.0}})
            await act(bench, "/api/batches", {"name": "cup"})
            await act(bench, "/api/batches/additions", {"paint": "smokebox red oxide", "drops": 60})
            await act(bench, "/api/batches/thinning", {"reducer": "thinner", "ml": 3})
            booth = {"name": "booth", "width_m": 0.5, "height_m": 0.4, "volume_m3": 0.12}
            await act(bench, "/api/booth", {**booth, "flow_m3h": 360, "exhaust": "ducted"})
            unlabelled = (await bench.http.get("/api/assessment", params=ask)).json()
            label = {"solvents": {"white spirit": 0.5}, "two_part": True}
            await act(bench, "/api/paints/label", {"paint": "smokebox red oxide", **label})
            two_part = (await bench.http.get("/api/assessment", params=ask)).json()
            return nothing, unlabelled, two_part

    nothing, unlabelled, two_part = asyncio.run(run())
    mild = ("no reason found to stop", "caution")
    assert nothing["level"] not in mild and unlabelled["level"] not in mild
    assert two_part["level"] == "do not spray, get professional help"
    words = " ".join(finding["words"] for finding in unlabelled["findings"])
    assert "smokebox red oxide" in words


def test_a_mix_from_the_shelf_to_the_coats_ahead_and_its_card(tmp_path: Path) -> None:
    """The next drop on the real path: the shelf, advice, what-if, coats ahead, card, again."""
    white, blue = "ice-van white", "deep-berth blue"

    async def run() -> tuple[dict, dict, dict, str]:
        async with virtual_bench(tmp_path / "bench.sqlite") as bench:
            await calibrate(bench)
            bench.world.place("pilot cutter hull blue")
            await act(bench, "/api/targets", {"name": "hull blue", "measure": True})
            tints = (blue, "coal-hatch black", "quay-crane ochre")
            for name in (white, *tints):
                form = {"name": name, "family": "enamel", "white": name == white}
                await act(bench, "/api/paints", form)
            let_down = [{white: 20, tint: 2} for tint in tints]
            for parts in ({white: 20}, *({tint: 20} for tint in tints), *let_down):
                bench.world.place(bench.world.shelf.drawdown(parts))
                await act(bench, "/api/paints/swatches", {"parts": parts})
            bench.world.place("piece")
            await act(bench, "/api/swatches", {"of": "base"})
            await act(bench, "/api/batches", {"name": "hull cup"})
            advice = (await bench.http.get("/api/mixing/advice")).json()
            assert {dose["paint"] for dose in advice["add"]} >= {white, blue}
            for dose in advice["add"]:
                bench.world.add_drops(dose["paint"], dose["drops"])
                await act(bench, "/api/batches/additions", dose)
            what_if = await act(bench, "/api/mixing/what-if", {"drops": {blue: 20}})
            assert what_if["total_drops"] == sum(d["drops"] for d in advice["add"]) + 20
            bench.world.stir(40)
            bench.world.place("cup")
            swatch = await act(bench, "/api/swatches", {})
            coats = (await bench.http.get("/api/mixing/coats")).json()
            batch = (await bench.http.get("/api/batches")).json()[0]["id"]
            again = await act(bench, f"/api/batches/{batch}/again", {"paint_ml": 8})
            card = (await bench.http.get(f"/api/batches/{batch}/card")).text
            assert advice["predicted_de00"] is not None and swatch["de00"] is not None
            return coats, again, swatch, card

    coats, again, swatch, card = asyncio.run(run())
    differences = [coat["de00"] for coat in coats["coats"]]
    assert (
        len(differences) == 4 and differences[3] <= differences[0] + 0.5
    )  # it settles, not strays
    assert dict(again["drops"])[white] > 0 and blue in card
    assert swatch["u95_de00"] > 0
