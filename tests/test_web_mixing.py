"""The mixing bench over HTTP, from an empty store: swatches, recipes, grams, the dry colour."""

from collections.abc import Iterator

import numpy as np
import pytest

from sprayout.sim.spectra import Surface
from sprayout.sim.world import PRIMER
from tests.web_bench import PAINTS, WHITE, WebBench, web_bench

BLACK, OCHRE = "coal-hatch black", "quay-crane ochre"


@pytest.fixture(scope="module")
def bench(tmp_path_factory: pytest.TempPathFactory) -> Iterator[WebBench]:
    """A calibrated bench whose shelf is known, with a target in hand."""
    with web_bench(tmp_path_factory.mktemp("mixing") / "bench.sqlite") as made:
        made.calibrate()
        made.fill_shelf()
        made.world.place("quay-crane ochre")
        made.post("/api/targets", name="quay-crane ochre", measure=True)
        yield made


@pytest.fixture(scope="module")
def empty(tmp_path_factory: pytest.TempPathFactory) -> Iterator[WebBench]:
    """A calibrated bench with nothing on record."""
    with web_bench(tmp_path_factory.mktemp("empty") / "bench.sqlite") as made:
        made.calibrate()
        yield made


def test_the_guide_goes_from_no_paint_to_the_let_down_that_helps_most(empty: WebBench) -> None:
    assert "put the bottles there first" in empty.client.get("/api/shelf/guide").json()["error"]
    empty.post("/api/paints", name=OCHRE, family="enamel")
    unknown = empty.get("/api/shelf/guide")
    assert "no white on the shelf" in unknown["notes"][0]
    assert unknown["first"] is None and "until then no recipe" in unknown["paints"][0]["words"]
    empty.post("/api/paints", name=WHITE, family="enamel", white=True)
    for name in (OCHRE, WHITE):
        empty.swatch({name: 20})
    guide = empty.get("/api/shelf/guide")
    assert guide["notes"] == []
    (ochre,) = [one for one in guide["paints"] if one["paint"] == OCHRE]
    assert ochre["next"]["parts"] == {OCHRE: 1, WHITE: 10} and ochre["next"]["over"] == []
    assert ochre["next"]["u95_after_de00"] < 0.8 * ochre["next"]["u95_before_de00"]
    assert [step["done"] for step in ochre["steps"]] == [True, False, False, False]
    assert ochre["steps"][-1]["over"] == ["black", "white"]
    empty.swatch({OCHRE: 2, WHITE: 20})
    for card in ("black", "white"):
        empty.swatch({OCHRE: 1}, over=card)
    (ochre,) = [p for p in empty.get("/api/shelf/guide")["paints"] if p["paint"] == OCHRE]
    assert [step["done"] for step in ochre["steps"]] == [True, True, False, True]


def test_a_light_paint_is_let_down_with_black(bench: WebBench) -> None:
    (white,) = [p for p in bench.get("/api/shelf/guide")["paints"] if p["paint"] == WHITE]
    assert white["steps"][1]["parts"] == {WHITE: 10, BLACK: 1}


def test_choices_have_names_words_and_grams_once_the_densities_are_known(bench: WebBench) -> None:
    book = bench.get("/api/mixing/recipe")
    first = book["choices"][0]
    assert first["kind"] == "recommended"
    plain = [{"paint": d["paint"], "drops": d["drops"]} for d in first["recipe"]]
    assert book["recipe"] == plain
    kinds = {kind for c in book["choices"] for kind in (c["kind"], *c["also"])}
    assert kinds == {"recommended", "closest", "cheapest", "least metameric"}
    assert all(choice["words"] and choice["name"] for choice in book["choices"])
    assert first["weighed"]["density_missing"] and "enter the density" in first["weighed"]["words"]
    for name in PAINTS:
        white = name == WHITE
        form = {"name": name, "family": "enamel", "white": white, "density_g_ml": 1.25}
        bench.post("/api/paints", **form, price_per_ml=0.2 if white else 0.6)
    first = bench.get("/api/mixing/recipe?total_g=20")["choices"][0]
    weighed = first["weighed"]
    assert weighed["total_g"] == pytest.approx(20.0, abs=0.02)
    drops = {d["paint"]: d["drops"] for d in first["recipe"]}
    for line in weighed["grams"]:
        share = drops[line["paint"]] / first["total_drops"]
        assert line["grams"] == pytest.approx(20.0 * share, abs=0.011)
    light = first["recipe"][0]
    assert light["grams"] == pytest.approx(light["drops"] * 0.05 * 1.25, abs=0.0006)
    cheapest = bench.get("/api/mixing/recipe")
    by_kind = {k: c for c in cheapest["choices"] for k in (c["kind"], *c["also"])}
    prices = [choice["price"] for choice in cheapest["choices"]]
    assert by_kind["cheapest"]["price"] == min(prices)
    assert f"costs {min(prices):.2f}" in by_kind["cheapest"]["words"]


def test_the_advice_follows_the_chosen_recipe_and_its_paints(bench: WebBench) -> None:
    bench.world.fresh_cup()
    bench.post("/api/batches", name="by recipe")
    book = bench.get("/api/mixing/recipe")
    for choice in book["choices"]:
        chosen = bench.post("/api/mixing/recipe", kind=choice["kind"])
        assert chosen["choice"]["recipe"] == choice["recipe"]
        wanted = {d["paint"]: d["drops"] for d in choice["recipe"]}
        assert chosen["batch"]["recipe"] == {"kind": choice["kind"], "drops": wanted}
        advice = bench.get("/api/mixing/advice")
        # Poured whole, or held back where overshoot cannot be mended; never more than asked.
        assert all(d["drops"] <= wanted[d["paint"]] for d in advice["add"])
    said = bench.follow()
    used = {d["paint"] for advice in said for d in advice["add"]}
    assert used <= set(wanted) and said[-1]["reason"] == "matched"
    assert bench.get("/api/bench")["batch"]["recipe"]["drops"] == wanted
    bench.post("/api/mixing/recipe", kind=None)
    assert bench.get("/api/bench")["batch"]["recipe"] is None


def test_grams_stand_in_the_ledger_as_they_were_entered(bench: WebBench) -> None:
    bench.world.fresh_cup()
    bench.post("/api/batches", name="by weight")
    bench.pour(WHITE, 20, grams=1.25)
    bench.pour(OCHRE, 4)
    cup = bench.get("/api/bench")["batch"]
    assert [(line["grams"], line["drops"]) for line in cup["ledger"]] == [(1.25, None), (None, 4)]
    assert cup["contents"] == [{"paint": WHITE, "drops": 20}, {"paint": OCHRE, "drops": 4}]
    bench.read_cup()
    assert bench.get("/api/mixing/advice")["total_drops"] >= 24
    # One drop more, taken back again: nothing was poured after all.
    bench.post("/api/batches/additions", paint=OCHRE, drops=1)
    bench.post("/api/batches/undo")
    bench.post("/api/batches/additions", paint=WHITE, grams=0.1)
    undone = bench.post("/api/batches/undo")
    assert undone["grams"] == 0.0 and undone["note"] == "taken back: 0.1 g"
    assert bench.get("/api/bench")["batch"]["total_drops"] == 24
    card = bench.client.get(f"/api/batches/{cup['id']}/card").text
    assert "20 drops, 1.25 g of it weighed" in card


@pytest.mark.parametrize(
    ("form", "words"),
    [
        ({"paint": WHITE}, "either drops or grams"),
        ({"paint": WHITE, "drops": 2, "grams": 1.0}, "either drops or grams"),
        ({"paint": WHITE, "grams": 0.0}, "grams"),
        ({"paint": WHITE, "grams": 1e6}, "grams"),
        ({"paint": "a bottle nobody weighed", "grams": 1.0}, "the density of"),
    ],
)
def test_grams_that_say_nothing_are_refused(bench: WebBench, form: object, words: str) -> None:
    bench.post("/api/batches", name="refusals")
    before = bench.record()
    assert words in bench.refused("/api/batches/additions", **dict(form))  # type: ignore[call-overload]
    assert bench.record() == before


def test_a_cup_that_aims_at_the_dry_colour_says_what_it_assumes(bench: WebBench) -> None:
    bench.world.fresh_cup()
    assert bench.post("/api/batches", name="dry", aim="dry")["aim"] == "dry"
    said = bench.follow()
    assert said[0]["aim"] == "dry" and said[-1]["reason"] == "matched"
    assert said[-1]["dry"]["assumed"] and "an assumption" in said[-1]["dry"]["words"][0]
    tried = bench.post("/api/mixing/what-if", drops={OCHRE: 3})
    assert tried["total_drops"] == said[-1]["total_drops"] + 3
    assert tried["dry"]["u95_de00"] > tried["u95_de00"]
    look = bench.get("/api/mixing/dry")
    assert look["assumed"] and look["u95_de00"] > 0.5
    # A dry card of this very cup makes the shift a learned one.
    bench.world.place(bench.world.cup.surface(dry=1.0))
    bench.post("/api/swatches", of="dry card")
    learned = bench.get("/api/mixing/advice")["dry"]
    assert not learned["assumed"] and "1 pair of yours" in learned["words"][0]
    assert bench.post("/api/batches/aim", aim="wet")["aim"] == "wet"
    assert bench.get("/api/mixing/advice")["dry"] is None


def test_coats_are_told_ahead_and_the_film_from_what_was_sprayed(bench: WebBench) -> None:
    bench.world.fresh_cup()
    bench.post("/api/batches", name="to spray")
    assert bench.follow()[-1]["reason"] == "matched"
    cup = bench.get("/api/bench")["batch"]
    primer = np.array(PRIMER)
    bench.world.place(Surface("primer", primer))
    bench.post("/api/swatches", of="base")
    ahead = bench.get("/api/mixing/coats")
    assert ahead["read"] == 0 and ahead["words"].startswith("the first coat brings you to")
    assert [one["coats"] for one in ahead["coats"]] == [1, 2, 3, 4] and ahead["film"] is None
    bench.post("/api/cautions/read", person="A. Volunteer")
    seen = primer
    for count in (1, 2):
        seen = bench.world.cup.coat_over(seen, 10.0)
        coat = bench.post("/api/coats", piece="van", kind="tack coat" if count == 1 else "wet coat")
        bench.post(f"/api/coats/{coat['id']}/end")
        bench.world.place(Surface("piece", seen))
        swatch = bench.post("/api/swatches", of="coat", coat=coat["id"])
        before = ahead["coats"][count - 1]
        ahead = bench.get("/api/mixing/coats")
        if count == 2:
            # The second coat is where the first reading said it would be.
            assert abs(swatch["de00"] - before["de00"]) < before["u95_de00"]
        assert ahead["read"] == count
    assert "another coat" in ahead["words"] or "it hides" in ahead["words"]
    before_refusal = bench.record()
    words = bench.refused(f"/api/coats/{coat['id']}/sprayed", ml=300)
    assert "wanted at most" in words and bench.record() == before_refusal
    bench.post(f"/api/coats/{coat['id']}/sprayed", ml=0.3, area_cm2=5)
    film = bench.get("/api/mixing/coats")
    # 0.3 mL, 35 % of it on 5 cm2: 210 um wet, 35 % of that dry.
    assert film["film"]["wet_um_per_coat"] == pytest.approx(210)
    assert film["film"]["dry_um_total"] == pytest.approx(73.5)
    assert "fine detail softens" in film["film_words"]
    assert any("no volume or no area entered" in one for one in film["assumed"])
    (listed,) = [one for one in bench.get("/api/batches") if one["id"] == cup["id"]]
    assert listed["left_ml"] == pytest.approx(listed["paint_ml"] - 0.3, abs=0.011)


def test_card_again_and_drift_of_a_batch(bench: WebBench) -> None:
    (batch,) = [one for one in bench.get("/api/batches") if one["name"] == "to spray"]
    bench.post("/api/batches", name="thinned")
    bench.pour(OCHRE, 10)
    bench.post("/api/reducers", name="slow", solvents={"xylene": 100})
    bench.post("/api/batches/thinning", reducer="slow", ml=0.5)
    bench.post("/api/batches/efflux", cup="ISO 2431 4", seconds=40, temperature_c=23)
    thinned = bench.get("/api/bench")["batch"]["id"]
    card = bench.client.get(f"/api/batches/{thinned}/card").text
    assert "40 s at 23 °C, 50 mm²/s" in card and "reducer slow" in card
    card = bench.client.get(f"/api/batches/{batch['id']}/card").text
    assert "read, wet, in the cup" in card and "read, coat" in card and "read, base" not in card
    again = bench.post(f"/api/batches/{batch['id']}/again", paint_ml=5, begin="to spray, larger")
    assert again["batch"]["recipe"] == {"kind": "again", "drops": dict(again["drops"])}
    assert again["paint_ml"] >= 5 and again["worst_share_error_pct"] <= 3
    bench.world.fresh_cup()
    assert bench.follow()[-1]["reason"] == "matched"
    points = {point["batch"].split(" (")[0]: point for point in bench.get("/api/batches/drift")}
    assert points["to spray, larger"]["from_target_de00"] < 1.0
    assert points["to spray, larger"]["from_first_de00"] < 2.0


def test_how_much_to_mix_says_what_it_assumes(bench: WebBench) -> None:
    form = {"area_cm2": 300, "coats": 3, "wet_um_per_coat": 40}
    amount = bench.post("/api/mixing/amount", **form)
    # 300 cm2, 3 x 40 um: 3.6 mL on the piece, 35 % of what is sprayed; a fifth spare, 1 mL left.
    assert amount["thinned_ml"] == pytest.approx(3.6 / 0.35 * 1.2 + 1.0)
    assert len(amount["assumed"]) == 3


def test_a_reading_of_another_cup_is_refused_and_not_kept(bench: WebBench) -> None:
    bench.world.fresh_cup()
    bench.post("/api/batches", name="right cup")
    bench.pour(WHITE, 20)
    bench.world.place("smokebox red oxide")
    before = bench.record()
    assert "check that it is the right cup" in bench.refused("/api/swatches")
    assert bench.record() == before and bench.get("/api/bench")["batch"]["swatches"] == []
    # A dry card or a base of that colour is nobody's cup.
    bench.post("/api/swatches", of="base")
    bench.read_cup()
    # What was read fits no more once another paint was counted before it: named, and left out.
    bench.pour("smokebox red oxide", 20)
    bench.read_cup()
    bench.post("/api/batches/undo")
    bench.world.fresh_cup()
    advice = bench.get("/api/mixing/advice")
    assert advice["notes"][0].startswith("left out, at ") and advice["total_drops"] >= 20


def test_swatches_that_contradict_each_other_are_refused_and_one_may_be_set_aside(
    bench: WebBench,
) -> None:
    before = bench.record()
    bench.world.place(bench.world.shelf.drawdown({WHITE: 20}))
    assert "two of the same mixture" in bench.refused("/api/paints/swatches", parts={BLACK: 20})
    bench.world.place(bench.world.shelf.drawdown({WHITE: 20, BLACK: 1}))
    words = bench.refused("/api/paints/swatches", parts={WHITE: 10, BLACK: 10})
    assert "from what the other swatches of these paints say" in words
    assert bench.record() == before
    aside = bench.post("/api/paints/swatches/set-aside", paint=BLACK, number=1)
    assert aside["details"]["swatches"][0]["set_aside"] is True
    back = bench.post("/api/paints/swatches/set-aside", paint=BLACK, number=1, set_aside=False)
    assert back["details"]["swatches"][0]["set_aside"] is False
    assert "count in its list" in bench.refused(
        "/api/paints/swatches/set-aside", paint=BLACK, number=9
    )


@pytest.mark.parametrize(
    ("path", "form", "words"),
    [
        ("/api/paints", {"name": OCHRE, "family": "enamel", "new": True}, "stands on the shelf"),
        ("/api/paints", {"name": OCHRE.upper(), "family": "enamel"}, "stands on the shelf"),
        ("/api/paints", {"name": "x", "family": "enamel", "density_g_ml": 9}, "density_g_ml"),
        ("/api/paints", {"name": "x", "family": "enamel", "price_per_ml": -1}, "price_per_ml"),
        ("/api/targets", {"name": "x", "lab": [50, 100, 60]}, "not a colour a surface can have"),
        (
            "/api/targets",
            {"name": "x", "lab": [98, -60, 90], "white": "d50-2"},
            "not a colour a surface can have under D50/2°",
        ),
        ("/api/batches", {"name": "x", "aim": "damp"}, "aim"),
        ("/api/mixing/recipe", {"kind": "nicest"}, "kind"),
        ("/api/batches/none/again", {"paint_ml": 5}, "choose from the list"),
        ("/api/coats/none/sprayed", {"ml": 1}, "choose from the list"),
        ("/api/batches/additions", {"paint": OCHRE.upper(), "drops": 1}, "stands on the shelf"),
    ],
)
def test_what_cannot_be_is_refused_by_name(
    bench: WebBench, path: str, form: dict[str, object], words: str
) -> None:
    before = bench.record()
    assert words in bench.refused(path, **form)
    assert bench.record() == before


@pytest.mark.parametrize("wrong", [-0.2, 1.3])
def test_a_reflectance_no_surface_has_is_refused(bench: WebBench, wrong: float) -> None:
    nm = [400, 450, 500, 550, 600, 650, 700]
    good = {"wavelength_nm": nm, "reflectance": [0.5] * 7}
    bad = {"wavelength_nm": nm, "reflectance": [0.5, wrong, 0.5, 0.5, 0.5, 0.5, 0.5]}
    for swatch, target in ((good, bad), (bad, good)):
        paint = {"name": "grey", "swatches": [{"parts": {"grey": 1.0}, **swatch}]}
        task = {"paints": [paint], "white_paint": None, "target": target}
        assert f"got reflectance {wrong:g}, wanted 0 to 1" in bench.refused("/api/recipe", **task)


def test_a_shelf_without_white_is_named_beside_the_advice(empty: WebBench) -> None:
    empty.post("/api/paints", name=BLACK, family="enamel")
    empty.swatch({BLACK: 20})
    empty.post("/api/paints", name=WHITE, family="enamel", white=False)
    empty.world.place("quay-crane ochre")
    empty.post("/api/targets", name="ochre", measure=True)
    assert "no white on the shelf" in empty.get("/api/mixing/advice")["notes"][0]
    empty.post("/api/paints", name=WHITE, family="enamel", white=True)
    assert empty.get("/api/mixing/advice")["notes"] == []


def test_a_cup_of_two_families_is_named(empty: WebBench) -> None:
    empty.post("/api/paints", name="wheelhouse brown", family="lacquer")
    empty.swatch({"wheelhouse brown": 20})
    empty.post("/api/batches", name="curdled")
    empty.post("/api/batches/additions", paint=WHITE, drops=10)
    assert empty.get("/api/mixing/advice")["notes"] == []
    empty.post("/api/batches/additions", paint="wheelhouse brown", drops=2)
    (note,) = empty.get("/api/mixing/advice")["notes"]
    assert note.startswith("the cup holds enamel and lacquer, which may curdle together")
