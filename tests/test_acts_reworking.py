"""Colours worked out again: the counts decide, the old colour is kept, nothing narrows unduly."""

import asyncio
import json
from dataclasses import replace

import pytest

from sprayout.acts.reworking import rework
from sprayout.cli import main
from sprayout.colour.profile import FORMULA_VERSION
from sprayout.errors import BadInput
from sprayout.journal.records import FormerColour, Swatch
from tests.acts_bench import hand_bench


@pytest.fixture
def bench(tmp_path):
    with hand_bench(tmp_path, board=True) as made:
        asyncio.run(made.calibrate())
        made.cabled.world.place("white tile")
        yield made


def measured(bench):
    return asyncio.run(bench.measuring.swatch())


def aged(bench, swatch, **changes):
    """The swatch as an older formula would have left it."""
    old = replace(swatch, formula="2025.01-1", lab=(50.0, 1.0, 1.0), u95_de00=0.05, **changes)
    asyncio.run(bench.commit([old]))
    return old


def test_todays_colours_are_left_alone(bench):
    swatch = measured(bench)
    found = asyncio.run(bench.reworking.every())
    assert found.done == found.left == ()
    assert bench.reader.get(Swatch, swatch.id) == swatch


def test_an_old_colour_is_had_again_from_its_counts_and_kept(bench):
    swatch = measured(bench)
    old = aged(bench, swatch)
    (done,) = asyncio.run(bench.reworking.swatch(swatch.id)).done
    now = bench.reader.get(Swatch, swatch.id)
    assert now.lab == pytest.approx(swatch.lab, abs=0.02)
    assert now.u95_de00 == pytest.approx(swatch.u95_de00, rel=0.3)
    assert (now.formula, now.counts) == (FORMULA_VERSION, swatch.counts)
    (former,) = bench.reader.all(FormerColour, swatch=swatch.id)
    assert (former.lab, former.u95_de00, former.formula) == (old.lab, 0.05, "2025.01-1")
    assert done.moved_de00 > 10


def test_what_placements_showed_is_never_narrowed(bench):
    swatch = measured(bench)
    old = replace(swatch, formula="2025.01-1", u95_de00=9.0, placements=3)
    asyncio.run(bench.commit([old]))
    asyncio.run(bench.reworking.swatch(swatch.id))
    assert bench.reader.get(Swatch, swatch.id).u95_de00 == 9.0


def test_a_swatch_without_calibration_or_counts_is_left_and_named(bench):
    swatch = measured(bench)
    lost = aged(bench, swatch, calibration=None)
    found = asyncio.run(bench.reworking.every())
    assert found.left == ((lost.id, "its calibration is not on record"),)
    short = replace(lost, channels=swatch.channels[1:], counts=swatch.counts[1:])
    profile = bench.measuring.desk.profile
    short = replace(short, calibration="k")
    left = rework(bench.reader, [short], {"k": profile}, 1, lambda kind: f"{kind}-1").left
    assert left == ((lost.id, f"counts of {swatch.channels[0]} are not on record"),)
    assert bench.reader.all(FormerColour) == []


def test_a_swatch_of_before_the_ambient_light_was_kept_is_left(bench):
    old = aged(bench, measured(bench), ambient=())
    found = asyncio.run(bench.reworking.every())
    assert found.done == ()
    assert found.left == ((old.id, "its ambient light is not on record"),)
    assert bench.reader.get(Swatch, old.id) == old
    assert bench.reader.all(FormerColour) == []


def test_a_spectrum_goes_with_the_wavelengths_of_today(bench):
    swatch = measured(bench)
    aged(bench, swatch, wavelength_nm=(450.0, 550.0), reflectance=(0.5, 0.5))
    (done,) = asyncio.run(bench.reworking.every()).done
    now = bench.reader.get(Swatch, swatch.id)
    assert now.wavelength_nm == swatch.wavelength_nm
    assert len(now.reflectance) == len(now.wavelength_nm)
    assert done.former.wavelength_nm == (450.0, 550.0)


def test_looks_at_the_check_tile_keep_the_colour_they_were_judged_by(bench):
    old = aged(bench, measured(bench), note="check tile grey", de00=0.4)
    found = asyncio.run(bench.reworking.every())
    assert found.done == found.left == ()
    assert bench.reader.get(Swatch, old.id) == old


def test_a_swatch_that_is_not_there_is_refused(bench):
    with pytest.raises(BadInput, match="got 'nothing', wanted one on record"):
        asyncio.run(bench.reworking.swatch("nothing"))


def test_the_command_works_a_store_out_again(bench, capsys):
    swatch = measured(bench)
    aged(bench, swatch)
    bench.close()
    with pytest.raises(SystemExit) as ended:
        main(["rework", "--store", str(bench.store), "--json"])
    assert ended.value.code == 0
    answer = json.loads(capsys.readouterr().out)
    (done,) = answer["done"]
    assert (answer["formula"], done["id"]) == (FORMULA_VERSION, swatch.id)
    assert done["was"]["formula"] == "2025.01-1" and answer["left"] == []
    assert done["lab"] == pytest.approx(swatch.lab, abs=0.03) and done["moved_de00"] > 10
    with pytest.raises(SystemExit) as ended:
        main(["rework", "--store", str(bench.store), "--swatch", "nothing"])
    assert ended.value.code == 2
