"""The store's tables and their named, recorded migrations.

Fixed tables hold the records (one column per field, docs/journal.md); each *source* - channels of
one device that arrive together - has tables of its own, made when it is first heard
(``journal.sources``).  A migration is never edited once released; a new one is added below it.
"""

from __future__ import annotations

from sqlite_utils import Database
from sqlite_utils.migrations import Migrations

APPLICATION_ID = 0x53505259  # "SPRY"
VERSION = 6

migrations = Migrations("sprayout")

_TEXT_LIST = "TEXT NOT NULL DEFAULT '[]' CHECK (json_valid({0}))"
_TEXT_OBJECT = "TEXT NOT NULL DEFAULT '{{}}' CHECK (json_valid({0}))"


def _list(name: str) -> str:
    return f"{name} " + _TEXT_LIST.format(name)


def _object(name: str) -> str:
    return f"{name} " + _TEXT_OBJECT.format(name)


_OWN = "id TEXT PRIMARY KEY NOT NULL, bench TEXT NOT NULL REFERENCES bench(bench)"
_NOTE = "note TEXT NOT NULL DEFAULT ''"

TABLES_1 = f"""
CREATE TABLE bench (bench TEXT PRIMARY KEY NOT NULL) STRICT;
CREATE TABLE piece ({_OWN}, name TEXT NOT NULL, made_ms INTEGER NOT NULL, metal TEXT, metal_mm REAL,
  {_NOTE}) STRICT;
CREATE TABLE target ({_OWN}, name TEXT NOT NULL, {_list("lab")}, white TEXT NOT NULL,
  tolerance_de00 REAL NOT NULL, made_ms INTEGER NOT NULL,
  swatch TEXT REFERENCES swatch(id) DEFERRABLE INITIALLY DEFERRED,
  {_list("wavelength_nm")}, {_list("reflectance")}, {_NOTE}) STRICT;
CREATE TABLE part ({_OWN}, piece TEXT NOT NULL REFERENCES piece(id), name TEXT NOT NULL,
  target TEXT REFERENCES target(id), {_NOTE}) STRICT;
CREATE TABLE paint ({_OWN}, name TEXT NOT NULL, made_ms INTEGER NOT NULL, type TEXT,
  {_object("details")}, {_NOTE}) STRICT;
CREATE TABLE reducer ({_OWN}, name TEXT NOT NULL, made_ms INTEGER NOT NULL, {_object("solvents")},
  {_NOTE}) STRICT;
CREATE TABLE batch ({_OWN}, name TEXT NOT NULL, made_ms INTEGER NOT NULL,
  target TEXT REFERENCES target(id), drop_ml REAL, {_NOTE}) STRICT;
CREATE TABLE addition ({_OWN}, batch TEXT NOT NULL REFERENCES batch(id), at_ms INTEGER NOT NULL,
  paint TEXT REFERENCES paint(id), reducer TEXT REFERENCES reducer(id), drops INTEGER, ml REAL,
  {_NOTE}) STRICT;
CREATE TABLE airbrush ({_OWN}, name TEXT NOT NULL, made_ms INTEGER NOT NULL, nozzle_mm REAL,
  pressure_pa REAL, distance_mm REAL, cleaned_ms INTEGER, {_NOTE}) STRICT;
CREATE TABLE booth ({_OWN}, name TEXT NOT NULL, made_ms INTEGER NOT NULL, width_m REAL,
  height_m REAL,
  volume_m3 REAL, flow_m3h REAL, filter_changed_ms INTEGER, {_NOTE}) STRICT;
CREATE TABLE cartridge ({_OWN}, name TEXT NOT NULL, type TEXT NOT NULL, fitted_ms INTEGER NOT NULL,
  opened_ms INTEGER, changed_ms INTEGER, hours_used REAL, {_NOTE}) STRICT;
CREATE TABLE calibration ({_OWN}, device TEXT NOT NULL, at_ms INTEGER NOT NULL,
  sensor TEXT NOT NULL,
  {_object("unit")}, formula TEXT NOT NULL DEFAULT '', due_ms INTEGER, {_NOTE}) STRICT;
CREATE TABLE coat ({_OWN}, piece TEXT NOT NULL REFERENCES piece(id), kind TEXT NOT NULL,
  start_ms INTEGER NOT NULL, end_ms INTEGER CHECK (end_ms >= start_ms),
  part TEXT REFERENCES part(id), batch TEXT REFERENCES batch(id),
  airbrush TEXT REFERENCES airbrush(id), booth TEXT REFERENCES booth(id),
  cartridge TEXT REFERENCES cartridge(id), {_object("settings")}, person TEXT, {_NOTE}) STRICT;
CREATE TABLE swatch ({_OWN}, device TEXT NOT NULL, at_ms INTEGER NOT NULL, {_list("channels")},
  {_list("counts")}, white TEXT NOT NULL, lab TEXT CHECK (lab IS NULL OR json_valid(lab)),
  u95_de00 REAL,
  {_list("clipped")}, {_list("wavelength_nm")}, {_list("reflectance")},
  calibration TEXT REFERENCES calibration(id), formula TEXT NOT NULL DEFAULT '',
  target TEXT REFERENCES target(id) DEFERRABLE INITIALLY DEFERRED,
  batch TEXT REFERENCES batch(id), piece TEXT REFERENCES piece(id), part TEXT REFERENCES part(id),
  coat TEXT REFERENCES coat(id), de00 REAL, {_NOTE}) STRICT;
CREATE TABLE photo ({_OWN}, media_type TEXT NOT NULL, data BLOB NOT NULL,
  at_ms INTEGER NOT NULL) STRICT;
CREATE TABLE finding ({_OWN}, piece TEXT NOT NULL REFERENCES piece(id), defect TEXT NOT NULL,
  at_ms INTEGER NOT NULL, part TEXT REFERENCES part(id), coat TEXT REFERENCES coat(id),
  severity TEXT,
  place TEXT NOT NULL DEFAULT '', photo TEXT REFERENCES photo(id), person TEXT, {_NOTE}) STRICT;
CREATE TABLE flag ({_OWN}, key TEXT NOT NULL,
  level TEXT NOT NULL CHECK (level IN ('note', 'unknown', 'caution', 'stop')), words TEXT NOT NULL,
  raised_ms INTEGER NOT NULL, title TEXT NOT NULL DEFAULT '', acknowledged_ms INTEGER,
  acknowledged_by TEXT, cleared_ms INTEGER, coat TEXT REFERENCES coat(id)) STRICT;
CREATE TABLE cautions ({_OWN}, evening TEXT NOT NULL, person TEXT NOT NULL, at_ms INTEGER NOT NULL,
  {_list("cautions")}) STRICT;
CREATE TABLE clock_step ({_OWN}, at_ms INTEGER NOT NULL, before_ms INTEGER NOT NULL,
  after_ms INTEGER NOT NULL, reason TEXT NOT NULL) STRICT;
CREATE TABLE conditions (coat TEXT PRIMARY KEY NOT NULL REFERENCES coat(id),
  bench TEXT NOT NULL REFERENCES bench(bench), from_ms INTEGER NOT NULL, to_ms INTEGER NOT NULL,
  formula TEXT NOT NULL, {_list("channels")}, {_list("flags")}, {_list("gaps")},
  since_previous_coat_min REAL, batch_age_min REAL) STRICT;
CREATE TABLE source (id INTEGER PRIMARY KEY NOT NULL, bench TEXT NOT NULL REFERENCES bench(bench),
  device TEXT NOT NULL) STRICT;
CREATE TABLE series (id INTEGER PRIMARY KEY NOT NULL, source INTEGER NOT NULL REFERENCES source(id),
  slot INTEGER NOT NULL, channel TEXT NOT NULL, unit TEXT NOT NULL, decimals INTEGER NOT NULL,
  zero INTEGER NOT NULL, UNIQUE (source, slot)) STRICT;
CREATE TABLE repeat (series INTEGER NOT NULL REFERENCES series(id), at_ms INTEGER NOT NULL,
  value REAL NOT NULL, PRIMARY KEY (series, at_ms, value)) STRICT, WITHOUT ROWID;
CREATE INDEX source_device ON source(bench, device);
CREATE INDEX part_piece ON part(piece);
CREATE INDEX addition_batch ON addition(batch, at_ms);
CREATE INDEX coat_time ON coat(bench, start_ms);
CREATE INDEX coat_end ON coat(bench, end_ms) WHERE end_ms IS NOT NULL;
CREATE INDEX coat_piece ON coat(piece, start_ms);
CREATE INDEX swatch_time ON swatch(bench, at_ms);
CREATE INDEX swatch_target ON swatch(target, at_ms) WHERE target IS NOT NULL;
CREATE INDEX swatch_batch ON swatch(batch, at_ms) WHERE batch IS NOT NULL;
CREATE INDEX calibration_device ON calibration(bench, device, at_ms);
CREATE INDEX flag_time ON flag(bench, raised_ms);
CREATE INDEX flag_open ON flag(bench) WHERE cleared_ms IS NULL OR acknowledged_ms IS NULL;
CREATE INDEX finding_piece ON finding(piece, at_ms);
"""


@migrations()
def first_tables(db: Database) -> None:
    """The tables of version 1."""
    for statement in TABLES_1.split(";"):
        if statement.strip():
            db.execute(statement)
    db.execute(f"PRAGMA application_id = {APPLICATION_ID}")
    db.execute("PRAGMA user_version = 1")


@migrations()
def second_tables(db: Database) -> None:
    """Version 2: the hours of ``journal.recent``."""
    db.execute(
        "CREATE TABLE recent_minutes (source INTEGER NOT NULL REFERENCES source(id), "
        "hour INTEGER NOT NULL, cells BLOB NOT NULL, PRIMARY KEY (source, hour)) STRICT"
    )
    db.execute("PRAGMA user_version = 2")


@migrations()
def third_tables(db: Database) -> None:
    """Version 3: additions by weight, the colour a cup aims at, the recipe chosen for it."""
    db.execute("ALTER TABLE addition ADD COLUMN grams REAL")
    db.execute("ALTER TABLE batch ADD COLUMN aim TEXT")
    db.execute("ALTER TABLE batch ADD COLUMN " + _object("recipe"))
    db.execute("PRAGMA user_version = 3")


TABLES_4 = f"""
ALTER TABLE booth ADD COLUMN exhaust TEXT CHECK (exhaust IN ('ducted', 'recirculating'));
ALTER TABLE booth ADD COLUMN face_m_s REAL;
ALTER TABLE booth ADD COLUMN rating_m3h REAL;
ALTER TABLE booth ADD COLUMN rating_share REAL;
ALTER TABLE booth ADD COLUMN {_object("fan")};
ALTER TABLE booth ADD COLUMN filter_loading REAL;
ALTER TABLE booth ADD COLUMN crossdraft_m_s REAL;
ALTER TABLE booth ADD COLUMN room_volume_m3 REAL;
ALTER TABLE booth ADD COLUMN room_air_changes_h REAL;
ALTER TABLE booth ADD COLUMN mixing_divisor REAL;
ALTER TABLE booth ADD COLUMN {_list("confirmed")};
CREATE TABLE probe_check ({_OWN}, device TEXT NOT NULL, at_ms INTEGER NOT NULL,
  offset_pct REAL NOT NULL, gain REAL NOT NULL, low_pct REAL NOT NULL, high_pct REAL NOT NULL,
  uncertainty_pct REAL NOT NULL, {_list("points")}, person TEXT, withdrawn_ms INTEGER,
  {_NOTE}) STRICT;
CREATE INDEX probe_check_device ON probe_check(bench, device, at_ms)
"""


@migrations()
def booth_and_probe_checks(db: Database) -> None:
    """Version 4: the booth's own columns, and salt checks of humidity probes."""
    for statement in TABLES_4.split(";"):
        db.execute(statement)
    db.execute("PRAGMA user_version = 4")


@migrations()
def surface_of_a_piece(db: Database) -> None:
    """Version 5: what an infrared thermometer sees of a piece."""
    db.execute("ALTER TABLE piece ADD COLUMN surface TEXT")
    db.execute("PRAGMA user_version = 5")


@migrations()
def targets_and_former_colours(db: Database) -> None:
    """Version 6: where a target comes from, how a swatch was taken, what it was said to be once."""
    for column in ("origin TEXT NOT NULL DEFAULT ''", "u95_de00 REAL",
                   "variant_of TEXT NOT NULL DEFAULT ''", _list("photos")):  # fmt: skip
        db.execute("ALTER TABLE target ADD COLUMN " + column)
    for column in (_list("ambient"), "repeats INTEGER", "placements INTEGER", _list("warnings")):
        db.execute("ALTER TABLE swatch ADD COLUMN " + column)
    for column in ("temperature_c REAL", "led_hours REAL"):
        db.execute("ALTER TABLE calibration ADD COLUMN " + column)
    db.execute(
        f"CREATE TABLE former_colour ({_OWN}, swatch TEXT NOT NULL REFERENCES swatch(id), "
        "at_ms INTEGER NOT NULL, white TEXT NOT NULL, "
        "lab TEXT CHECK (lab IS NULL OR json_valid(lab)), u95_de00 REAL, "
        f"{_list('wavelength_nm')}, {_list('reflectance')}, formula TEXT NOT NULL DEFAULT '', "
        "de00 REAL) STRICT"
    )
    db.execute("CREATE INDEX former_colour_swatch ON former_colour(swatch, at_ms)")
    db.execute("PRAGMA user_version = 6")
