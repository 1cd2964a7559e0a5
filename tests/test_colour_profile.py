"""From raw counts of a virtual unit to Lab, through the files of contract 3."""

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import typer
from typer.testing import CliRunner

from sprayout.colour.difference import ciede2000
from sprayout.colour.profile import BANDS_NM, FORMULA_VERSION, build_profile
from sprayout.colour.profile_json import profile_from_json, profile_to_json
from sprayout.colour.tables import GRID_NM, published_chart
from sprayout.colour.tristimulus import grid_to_lab
from sprayout.colour.unit_json import parse_unit, unit_to_json
from sprayout.commands.benchmarks import colour_truth as truth
from sprayout.commands.convert import register
from sprayout.errors import BadInput, CalibrationRefused

CHART = np.array([np.interp(truth.NM, GRID_NM, column) for column in published_chart().values.T])
CONDITION = truth.Condition("12 patches")


def made_unit(condition: truth.Condition = CONDITION, seed: int = 3) -> dict[str, Any]:
    rng = np.random.default_rng(seed)
    unit = truth.draw_unit(condition, rng)
    return truth.unit_json(unit, condition, CHART[:12], CHART[:12], rng)


def chart_counts(readings: int, condition: truth.Condition = CONDITION, seed: int = 3) -> Any:
    rng = np.random.default_rng(seed)
    unit = truth.draw_unit(condition, rng)
    return unit.read(CHART[12:], readings, np.random.default_rng(seed + 1))


def changed(path: str, value: object) -> dict[str, Any]:
    unit = made_unit()
    place: Any = unit
    *way, last = path.split(".")
    for step in way:
        place = place[int(step)] if step.isdigit() else place[step]
    place[int(last) if last.isdigit() else last] = value
    return unit


@pytest.fixture(scope="module")
def profile() -> Any:
    return build_profile(parse_unit(made_unit()))


def test_unseen_patches_come_out_close_and_inside_their_u95(profile: Any) -> None:
    counts = chart_counts(16)
    for white in ("d65-10", "d50-2"):
        found = profile.lab(counts, white, 0.25)
        wanted = grid_to_lab(published_chart().values.T[12:], white)
        gap = ciede2000(wanted, found.lab)
        assert np.median(gap) < 0.35
        assert np.all(gap < 1.0)
        assert np.mean(gap <= found.u95_de00) >= 0.8
        assert not found.clipped.any()


def test_one_by_one_equals_the_batch(profile: Any) -> None:
    counts = chart_counts(4)
    batch = profile.lab(counts)
    for row, estimate in enumerate(profile.estimate(counts, repeats=4)):
        np.testing.assert_allclose(estimate.lab_d65_10, batch.lab[row], atol=2e-3)
        assert estimate.u95_de00 == pytest.approx(batch.u95_de00[row], abs=0.02)
        assert len(estimate.reflectance) == len(BANDS_NM) == 31


def test_the_reflectance_is_near_the_true_one(profile: Any) -> None:
    """Over 420-700 nm: below, one wide band under a weak light cannot show a white's steep edge."""
    bands = np.isin(GRID_NM, BANDS_NM[2:])
    for estimate, real in zip(
        profile.estimate(chart_counts(16)), published_chart().values.T[12:], strict=True
    ):
        assert np.sqrt(np.mean((np.array(estimate.reflectance[2:]) - real[bands]) ** 2)) < 0.03


def test_ambient_light_is_taken_off(profile: Any) -> None:
    counts = chart_counts(4)
    ambient = np.full_like(counts, 40.0)
    with_light = profile.estimate(counts + ambient, ambient=ambient)
    without = profile.estimate(counts)
    for one, other in zip(with_light, without, strict=True):
        np.testing.assert_allclose(one.lab_d65_10, other.lab_d65_10, atol=1e-9)


def test_a_clipped_sample_is_marked_not_refused(profile: Any) -> None:
    counts = chart_counts(4)
    counts[2, 4] = 65535.0
    found = profile.lab(counts)
    assert found.clipped.tolist() == [i == 2 for i in range(12)]
    assert found.u95_de00[2] >= 50.0 > found.u95_de00.max(where=~found.clipped, initial=0.0)
    assert profile.estimate_sample(counts[2:3]).u95_de00 >= 50.0


def test_unit_and_profile_survive_their_json() -> None:
    unit = parse_unit(made_unit())
    assert parse_unit(json.loads(json.dumps(unit_to_json(unit)))) == unit
    profile = build_profile(unit)
    again = profile_from_json(json.loads(json.dumps(profile_to_json(profile))))
    assert again.formula_version == FORMULA_VERSION
    counts = chart_counts(4)
    np.testing.assert_array_equal(again.lab(counts).lab, profile.lab(counts).lab)


@pytest.mark.parametrize(
    ("path", "value", "match"),
    [
        ("white.counts.4", 65535, "white tile: f5 reads 65535, the top of its range"),
        ("white.counts.2", 0, "white tile: f3 reads 0, not above the dark reading"),
        ("white.counts.2", float("nan"), "white tile, counts: holds a value that is not"),
        ("dark", [100.0] * 7, "dark: got 7 counts, wanted 8"),
        ("white.reflectance", [0.2] * 41, "is not that of a white tile"),
        ("white.counts", None, "white tile, counts: got nothing"),
        ("sensor", "spectral-9", "unit, sensor: got 'spectral-9'"),
        ("channels", ["f1", "f2"], "channels: f3, f4, f5, f6, f7, f8 missing"),
        ("gain", -1, "unit, gain: got -1"),
        ("patches.0.counts.3", -5, "patch patch 1: f4 reads -5, negative"),
        ("patches.0.reflectance", None, "neither reflectance nor lab_d50_2"),
        ("patches.1.counts.5", 65535, "patch patch 2: f6 reads 65535"),
    ],
)
def test_units_that_cannot_be_used_are_refused(path: str, value: object, match: str) -> None:
    with pytest.raises(BadInput, match=match):
        build_profile(parse_unit(changed(path, value)))


def test_a_patch_with_an_impossible_lab_is_refused() -> None:
    unit = made_unit()
    patch = unit["patches"][0]
    unit["patches"][0] = {
        "name": "odd", "counts": patch["counts"], "lab_d50_2": [50, 200, 0]
    }  # fmt: skip
    with pytest.raises(BadInput, match="patch odd, lab_d50_2: got L 50, a 200"):
        build_profile(parse_unit(unit))


def test_a_short_integration_clips_below_16_bits() -> None:
    """(29+1)(599+1) steps end at 18,000 (chip's data sheet): a tile there is refused."""
    unit = made_unit()
    top = max(unit["white"]["counts"])
    for part in (unit["white"], *unit["patches"]):
        part["counts"] = [min(18000.0, 1.5 * 18000.0 / top * c) for c in part["counts"]]
    unit["dark"] = [1.5 * 18000.0 / top * c for c in unit["dark"]]
    unit["integration_ms"] = 50.04
    with pytest.raises(CalibrationRefused, match="reads 18000, the top of its range"):
        build_profile(parse_unit(unit))


def test_a_patch_swapped_with_its_neighbour_is_named() -> None:
    unit = made_unit()
    one, two = unit["patches"][4], unit["patches"][5]
    one["counts"], two["counts"] = two["counts"], one["counts"]
    with pytest.raises(CalibrationRefused, match="patch 5 reads like patch 6 and patch 6 like"):
        build_profile(parse_unit(unit))


def test_a_foreign_patch_is_named() -> None:
    unit = made_unit()
    unit["patches"][2]["counts"] = unit["white"]["counts"]
    with pytest.raises(CalibrationRefused, match=r"patch patch 3: reads .* another colour"):
        build_profile(parse_unit(unit))


def tile_at(share: float) -> dict[str, Any]:
    unit = made_unit()
    dark, white = np.array(unit["dark"]), np.array(unit["white"]["counts"])
    unit["white"]["counts"] = list(dark + share * (white - dark))
    return unit


def test_a_grey_tile_taken_for_the_white_one_is_refused() -> None:
    with pytest.raises(CalibrationRefused, match="it was not the white tile of this certificate"):
        build_profile(parse_unit(tile_at(0.6)))


def test_a_dirty_tile_is_noted() -> None:
    (note,) = build_profile(parse_unit(tile_at(0.9))).notes
    assert "the tile may be dirty" in note
    assert build_profile(parse_unit(made_unit())).notes == ()


def test_a_calibration_with_two_units_mixed_is_refused() -> None:
    unit, other = made_unit(), made_unit(truth.Condition("warm", led="warm"), seed=8)
    unit["white"] = other["white"]
    with pytest.raises(
        CalibrationRefused, match=r"not the white tile of this cert|do not read like"
    ):
        build_profile(parse_unit(unit))


def test_patches_make_up_for_a_dark_without_the_led() -> None:
    condition = truth.Condition("LED off", dark_led_off=True)
    found = build_profile(parse_unit(made_unit(condition))).lab(chart_counts(16, condition))
    gap = ciede2000(grid_to_lab(published_chart().values.T[12:]), found.lab)
    assert np.median(gap) < 0.4
    assert np.mean(gap <= found.u95_de00) >= 0.8


def test_patches_known_as_lab_only_still_help() -> None:
    unit = made_unit()
    labs = grid_to_lab(published_chart().values.T[:12], "d50-2")
    unit["patches"] = [
        {"name": patch["name"], "counts": patch["counts"], "lab_d50_2": list(lab)}
        for patch, lab in zip(unit["patches"], labs, strict=True)
    ]
    found = build_profile(parse_unit(unit)).lab(chart_counts(16))
    gap = ciede2000(grid_to_lab(published_chart().values.T[12:]), found.lab)
    assert np.median(gap) < 0.5
    assert np.mean(gap <= found.u95_de00) >= 0.8


def test_rgb_says_how_little_it_knows() -> None:
    condition = truth.Condition("rgb", sensor="rgb")
    found = build_profile(parse_unit(made_unit(condition))).lab(chart_counts(16, condition))
    gap = ciede2000(grid_to_lab(published_chart().values.T[12:]), found.lab)
    assert np.median(found.u95_de00) > 2.0
    assert np.mean(gap <= found.u95_de00) >= 0.8


def test_light_that_no_plain_surface_sends_back_is_warned_of(profile: Any) -> None:
    glowing = np.array(profile.unit.white.counts) * ([1.0] * 6 + [1.25, 1.0])
    (found,) = profile.estimate(glowing)
    assert "fluorescence suspected" in found.warnings[0]
    lit = np.array(chart_counts(4)[0])
    (found,) = profile.estimate(lit + 4000.0, ambient=np.full(8, 4000.0))
    assert "ambient light leaking" in found.warnings[0]


def test_restless_readings_widen_u95_and_are_warned_of(profile: Any) -> None:
    rng = np.random.default_rng(2)
    still = chart_counts(4)[1] * (1 + 0.001 * rng.standard_normal((6, 8)))
    moved = chart_counts(4)[1] * (1 + 0.03 * rng.standard_normal((6, 1)) + np.zeros((6, 8)))
    quiet, loud = profile.estimate_sample(still), profile.estimate_sample(moved)
    assert quiet.warnings == ()
    assert "scatter far more than the sensor does" in loud.warnings[0]
    assert loud.u95_de00 > quiet.u95_de00


def test_counts_normed_to_the_white_are_not_taken_for_clipped() -> None:
    unit = made_unit()
    scale = 40000.0 / np.array(unit["white"]["counts"])
    for part in (unit["white"], *unit["patches"]):
        part["counts"] = list(scale * part["counts"])
    unit["dark"] = list(scale * unit["dark"])
    assert not build_profile(parse_unit(unit)).lab(scale * chart_counts(4)).clipped.any()


@pytest.fixture(scope="module")
def command() -> Any:
    app = typer.Typer()
    app.callback()(lambda: None)
    register(app)
    return app


def written(folder: Path, samples: str, unit: object = None) -> tuple[str, str]:
    folder.joinpath("unit.json").write_text(json.dumps(unit or made_unit()))
    folder.joinpath("samples.csv").write_text(samples)
    return str(folder / "unit.json"), str(folder / "samples.csv")


def sample_text(counts: Any) -> str:
    head = "name,f1,f2,f3,f4,f5,f6,f7,f8\n"
    lines = [f"patch {i},{','.join(f'{c:.2f}' for c in row)}" for i, row in enumerate(counts)]
    return head + "\n".join(lines + lines[:2]) + "\n"


def test_convert_writes_one_line_a_sample(tmp_path: Path, command: Any) -> None:
    unit, samples = written(tmp_path, sample_text(chart_counts(4)))
    found = CliRunner().invoke(command, ["convert", "--unit", unit, samples])
    lines = found.stdout.splitlines()
    assert found.exit_code == 0
    assert lines[0] == "name,L,a,b,u95,clipped"
    assert [line.split(",")[0] for line in lines[1:]] == [f"patch {i}" for i in range(12)]
    assert all(line.endswith(",false") for line in lines[1:])


def test_convert_json_counts_the_repeats(tmp_path: Path, command: Any) -> None:
    unit, samples = written(tmp_path, sample_text(chart_counts(4)))
    found = CliRunner().invoke(
        command, ["convert", "--unit", unit, samples, "--white", "d50-2", "--json"]
    )
    answer = json.loads(found.stdout)
    assert answer["white"] == "d50-2"
    assert [row["repeats"] for row in answer["samples"]] == [2, 2] + [1] * 10


def test_repeats_that_scatter_widen_u95(tmp_path: Path, command: Any) -> None:
    rng = np.random.default_rng(1)
    mean = chart_counts(16)[:3]
    widths = []
    for noise in (0.001, 0.02):
        rows = np.rint(np.repeat(mean, 6, axis=0) * (1 + noise * rng.standard_normal((18, 8))))
        lines = [f"s{i // 6},{','.join(f'{c:.0f}' for c in row)}" for i, row in enumerate(rows)]
        head = "name,f1,f2,f3,f4,f5,f6,f7,f8"
        unit, samples = written(tmp_path, "\n".join([head, *lines]))
        found = CliRunner().invoke(command, ["convert", "--unit", unit, samples, "--json"])
        widths.append([row["u95"] for row in json.loads(found.stdout)["samples"]])
    assert np.all(np.array(widths[1]) > 1.25 * np.array(widths[0]))


def test_two_channels_at_one_common_top_are_clipped(tmp_path: Path, command: Any) -> None:
    """A chip that stops at 10,000 (27.8 ms): nothing says so but two channels standing there."""
    unit = made_unit()
    scale = 8000.0 / max(unit["white"]["counts"])
    unit["dark"] = [scale * count for count in unit["dark"]]
    for part in (unit["white"], *unit["patches"]):
        part["counts"] = [scale * count for count in part["counts"]]
    white, patch = np.array(unit["white"]["counts"]), np.array(unit["patches"][1]["counts"])
    path, samples = written(tmp_path, sample_text([patch, np.minimum(1.6 * white, 10000.0)]), unit)
    found = CliRunner().invoke(command, ["convert", "--unit", path, samples, "--json"])
    answer = {row["name"]: row["clipped"] for row in json.loads(found.stdout)["samples"]}
    assert answer == {"patch 0": False, "patch 1": True}


@pytest.mark.parametrize(
    ("samples", "match"),
    [
        ("", "no column called name"),
        ("name,f1,f2\n", "column f3, f4"),
        ("name,f1,f2,f3,f4,f5,f6,f7,f8\n", "no rows after the header"),
        ("name,f1,f2,f3,f4,f5,f6,f7,f8\na,1,2,3\n", "row 2: got 4 cells"),
        ("name,f1,f2,f3,f4,f5,f6,f7,f8\na,900,9000,,1,1,1,1,1\n", "sample a: f3 reads ''"),
        ("name,f1,f2,f3,f4,f5,f6,f7,f8\na,900,-5,1,1,1,1,1,1\n", "sample a: f2 reads -5"),
        ("name,f1,f2,f3,f4,f5,f6,f7,f8\na,nan,5,1,1,1,1,1,1\n", "sample a: f1 reads nan"),
        ("name,f1,f2,f3,f4,f5,f6,f7,f8\na,0,0,0,0,0,0,0,0\n", "below the dark reading"),
        ("name,f1,f2,f3,f4,f5,f6,f7,f8\n,9,9,9,9,9,9,9,9\n", "row 2: no name"),
    ],
)
def test_sample_files_that_are_refused(
    tmp_path: Path, command: Any, samples: str, match: str
) -> None:
    unit, path = written(tmp_path, samples)
    found = CliRunner().invoke(command, ["convert", "--unit", unit, path])
    assert isinstance(found.exception, BadInput)
    assert match in str(found.exception)


@pytest.mark.parametrize(
    ("patches", "median", "p95"), [(12, 0.35, 0.9), (0, 1.5, 4.0)], ids=["12 patches", "tile only"]
)
def test_a_few_random_units_stay_within_reach(patches: int, median: float, p95: float) -> None:
    """Four seeded units, twelve unseen patches; `sprayout benchmark colour` has the statistics."""
    wanted = grid_to_lab(published_chart().values.T[12:])
    condition = truth.Condition("few", patches=patches)
    gaps, held = [], []
    for seed in range(20, 24):
        profile = build_profile(parse_unit(made_unit(condition, seed)))
        found = profile.lab(chart_counts(4, condition, seed))
        gaps.append(ciede2000(wanted, found.lab))
        held.append(gaps[-1] <= found.u95_de00)
    assert np.median(gaps) < median
    assert np.quantile(gaps, 0.95) < p95
    assert np.mean(held) > 0.85
