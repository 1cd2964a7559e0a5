"""Contract 4 as another program meets it: JSON lines, exit codes, and what is refused."""

import copy
import json
import os
import subprocess
import sys
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from sprayout.commands.benchmarks.mixing_runs import random_mixture, setting
from sprayout.commands.benchmarks.mixing_truth import CENTRE_NM, TruthCup
from sprayout.commands.recipe import answer, as_text
from sprayout.commands.steer import answers
from sprayout.errors import BadInput
from sprayout.mixing.steer_json import parse_task, recipe_to_json

ROOT = Path(__file__).resolve().parent.parent


@cache
def _world() -> tuple[Any, np.ndarray]:
    here = setting(61)
    return here, here.bench.reflectance(random_mixture(np.random.default_rng(4), 12))


def spectrum(values: Any) -> dict[str, list[float]]:
    return {"wavelength_nm": list(CENTRE_NM), "reflectance": [float(v) for v in values]}


@cache
def _task() -> str:
    here, wanted = _world()
    paints = [
        {
            "name": paint.name,
            "swatches": [
                {"parts": dict(s.parts), "over": s.over, **spectrum(s.spectrum.reflectance)}
                for s in paint.swatches
            ],
        }
        for paint in here.shelf.paints
    ]
    return json.dumps(
        {
            "paints": paints,
            "white_paint": "white",
            "target": spectrum(here.bench.sensed(wanted)),
            "tolerance_de00": 1.0,
            "drops_max": 200,
            "paints_max": 4,
            "drop_ml": 0.05,
        }
    )


def task(**changes: Any) -> dict[str, Any]:
    return {**json.loads(_task()), **changes}


def started(*words: str) -> subprocess.Popen[str]:
    roots = [str(ROOT / name) for name in ("services", "firmware_host", "simulators")]
    return subprocess.Popen(
        [
            sys.executable,
            "-c",
            "import sys; from sprayout.cli import main; sys.exit(main())",
            *words,
        ],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        env={**os.environ, "PYTHONPATH": os.pathsep.join(roots)},
    )


def test_a_cup_is_steered_through_the_command_line():
    here, _ = _world()
    cup = TruthCup(here.bench)
    with started("steer") as process:
        assert process.stdin is not None
        assert process.stdout is not None
        line = json.dumps(task())
        for _ in range(8):
            process.stdin.write(line + "\n")
            process.stdin.flush()
            reply = json.loads(process.stdout.readline())
            if reply["done"]:
                break
            for dose in reply["add"]:
                cup.add(dose["paint"], dose["drops"])
            assert reply["total_drops"] == cup.drops
            assert reply["reason"] is None
            line = json.dumps({"reading": spectrum(here.bench.sensed(cup.spectrum()))})
        process.stdin.close()
        assert process.wait() == 0
    assert reply["reason"] == "matched"
    assert reply["add"] == []
    assert reply["now_de00"] <= 1.0


@pytest.mark.parametrize(
    ("lines", "word"),
    [
        ("not json\n", "not JSON"),
        ("", "no line"),
        ('{"paints": []}\n', "target"),
        ("[1]\n", "JSON object"),
    ],
)
def test_bad_lines_end_with_exit_code_2_and_one_line(lines: str, word: str):
    out, err = (process := started("steer")).communicate(lines)
    assert (process.returncode, out) == (2, "")
    assert len(err.strip().splitlines()) == 1
    assert word in err


def test_recipe_answers_one_document():
    out, err = (process := started("recipe")).communicate(json.dumps(task()))
    assert (process.returncode, err) == (0, "")
    document = json.loads(out)
    assert {"recipe", "predicted_de00", "alternatives", "missing"} <= set(document)
    assert document["missing"] is None
    assert all(dose["drops"] >= 1 for dose in document["recipe"])
    assert document["predicted_de00"] < 0.5


def test_recipe_in_words():
    text = as_text(answer(json.dumps(task())))
    assert text.startswith("Recommended:")
    assert "CIEDE2000 from the target" in text


def test_a_lab_target_and_no_white_named():
    document = recipe_to_json(
        answer(json.dumps(task(target={"lab_d65_10": [60, 10, 20]}, white_paint=None)))
    )
    assert document["predicted_de00"] < 0.5
    assert document["metameric_de00"] is None


def test_an_unreachable_target_names_what_is_missing():
    paints = [p for p in task()["paints"] if p["name"] in ("white", "black")]
    reply = json.loads(
        next(answers([json.dumps(task(paints=paints, target={"lab_d65_10": [50, 50, 30]}))]))
    )
    assert (reply["done"], reply["reason"], reply["add"]) == (True, "unreachable", [])
    assert reply["nearest_de00"] > 10
    assert len(reply["missing"]["lab_d65_10"]) == 3
    assert "red" in reply["missing"]["words"]


def _with(path: list[Any], value: Any) -> dict[str, Any]:
    changed = copy.deepcopy(task())
    place: Any = changed
    for key in path[:-1]:
        place = place[key]
    place[path[-1]] = value
    return changed


BAD = {
    "white not on the shelf": (["white_paint"], "chalk", "white_paint"),
    "two paints of one name": (["paints", 1, "name"], "white", "own name"),
    "negative reflectance": (["paints", 2, "swatches", 0, "reflectance", 3], -0.1, "0 to 1"),
    "reflectance above 1": (["paints", 2, "swatches", 0, "reflectance", 3], 1.3, "0 to 1"),
    "not a number": (["paints", 2, "swatches", 0, "reflectance", 3], "x", "number"),
    "too few bands": (["paints", 2, "swatches", 0, "reflectance"], [0.1], "same number"),
    "unknown base": (["paints", 2, "swatches", 0, "over"], "grey", "black, white or null"),
    "stray part": (["paints", 2, "swatches", 0, "parts"], {"chalk": 1}, "chalk"),
    "no parts": (["paints", 2, "swatches", 0, "parts"], {"white": 0}, "above 0"),
    "no paints": (["paints"], [], "no paints"),
    "paints no list": (["paints"], 7, "list"),
    "target twice": (["target", "lab_d65_10"], [50, 0, 0], "one of the two"),
    "target empty": (["target"], {}, "target"),
    "target outside surfaces": (["target"], {"lab_d65_10": [99, 90, 0]}, "surface"),
    "target outside L": (["target"], {"lab_d65_10": [140, 0, 0]}, "surface"),
    "target of two numbers": (["target"], {"lab_d65_10": [50, 0]}, "L*, a*, b*"),
    "tolerance zero": (["tolerance_de00"], 0, "tolerance_de00"),
    "drops_max zero": (["drops_max"], 0, "drops_max"),
    "drops_max half": (["drops_max"], 2.5, "whole number"),
    "paints_max zero": (["paints_max"], 0, "paints_max"),
    "drop of a litre": (["drop_ml"], 1000, "drop"),
    "wavelengths falling": (
        ["paints", 2, "swatches", 0, "wavelength_nm"],
        list(CENTRE_NM[::-1]),
        "rising",
    ),
}


@pytest.mark.parametrize(("path", "value", "word"), BAD.values(), ids=BAD.keys())
def test_bad_tasks_are_named_in_one_line(path: list[Any], value: Any, word: str):
    with pytest.raises(BadInput) as refused:
        list(answers([json.dumps(_with(path, value))]))
    assert word in str(refused.value)
    assert "\n" not in str(refused.value)


def test_a_paint_without_a_swatch_is_named():
    with pytest.raises(BadInput, match="got no swatch"):
        parse_task(_with(["paints", 3, "swatches"], []))


def test_swatches_that_contradict_each_other_are_named():
    changed = task()
    twin = copy.deepcopy(changed["paints"][2]["swatches"][0])
    twin["reflectance"] = [1 - v for v in twin["reflectance"]]
    changed["paints"][2]["swatches"].append(twin)
    with pytest.raises(BadInput, match="CIEDE2000 apart"):
        list(answers([json.dumps(changed)]))


def test_a_bad_reading_changes_nothing_already_answered():
    replies = answers([json.dumps(task()), json.dumps({"reading": spectrum([-0.5] * 8)})])
    assert json.loads(next(replies))["total_drops"] > 0
    with pytest.raises(BadInput, match="reading"):
        next(replies)
