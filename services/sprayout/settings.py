"""Settings of one bench: a table, read once, then frozen.

Each row gives name, type, default, unit and help; the command line's help, the README's table and
``sprayout settings`` come from it.  Environment (``SPRAYOUT_<NAME>``) over file (TOML) over
default.
"""

import os
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from types import MappingProxyType

from sprayout.errors import SettingsError

Value = str | int | float | bool


@dataclass(frozen=True, slots=True)
class Setting:
    """One row of the table; `low` and `high` bound a number, `choices` a word."""

    name: str
    default: Value
    unit: str
    help: str
    low: float | None = None
    high: float | None = None
    choices: tuple[str, ...] = ()

    @property
    def kind(self) -> type:
        return type(self.default)


SETTINGS: tuple[Setting, ...] = (
    Setting("bench", "bench-1", "", "name of this bench; it stands in every record and topic"),
    Setting("region", "us", "", "whose limits and wording are shown", choices=("us", "uk", "eu")),
    Setting("host", "127.0.0.1", "", "address the page is served on"),
    Setting("port", 8765, "", "port the page is served on; 0 takes a free one", 0, 65535),
    Setting("mqtt_user", "", "", "user name at the broker; empty for none"),
    Setting("mqtt_password", "", "", "password at the broker; better set in the environment"),
    Setting("mqtt_ca_file", "", "", "certificate authority that signed the broker's certificate"),
    Setting("room_volume_m3", 0.0, "m³", "volume of the workshop; 0: not known", 0, 100_000),
    Setting("room_fresh_air_m3h", 0.0, "m³/h", "fresh air into the workshop", 0, 1_000_000),
    Setting("mixing_divisor", 3.0, "", "how imperfectly its air mixes; 1 is perfect", 1, 10),
    Setting("mqtt_version", "3.1.1", "", "protocol spoken to the broker", choices=("3.1.1", "5")),
    Setting("mqtt_forward", False, "", "send this bench's board on to the broker as well"),
    Setting("colour_interval_s", 0.5, "s", "time between live colour readings", 0.1, 60),
    Setting("climate_interval_s", 1.0, "s", "time between climate readings", 0.05, 600),
    Setting("tolerance_de00", 1.0, "CIEDE2000", "difference within which a mix passes", 0.1, 10),
    Setting(
        "calibration_due_h", 12.0, "h", "age at which a white-tile calibration is due", 0.1, 720
    ),
    Setting("probe_silent_s", 15.0, "s", "silence after which a probe counts as silent", 2, 3600),
    Setting("raw_days", 90.0, "days", "how long every single reading is kept", 1, 36_500),
    Setting("before_coat_min", 60.0, "min", "kept for ever before each coat", 0, 10_080),
    Setting("after_coat_min", 1440.0, "min", "kept for ever after each coat", 0, 43_200),
    Setting(
        "fan_min_pa", 5.0, "Pa", "pressure across the filter that shows the fan runs", 0.1, 500
    ),
    Setting(
        "fan_min_ms", 0.3, "m/s", "air speed at the booth's face that shows the fan runs", 0.05, 5
    ),
)

BY_NAME: Mapping[str, Setting] = MappingProxyType({row.name: row for row in SETTINGS})


@dataclass(frozen=True, slots=True)
class ForeignProbe:
    """One ``[[foreign]]`` entry of the file: how a probe that is not ours is understood."""

    fields: Mapping[str, Value]


@dataclass(frozen=True, slots=True)
class Settings:
    """The values in force, and the foreign probes of the file."""

    values: Mapping[str, Value]
    foreign: tuple[ForeignProbe, ...] = ()

    def text(self, name: str) -> str:
        return str(self.values[name])

    def number(self, name: str) -> float:
        return float(self.values[name])

    def whole(self, name: str) -> int:
        return int(self.values[name])


def read_settings(
    file: Path | None = None, environment: Mapping[str, str] = os.environ
) -> Settings:
    """Return the settings in force; raises SettingsError naming the first wrong entry."""
    document = _read_file(file) if file else {}
    foreign = document.pop("foreign", [])
    if not isinstance(foreign, list):
        raise SettingsError(f"foreign: got {foreign!r}, wanted [[foreign]] tables")
    values: dict[str, Value] = {row.name: row.default for row in SETTINGS}
    for name, value in document.items():
        values[name] = _checked(name, value, f"settings file {file}")
    for row in SETTINGS:
        key = f"SPRAYOUT_{row.name.upper()}"
        if key in environment:
            values[row.name] = _checked(row.name, _typed(row, environment[key], key), key)
    return Settings(MappingProxyType(values), tuple(_foreign(entry) for entry in foreign))


def override(settings: Settings, **given: Value | None) -> Settings:
    """Return the settings with what the command line gave (None: not given)."""
    checked = {
        name: _checked(name, value, f"--{name.replace('_', '-')}")
        for name, value in given.items()
        if value is not None
    }
    return Settings(MappingProxyType({**settings.values, **checked}), settings.foreign)


def _read_file(file: Path) -> dict[str, object]:
    try:
        return tomllib.loads(file.read_text(encoding="utf-8"))
    except OSError as error:
        raise SettingsError(
            f"settings file {file}: {error.strerror}; wanted a readable TOML file; check the path"
        ) from error
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise SettingsError(f"settings file {file}: not TOML ({error}); correct it") from error


def _checked(name: str, value: object, where: str) -> Value:
    row = BY_NAME.get(name)
    if row is None:
        raise SettingsError(f"{where}: unknown setting {name!r}; known are {', '.join(BY_NAME)}")
    if row.kind is float and isinstance(value, int) and not isinstance(value, bool):
        value = float(value)
    if type(value) is not row.kind:
        raise SettingsError(f"{where}: {name} is {value!r}, wanted a {_KIND_WORDS[row.kind]}")
    assert isinstance(value, str | int | float | bool)
    _check_range(row, value, where)
    return value


def _check_range(row: Setting, value: Value, where: str) -> None:
    if row.choices and value not in row.choices:
        raise SettingsError(f"{where}: {row.name} is {value!r}, wanted {' or '.join(row.choices)}")
    if row.low is None or row.high is None or isinstance(value, str):
        return
    if not row.low <= value <= row.high:
        raise SettingsError(
            f"{where}: {row.name} is {value:g} {row.unit}".rstrip()
            + f", wanted {row.low:g} to {row.high:g}"
        )


_KIND_WORDS = {str: "text", int: "whole number", float: "number", bool: "true or false"}


def _typed(row: Setting, text: str, where: str) -> Value:
    try:
        if row.kind is bool:
            return {"true": True, "1": True, "false": False, "0": False}[text.lower()]
        return row.kind(text)  # type: ignore[no-any-return]
    except (ValueError, KeyError) as error:
        raise SettingsError(
            f"{where}: {row.name} is {text!r}, wanted a {_KIND_WORDS[row.kind]}"
        ) from error


def _foreign(entry: object) -> ForeignProbe:
    if not isinstance(entry, dict):
        raise SettingsError(f"foreign: got {entry!r}, wanted a [[foreign]] table")
    return ForeignProbe(MappingProxyType(dict(entry)))
