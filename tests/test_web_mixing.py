"""The mixing bench over HTTP, from an empty store: swatches, recipes, grams, the dry colour."""

from collections.abc import Iterator

import pytest

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
    assert first["recipe"][0]["grams"] == pytest.approx(first["recipe"][0]["drops"] * 0.05 * 1.25)
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
    look = bench.get("/api/mixing/dry")
    assert look["assumed"] and look["u95_de00"] > 0.5
    # A dry card of this very cup makes the shift a learned one.
    bench.world.place(bench.world.cup.surface(dry=1.0))
    bench.post("/api/swatches", of="dry card")
    learned = bench.get("/api/mixing/advice")["dry"]
    assert not learned["assumed"] and "1 pair of yours" in learned["words"][0]
    assert bench.post("/api/batches/aim", aim="wet")["aim"] == "wet"
    assert bench.get("/api/mixing/advice")["dry"] is None
