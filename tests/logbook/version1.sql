-- A logbook of version 1 as it was: never to be changed.
CREATE TABLE entry (
    id INTEGER PRIMARY KEY AUTOINCREMENT,
    uid TEXT NOT NULL UNIQUE,
    written_at TEXT NOT NULL,
    undone_at TEXT,
    day TEXT NOT NULL,
    venue TEXT NOT NULL DEFAULT '' COLLATE NOCASE,
    event TEXT NOT NULL DEFAULT '' COLLATE NOCASE,
    session TEXT NOT NULL DEFAULT '',
    at TEXT,
    cold_front_left_kpa REAL,
    cold_front_right_kpa REAL,
    cold_rear_left_kpa REAL,
    cold_rear_right_kpa REAL,
    hot_front_left_kpa REAL,
    hot_front_right_kpa REAL,
    hot_rear_left_kpa REAL,
    hot_rear_right_kpa REAL,
    minutes_since_stop REAL,
    track_temp_c REAL,
    air_temp_c REAL,
    cold_air_temp_c REAL,
    track_state TEXT CHECK (track_state IN ('dry', 'damp', 'wet', 'standing')),
    raining INTEGER CHECK (raining IN (0, 1)),
    tire_set TEXT NOT NULL DEFAULT '' COLLATE NOCASE,
    ran_on TEXT CHECK (ran_on IN ('dry', 'grooved', 'wet')),
    right_tire TEXT CHECK (right_tire IN ('dry', 'grooved', 'wet')),
    laps INTEGER,
    minutes_run REAL,
    alignment TEXT NOT NULL DEFAULT '',
    changes TEXT NOT NULL DEFAULT '',
    decision TEXT NOT NULL DEFAULT '',
    note TEXT NOT NULL DEFAULT '',
    todo TEXT NOT NULL DEFAULT ''
) STRICT;
CREATE INDEX entry_by_venue ON entry (venue, day);
CREATE INDEX entry_by_event ON entry (event, day);
CREATE INDEX entry_by_day ON entry (day);

CREATE TABLE tire_set (
    id INTEGER PRIMARY KEY AUTOINCREMENT,
    uid TEXT NOT NULL UNIQUE,
    name TEXT NOT NULL UNIQUE COLLATE NOCASE CHECK (name <> ''),
    kind TEXT CHECK (kind IN ('dry', 'wet')),
    bought_on TEXT,
    grooved_on TEXT,
    retired_on TEXT,
    laps_before INTEGER,
    heat_cycles_before INTEGER,
    note TEXT NOT NULL DEFAULT ''
) STRICT;

CREATE TABLE history (
    id INTEGER PRIMARY KEY AUTOINCREMENT,
    uid TEXT NOT NULL UNIQUE,
    entry_id INTEGER REFERENCES entry (id),
    set_id INTEGER REFERENCES tire_set (id),
    changed_at TEXT NOT NULL,
    field TEXT NOT NULL,
    old ANY,
    new ANY,
    CHECK ((entry_id IS NULL) <> (set_id IS NULL))
) STRICT;
CREATE INDEX history_by_entry ON history (entry_id);
CREATE INDEX history_by_set ON history (set_id);

INSERT INTO entry (uid, written_at, day, venue, event, session, hot_front_left_kpa, tire_set, ran_on,
    laps, note, todo) VALUES ('00000000000000000000000000000001', '2026-05-16T14:20:00Z', '2026-05-16',
    'Tamarack Hollow', 'Spring Double', 'Q1', 214.5, 'Dry A', 'dry', 9, 'loose in 3', 'order pads');
INSERT INTO entry (uid, written_at, undone_at, day, note) VALUES ('00000000000000000000000000000002',
    '2026-05-16T14:21:00Z', '2026-05-16T14:22:00Z', '2026-05-16', 'typed twice');
INSERT INTO tire_set (uid, name, kind, bought_on) VALUES ('00000000000000000000000000000003', 'Dry A',
    'dry', '2026-03-01');
INSERT INTO history (uid, entry_id, changed_at, field, old, new) VALUES
    ('00000000000000000000000000000004', 1, '2026-05-16T15:00:00Z', 'laps', 8, 9);

PRAGMA application_id = 1953653858;
PRAGMA user_version = 1;
