"""The shape of the database, one step at a time. Add at the end; never edit a step."""

from __future__ import annotations

from sqlite_utils import Database, Migrations

migrations = Migrations("benchside")


@migrations(name="0001_shop")
def shop(db: Database) -> None:
    db.executescript(
        """
        CREATE TABLE setting (
            name TEXT PRIMARY KEY,
            value TEXT NOT NULL
        ) STRICT, WITHOUT ROWID;

        INSERT INTO setting (name, value) VALUES ('database_id', lower(hex(randomblob(16))));

        CREATE TABLE device (
            id INTEGER PRIMARY KEY,
            name TEXT NOT NULL CHECK (name <> ''),
            secret_hash TEXT NOT NULL UNIQUE CHECK (length(secret_hash) = 64),
            paired_at TEXT NOT NULL,
            last_seen_at TEXT NOT NULL,
            shut_out_at TEXT
        ) STRICT;
        """
    )


@migrations(name="0002_patterns")
def patterns(db: Database) -> None:
    # A revision is never changed once made: a set keeps the revision it was turned to.
    db.executescript(
        """
        CREATE TABLE pattern (
            id INTEGER PRIMARY KEY,
            name TEXT NOT NULL CHECK (name <> ''),
            note TEXT NOT NULL DEFAULT '',
            step_order TEXT NOT NULL DEFAULT '[]' CHECK (json_valid(step_order)),
            speeds TEXT NOT NULL DEFAULT '{}' CHECK (json_valid(speeds)),
            next_station INTEGER NOT NULL DEFAULT 1 CHECK (next_station > 0),
            made_at TEXT NOT NULL,
            archived_at TEXT
        ) STRICT;

        CREATE TABLE revision (
            pattern_id INTEGER NOT NULL REFERENCES pattern (id),
            revision INTEGER NOT NULL CHECK (revision > 0),
            datum_end TEXT NOT NULL CHECK (datum_end IN ('tail', 'drive')),
            made_at TEXT NOT NULL,
            reason TEXT NOT NULL DEFAULT '',
            PRIMARY KEY (pattern_id, revision)
        ) STRICT, WITHOUT ROWID;

        CREATE TABLE station (
            pattern_id INTEGER NOT NULL,
            revision INTEGER NOT NULL,
            row INTEGER NOT NULL CHECK (row > 0),
            id TEXT NOT NULL CHECK (id <> ''),
            at_mm REAL NOT NULL CHECK (at_mm >= 0 AND at_mm < 1e6),
            diameter_mm REAL NOT NULL CHECK (diameter_mm > 0 AND diameter_mm < 1e6),
            name TEXT NOT NULL,
            kind TEXT NOT NULL CHECK (kind IN ('tenon', 'slender', 'decorative')),
            tolerance_mm REAL CHECK (tolerance_mm > 0),
            position_tolerance_mm REAL CHECK (position_tolerance_mm > 0),
            form TEXT CHECK (form IN ('straight', 'taper', 'cove', 'bead', 'shoulder')),
            through_mm REAL CHECK (through_mm > 0),
            PRIMARY KEY (pattern_id, revision, row),
            UNIQUE (pattern_id, revision, id),
            FOREIGN KEY (pattern_id, revision) REFERENCES revision (pattern_id, revision)
        ) STRICT, WITHOUT ROWID;
        """
    )


@migrations(name="0003_sets")
def sets(db: Database) -> None:
    db.executescript(
        """
        CREATE TABLE spindle_set (
            id INTEGER PRIMARY KEY,
            name TEXT NOT NULL CHECK (name <> ''),
            note TEXT NOT NULL DEFAULT '',
            pattern_id INTEGER NOT NULL,
            revision INTEGER NOT NULL,
            wanted INTEGER NOT NULL CHECK (wanted BETWEEN 1 AND 400),
            spares INTEGER NOT NULL CHECK (spares BETWEEN 0 AND 100),
            unit TEXT NOT NULL CHECK (unit IN ('mm', 'in', 'in/16', 'in/64')),
            habit TEXT NOT NULL CHECK (habit IN ('piece', 'stage')),
            tenon_mm REAL NOT NULL CHECK (tenon_mm > 0),
            slender_mm REAL NOT NULL CHECK (slender_mm > 0),
            decorative_mm REAL NOT NULL CHECK (decorative_mm > 0),
            position_mm REAL NOT NULL CHECK (position_mm > 0),
            calipers INTEGER NOT NULL CHECK (calipers BETWEEN 1 AND 26),
            headstock TEXT NOT NULL DEFAULT 'left' CHECK (headstock IN ('left', 'right')),
            made_at TEXT NOT NULL,
            archived_at TEXT,
            FOREIGN KEY (pattern_id, revision) REFERENCES revision (pattern_id, revision)
        ) STRICT;

        -- Numbers are never used again, so a row is never deleted.
        CREATE TABLE spindle (
            set_id INTEGER NOT NULL REFERENCES spindle_set (id),
            number INTEGER NOT NULL CHECK (number > 0),
            practice INTEGER NOT NULL DEFAULT 0 CHECK (practice IN (0, 1)),
            PRIMARY KEY (set_id, number)
        ) STRICT, WITHOUT ROWID;
        """
    )


@migrations(name="0004_readings")
def readings(db: Database) -> None:
    # Rows are only ever added. A correction is a new row that supersedes; the id is the order
    # of arrival; taken_at is the phone's clock put right by its offset from this one.
    db.executescript(
        """
        CREATE TABLE reading (
            id INTEGER PRIMARY KEY AUTOINCREMENT,
            key TEXT NOT NULL UNIQUE CHECK (length(key) = 32 AND key NOT GLOB '*[^0-9a-f]*'),
            set_id INTEGER NOT NULL,
            spindle INTEGER NOT NULL,
            station_id TEXT NOT NULL CHECK (station_id <> ''),
            revision INTEGER NOT NULL,
            kind TEXT NOT NULL CHECK (kind IN ('diameter', 'position')),
            axis TEXT NOT NULL CHECK (axis IN ('none', 'A', 'B')),
            phase TEXT NOT NULL CHECK (phase IN ('sizing', 'final')),
            state TEXT NOT NULL CHECK (state IN ('green', 'dry')),
            typed TEXT NOT NULL,
            unit TEXT NOT NULL CHECK (unit IN ('mm', 'in', 'in/16', 'in/64')),
            value_mm REAL NOT NULL CHECK (value_mm >= 0 AND value_mm < 1e6),
            target_mm REAL NOT NULL CHECK (target_mm >= 0 AND target_mm < 1e6),
            taken_at TEXT NOT NULL,
            received_at TEXT NOT NULL,
            device_id INTEGER REFERENCES device (id),
            supersedes TEXT REFERENCES reading (key),
            note TEXT NOT NULL DEFAULT '',
            FOREIGN KEY (set_id, spindle) REFERENCES spindle (set_id, number)
        ) STRICT;
        CREATE INDEX reading_of_set ON reading (set_id, spindle, station_id);
        CREATE INDEX reading_supersedes ON reading (supersedes) WHERE supersedes IS NOT NULL;

        CREATE TABLE mark (
            id INTEGER PRIMARY KEY AUTOINCREMENT,
            key TEXT NOT NULL UNIQUE CHECK (length(key) = 32 AND key NOT GLOB '*[^0-9a-f]*'),
            set_id INTEGER NOT NULL,
            spindle INTEGER,
            what TEXT NOT NULL CHECK (what IN ('step', 'skip', 'note', 'spoiled', 'mend', 'odd',
                'spare', 'sound', 'done', 'reopened', 'touched_up', 'caliper_checked',
                'caliper_dropped', 'withdrawn')),
            step_id TEXT NOT NULL DEFAULT '',
            about TEXT NOT NULL DEFAULT '',
            text TEXT NOT NULL DEFAULT '',
            taken_at TEXT NOT NULL,
            received_at TEXT NOT NULL,
            device_id INTEGER REFERENCES device (id),
            FOREIGN KEY (set_id, spindle) REFERENCES spindle (set_id, number)
        ) STRICT;
        CREATE INDEX mark_of_set ON mark (set_id, spindle);
        """
    )


@migrations(name="0005_judging")
def judging(db: Database) -> None:
    # What a set is judged by besides its readings: the calipers tested, the pieces pinned and
    # chosen, what is to be remembered of how it was made, and originals measured to be matched.
    db.executescript(
        """
        CREATE TABLE repeat_test (
            id INTEGER PRIMARY KEY AUTOINCREMENT,
            unit TEXT NOT NULL CHECK (unit IN ('mm', 'in', 'in/16', 'in/64')),
            step_mm REAL NOT NULL CHECK (step_mm > 0 AND step_mm < 10),
            begun_at TEXT NOT NULL
        ) STRICT;

        -- Of several rows with the same place and turn the newest counts: it corrects the others.
        CREATE TABLE repeat_reading (
            id INTEGER PRIMARY KEY AUTOINCREMENT,
            test_id INTEGER NOT NULL REFERENCES repeat_test (id),
            place INTEGER NOT NULL CHECK (place > 0),
            turn INTEGER NOT NULL CHECK (turn > 0),
            typed TEXT NOT NULL,
            value_mm REAL NOT NULL CHECK (value_mm > 0 AND value_mm < 1e6),
            taken_at TEXT NOT NULL
        ) STRICT;
        CREATE INDEX repeat_reading_of_test ON repeat_reading (test_id);

        CREATE TABLE pinned (
            set_id INTEGER NOT NULL,
            spindle INTEGER NOT NULL,
            place INTEGER CHECK (place > 0),
            PRIMARY KEY (set_id, spindle),
            UNIQUE (set_id, place),
            FOREIGN KEY (set_id, spindle) REFERENCES spindle (set_id, number)
        ) STRICT, WITHOUT ROWID;

        CREATE TABLE as_made (
            set_id INTEGER PRIMARY KEY REFERENCES spindle_set (id),
            wood TEXT NOT NULL DEFAULT '',
            bits TEXT NOT NULL DEFAULT '',
            finish TEXT NOT NULL DEFAULT '',
            note TEXT NOT NULL DEFAULT ''
        ) STRICT;

        CREATE TABLE mistake (
            id INTEGER PRIMARY KEY AUTOINCREMENT,
            key TEXT NOT NULL UNIQUE CHECK (length(key) = 32 AND key NOT GLOB '*[^0-9a-f]*'),
            set_id INTEGER NOT NULL REFERENCES spindle_set (id),
            what TEXT NOT NULL CHECK (what <> ''),
            cure TEXT NOT NULL DEFAULT '',
            noted_at TEXT NOT NULL
        ) STRICT;
        CREATE INDEX mistake_of_set ON mistake (set_id);

        CREATE TABLE original (
            id INTEGER PRIMARY KEY AUTOINCREMENT,
            name TEXT NOT NULL CHECK (name <> ''),
            note TEXT NOT NULL DEFAULT '',
            unit TEXT NOT NULL CHECK (unit IN ('mm', 'in', 'in/16', 'in/64')),
            datum_end TEXT NOT NULL CHECK (datum_end IN ('tail', 'drive')),
            pieces INTEGER NOT NULL CHECK (pieces BETWEEN 1 AND 100),
            next_station INTEGER NOT NULL CHECK (next_station > 0),
            pattern_id INTEGER REFERENCES pattern (id),
            made_at TEXT NOT NULL
        ) STRICT;

        -- The ids are those the pattern's stations get, so what was read stays with its place.
        CREATE TABLE original_station (
            original_id INTEGER NOT NULL REFERENCES original (id),
            id TEXT NOT NULL CHECK (id <> ''),
            at_mm REAL NOT NULL CHECK (at_mm >= 0 AND at_mm < 1e6),
            name TEXT NOT NULL,
            kind TEXT NOT NULL CHECK (kind IN ('tenon', 'slender', 'decorative')),
            form TEXT NOT NULL
                CHECK (form IN ('straight', 'taper', 'cove', 'bead', 'shoulder')),
            PRIMARY KEY (original_id, id)
        ) STRICT, WITHOUT ROWID;

        -- Rows are only ever added; one that was wrong is struck out and stays.
        CREATE TABLE original_reading (
            id INTEGER PRIMARY KEY AUTOINCREMENT,
            key TEXT NOT NULL UNIQUE CHECK (length(key) = 32 AND key NOT GLOB '*[^0-9a-f]*'),
            original_id INTEGER NOT NULL REFERENCES original (id),
            piece INTEGER NOT NULL CHECK (piece > 0),
            place_id TEXT NOT NULL CHECK (place_id <> ''),
            axis TEXT NOT NULL CHECK (axis IN ('A', 'B')),
            typed TEXT NOT NULL,
            unit TEXT NOT NULL CHECK (unit IN ('mm', 'in', 'in/16', 'in/64')),
            value_mm REAL NOT NULL CHECK (value_mm > 0 AND value_mm < 1e6),
            taken_at TEXT NOT NULL,
            struck_at TEXT
        ) STRICT;
        CREATE INDEX original_reading_of ON original_reading (original_id, piece);
        """
    )


@migrations(name="0006_fit")
def fit(db: Database) -> None:
    # What comes after turning: sizes read again when dry and when a tenon is brought to its fit;
    # test holes of the shop; the parts of a set with their holes, and what goes into which.
    db.executescript(
        """
        -- Of several rows of one cell the newest counts; a slip is struck out and stays.
        CREATE TABLE later_reading (
            id INTEGER PRIMARY KEY AUTOINCREMENT,
            key TEXT NOT NULL UNIQUE CHECK (length(key) = 32 AND key NOT GLOB '*[^0-9a-f]*'),
            set_id INTEGER NOT NULL,
            spindle INTEGER NOT NULL,
            station_id TEXT NOT NULL CHECK (station_id <> ''),
            what TEXT NOT NULL CHECK (what IN ('dry', 'sized')),
            axis TEXT NOT NULL CHECK (axis IN ('A', 'B')),
            typed TEXT NOT NULL,
            unit TEXT NOT NULL CHECK (unit IN ('mm', 'in', 'in/16', 'in/64')),
            value_mm REAL NOT NULL CHECK (value_mm > 0 AND value_mm < 1e6),
            expected_mm REAL CHECK (expected_mm > 0 AND expected_mm < 1e6),
            moisture REAL NOT NULL CHECK (moisture BETWEEN 0 AND 250),
            taken_at TEXT NOT NULL,
            struck_at TEXT,
            FOREIGN KEY (set_id, spindle) REFERENCES spindle (set_id, number)
        ) STRICT;
        CREATE INDEX later_reading_of_set ON later_reading (set_id, spindle);

        -- The log a set's wood is from, in the maker's words: sets that share one learn together.
        CREATE TABLE log_of (
            set_id INTEGER PRIMARY KEY REFERENCES spindle_set (id),
            log TEXT NOT NULL CHECK (log <> '')
        ) STRICT;

        CREATE TABLE test_hole (
            key TEXT PRIMARY KEY CHECK (length(key) = 32 AND key NOT GLOB '*[^0-9a-f]*'),
            bit TEXT NOT NULL CHECK (bit <> ''),
            named_mm REAL NOT NULL CHECK (named_mm > 0 AND named_mm < 1000),
            species TEXT NOT NULL DEFAULT '',
            depth_mm REAL CHECK (depth_mm > 0 AND depth_mm < 10000),
            unit TEXT NOT NULL CHECK (unit IN ('mm', 'in', 'in/16', 'in/64')),
            note TEXT NOT NULL DEFAULT '',
            uses INTEGER NOT NULL DEFAULT 0 CHECK (uses >= 0),
            bored_at TEXT NOT NULL,
            worn_at TEXT
        ) STRICT, WITHOUT ROWID;

        CREATE TABLE hole_reading (
            id INTEGER PRIMARY KEY AUTOINCREMENT,
            key TEXT NOT NULL UNIQUE CHECK (length(key) = 32 AND key NOT GLOB '*[^0-9a-f]*'),
            hole TEXT NOT NULL REFERENCES test_hole (key),
            axis TEXT NOT NULL CHECK (axis IN ('A', 'B')),
            typed TEXT NOT NULL,
            unit TEXT NOT NULL CHECK (unit IN ('mm', 'in', 'in/16', 'in/64')),
            value_mm REAL NOT NULL CHECK (value_mm > 0 AND value_mm < 1000),
            taken_at TEXT NOT NULL,
            struck_at TEXT
        ) STRICT;
        CREATE INDEX hole_reading_of ON hole_reading (hole);

        -- across: how the part shrinks across its grain at the mouth of the hole.
        CREATE TABLE part (
            key TEXT PRIMARY KEY CHECK (length(key) = 32 AND key NOT GLOB '*[^0-9a-f]*'),
            set_id INTEGER NOT NULL REFERENCES spindle_set (id),
            name TEXT NOT NULL CHECK (name <> ''),
            species TEXT NOT NULL CHECK (species <> ''),
            moisture REAL NOT NULL CHECK (moisture BETWEEN 0 AND 250),
            across TEXT NOT NULL CHECK (across IN ('tangential', 'radial', 'between')),
            tenon TEXT NOT NULL CHECK (tenon <> ''),
            test_hole TEXT REFERENCES test_hole (key),
            school TEXT NOT NULL,
            own_fit_mm REAL CHECK (own_fit_mm BETWEEN -5 AND 5),
            tenon_moisture REAL NOT NULL CHECK (tenon_moisture BETWEEN 0 AND 250),
            turning TEXT NOT NULL CHECK (turning IN ('along', 'across')),
            made_at TEXT NOT NULL,
            UNIQUE (set_id, tenon)
        ) STRICT, WITHOUT ROWID;

        CREATE TABLE mortise_reading (
            id INTEGER PRIMARY KEY AUTOINCREMENT,
            key TEXT NOT NULL UNIQUE CHECK (length(key) = 32 AND key NOT GLOB '*[^0-9a-f]*'),
            part TEXT NOT NULL REFERENCES part (key),
            hole INTEGER NOT NULL CHECK (hole > 0),
            axis TEXT NOT NULL CHECK (axis IN ('A', 'B')),
            typed TEXT NOT NULL,
            unit TEXT NOT NULL CHECK (unit IN ('mm', 'in', 'in/16', 'in/64')),
            value_mm REAL NOT NULL CHECK (value_mm > 0 AND value_mm < 1000),
            taken_at TEXT NOT NULL,
            struck_at TEXT
        ) STRICT;
        CREATE INDEX mortise_reading_of ON mortise_reading (part, hole);

        CREATE TABLE hole_of (
            set_id INTEGER NOT NULL,
            spindle INTEGER NOT NULL,
            hole INTEGER NOT NULL CHECK (hole > 0),
            PRIMARY KEY (set_id, spindle),
            UNIQUE (set_id, hole),
            FOREIGN KEY (set_id, spindle) REFERENCES spindle (set_id, number)
        ) STRICT, WITHOUT ROWID;

        CREATE TABLE fitted (
            set_id INTEGER NOT NULL,
            spindle INTEGER NOT NULL,
            tenon TEXT NOT NULL CHECK (tenon <> ''),
            at TEXT NOT NULL,
            PRIMARY KEY (set_id, spindle, tenon),
            FOREIGN KEY (set_id, spindle) REFERENCES spindle (set_id, number)
        ) STRICT, WITHOUT ROWID;
        """
    )


@migrations(name="0007_tools")
def tools(db: Database) -> None:
    # The calipers a maker owns; how a set's wood wears the edges; taps found by their moment.
    db.executescript(
        """
        CREATE TABLE caliper (
            letter TEXT PRIMARY KEY CHECK (length(letter) = 1 AND letter BETWEEN 'A' AND 'Z'),
            kind TEXT NOT NULL CHECK (kind IN ('spring', 'firm', 'sliding', 'fixed')),
            least_mm REAL NOT NULL CHECK (least_mm >= 0 AND least_mm < 1e6),
            most_mm REAL NOT NULL CHECK (most_mm >= least_mm AND most_mm > 0 AND most_mm < 1e6),
            name TEXT NOT NULL DEFAULT ''
        ) STRICT, WITHOUT ROWID;

        ALTER TABLE spindle_set ADD COLUMN cuts TEXT NOT NULL DEFAULT 'ordinary'
            CHECK (cuts IN ('ordinary', 'hard', 'abrasive'));

        CREATE INDEX reading_at ON reading (taken_at);
        CREATE INDEX mark_at ON mark (taken_at);
        """
    )


@migrations(name="0008_stock")
def stock(db: Database) -> None:
    # Boards and logs, the blank a set needs, and where each numbered piece came from.
    db.executescript(
        """
        CREATE TABLE board (
            id INTEGER PRIMARY KEY AUTOINCREMENT,
            key TEXT NOT NULL UNIQUE CHECK (length(key) = 32 AND key NOT GLOB '*[^0-9a-f]*'),
            set_id INTEGER REFERENCES spindle_set (id),
            name TEXT NOT NULL CHECK (name <> ''),
            note TEXT NOT NULL DEFAULT '',
            unit TEXT NOT NULL CHECK (unit IN ('mm', 'in', 'in/16', 'in/64')),
            length_mm REAL NOT NULL CHECK (length_mm > 0 AND length_mm < 1e6),
            width_mm REAL NOT NULL CHECK (width_mm > 0 AND width_mm < 1e6),
            thickness_mm REAL NOT NULL CHECK (thickness_mm > 0 AND thickness_mm < 1e6),
            kerf_mm REAL NOT NULL CHECK (kerf_mm >= 0 AND kerf_mm < 100),
            trim_left_mm REAL NOT NULL CHECK (trim_left_mm >= 0 AND trim_left_mm < 1e6),
            trim_right_mm REAL NOT NULL CHECK (trim_right_mm >= 0 AND trim_right_mm < 1e6),
            near_mm REAL NOT NULL CHECK (near_mm >= 0 AND near_mm < 1e6),
            far_mm REAL NOT NULL CHECK (far_mm >= 0 AND far_mm < 1e6),
            grain_slope REAL NOT NULL CHECK (grain_slope BETWEEN -1 AND 1),
            resawn INTEGER NOT NULL CHECK (resawn IN (0, 1)),
            blank_length_mm REAL CHECK (blank_length_mm > 0 AND blank_length_mm < 1e6),
            blank_side_mm REAL CHECK (blank_side_mm > 0 AND blank_side_mm < 1e6),
            made_at TEXT NOT NULL,
            archived_at TEXT
        ) STRICT;
        CREATE INDEX board_of_set ON board (set_id) WHERE set_id IS NOT NULL;

        -- Seen through face one from its left end and near edge. One that is tried is left out of
        -- the planning, to see what the board would give without it.
        CREATE TABLE knot (
            board_id INTEGER NOT NULL REFERENCES board (id),
            row INTEGER NOT NULL CHECK (row > 0),
            kind TEXT NOT NULL CHECK (kind IN ('knot', 'check')),
            face TEXT NOT NULL CHECK (face IN ('one', 'two', 'both')),
            at_mm REAL NOT NULL CHECK (at_mm > -1e6 AND at_mm < 1e6),
            across_mm REAL NOT NULL CHECK (across_mm > -1e6 AND across_mm < 1e6),
            length_mm REAL NOT NULL CHECK (length_mm >= 0 AND length_mm < 1e6),
            width_mm REAL NOT NULL CHECK (width_mm >= 0 AND width_mm < 1e6),
            depth_mm REAL CHECK (depth_mm > 0 AND depth_mm < 1e6),
            tried INTEGER NOT NULL CHECK (tried IN (0, 1)),
            PRIMARY KEY (board_id, row)
        ) STRICT, WITHOUT ROWID;

        CREATE TABLE board_pin (
            board_id INTEGER NOT NULL REFERENCES board (id),
            row INTEGER NOT NULL CHECK (row > 0),
            at_mm REAL NOT NULL CHECK (at_mm > -1e6 AND at_mm < 1e6),
            across_mm REAL NOT NULL CHECK (across_mm > -1e6 AND across_mm < 1e6),
            need INTEGER NOT NULL CHECK (need >= 0),
            PRIMARY KEY (board_id, row)
        ) STRICT, WITHOUT ROWID;

        CREATE TABLE log (
            id INTEGER PRIMARY KEY AUTOINCREMENT,
            key TEXT NOT NULL UNIQUE CHECK (length(key) = 32 AND key NOT GLOB '*[^0-9a-f]*'),
            set_id INTEGER REFERENCES spindle_set (id),
            name TEXT NOT NULL CHECK (name <> ''),
            note TEXT NOT NULL DEFAULT '',
            unit TEXT NOT NULL CHECK (unit IN ('mm', 'in', 'in/16', 'in/64')),
            length_mm REAL NOT NULL CHECK (length_mm > 0 AND length_mm < 1e6),
            large_mm REAL NOT NULL CHECK (large_mm > 0 AND large_mm < 1e6),
            small_mm REAL NOT NULL CHECK (small_mm > 0 AND small_mm < 1e6),
            bark_mm REAL NOT NULL CHECK (bark_mm >= 0 AND bark_mm < 1e6),
            sapwood_mm REAL NOT NULL CHECK (sapwood_mm >= 0 AND sapwood_mm < 1e6),
            keep_sapwood INTEGER NOT NULL CHECK (keep_sapwood IN (0, 1)),
            pith_mm REAL NOT NULL CHECK (pith_mm >= 0 AND pith_mm < 1e6),
            end_mm REAL NOT NULL CHECK (end_mm >= 0 AND end_mm < 1e6),
            kerf_mm REAL NOT NULL CHECK (kerf_mm >= 0 AND kerf_mm < 100),
            over_mm REAL NOT NULL CHECK (over_mm >= 0 AND over_mm < 1e3),
            way TEXT NOT NULL CHECK (way IN ('sectors', 'grid')),
            blank_length_mm REAL CHECK (blank_length_mm > 0 AND blank_length_mm < 1e6),
            blank_side_mm REAL CHECK (blank_side_mm > 0 AND blank_side_mm < 1e6),
            made_at TEXT NOT NULL,
            archived_at TEXT
        ) STRICT;
        CREATE INDEX log_of_set ON log (set_id) WHERE set_id IS NOT NULL;

        -- What a maker changed of the blank that was proposed; null is as proposed.
        CREATE TABLE set_stock (
            set_id INTEGER PRIMARY KEY REFERENCES spindle_set (id),
            route TEXT NOT NULL CHECK (route IN ('dry_close', 'dry', 'split', 'split_rough')),
            length_mm REAL CHECK (length_mm > 0 AND length_mm < 1e6),
            side_mm REAL CHECK (side_mm > 0 AND side_mm < 1e6),
            more_percent REAL NOT NULL CHECK (more_percent BETWEEN 0 AND 300)
        ) STRICT;

        -- Other sizes wanted from the same boards.
        CREATE TABLE need (
            set_id INTEGER NOT NULL REFERENCES spindle_set (id),
            row INTEGER NOT NULL CHECK (row > 0),
            name TEXT NOT NULL CHECK (name <> ''),
            length_mm REAL NOT NULL CHECK (length_mm > 0 AND length_mm < 1e6),
            side_mm REAL NOT NULL CHECK (side_mm > 0 AND side_mm < 1e6),
            wanted INTEGER NOT NULL CHECK (wanted BETWEEN 1 AND 10000),
            priority INTEGER NOT NULL CHECK (priority BETWEEN 1 AND 9),
            PRIMARY KEY (set_id, row)
        ) STRICT, WITHOUT ROWID;

        -- A blank as sawn or split: a numbered piece, or one not numbered yet. On a board its
        -- corner; in a log where its bolt begins and the middle of its section on the end grain.
        CREATE TABLE blank (
            set_id INTEGER NOT NULL REFERENCES spindle_set (id),
            label INTEGER NOT NULL CHECK (label > 0),
            spindle INTEGER,
            board_id INTEGER REFERENCES board (id),
            log_id INTEGER REFERENCES log (id),
            at_mm REAL NOT NULL CHECK (at_mm > -1e6 AND at_mm < 1e6),
            across_mm REAL NOT NULL CHECK (across_mm > -1e6 AND across_mm < 1e6),
            deep_mm REAL NOT NULL CHECK (deep_mm > -1e6 AND deep_mm < 1e6),
            length_mm REAL NOT NULL CHECK (length_mm > 0 AND length_mm < 1e6),
            side_mm REAL NOT NULL CHECK (side_mm > 0 AND side_mm < 1e6),
            turned_deg REAL NOT NULL CHECK (turned_deg BETWEEN -360 AND 360),
            ring_deg REAL CHECK (ring_deg BETWEEN 0 AND 180),
            sawn_at TEXT NOT NULL,
            PRIMARY KEY (set_id, label),
            UNIQUE (set_id, spindle),
            CHECK ((board_id IS NULL) <> (log_id IS NULL)),
            FOREIGN KEY (set_id, spindle) REFERENCES spindle (set_id, number)
        ) STRICT, WITHOUT ROWID;
        """
    )


@migrations(name="0009_wood")
def wood(db: Database) -> None:
    # What sets are made of and how they dry. What was said of a set's wood is never changed: a
    # piece keeps the sizes of the saying it was mounted by.
    db.executescript(
        """
        CREATE TABLE own_species (
            name TEXT PRIMARY KEY COLLATE NOCASE CHECK (name <> ''),
            botanical_name TEXT NOT NULL DEFAULT '',
            radial_percent REAL NOT NULL CHECK (radial_percent > 0 AND radial_percent <= 30),
            tangential_percent REAL NOT NULL
                CHECK (tangential_percent > 0 AND tangential_percent <= 30),
            gravity_green REAL CHECK (gravity_green > 0 AND gravity_green <= 1.5),
            green_percent REAL CHECK (green_percent > 0 AND green_percent <= 250),
            made_at TEXT NOT NULL
        ) STRICT, WITHOUT ROWID;

        CREATE TABLE set_wood (
            set_id INTEGER NOT NULL REFERENCES spindle_set (id),
            nth INTEGER NOT NULL CHECK (nth > 0),
            species TEXT NOT NULL CHECK (species <> ''),
            radial_percent REAL NOT NULL CHECK (radial_percent BETWEEN 0 AND 30),
            tangential_percent REAL NOT NULL CHECK (tangential_percent BETWEEN 0 AND 30),
            learned INTEGER NOT NULL CHECK (learned IN (0, 1)),
            state TEXT NOT NULL CHECK (state IN ('green', 'air-dry', 'kiln-dry', 'figure')),
            moisture REAL NOT NULL CHECK (moisture BETWEEN 0 AND 250),
            route TEXT NOT NULL CHECK (route IN ('green', 'rough', 'dry')),
            climate TEXT NOT NULL,
            winter_c REAL,
            winter_rh REAL,
            summer_c REAL,
            summer_rh REAL,
            driest_mc REAL NOT NULL CHECK (driest_mc BETWEEN 0 AND 250),
            dampest_mc REAL NOT NULL CHECK (dampest_mc BETWEEN 0 AND 250),
            dry_mc REAL NOT NULL CHECK (dry_mc BETWEEN 0 AND 250),
            sizing_mm REAL NOT NULL CHECK (sizing_mm BETWEEN 0 AND 10),
            rough_mm REAL NOT NULL CHECK (rough_mm BETWEEN 0 AND 50),
            given_at TEXT NOT NULL,
            PRIMARY KEY (set_id, nth)
        ) STRICT, WITHOUT ROWID;

        CREATE TABLE spindle_wood (
            id INTEGER PRIMARY KEY AUTOINCREMENT,
            set_id INTEGER NOT NULL,
            spindle INTEGER NOT NULL,
            nth INTEGER,
            at TEXT NOT NULL,
            FOREIGN KEY (set_id, spindle) REFERENCES spindle (set_id, number),
            FOREIGN KEY (set_id, nth) REFERENCES set_wood (set_id, nth)
        ) STRICT;
        CREATE INDEX spindle_wood_of_set ON spindle_wood (set_id);

        CREATE TABLE drying_room (
            set_id INTEGER PRIMARY KEY REFERENCES spindle_set (id),
            temperature_c REAL NOT NULL,
            rh_percent REAL NOT NULL CHECK (rh_percent >= 0 AND rh_percent < 100),
            diffusion_m2_s REAL CHECK (diffusion_m2_s > 0)
        ) STRICT;

        CREATE TABLE oven_slice (
            key TEXT PRIMARY KEY CHECK (length(key) = 32 AND key NOT GLOB '*[^0-9a-f]*'),
            set_id INTEGER NOT NULL REFERENCES spindle_set (id),
            unit TEXT NOT NULL CHECK (unit IN ('g', 'oz')),
            wet_g REAL NOT NULL CHECK (wet_g > 0 AND wet_g < 1e6),
            dry_g REAL CHECK (dry_g > 0 AND dry_g <= wet_g),
            cut_at TEXT NOT NULL,
            struck_at TEXT
        ) STRICT, WITHOUT ROWID;

        CREATE TABLE weighing (
            id INTEGER PRIMARY KEY AUTOINCREMENT,
            key TEXT NOT NULL UNIQUE CHECK (length(key) = 32 AND key NOT GLOB '*[^0-9a-f]*'),
            set_id INTEGER NOT NULL,
            spindle INTEGER NOT NULL,
            typed TEXT NOT NULL,
            unit TEXT NOT NULL CHECK (unit IN ('g', 'oz')),
            mass_g REAL NOT NULL CHECK (mass_g > 0 AND mass_g < 1e6),
            taken_at TEXT NOT NULL,
            struck_at TEXT,
            FOREIGN KEY (set_id, spindle) REFERENCES spindle (set_id, number)
        ) STRICT;
        CREATE INDEX weighing_of_set ON weighing (set_id, spindle);

        CREATE TABLE drying_mark (
            id INTEGER PRIMARY KEY AUTOINCREMENT,
            key TEXT NOT NULL UNIQUE CHECK (length(key) = 32 AND key NOT GLOB '*[^0-9a-f]*'),
            set_id INTEGER NOT NULL,
            spindle INTEGER,
            what TEXT NOT NULL CHECK (what IN ('dried', 'sized', 'fitted')),
            at TEXT NOT NULL,
            FOREIGN KEY (set_id, spindle) REFERENCES spindle (set_id, number)
        ) STRICT;
        CREATE INDEX drying_mark_of_set ON drying_mark (set_id);
        """
    )


@migrations(name="0010_saturation")
def saturation(db: Database) -> None:
    # What was said before was reckoned with 30 % for every species, and stays so.
    db.execute(
        "ALTER TABLE set_wood ADD COLUMN saturation_percent REAL NOT NULL DEFAULT 30"
        " CHECK (saturation_percent BETWEEN 10 AND 50)"
    )


@migrations(name="0011_routes")
def routes(db: Database) -> None:
    # A way that nobody chose follows the wood; boards may be sawn green.
    db.executescript(
        """
        ALTER TABLE set_stock RENAME TO set_stock_before;
        CREATE TABLE set_stock (
            set_id INTEGER PRIMARY KEY REFERENCES spindle_set (id),
            route TEXT CHECK (route IN
                ('dry_close', 'dry', 'sawn_green', 'sawn_rough', 'split', 'split_rough')),
            length_mm REAL CHECK (length_mm > 0 AND length_mm < 1e6),
            side_mm REAL CHECK (side_mm > 0 AND side_mm < 1e6),
            more_percent REAL NOT NULL CHECK (more_percent BETWEEN 0 AND 300)
        ) STRICT;
        INSERT INTO set_stock SELECT * FROM set_stock_before;
        DROP TABLE set_stock_before;
        """
    )


@migrations(name="0012_section_name")
def section_name(db: Database) -> None:
    # Of the bead or cove that begins there, where it is not called as the station is.
    db.execute("ALTER TABLE station ADD COLUMN section_name TEXT NOT NULL DEFAULT ''")


@migrations(name="0013_named_typed")
def named_typed(db: Database) -> None:
    # Of a hole bored before, how its bit was typed is not known.
    db.execute("ALTER TABLE test_hole ADD COLUMN named_typed TEXT NOT NULL DEFAULT ''")


@migrations(name="0014_as_sawn")
def as_sawn(db: Database) -> None:
    # The way a blank was come by, where it was kept, and the blanks of other sizes sawn among
    # them: a row of ``need`` above 0, which never is a piece of the set.
    db.execute(
        "ALTER TABLE blank ADD COLUMN route TEXT CHECK (route IN"
        " ('dry_close', 'dry', 'sawn_green', 'sawn_rough', 'split', 'split_rough'))"
    )
    db.execute(
        "ALTER TABLE blank ADD COLUMN need INTEGER NOT NULL DEFAULT 0"
        " CHECK (need BETWEEN 0 AND 99 AND (need = 0 OR spindle IS NULL))"
    )
