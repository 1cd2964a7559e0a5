-- The store's schema 1 as released; never edited (tests/test_journal_store.py).
CREATE TABLE "_sqlite_migrations" (
   "id" INTEGER PRIMARY KEY,
   "migration_set" TEXT,
   "name" TEXT,
   "applied_at" TEXT
);
CREATE TABLE addition (id TEXT PRIMARY KEY NOT NULL, bench TEXT NOT NULL REFERENCES bench(bench), batch TEXT NOT NULL REFERENCES batch(id), at_ms INTEGER NOT NULL,
  paint TEXT REFERENCES paint(id), reducer TEXT REFERENCES reducer(id), drops INTEGER, ml REAL,
  note TEXT NOT NULL DEFAULT '') STRICT;
CREATE INDEX addition_batch ON addition(batch, at_ms);
CREATE TABLE airbrush (id TEXT PRIMARY KEY NOT NULL, bench TEXT NOT NULL REFERENCES bench(bench), name TEXT NOT NULL, made_ms INTEGER NOT NULL, nozzle_mm REAL,
  pressure_pa REAL, distance_mm REAL, cleaned_ms INTEGER, note TEXT NOT NULL DEFAULT '') STRICT;
CREATE TABLE batch (id TEXT PRIMARY KEY NOT NULL, bench TEXT NOT NULL REFERENCES bench(bench), name TEXT NOT NULL, made_ms INTEGER NOT NULL,
  target TEXT REFERENCES target(id), drop_ml REAL, note TEXT NOT NULL DEFAULT '') STRICT;
CREATE TABLE bench (bench TEXT PRIMARY KEY NOT NULL) STRICT;
CREATE TABLE booth (id TEXT PRIMARY KEY NOT NULL, bench TEXT NOT NULL REFERENCES bench(bench), name TEXT NOT NULL, made_ms INTEGER NOT NULL, width_m REAL,
  height_m REAL,
  volume_m3 REAL, flow_m3h REAL, filter_changed_ms INTEGER, note TEXT NOT NULL DEFAULT '') STRICT;
CREATE TABLE calibration (id TEXT PRIMARY KEY NOT NULL, bench TEXT NOT NULL REFERENCES bench(bench), device TEXT NOT NULL, at_ms INTEGER NOT NULL,
  sensor TEXT NOT NULL,
  unit TEXT NOT NULL DEFAULT '{}' CHECK (json_valid(unit)), formula TEXT NOT NULL DEFAULT '', due_ms INTEGER, note TEXT NOT NULL DEFAULT '') STRICT;
CREATE INDEX calibration_device ON calibration(bench, device, at_ms);
CREATE TABLE cartridge (id TEXT PRIMARY KEY NOT NULL, bench TEXT NOT NULL REFERENCES bench(bench), name TEXT NOT NULL, type TEXT NOT NULL, fitted_ms INTEGER NOT NULL,
  opened_ms INTEGER, changed_ms INTEGER, hours_used REAL, note TEXT NOT NULL DEFAULT '') STRICT;
CREATE TABLE cautions (id TEXT PRIMARY KEY NOT NULL, bench TEXT NOT NULL REFERENCES bench(bench), evening TEXT NOT NULL, person TEXT NOT NULL, at_ms INTEGER NOT NULL,
  cautions TEXT NOT NULL DEFAULT '[]' CHECK (json_valid(cautions))) STRICT;
CREATE TABLE clock_step (id TEXT PRIMARY KEY NOT NULL, bench TEXT NOT NULL REFERENCES bench(bench), at_ms INTEGER NOT NULL, before_ms INTEGER NOT NULL,
  after_ms INTEGER NOT NULL, reason TEXT NOT NULL) STRICT;
CREATE TABLE coat (id TEXT PRIMARY KEY NOT NULL, bench TEXT NOT NULL REFERENCES bench(bench), piece TEXT NOT NULL REFERENCES piece(id), kind TEXT NOT NULL,
  start_ms INTEGER NOT NULL, end_ms INTEGER CHECK (end_ms >= start_ms),
  part TEXT REFERENCES part(id), batch TEXT REFERENCES batch(id),
  airbrush TEXT REFERENCES airbrush(id), booth TEXT REFERENCES booth(id),
  cartridge TEXT REFERENCES cartridge(id), settings TEXT NOT NULL DEFAULT '{}' CHECK (json_valid(settings)), person TEXT, note TEXT NOT NULL DEFAULT '') STRICT;
CREATE INDEX coat_end ON coat(bench, end_ms) WHERE end_ms IS NOT NULL;
CREATE INDEX coat_piece ON coat(piece, start_ms);
CREATE INDEX coat_time ON coat(bench, start_ms);
CREATE TABLE conditions (coat TEXT PRIMARY KEY NOT NULL REFERENCES coat(id),
  bench TEXT NOT NULL REFERENCES bench(bench), from_ms INTEGER NOT NULL, to_ms INTEGER NOT NULL,
  formula TEXT NOT NULL, channels TEXT NOT NULL DEFAULT '[]' CHECK (json_valid(channels)), flags TEXT NOT NULL DEFAULT '[]' CHECK (json_valid(flags)), gaps TEXT NOT NULL DEFAULT '[]' CHECK (json_valid(gaps)),
  since_previous_coat_min REAL, batch_age_min REAL) STRICT;
CREATE TABLE finding (id TEXT PRIMARY KEY NOT NULL, bench TEXT NOT NULL REFERENCES bench(bench), piece TEXT NOT NULL REFERENCES piece(id), defect TEXT NOT NULL,
  at_ms INTEGER NOT NULL, part TEXT REFERENCES part(id), coat TEXT REFERENCES coat(id),
  severity TEXT,
  place TEXT NOT NULL DEFAULT '', photo TEXT REFERENCES photo(id), person TEXT, note TEXT NOT NULL DEFAULT '') STRICT;
CREATE INDEX finding_piece ON finding(piece, at_ms);
CREATE TABLE flag (id TEXT PRIMARY KEY NOT NULL, bench TEXT NOT NULL REFERENCES bench(bench), key TEXT NOT NULL,
  level TEXT NOT NULL CHECK (level IN ('note', 'unknown', 'caution', 'stop')), words TEXT NOT NULL,
  raised_ms INTEGER NOT NULL, title TEXT NOT NULL DEFAULT '', acknowledged_ms INTEGER,
  acknowledged_by TEXT, cleared_ms INTEGER, coat TEXT REFERENCES coat(id)) STRICT;
CREATE INDEX flag_open ON flag(bench) WHERE cleared_ms IS NULL OR acknowledged_ms IS NULL;
CREATE INDEX flag_time ON flag(bench, raised_ms);
CREATE UNIQUE INDEX "idx__sqlite_migrations_migration_set_name"
    ON "_sqlite_migrations" ("migration_set", "name");
CREATE TABLE paint (id TEXT PRIMARY KEY NOT NULL, bench TEXT NOT NULL REFERENCES bench(bench), name TEXT NOT NULL, made_ms INTEGER NOT NULL, type TEXT,
  details TEXT NOT NULL DEFAULT '{}' CHECK (json_valid(details)), note TEXT NOT NULL DEFAULT '') STRICT;
CREATE TABLE part (id TEXT PRIMARY KEY NOT NULL, bench TEXT NOT NULL REFERENCES bench(bench), piece TEXT NOT NULL REFERENCES piece(id), name TEXT NOT NULL,
  target TEXT REFERENCES target(id), note TEXT NOT NULL DEFAULT '') STRICT;
CREATE INDEX part_piece ON part(piece);
CREATE TABLE photo (id TEXT PRIMARY KEY NOT NULL, bench TEXT NOT NULL REFERENCES bench(bench), media_type TEXT NOT NULL, data BLOB NOT NULL,
  at_ms INTEGER NOT NULL) STRICT;
CREATE TABLE piece (id TEXT PRIMARY KEY NOT NULL, bench TEXT NOT NULL REFERENCES bench(bench), name TEXT NOT NULL, made_ms INTEGER NOT NULL, metal TEXT, metal_mm REAL,
  note TEXT NOT NULL DEFAULT '') STRICT;
CREATE TABLE reducer (id TEXT PRIMARY KEY NOT NULL, bench TEXT NOT NULL REFERENCES bench(bench), name TEXT NOT NULL, made_ms INTEGER NOT NULL, solvents TEXT NOT NULL DEFAULT '{}' CHECK (json_valid(solvents)),
  note TEXT NOT NULL DEFAULT '') STRICT;
CREATE TABLE repeat (series INTEGER NOT NULL REFERENCES series(id), at_ms INTEGER NOT NULL,
  value REAL NOT NULL, PRIMARY KEY (series, at_ms, value)) STRICT, WITHOUT ROWID;
CREATE TABLE series (id INTEGER PRIMARY KEY NOT NULL, source INTEGER NOT NULL REFERENCES source(id),
  slot INTEGER NOT NULL, channel TEXT NOT NULL, unit TEXT NOT NULL, decimals INTEGER NOT NULL,
  zero INTEGER NOT NULL, UNIQUE (source, slot)) STRICT;
CREATE TABLE source (id INTEGER PRIMARY KEY NOT NULL, bench TEXT NOT NULL REFERENCES bench(bench),
  device TEXT NOT NULL) STRICT;
CREATE INDEX source_device ON source(bench, device);
CREATE TABLE swatch (id TEXT PRIMARY KEY NOT NULL, bench TEXT NOT NULL REFERENCES bench(bench), device TEXT NOT NULL, at_ms INTEGER NOT NULL, channels TEXT NOT NULL DEFAULT '[]' CHECK (json_valid(channels)),
  counts TEXT NOT NULL DEFAULT '[]' CHECK (json_valid(counts)), white TEXT NOT NULL, lab TEXT CHECK (lab IS NULL OR json_valid(lab)),
  u95_de00 REAL,
  clipped TEXT NOT NULL DEFAULT '[]' CHECK (json_valid(clipped)), wavelength_nm TEXT NOT NULL DEFAULT '[]' CHECK (json_valid(wavelength_nm)), reflectance TEXT NOT NULL DEFAULT '[]' CHECK (json_valid(reflectance)),
  calibration TEXT REFERENCES calibration(id), formula TEXT NOT NULL DEFAULT '',
  target TEXT REFERENCES target(id) DEFERRABLE INITIALLY DEFERRED,
  batch TEXT REFERENCES batch(id), piece TEXT REFERENCES piece(id), part TEXT REFERENCES part(id),
  coat TEXT REFERENCES coat(id), de00 REAL, note TEXT NOT NULL DEFAULT '') STRICT;
CREATE INDEX swatch_batch ON swatch(batch, at_ms) WHERE batch IS NOT NULL;
CREATE INDEX swatch_target ON swatch(target, at_ms) WHERE target IS NOT NULL;
CREATE INDEX swatch_time ON swatch(bench, at_ms);
CREATE TABLE target (id TEXT PRIMARY KEY NOT NULL, bench TEXT NOT NULL REFERENCES bench(bench), name TEXT NOT NULL, lab TEXT NOT NULL DEFAULT '[]' CHECK (json_valid(lab)), white TEXT NOT NULL,
  tolerance_de00 REAL NOT NULL, made_ms INTEGER NOT NULL,
  swatch TEXT REFERENCES swatch(id) DEFERRABLE INITIALLY DEFERRED,
  wavelength_nm TEXT NOT NULL DEFAULT '[]' CHECK (json_valid(wavelength_nm)), reflectance TEXT NOT NULL DEFAULT '[]' CHECK (json_valid(reflectance)), note TEXT NOT NULL DEFAULT '') STRICT;
