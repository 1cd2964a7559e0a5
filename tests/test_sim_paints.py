"""Paint in cups and coats: richer than plain mixing, but always physical and reproducible."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sprayout.errors import BadInput
from sprayout.sim.film import Skin, layer, opaque
from sprayout.sim.paints import CARDS, FAMILY, Cup, Shelf
from sprayout.sim.pigments import PAINTS, Paint, paint
from sprayout.sim.spectra import WAVELENGTH_NM

VISIBLE = (WAVELENGTH_NM >= 400) & (WAVELENGTH_NM <= 700)
ENAMELS = tuple(one.name for one in PAINTS if one.family == "enamel")
recipes = st.dictionaries(st.sampled_from(ENAMELS), st.integers(1, 60), min_size=1, max_size=4)
seeds = st.integers(0, 5000)


def cup_of(drops: dict[str, int], seed: int = 1, shelf: Shelf | None = None) -> Cup:
    cup = Cup(shelf or Shelf(1), seed)
    for name, count in drops.items():
        cup.add(name, count)
    return cup.stir(60)


# Kubelka-Munk: K and S, shares .5/.3/.2, and the mixture's reflectance, as computed by a
# general-purpose colour library (figures as listed in the project's mixing facts).
K = np.array([[1, 0.5, 1, 0.5, 1], [1, 1, 0.25, 0.5, 0.5], [1, 1, 0.75, 0.25, 0.25]])
S = np.array([[0.2, 0.4, 0.6, 0.8, 1], [1, 0.8, 0.6, 0.4, 0.2], [0.2, 0.8, 0.2, 0.8, 0.2]])
R = [0.156520636181344, 0.234435562925363, 0.218836327679683, 0.334563915603707,
     0.244572900888201]  # fmt: skip
R_SKIN = [0.057389386089411, 0.091186832391423, 0.084095017367215, 0.141169974626911,
          0.095888880683781]  # fmt: skip


def test_opaque_layer_and_skin_against_a_colour_librarys_values() -> None:
    shares = np.array([0.5, 0.3, 0.2])
    inside = opaque(shares @ K, shares @ S)
    assert inside == pytest.approx(R, abs=1e-12)
    assert Skin(0.033, 0.66, 0.0).seen(inside) == pytest.approx(R_SKIN, abs=1e-12)


def test_layer_against_kubelkas_form_and_its_limits() -> None:
    """Kubelka 1948: R = (1 - Rg (a - b coth bSX)) / (a - Rg + b coth bSX)."""
    k, s, base = np.array([0.5, 3.0, 20.0]), np.array([30.0, 10.0, 2.0]), np.array([0.1, 0.5, 0.8])
    for x in (0.001, 0.02, 0.3):
        a = 1.0 + k / s
        b = np.sqrt(a * a - 1.0)
        coth = 1.0 / np.tanh(b * s * x)
        book = (1.0 - base * (a - b * coth)) / (a - base + b * coth)
        assert layer(k, s, x, base) == pytest.approx(book, rel=1e-12)
    assert layer(k, s, 0.0, base) == pytest.approx(base, rel=1e-12)
    assert layer(k, s, 1e4, base) == pytest.approx(opaque(k, s), rel=1e-9)


@given(inside=st.floats(0.0, 1.0), haze=st.floats(0.0, 0.02))
@settings(deadline=None, max_examples=50)
def test_skin_goes_in_and_out(inside: float, haze: float) -> None:
    skin = Skin(0.04, 0.56, haze)
    curve = np.full_like(WAVELENGTH_NM, inside)
    assert skin.inside(skin.seen(curve)) == pytest.approx(curve, abs=1e-12)


@given(drops=recipes, seed=seeds, dry=st.floats(0.0, 1.0), reducer=st.integers(0, 60))
@settings(deadline=None, max_examples=60)
def test_a_cup_always_shows_a_surface_colour(
    drops: dict[str, int], seed: int, dry: float, reducer: int
) -> None:
    cup = cup_of(drops, seed, Shelf(seed))
    if reducer:
        cup.reduce(reducer)
    for curve in (cup.reflectance(dry), cup.hiding(dry), cup.coat_over(CARDS["black"], 12.0, dry)):
        assert np.all((curve > 0.0) & (curve < 1.0))


@given(seed=seeds, more=st.integers(1, 30))
@settings(deadline=None, max_examples=30)
def test_black_darkens_and_white_lightens(seed: int, more: int) -> None:
    shelf = Shelf(seed)
    start = {"ice-van white": 40, "deep-berth blue": 8}
    plain = cup_of(start, 1, shelf).hiding()[VISIBLE].mean()
    darker = cup_of({**start, "coal-hatch black": more}, 1, shelf).hiding()[VISIBLE].mean()
    lighter = cup_of({**start, "ice-van white": 40 + 2 * more + 6}, 1, shelf).hiding()
    assert darker < plain
    assert lighter[VISIBLE].mean() > plain


@given(drops=recipes, seed=seeds)
@settings(deadline=None, max_examples=30)
def test_thicker_coats_come_nearer_to_hiding_and_none_changes_nothing(
    drops: dict[str, int], seed: int
) -> None:
    cup = cup_of(drops, seed)
    full = cup.hiding()[VISIBLE]
    for card in CARDS.values():
        assert np.array_equal(cup.coat_over(card, 0.0), card)
        films_um = (1.0, 5.0, 20.0, 80.0, 1000.0)
        away = [np.abs(cup.coat_over(card, um)[VISIBLE] - full).max() for um in films_um]
        assert away == sorted(away, reverse=True)
        assert away[-1] < 0.02


def test_a_mist_coat_lies_in_islands() -> None:
    """A thin coat shows more of the base than an even film of the same paint would."""
    cup = cup_of({"coal-hatch black": 40})
    shelf = Shelf(1)
    shares = np.eye(len(shelf.names))[shelf.names.index("coal-hatch black")]
    k, s = shelf.absorption_scattering(shares)
    skin = FAMILY["enamel"].dry_skin
    even = skin.seen(layer(k, s, 0.003, skin.inside(CARDS["white"])))
    assert cup.coat_over(CARDS["white"], 3.0)[VISIBLE].mean() > even[VISIBLE].mean() + 0.1


def test_wet_to_dry_moves_acrylics_more_than_enamels() -> None:
    enamel = cup_of({"ice-van white": 30, "deep-berth blue": 12})
    acrylic = cup_of({"pilot cutter hull blue": 40})
    shift = {
        cup: np.abs(cup.hiding(1.0) - cup.hiding(0.0))[VISIBLE].mean() / cup.hiding(1.0).mean()
        for cup in (enamel, acrylic)
    }
    assert shift[acrylic] > 3 * shift[enamel]
    assert acrylic.hiding(1.0)[VISIBLE].mean() < acrylic.hiding(0.0)[VISIBLE].mean()


def test_reducer_deepens_enamel_a_little() -> None:
    cup = cup_of({"ice-van white": 40, "deep-berth blue": 20})
    before = cup.hiding()[VISIBLE].mean()
    cup.reduce(80).stir()
    assert 0.95 * before < cup.hiding()[VISIBLE].mean() < before


def test_an_unstirred_cup_shows_streaks_until_stirred() -> None:
    cup = cup_of({"ice-van white": 40})
    cup.add("coal-hatch black", 4)
    streaky = cup.reflectance()[VISIBLE].mean()
    cup.stir(60)
    assert abs(streaky - cup.reflectance()[VISIBLE].mean()) > 0.02
    stirred = cup.reflectance()
    cup.stir(200)
    assert cup.reflectance() == pytest.approx(stirred, abs=1e-3)


def test_richer_than_plain_mixing() -> None:
    """Crowding and pair effects move a half-and-half mix away from the plain sum of K and S."""
    shelf = Shelf(2)
    white, ochre = (shelf.names.index(n) for n in ("ice-van white", "quay-crane ochre"))
    shares = np.zeros(len(shelf.names))
    shares[[white, ochre]] = 0.5
    single = [shelf.absorption_scattering(np.eye(len(shares))[i]) for i in (white, ochre)]
    plain = opaque(*(0.5 * (a + b) for a, b in zip(*single, strict=True)))
    rich = opaque(*shelf.absorption_scattering(shares))
    gap = np.abs(rich - plain)[VISIBLE].max()
    assert 0.002 < gap < 0.1


def test_bottles_differ_drops_scatter_and_all_of_it_reproduces() -> None:
    shelves = [Shelf(seed) for seed in range(60)]
    sizes = [shelf.bottle("ice-van white").drop_ml for shelf in shelves]
    assert 0.06 < np.std(sizes) / 0.05 < 0.13
    volumes = [Cup(shelves[0], seed).add("ice-van white", 1).volume_ml for seed in range(300)]
    assert np.std(volumes) / np.mean(volumes) == pytest.approx(0.05, rel=0.2)
    again = cup_of({"ice-van white": 10, "port-lamp red": 3}, 8).reflectance()
    assert np.array_equal(again, cup_of({"ice-van white": 10, "port-lamp red": 3}, 8).reflectance())
    assert not np.array_equal(
        again, cup_of({"ice-van white": 10, "port-lamp red": 3}, 9).reflectance()
    )


def test_volume_is_kept_by_adding_and_taking() -> None:
    cup = cup_of({"ice-van white": 20, "coal-hatch black": 5}).reduce(10)
    colour, volume = cup.stir(300).reflectance(), cup.volume_ml
    assert sum(cup.contents_ml.values()) < volume
    cup.take(0.25 * volume)
    assert cup.volume_ml == pytest.approx(0.75 * volume)
    assert cup.hiding() == pytest.approx(cup.take(0.2).hiding(), rel=1e-9)
    assert np.abs(cup.reflectance() - colour).max() < 0.05


def test_drawdowns_over_black_and_white() -> None:
    shelf = Shelf(3)
    masstone = shelf.drawdown({"mooring-post yellow": 40})
    over = {
        card: shelf.drawdown({"mooring-post yellow": 40}, over=card, film_um=25.0)
        for card in ("black", "white")
    }
    assert np.all(over["black"].reflectance[VISIBLE] < over["white"].reflectance[VISIBLE] + 1e-9)
    assert masstone.name == "40 mooring-post yellow"
    with pytest.raises(BadInput, match="over"):
        shelf.drawdown({"mooring-post yellow": 40}, over="grey")


@pytest.mark.parametrize(
    ("act", "says"),
    [
        (lambda cup: cup.add("nobody's pink", 1), "not on the shelf"),
        (lambda cup: cup.add("ice-van white", 0), "drops"),
        (lambda cup: cup.add("ice-van white", 2.5), "whole number"),
        (lambda cup: cup.add("fog-signal grey", 1), "curdle"),
        (lambda cup: cup.add("ice-van white", 1900), "larger cup"),
        (lambda cup: cup.reduce(-1), "reducer"),
        (lambda cup: cup.stir(0), "strokes"),
        (lambda cup: cup.take(999.0), "asked for"),
        (lambda cup: cup.reflectance(1.5), "dry"),
        (lambda cup: cup.coat_over(CARDS["black"], -1.0), "film_um"),
        (lambda cup: cup.coat_over(np.full(3, 0.5), 10.0), "shape"),
    ],
)
def test_bad_handling_of_a_cup_is_refused_and_changes_nothing(act, says: str) -> None:  # type: ignore[no-untyped-def]
    cup = cup_of({"ice-van white": 10})
    before, volume = cup.reflectance(), cup.volume_ml
    with pytest.raises(BadInput, match=says):
        act(cup)
    assert cup.volume_ml == volume
    assert np.array_equal(cup.reflectance(), before)


def test_an_empty_cup_has_no_colour() -> None:
    with pytest.raises(BadInput, match="empty"):
        Cup(Shelf(1), 1).reflectance()


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (("x", "varnish", {"red oxide": 1.0}), "family"),
        (("x", "enamel", {"unobtainium": 1.0}), "unknown"),
        (("x", "enamel", {"red oxide": -1.0}), "load"),
        (("x", "enamel", {}), "0 pigments"),
        (("x", "enamel", {"red oxide": 1.0}, 5.0), "drops of 5.0"),
    ],
)
def test_bad_paints_are_refused(arguments: tuple[object, ...], says: str) -> None:
    with pytest.raises(BadInput, match=says):
        Paint(*arguments)  # type: ignore[arg-type]


@pytest.mark.parametrize("shares", [(1.0, 0.5, 0.0), (0.04, -0.1, 0.0), (0.04, 0.5, float("nan"))])
def test_bad_skins_are_refused(shares: tuple[float, float, float]) -> None:
    with pytest.raises(BadInput, match="skin"):
        Skin(*shares)


def test_bad_shelves_are_refused() -> None:
    with pytest.raises(BadInput, match="variation"):
        Shelf(1, 9.0)
    with pytest.raises(BadInput, match="different names"):
        Shelf(1, paints=(paint("ice-van white"), paint("ice-van white")))
    with pytest.raises(BadInput, match="not on the shelf"):
        paint("nobody's pink")
