"""The scripted evening: in order, playable, and the numbers of the story work out."""

import itertools
import warnings

import numpy as np
import pytest

from sprayout.errors import BadInput
from sprayout.sim.evening import DOOR_PROBE_FAULTS, DURATION_S, TARGET, Act, evening, perform
from sprayout.sim.painter import additions
from sprayout.sim.spectra import WAVELENGTH_NM
from sprayout.sim.world import World

BENCH = {"calibrate_dark", "calibrate_white", "calibrate_chart", "measure_target", "measure_mix",
         "start_coat", "end_coat", "acknowledge"}  # fmt: skip
SEEDS = (0, 1, 2, 3, 4)


class Played:
    """One evening played through, with the truth noted on the way."""

    def __init__(self, seed: int) -> None:
        self.t_s = 0.0
        self.world = World(seed, lambda: self.t_s)
        self.target = self.world.surface(TARGET).reflectance
        self.cups: list[np.ndarray] = []
        self.margins: list[tuple[float, float]] = []
        self.humidity: list[tuple[float, float]] = []
        self.pressure: dict[float, float] = {}
        for act in evening(seed):
            self._until(act.t_s)
            if act.who == "physical":
                perform(self.world, act)
            elif act.act == "measure_mix":
                self.cups.append(self.world.cup.reflectance())
        self._until(DURATION_S)

    def _until(self, t_s: float) -> None:
        while self.t_s < t_s:
            self.t_s = min(t_s, self.t_s + 10.0)
            air = self.world.air()
            self.margins.append((self.t_s, air.part_c - air.dew_point_c))
            self.humidity.append((self.t_s, air.booth_rh_pct))
            self.pressure[self.t_s] = air.booth_pressure_pa


@pytest.fixture(scope="module", params=SEEDS)
def played(request: pytest.FixtureRequest) -> Played:
    return Played(request.param)


def difference(one: np.ndarray, other: np.ndarray) -> float:
    """CIEDE2000 (D65, 10 degrees) by colour-science, a general-purpose library."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        import colour

        observer = "CIE 1964 10 Degree Standard Observer"
        labs = []
        for curve in (one, other):
            spectrum = colour.SpectralDistribution(
                dict(zip(WAVELENGTH_NM.tolist(), curve.tolist(), strict=True))
            ).align(colour.SpectralShape(380, 780, 5))
            xyz = colour.sd_to_XYZ(
                spectrum, colour.MSDS_CMFS[observer], colour.SDS_ILLUMINANTS["D65"]
            )
            white = colour.CCS_ILLUMINANTS[observer]["D65"]
            labs.append(colour.XYZ_to_Lab(xyz / 100.0, white))
        return float(colour.delta_E(*labs, method="CIE 2000"))


def test_acts_are_in_order_known_and_within_the_evening() -> None:
    acts = evening(0)
    assert [a.t_s for a in acts] == sorted(a.t_s for a in acts)
    assert acts[0].t_s > 0.0
    assert acts[-1].t_s < DURATION_S
    assert {a.act for a in acts if a.who == "bench"} == BENCH
    assert all(0.0 < fault.until_s < DURATION_S for fault in DOOR_PROBE_FAULTS)
    starts = [a.t_s for a in acts if a.act == "start_coat"]
    ends = [a.t_s for a in acts if a.act == "end_coat"]
    assert len(starts) == 3
    assert all(s < e for s, e in zip(starts, ends, strict=True))


def test_the_script_repeats_for_a_seed() -> None:
    assert evening(4) == evening(4)
    assert evening(4) != evening(5)


@pytest.mark.parametrize("seed", range(12))
def test_three_to_five_readings_for_every_seed(seed: int) -> None:
    turns = additions(seed)
    assert 3 <= len(turns) <= 5
    assert all(count > 0 for turn in turns for count in turn.values())


def test_the_mix_approaches_the_target(played: Played) -> None:
    away = [difference(cup, played.target) for cup in played.cups]
    assert 3 <= len(away) <= 5
    assert away[0] > 10.0
    assert all(later < 0.8 * earlier for earlier, later in itertools.pairwise(away[:3]))
    assert away[-1] < 1.5


def test_the_margin_to_the_dew_point_shrinks_after_rain_and_door(played: Played) -> None:
    def least(start_s: float, end_s: float) -> float:
        return min(margin for t_s, margin in played.margins if start_s <= t_s < end_s)

    assert least(0.0, 1_500.0) > 8.0
    assert least(3_200.0, 3_600.0) > 8.0, "rain alone hardly reaches the closed workshop"
    assert -1.0 < least(3_940.0, 4_200.0) < 1.5, "the third coat comes near the dew point"
    assert 2.0 < least(4_800.0, 5_100.0) < 3.2, "even the dry part is close"
    assert least(5_700.0, 6_000.0) > 4.0


def test_humidity_climbs_and_the_fan_dies_for_a_while(played: Played) -> None:
    humid = dict(played.humidity)
    assert humid[1_500.0] < 58.0
    assert humid[5_000.0] > 85.0
    assert played.pressure[4_100.0] > 10.0
    assert abs(played.pressure[4_280.0]) < 1.0
    assert played.pressure[4_320.0] > 10.0


def test_the_coats_cover_the_primer(played: Played) -> None:
    assert difference(played.world.surface("piece").reflectance, played.target) < 3.0
    assert played.world.cup.volume_ml > 0.0, "one batch does all coats"


@pytest.mark.parametrize(
    ("act", "says"),
    [
        (Act(0.0, "bench", "measure_mix"), "wanted a physical act"),
        (Act(0.0, "physical", "dance"), "wanted one of"),
        (Act(0.0, "physical", "add_drops", 3), "wanted one of"),
    ],
)
def test_acts_it_does_not_know_are_refused(act: Act, says: str) -> None:
    with pytest.raises(BadInput, match=says):
        perform(World(1, lambda: 0.0), act)


@pytest.mark.parametrize(("t_s", "who"), [(1.0, "ghost"), (-1.0, "bench"), (float("nan"), "bench")])
def test_bad_acts_are_refused(t_s: float, who: str) -> None:
    with pytest.raises(BadInput, match="act 'stir'"):
        Act(t_s, who, "stir", 3)


def test_a_bad_seed_is_refused() -> None:
    with pytest.raises(BadInput, match="seed"):
        evening(-1)
