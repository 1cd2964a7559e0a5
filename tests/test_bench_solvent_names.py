"""Names on labels: nearest offered, unknown refused, said to be unknown kept and named."""

import asyncio

import pytest

from sprayout.bench.solvent_names import all_names, check_names, is_known, nearest
from sprayout.climate.flags import Level
from sprayout.errors import BadInput
from sprayout.journal.records import Paint, Reducer
from tests.acts_bench import HandBench, hand_bench

AIR = {"air_temperature": 21.0, "relative_humidity": 40.0, "part_temperature": 21.0}
LABEL = {"solvents": {"n-butyl acetate": 0.4, "thinner oil 7": 0.2}, "two_part": False}


@pytest.fixture
def bench(tmp_path):
    with hand_bench(tmp_path) as made:
        yield made


def run(act):
    return asyncio.run(act)


@pytest.mark.parametrize(
    ("typed", "meant"),
    [("tolune", "Toluene"), ("n-buthyl acetate", "n-Butyl acetate"), ("xylen", "xylene"),
     ("Acetonne", "Acetone"), ("methoxypropanoll", "methoxypropanol")],
)  # fmt: skip
def test_a_mistyped_name_is_refused_and_the_nearest_offered(typed: str, meant: str) -> None:
    assert meant in nearest(typed)
    with pytest.raises(BadInput, match=f"got solvent '{typed}'.*nearest: .*{meant}"):
        check_names([typed])


@pytest.mark.parametrize(
    "name", ["toluene", "108-88-3", "White Spirit", "isobutyl acetate", "water", "HDI", "Butanone"]
)
def test_names_of_either_table_and_of_the_refusals_are_known(name: str) -> None:
    assert is_known(name)
    check_names([name])


def test_no_data_is_for_what_we_have_none_of() -> None:
    check_names(["toluene", "thinner oil 7"], ["thinner oil 7"])
    with pytest.raises(BadInput, match="no_data: got 'toluene', of which we have data"):
        check_names(["toluene"], ["toluene"])
    with pytest.raises(BadInput, match="no_data: got 'oil', which is not among"):
        check_names(["toluene"], ["oil"])


def test_the_list_of_names_says_what_each_is_good_for() -> None:
    found = {entry.name: entry for entry in all_names()}
    assert found["Toluene"].film and found["Toluene"].exposure
    assert found["isobutyl acetate"].film and not found["isobutyl acetate"].exposure
    assert not found["Diacetone alcohol"].film
    assert len(found) == len(all_names()) > 40


async def ochre(bench: HandBench, **label: object) -> None:
    await bench.shelf.put_paint("ochre", "enamel")
    await bench.shelf.put_label("ochre", {**LABEL, **label})


def test_a_label_with_an_unknown_solvent_is_refused_and_changes_nothing(bench):
    with pytest.raises(BadInput, match=r"'thinner oil 7'.*list it under no_data"):
        run(ochre(bench))
    assert "solvents" not in bench.reader.all(Paint)[0].details


def test_said_to_be_unknown_it_stays_and_the_assessment_names_it(bench):
    async def cup():
        await ochre(bench, no_data=["thinner oil 7"])
        await bench.matching.start_batch("cup")
        await bench.matching.add("ochre", 60)

    run(cup())
    found = bench.exposing.assess(3.0, 10.0, 1, bench.watching.fan())
    words = {finding["key"]: finding["words"] for finding in found["findings"]}
    assert found["level"] == "cannot assess"
    assert "no exposure data on thinner oil 7" in words["breathing_15_min"]
    assert bench.reader.all(Paint)[0].details["no_data"] == ["thinner oil 7"]


def test_new_solvents_bring_a_new_list_of_what_there_is_no_data_on(bench):
    async def twice():
        await ochre(bench, no_data=["thinner oil 7"])
        await bench.shelf.put_label("ochre", {"solvents": {"toluene": 0.5}})

    run(twice())
    assert bench.reader.all(Paint)[0].details["no_data"] == []


@pytest.mark.parametrize(
    ("label", "named"),
    [
        ({"solvents": {"toluene": 0.7, "acetone": 0.6}}, "shares of the solvents sum to 1.3"),
        ({"solvents": {"toluene": 40}}, "divide a percentage by 100"),
        ({"solvents": None, "no_data": ["oil"]}, "no_data: got names without solvents"),
        ({"data_sheet_limits_ppm": {"tolune": 20.0}}, "data_sheet_limits_ppm: got 'tolune'"),
        ({"data_sheet_limits_ppm": {"toluene": 0.0}}, "limit of toluene: got 0"),
        ({"dust_limit_mg_m3": -1}, "dust limit"),
    ],
)
def test_labels_that_cannot_be_are_refused(bench, label, named):
    run(bench.shelf.put_paint("ochre", "enamel"))
    with pytest.raises(BadInput, match=named):
        given = {"solvents": {"toluene": 0.5}, **label}
        run(bench.shelf.put_label("ochre", {k: v for k, v in given.items() if v is not None}))
        bench.exposing.assess(1.0, 1.0, 1, bench.watching.fan())
    assert "solvents" not in bench.reader.all(Paint)[0].details


def test_a_reducer_with_an_unknown_solvent_gives_no_film_and_the_flag_says_unknown(bench):
    async def evening():
        await bench.shelf.put_reducer(
            "slipway thinner", {"toluene": 0.8, "thinner oil 7": 0.2}, ["thinner oil 7"]
        )
        await bench.shelf.put_paint("ochre", "enamel")
        await bench.matching.start_batch("cup")
        await bench.matching.add("ochre", 60)
        await bench.matching.reduce("slipway thinner", 2.0)
        await bench.watch(2, **AIR)

    run(evening())
    standing = bench.watching.state.standing("humid_blush_risk")
    assert standing.level is Level.UNKNOWN
    assert "no data on thinner oil 7 in slipway thinner" in standing.words
    assert bench.notices == []


@pytest.mark.parametrize(
    ("solvents", "no_data", "named"),
    [
        ({"tolune": 1.0}, [], "reducer: got solvent 'tolune'.*Toluene"),
        ({"toluene": 0.5, "oil": 0.2}, ["oil"], "shares sum to 0.7"),
        ({"toluene": 1.4, "oil": -0.4}, ["oil"], "none below 0"),
        ({"toluene": 0.5, "acetone": 0.2}, [], "shares sum to 0.7"),
    ],
)
def test_reducers_that_cannot_be_are_refused(bench, solvents, no_data, named):
    with pytest.raises(BadInput, match=named):
        run(bench.shelf.put_reducer("thinner", solvents, no_data))
    assert bench.reader.all(Reducer) == []
