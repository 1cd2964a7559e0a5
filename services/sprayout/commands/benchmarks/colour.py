"""``sprayout benchmark colour``: how near the true colour, how true the ±, how fast.

Peer: colour-science, for tables, formulas and speed.  Units come from ``colour_truth`` (a physics
of its own), surfaces from ``colour_surfaces`` (none of them trains the estimator).

Judged units have the seeds 1000 and up.  What was set on virtual units of this physics (the radius
by the white tile alone, ``colour.tile_posterior``) was set on the seeds 500000 and up.  Surfaces of
one unit share its error, so the coverage stands beside its standard error over units; the white
tile alone leaves single units widely apart and is judged on more of them.
"""

from __future__ import annotations

import json
import statistics
import subprocess
import sys
import time
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from sprayout.colour.difference import ciede2000
from sprayout.colour.lab import xyz_to_lab
from sprayout.colour.profile import UnitProfile, build_profile
from sprayout.colour.samples import SampleTable, convert
from sprayout.colour.tables import GRID_NM, colour_samples
from sprayout.colour.tristimulus import (
    ILLUMINANTS,
    grid_to_lab,
    spectrum_to_xyz,
    white_point,
)
from sprayout.colour.unit_json import parse_unit, unit_to_json
from sprayout.commands.benchmarks import colour_surfaces
from sprayout.commands.benchmarks import colour_truth as truth
from sprayout.commands.benchmarks.colour_surfaces import Floats, Surfaces, peer, true_lab

Figure = dict[str, Any]
FIRST_SEED = 1000
UNITS, UNITS_BY_TILE_ALONE = 50, 200
CALIBRATED_ON = list(range(0, 24, 2))
PATCHES = truth.Condition("12 patches")
WHITE = truth.Condition("white tile only", patches=0)
CONDITIONS = (
    PATCHES,
    replace(PATCHES, name="6 patches", patches=6),
    replace(PATCHES, name="12 patches, 16 readings", readings=16),
    replace(PATCHES, name="12 patches, 1.5x variation", variation=1.5),
    replace(PATCHES, name="12 patches, warm LED", led="warm"),
    replace(PATCHES, name="12 patches, violet-pumped LED", led="violet"),
    replace(PATCHES, name="12 patches, another source's published averages", published_chart=True),
    replace(PATCHES, name="12 patches known as Lab only", lab_patches=True),
    replace(PATCHES, name="12 patches, dark taken with the LED off", dark_led_off=True),
    WHITE,
    replace(WHITE, name="white tile only, 1.5x variation", variation=1.5),
    replace(WHITE, name="white tile only, warm LED", led="warm"),
    replace(PATCHES, name="RGB chip, 12 patches", sensor="rgb"),
    replace(WHITE, name="RGB chip, white tile only", sensor="rgb"),
)


def units_for(condition: truth.Condition, quick: bool) -> int:
    """How many virtual units a condition is judged on."""
    units = UNITS if condition.patches else UNITS_BY_TILE_ALONE
    return units // 5 if quick else units


def run(quick: bool, first_seed: int = FIRST_SEED) -> dict[str, object]:
    """Measure everything; ``quick`` takes a fifth of the units."""
    surfaces = colour_surfaces.load_surfaces(CALIBRATED_ON)
    figures: list[Figure] = []
    for condition in CONDITIONS:
        seeds = range(first_seed, first_seed + units_for(condition, quick))
        figures += _condition_figures(condition, _judge(condition, surfaces, seeds))
    figures += _against_peer(surfaces)
    figures += _speed(surfaces, 5 if quick else 15)
    return {
        "figures": figures,
        "units_per_condition": units_for(PATCHES, quick),
        "units_by_tile_alone": units_for(WHITE, quick),
        "seeds_judged_from": first_seed,
        "surfaces_judged_on": f"{colour_surfaces.SETS}; {len(surfaces.unseen)} in all",
        "surfaces_trained_on": "99 samples of CIE 224:2017, their Kubelka-Munk mixtures, "
        "made-up pigments",
        "difference": "CIEDE2000, D65/10",
    }


def _figure(name: str, value: float, goal: str | None = None, met: bool | None = None) -> Figure:
    return {"figure": name, "value": float(f"{value:.4g}"), "goal": goal, "met": met}


def _at_most(name: str, value: float, goal: float) -> Figure:
    return _figure(name, value, f"at most {goal:g}", bool(value <= goal))


@dataclass(frozen=True, slots=True)
class Judged:
    """Differences and uncertainties (units, surfaces)."""

    de00: Floats
    u95: Floats


def virtual_unit(
    condition: truth.Condition, surfaces: Surfaces, seed: int
) -> tuple[truth.TrueUnit, UnitProfile, np.random.Generator]:
    """One random unit, calibrated as a person would have done it."""
    rng = np.random.default_rng(seed)
    unit = truth.draw_unit(condition, rng)
    chart, published = surfaces.chart[CALIBRATED_ON], surfaces.published[CALIBRATED_ON]
    given = truth.unit_json(unit, condition, chart, published, rng)
    if condition.lab_patches:
        labs = true_lab(chart[: condition.patches], "d50-2")
        given["patches"] = [
            {"name": patch["name"], "counts": patch["counts"], "lab_d50_2": lab.tolist()}
            for patch, lab in zip(given["patches"], labs, strict=True)
        ]
    return unit, build_profile(parse_unit(given)), rng


def _judge(condition: truth.Condition, surfaces: Surfaces, seeds: range) -> Judged:
    """As ``sprayout convert`` does it: one row a reading, so that the repeats tell the noise."""
    wanted = true_lab(surfaces.unseen, "d65-10")
    names = tuple(str(i) for i in range(len(surfaces.unseen))) * condition.readings
    gaps, widths = [], []
    for seed in seeds:
        unit, profile, rng = virtual_unit(condition, surfaces, seed)
        counts = unit.read_each(surfaces.unseen, condition.readings, rng)
        table = SampleTable(names, counts.reshape(len(names), -1))
        found = convert(profile, table).colours
        gaps.append(ciede2000(wanted, found.lab))
        widths.append(found.u95_de00)
    return Judged(np.array(gaps), np.array(widths))


def _condition_figures(condition: truth.Condition, judged: Judged) -> list[Figure]:
    median, p95 = np.quantile(judged.de00, [0.5, 0.95])
    worst = float(np.quantile(judged.de00, 0.95, axis=1).max())
    by_unit = 100.0 * np.mean(judged.de00 <= judged.u95, axis=1)
    held, error = float(by_unit.mean()), float(by_unit.std(ddof=1) / np.sqrt(len(by_unit)))
    name = condition.name
    goals = {"12 patches": (0.25, 0.65, 1.0), "white tile only": (1.0, 3.0, None)}
    goal = goals.get(name, (None, None, None))
    rows = [
        _figure(f"{name}: {word}", value)
        if limit is None
        else _at_most(f"{name}: {word}", value, limit)
        for word, value, limit in zip(
            ("median", "p95", "worst unit's p95"),
            (float(median), float(p95), worst),
            goal,
            strict=True,
        )
    ]
    rows.append(_figure(f"{name}: inside u95, %", held, "93 to 97", bool(93.0 <= held <= 97.0)))
    rows.append(_figure(f"{name}: inside u95, standard error over units, %", error))
    rows.append(_figure(f"{name}: median u95", float(np.median(judged.u95))))
    return rows


def _against_peer(surfaces: Surfaces) -> list[Figure]:
    """Our sums and formulas beside colour-science's."""
    colour = peer()
    rng = np.random.default_rng(7)
    labs = np.column_stack([rng.uniform(0, 100, 4000), rng.uniform(-90, 90, (4000, 2))])
    pairs = labs[:2000], labs[2000:]
    theirs = colour.delta_E(*pairs, method="CIE 2000")
    xyz = rng.random((1000, 3)) ** 3 * white_point("d65", 10)
    white = white_point("d65", 10)
    lab = colour.XYZ_to_Lab(xyz / 100.0, white[:2] / white.sum())
    coarse = surfaces.unseen[:, ::5]
    apart = [
        float(ciede2000(true_lab(surfaces.unseen, name), grid_to_lab(coarse, name)).max())
        for name in ("d65-10", "d50-2")
    ]
    return [
        _at_most(
            "CIEDE2000, 2,000 pairs, largest gap",
            float(np.abs(ciede2000(*pairs) - theirs).max()),
            1e-4,
        ),
        _at_most(
            "XYZ to Lab, 1,000 colours, largest gap",
            float(np.abs(xyz_to_lab(xyz, white) - lab).max()),
            1e-4,
        ),
        _at_most("Lab by 5 nm sum against 1 nm sum, largest CIEDE2000", max(apart), 0.1),
        _at_most(
            "XYZ by 5 nm sum against 1 nm sum, D65 D50 A, largest gap",
            _xyz_gap(("d65", "d50", "a")),
            0.02,
        ),
        _at_most(
            "XYZ by 5 nm sum against 1 nm sum, LED-B3, largest gap", _xyz_gap(("led-b3",)), 0.1
        ),
    ]


def _xyz_gap(lights: tuple[str, ...]) -> float:
    colour = peer()
    shape = colour.SpectralShape(380, 780, 1)
    samples = colour_samples().values.T
    fine = np.array([colour.SpragueInterpolator(GRID_NM, row)(truth.NM) for row in samples])
    largest = 0.0
    for light in (name for name in ILLUMINANTS if name in lights):
        for degrees, observer in colour_surfaces.OBSERVERS.items():
            cmf = colour.MSDS_CMFS[observer].copy().align(shape).values
            power = colour.SDS_ILLUMINANTS[light.upper()].copy().align(shape).values
            product = power[:, None] * cmf
            xyz = fine @ product * 100.0 / product[:, 1].sum()
            mine = spectrum_to_xyz(samples, light, degrees)
            largest = max(largest, float(np.abs(mine - xyz).max()))
    return largest


def _timed(action: Callable[[], object]) -> float:
    start = time.perf_counter()
    action()
    return time.perf_counter() - start


def _speed(surfaces: Surfaces, rounds: int) -> list[Figure]:
    """Ratios of one process, both sides in turn, medians."""
    unit, profile, rng = virtual_unit(PATCHES, surfaces, 5)
    chosen = rng.integers(0, len(surfaces.unseen), 100_000)
    counts = unit.mean_counts(surfaces.unseen)[chosen]
    counts = np.rint(counts * (1.0 + 0.002 * rng.standard_normal(counts.shape)))
    spectra = surfaces.unseen[chosen][:, ::5]
    batch, single = _peer_batch(spectra), _peer_single(spectra[0])
    profile.lab(counts), batch(), single()
    ratios, ours, theirs = [], [], []
    for _ in range(rounds):
        ours.append(_timed(lambda: profile.lab(counts)))
        theirs.append(_timed(batch))
        ratios.append(theirs[-1] / ours[-1])
    one_by_one = statistics.median(_timed(single) for _ in range(20 * rounds))
    live = statistics.median(
        _timed(lambda: profile.estimate(counts[:1])) for _ in range(40 * rounds)
    )
    build = statistics.median(_timed(lambda: build_profile(profile.unit)) for _ in range(rounds))
    per_sample = statistics.median(ours) / len(counts)
    return [
        _figure("100,000 samples, ms", 1e3 * statistics.median(ours)),
        _figure(
            "colour-science, spectrum to Lab of the same in one call, ms",
            1e3 * statistics.median(theirs),
        ),
        _figure(
            "times faster than colour-science's one call",
            (ratio := statistics.median(ratios)),
            "at least 5",
            ratio >= 5.0,
        ),
        _figure(
            "times faster than colour-science sample by sample",
            one_by_one / per_sample,
            "at least 5",
            one_by_one >= 5.0 * per_sample,
        ),
        _at_most("one live reading, ms", 1e3 * live, 1.0),
        _figure("colour-science, one spectrum to Lab, ms", 1e3 * one_by_one),
        _at_most("new unit profile, s", build, 5.0),
        _at_most("new unit profile, peak memory, MB", _peak_memory_mb(profile), 300.0),
    ]


def _peer_parts() -> tuple[Any, Any, Any, Any]:
    colour = peer()
    shape = colour.SpectralShape(380, 780, 5)
    observer = colour_surfaces.OBSERVERS[10]
    cmf = colour.MSDS_CMFS[observer].copy().align(shape)
    light = colour.SDS_ILLUMINANTS["D65"].copy().align(shape)
    return cmf, light, shape, colour.CCS_ILLUMINANTS[observer]["D65"]


def _peer_batch(spectra: Floats) -> Callable[[], object]:
    colour, (cmf, light, shape, white) = peer(), _peer_parts()

    def convert() -> object:
        xyz = colour.msds_to_XYZ(spectra, cmf, light, method="Integration", shape=shape)
        return colour.XYZ_to_Lab(xyz / 100.0, white)

    return convert


def _peer_single(spectrum: Floats) -> Callable[[], object]:
    colour, (cmf, light, _, white) = peer(), _peer_parts()
    sd = colour.SpectralDistribution(spectrum, GRID_NM)

    def convert() -> object:
        return colour.XYZ_to_Lab(
            colour.sd_to_XYZ(sd, cmf, light, method="Integration") / 100.0, white
        )

    return convert


def _peak_memory_mb(profile: UnitProfile) -> float:
    """Peak resident memory of a fresh process that only builds this profile, in MB."""
    program = (
        "import json, pathlib, resource, sys\n"
        "from sprayout.colour.profile import build_profile\n"
        "from sprayout.colour.unit_json import parse_unit\n"
        "build_profile(parse_unit(json.load(sys.stdin)))\n"
        "status = pathlib.Path('/proc/self/status')\n"
        "lines = status.read_text().splitlines() if status.exists() else []\n"
        "high = [line.split()[1] for line in lines if line.startswith('VmHWM')]\n"
        "print(*high or [resource.getrusage(resource.RUSAGE_SELF).ru_maxrss])\n"
    )
    paths = [path for path in sys.path if path]
    done = subprocess.run(
        [sys.executable, "-c", f"import sys; sys.path[:0] = {paths!r}\n{program}"],
        input=json.dumps(unit_to_json(profile.unit)),
        capture_output=True,
        text=True,
        check=True,
    )
    kilobytes = float(done.stdout.split()[-1])
    return kilobytes / (1024.0 * 1024.0 if sys.platform == "darwin" else 1024.0)
