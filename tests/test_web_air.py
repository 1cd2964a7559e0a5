"""The booth, its assessment and the probes' salt checks over HTTP, on a bench without a board."""

import json
from collections.abc import Iterator

import httpx
import pytest

from sprayout.clock import SystemClock
from sprayout.commands.running import Running
from sprayout.intake.events import ChannelReading, ReadingsArrived
from sprayout.journal.importing import import_file
from sprayout.journal.interchange import Range, export_lines
from sprayout.journal.reader import Reader
from sprayout.journal.records import Booth, ProbeCheck, Reading
from sprayout.journal.store import connect_reading, prepare_store
from sprayout.journal.writer import Writer
from sprayout.safety.cautions import for_spraying, forbidden_words_in
from sprayout.settings import read_settings
from sprayout.station import Station
from tests.web_bench import plan_of, served

NACL = {"salt": "NaCl", "t_c": 20.0, "read_pct": 78.96, "minutes": 240}
BOOTH = {
    "name": "bench booth", "width_m": 0.6, "height_m": 0.5, "volume_m3": 0.2, "face_m_s": 0.8,
    "exhaust": "ducted", "crossdraft_m_s": 0.1, "room_volume_m3": 40, "room_air_changes_h": 0.5,
    "mixing_divisor": 3,
}  # fmt: skip


@pytest.fixture(scope="module")
def store(tmp_path_factory: pytest.TempPathFactory):
    """A store that has heard of one probe in the loft."""
    path = tmp_path_factory.mktemp("air") / "bench.sqlite"
    prepare_store(path)
    now_ms = SystemClock().now_ms()
    in_force = read_settings(environment={})
    with Writer(path) as writer:
        for channel, value, unit in (("air_temperature", 20.5, "Cel"),
                                     ("relative_humidity", 63.0, "%RH")):  # fmt: skip
            reading = Reading(in_force.text("bench"), "loft", channel, value, unit, now_ms - 9_000)
            writer.submit([reading])
    return path


@pytest.fixture(scope="module")
def bench_at_work(store) -> Iterator[tuple[httpx.Client, Running]]:
    with served(plan_of(store)) as both:
        yield both


@pytest.fixture(scope="module")
def bench(bench_at_work) -> httpx.Client:
    return bench_at_work[0]


@pytest.fixture(scope="module")
def station(bench_at_work) -> Station:
    return bench_at_work[1].station


def got(bench: httpx.Client, path: str, **asked: object) -> dict:
    answer = bench.get(path, params=asked)
    assert answer.status_code == 200, (path, answer.text)
    assert forbidden_words_in(answer.text) == ()
    return answer.json()


def posted(bench: httpx.Client, path: str, form: dict) -> dict:
    answer = bench.post(path, json=form)
    assert answer.status_code == 200, (path, answer.text)
    assert forbidden_words_in(answer.text) == ()
    return answer.json()


def findings(found: dict) -> dict[str, dict]:
    return {finding["key"]: finding for finding in found["findings"]}


def test_with_nothing_entered_every_finding_is_open_and_nothing_is_left_out(bench) -> None:
    found = got(bench, "/api/assessment")
    assert found["level"] == "cannot assess" and found["flag_level"] == "unknown"
    assert found["words"].startswith("Cannot assess: ")
    assert {f["level"] for f in found["findings"]} == {"cannot assess"}
    assert [c["key"] for c in found["cautions"]] == [c.key for c in for_spraying("us")]
    assert len(found["order_of_authority"]) == 4
    assert {row["title"]: row["words"] for row in found["rests_on"]}["Booth"] == "not entered"


def test_a_booth_answers_with_its_record_and_the_flow_it_comes_to(bench) -> None:
    record = posted(bench, "/api/booth", BOOTH)
    assert record["kind"] == "booth" and record["exhaust"] == "ducted"
    shown = got(bench, "/api/booth")
    assert shown["booth"]["face_m_s"] == 0.8
    assert shown["delivered_m3h"] == pytest.approx(0.8 * 0.3 * 3600)
    assert shown["flow_basis"] == "face"
    assert len(shown["cautions"]) >= 8
    assert got(bench, "/api/bench")["ventilation"]["booth"]["exhaust"] == "ducted"
    assert "mixing divisor 3" in got(bench, "/api/bench")["ventilation"]["purge_assumption"]


@pytest.mark.parametrize(
    ("flow", "m3h", "basis"),
    [
        ({"rating_m3h": 800, "rating_share": 0.4}, 320.0, "rating"),
        ({"rating_m3h": 800}, 400.0, "rating"),
        ({"flow_m3h": 500}, 500.0, "measured"),
        # Straight curve 0…600 m³/h from 120 Pa against k Q² with (20 + 2·15) Pa at 300 m³/h:
        # 120 (1 - q) = 200 q², q = Q/600, so q = (-120 + √(120² + 4·200·120)) / 400
        (
            {"fan": {"curve": [[0, 120], [600, 0]], "at_flow_m3h": 300, "duct_pa": 20,
                     "clean_filter_pa": 15}, "filter_loading": 2},
            600 * (-120 + (120**2 + 4 * 200 * 120) ** 0.5) / 400,
            "fan curve",
        ),
    ],
)  # fmt: skip
def test_the_flow_of_a_booth_however_it_is_known(bench, flow, m3h, basis) -> None:
    base = {k: v for k, v in BOOTH.items() if k != "face_m_s"}
    posted(bench, "/api/booth", {**base, **flow})
    shown = got(bench, "/api/booth")
    assert shown["delivered_m3h"] == pytest.approx(m3h, abs=0.1)
    assert shown["flow_basis"] == basis
    face = findings(got(bench, "/api/assessment"))["face_velocity"]
    assert ("measure it" in face["words"]) == (basis in ("rating", "fan curve"))


@pytest.mark.parametrize(
    ("form", "words"),
    [
        ({**BOOTH, "flow_m3h": 300}, "wanted one"),
        ({**BOOTH, "volume_m3": 200_000}, "litres or cubic feet?"),
        ({**BOOTH, "room_volume_m3": 90_000}, 'confirmed: ["room_volume_m3"]'),
        ({**BOOTH, "mixing_divisor": 0.25}, "enter 4"),
        ({**BOOTH, "exhaust": "window"}, "exhaust"),
        ({**BOOTH, "width_m": 0}, "width_m"),
        ({**BOOTH, "filter_loading": 2}, "without the fan's curve"),
        ({**BOOTH, "filter_changed": "yesterday"}, "filter_changed: got 'yesterday'"),
        ({**BOOTH, "colour": "blue"}, "colour"),
    ],
)
def test_a_booth_that_cannot_be_is_refused_in_one_line(bench, form, words) -> None:
    before = got(bench, "/api/booth")["booth"]
    answer = bench.post("/api/booth", json=form)
    assert 400 <= answer.status_code < 500
    error = answer.json()["error"]
    assert words in error and "\n" not in error
    assert got(bench, "/api/booth")["booth"] == before


def sprayed(bench, **label: object) -> dict:
    posted(bench, "/api/booth", BOOTH)
    posted(bench, "/api/paints", {"name": "ice-van white", "family": "lacquer"})
    stated = {"solvents": {"n-butyl acetate": 0.4, "toluene": 0.3}, "two_part": False,
              "solids_g_ml": 0.3, **label}  # fmt: skip
    posted(bench, "/api/paints/label", {"paint": "ice-van white", **stated})
    posted(bench, "/api/batches", {"name": "cup"})
    posted(bench, "/api/batches/additions", {"paint": "ice-van white", "drops": 100})
    return got(bench, "/api/assessment", sprayed_ml=5, minutes=4, coats=3)


def test_every_figure_carries_words_limit_source_assumptions_and_help(bench) -> None:
    found = sprayed(bench)
    by_key = findings(found)
    order = ["product", "face_velocity", "exhaust", "fan", "vapour", "build_up", "near_far",
             "explosive", "breathing_15_min", "breathing_8_h", "mist", "respirator", "cartridge",
             "purge"]  # fmt: skip
    assert [f["key"] for f in found["findings"]] == order
    for finding in found["findings"]:
        assert finding["title"] and finding["words"] and finding["flag_level"]
        if finding["rows"]:
            assert finding["sources"] and (finding["assumptions"] or finding["key"] == "cartridge")
        if finding["level"] not in ("no reason found to stop", "caution"):
            assert finding["would_help"], finding["key"]
        for row in finding["rows"]:
            if row["value"] is None:
                assert row["text"] == "not known"
            else:
                number, _, unit = row["text"].partition(" ")
                assert float(number) == pytest.approx(row["value"], rel=0.006), row
                assert unit == row["unit"]
            if row["limit"]:
                assert row["limit"]["words"] and row["limit"]["source"]["title"]
    held = {row["key"]: row for row in by_key["breathing_15_min"]["rows"]}
    assert set(held) == {"index", "n_butyl_acetate_ppm", "toluene_ppm"}
    assert held["index"]["value"] == pytest.approx(
        held["n_butyl_acetate_ppm"]["share"] + held["toluene_ppm"]["share"]
    )
    assert held["toluene_ppm"]["limit"]["unit"] == "ppm"
    explosive = by_key["explosive"]["rows"][0]
    assert explosive["limit"]["value"] == 25.0
    assert by_key["mist"]["rows"][0]["unit"] == "mg/m³"
    # By hand, one coat: 5 mL, 0.3 of it toluene of 0.867 g/mL (substances.csv, not solvents.csv,
    # which has 0.8685), and 0.4 of it n-butyl acetate of 0.882 g/mL.
    grams = {row["key"]: row["value"] for row in by_key["vapour"]["rows"]}
    assert grams["toluene_g"] == pytest.approx(5 * 0.3 * 0.867, rel=0.001)
    assert grams["n_butyl_acetate_g"] == pytest.approx(5 * 0.4 * 0.882, rel=0.001)
    assert "3 coats one after the other" in " ".join(by_key["breathing_8_h"]["assumptions"])
    words = {row["title"]: row["words"] for row in found["rests_on"]}
    assert words["Cup"] == "cup: 5 mL ice-van white"
    assert "0.8 m/s measured over the face" in words["Booth"] and "ducted" in words["Booth"]


def test_limits_of_the_products_own_data_sheet_come_first(bench) -> None:
    found = sprayed(bench, data_sheet_limits_ppm={"toluene": 5.0}, dust_limit_mg_m3=1.0)
    held = {row["key"]: row for row in findings(found)["breathing_8_h"]["rows"]}
    assert held["toluene_ppm"]["limit"]["value"] == 5.0
    assert "data sheet" in held["toluene_ppm"]["limit"]["words"]
    assert findings(found)["mist"]["rows"][0]["limit"]["value"] == 1.0


@pytest.mark.parametrize(
    ("label", "word"),
    [
        ({"two_part": True}, "isocyanate"),
        ({"pigments": ["lead chromate"]}, "lead"),
        ({"label": "contains dichloromethane"}, "methylene chloride"),
    ],
)
def test_where_only_professionals_should_work_there_are_no_figures(bench, label, word) -> None:
    found = sprayed(bench, **label)
    assert found["refused"] and found["level"] == "do not spray, get professional help"
    assert word in found["words"] and "The way:" in found["words"]
    assert {f["key"] for f in found["findings"]} == {"product", "face_velocity", "exhaust", "fan"}
    clear = {"two_part": False, "pigments": ["ochre"], "label": "enamel"}
    sprayed(bench, **clear)


def test_sanding_an_old_coat_of_unknown_age_is_refused(bench) -> None:
    unknown = findings(got(bench, "/api/assessment", sanding=True))["sanding"]
    assert unknown["level"] == "do not spray, get professional help"
    assert "laboratory" in unknown["would_help"][0]
    tested = got(bench, "/api/assessment", sanding=True, laboratory_found=False)
    assert findings(tested)["sanding"]["level"] == "caution"
    assert "sanding" not in findings(got(bench, "/api/assessment", painted_year=1950))


@pytest.mark.parametrize(
    "asked", [{"sprayed_ml": 0}, {"minutes": -1}, {"coats": 0}, {"sprayed_ml": "much"}]
)
def test_an_assessment_of_nothing_is_refused(bench, asked) -> None:
    answer = bench.get("/api/assessment", params=asked)
    assert answer.status_code == 422 and next(iter(asked)) in answer.json()["error"]


FILM = {"air_c": 22, "rh_pct": 60, "reducer": "toluene=60,acetone=40", "metal": "steel",
        "metal_mm": 0.3, "wet_film_um": 30}  # fmt: skip


@pytest.mark.parametrize(
    ("path", "form", "words"),
    [
        ("/api/blush", {**FILM, "rh_pct": 104}, "humidity: got 104 %RH"),
        ("/api/blush", {k: v for k, v in FILM.items() if k != "rh_pct"}, "rh_pct"),
        ("/api/blush", {**FILM, "reducer": "toluene=60,acetone=30"}, "shares sum to 90"),
        ("/api/blush", {**FILM, "reducer": "tolune=1"}, "nearest: toluene"),
        ("/api/blush", {**FILM, "metal_mm": 0}, "metal thickness: got 0 mm"),
        ("/api/blush", {**FILM, "wet_film_um": 0}, "wet film: got 0 µm"),
        ("/api/blush", {**FILM, "pressure_pa": 1013}, "looks like hPa"),
        ("/api/air/respirator", {"substance": "TiO2", "ppm": 5}, "particulate"),
        (
            "/api/air/dilution",
            {"substance": "toluene", "evaporation_ml_min": 1, "target_ppm": 20,
             "mixing_divisor": 0.3},
            "multiplies the flow, enter 3.33",
        ),
        ("/api/assess", {"room": {"volume_m3": 30, "mixing_divisor": 0.3}}, "enter 3.33"),
        ("/api/assess", {"booth": {"width_m": 0.5, "height_m": 0.4, "flow_m3h": "much"}}, "flow"),
        ("/api/part-temperature", {"part_c": 130}, "part temperature: got 130"),
        ("/api/pieces", {"piece": "van", "surface": "chrome"}, "surface: got 'chrome'"),
        ("/api/paints/limits", {"paint": "ice-van white", "limits": {"dries_by": "x"}}, "dries"),
        (
            "/api/paints/limits",
            {"paint": "ice-van white", "limits": {"dries_by": "cure", "wrinkle_from_h": 4}},
            "wrinkle window",
        ),
    ],
)  # fmt: skip
def test_each_bad_input_is_refused_by_name(bench, path, form, words) -> None:
    posted(bench, "/api/paints", {"name": "ice-van white", "family": "lacquer"})
    answer = bench.post(path, json=form)
    assert 400 <= answer.status_code < 500, answer.text
    error = answer.json()["error"]
    assert words in error and "\n" not in error
    assert forbidden_words_in(error) == ()


def test_a_missing_limit_is_cannot_assess_and_never_zero(bench) -> None:
    """White spirit has no limit of the EU on our list: the index is not known."""
    asked = {
        "product": {"name": "enamel", "solvents": {"white spirit": 0.6}, "two_part": False},
        "coat": {"sprayed_ml": 5, "minutes": 4},
        "booth": {"width_m": 0.5, "height_m": 0.4, "volume_m3": 0.1, "flow_m3h": 560,
                  "exhaust": "ducted"},
        "room": {"volume_m3": 30, "fresh_air_m3h": 30},
        "region": "eu",
    }  # fmt: skip
    found = findings(posted(bench, "/api/assess", asked))["breathing_8_h"]
    rows = {row["key"]: row for row in found["rows"]}
    assert found["level"] == "cannot assess"
    assert rows["index"]["value"] is None and rows["index"]["text"] == "not known"
    assert rows["white_spirit_ppm"]["value"] > 0 and rows["white_spirit_ppm"]["limit"] is None
    assert found["would_help"]


def test_solvents_are_listed_for_a_form(bench) -> None:
    names = {entry["name"]: entry for entry in got(bench, "/api/solvents")["solvents"]}
    assert names["Toluene"]["exposure"] and "toluol" in names["Toluene"]["also"]


@pytest.mark.parametrize(
    ("path", "form"),
    [
        ("/api/paints/label", {"paint": "ice-van white", "solvents": {"tolune": 0.5}}),
        ("/api/reducers", {"name": "thinner", "solvents": {"tolune": 1.0}}),
    ],
)
def test_an_unknown_solvent_is_refused_with_the_nearest_names(bench, path, form) -> None:
    posted(bench, "/api/paints", {"name": "ice-van white", "family": "lacquer"})
    answer = bench.post(path, json=form)
    assert answer.status_code == 400
    assert "'tolune'" in answer.json()["error"] and "Toluene" in answer.json()["error"]


def test_a_probe_is_checked_over_a_salt_and_the_check_withdrawn(bench) -> None:
    before = got(bench, "/api/probe-checks")
    assert [probe["device"] for probe in before["probes"]] == ["loft"]
    assert before["probes"][0]["check"] is None
    assert "never checked" in before["probes"][0]["words"]
    assert {salt["salt"] for salt in before["salts"]} >= {"NaCl", "MgCl2"}
    assert len(before["cautions"]) >= 8
    kept = posted(bench, "/api/probe-checks", {"probe": "loft", "points": [NACL], "person": "Ida"})
    assert kept["kind"] == "probe-check" and kept["in_use"] and not kept["due"]
    assert kept["offset_pct"] == pytest.approx(-3.48, abs=0.02)
    after = got(bench, "/api/probe-checks")
    assert after["probes"][0]["check"] == kept["id"] and after["checks"][0]["in_use"]
    gone = posted(bench, f"/api/probe-checks/{kept['id']}/withdraw", {"person": "Ida"})
    assert gone["withdrawn"] and not gone["in_use"]
    assert got(bench, "/api/probe-checks")["probes"][0]["check"] is None


def test_a_probe_whose_air_is_silent_shows_no_temperature(bench, station) -> None:
    """The humidity is new, the temperature of ten minutes ago: it is none of now."""

    def row() -> dict:
        found = got(bench, "/api/probe-checks")["probes"]
        return next(entry for entry in found if entry["device"] == "loft")

    def hear(channel: str, value: float, unit: str, age_ms: int) -> None:
        at_ms = station.now_ms() - age_ms
        reading = ChannelReading(channel, value, unit, at_ms)
        arrived = ReadingsArrived(station.bench, "loft", at_ms, (reading,))
        station.watching.booth.take(arrived, station.monotonic_ms() - age_ms)

    hear("air_temperature", 31.0, "Cel", 600_000)
    hear("relative_humidity", 58.0, "%RH", 0)
    assert (row()["air_c"], row()["silent"]) == (None, False)
    assert row()["rh_read_pct"] == row()["rh_pct"] == 58.0
    hear("air_temperature", 21.0, "Cel", 0)
    assert row()["air_c"] == 21.0


@pytest.mark.parametrize(
    ("form", "words"),
    [
        ({"probe": "attic", "points": [NACL]}, "heard: loft"),
        ({"probe": "loft", "points": []}, "points"),
        ({"probe": "loft", "points": [{**NACL, "salt": "pepper"}]}, "salt: got 'pepper'"),
        ({"probe": "loft", "points": [{**NACL, "read_pct": 7.7}]}, "probe reads 7.7 %RH over NaCl"),
        ({"probe": "loft", "points": [{**NACL, "minutes": 4}]}, "4 minutes over NaCl"),
        ({"probe": "loft", "points": [{**NACL, "t_c": 70}]}, "salt temperature: got 70"),
    ],
)
def test_checks_that_cannot_be_are_refused(bench, form, words) -> None:
    answer = bench.post("/api/probe-checks", json=form)
    assert 400 <= answer.status_code < 500 and words in answer.json()["error"]


def test_booth_and_checks_leave_and_come_back_the_same(bench, store, tmp_path) -> None:
    posted(bench, "/api/booth", BOOTH)
    connection = connect_reading(store)
    lines = list(export_lines(connection, Range()))
    connection.close()
    kinds = [json.loads(line)["kind"] for line in lines]
    assert "booth" in kinds and "probe-check" in kinds
    file, other = tmp_path / "all.jsonl", tmp_path / "other.sqlite"
    file.write_text("".join(lines), encoding="utf-8")
    import_file(other, file)
    connection = connect_reading(other)
    assert list(export_lines(connection, Range())) == lines
    connection.close()
    with Reader(other) as there, Reader(store) as here:
        assert there.all(Booth) == here.all(Booth) and there.all(ProbeCheck)


def test_an_old_export_whose_booth_says_its_exhaust_in_the_note_is_taken(tmp_path) -> None:
    old = {"kind": "booth", "id": "b", "bench": "quay", "name": "box", "made":
           "2026-09-04T18:00:00.000Z", "width_m": 0.5, "height_m": 0.4, "volume_m3": 0.1,
           "flow_m3h": 400.0, "filter_changed": None, "note": "recirculating"}  # fmt: skip
    file, path = tmp_path / "old.jsonl", tmp_path / "s.sqlite"
    file.write_text(json.dumps(old) + "\n", encoding="utf-8")
    import_file(path, file)
    with Reader(path) as reader:
        (booth,) = reader.all(Booth)
    assert booth.exhaust is None and booth.note == "recirculating"
    from sprayout.web.booth_set_up import booth_json

    assert booth_json(booth)["booth"]["exhaust"] == "recirculating"
