"""docs/broker.md says what is so."""

import re
import textwrap
from pathlib import Path

from sprayout.cli import COMMANDS
from sprayout.commands.running import foreign_mappings
from sprayout.intake.channels import CHANNELS, known_units
from sprayout.intake.foreign import parse, parse_own
from sprayout.settings import read_settings

DOC = (Path(__file__).parents[1] / "docs" / "broker.md").read_text(encoding="utf-8")
NOW_MS = 1_764_063_600_000


def blocks() -> list[str]:
    return [textwrap.dedent(block) for block in re.findall(r"(?:^    .*\n)+", DOC, re.M)]


def test_the_mapping_is_one(tmp_path):
    (toml,) = (block for block in blocks() if block.startswith("[[foreign]]"))
    file = tmp_path / "bench.toml"
    file.write_text(toml, encoding="utf-8")
    (mapping,) = foreign_mappings(read_settings(file, {}))
    parsed = parse(mapping.topic, b'{"temperature": 21.4, "hum": 55.1}', [mapping], NOW_MS)
    (arrival,) = parsed.arrivals
    assert (arrival.bench, arrival.device) == ("bench-1", "yard-door")
    assert (arrival.readings[0].value, arrival.readings[0].unit) == (55.1, "%RH")


def test_the_pack_is_one():
    (command,) = (block for block in blocks() if "mosquitto_pub" in block)
    topic = re.search(r"-t (\S+)", command)
    payload = re.search(r"-m '(.+)'", command)
    assert topic and payload
    parsed = parse_own(topic[1], payload[1].encode(), NOW_MS)
    assert parsed.refusals == ()
    assert parsed.arrivals[0].readings[0].value == 21.5


def test_every_channel_with_a_unit_of_its_own_and_every_unit_is_there():
    named = set(re.findall(r"`(\w+)`", DOC))
    assert {name for name, channel in CHANNELS.items() if channel.unit != "count"} <= named
    (paragraph,) = (part for part in DOC.split("\n\n") if part.startswith("Channels with a unit"))
    said = set(re.split(r"[\s(),]+", paragraph))
    units = {unit for channel in CHANNELS.values() for unit in known_units(channel.unit)}
    left_out = {"C", "degC", "F", "degF", "fpm", "count"}  # other spellings of those that are said
    assert units - left_out <= said


def test_the_commands_exist():
    commands = re.findall(r"sprayout ([\w-]+)", "\n".join(blocks()))
    assert set(commands) >= {"devices", "relay", "serve"}
    assert set(commands) <= set(COMMANDS)
