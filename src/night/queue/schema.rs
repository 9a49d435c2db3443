//! The tables.
//!
//! What a claim and a status look at stands in `jobs` and `outputs`, narrow and indexed; what is wide (corrections, notes,
//! readings) stands in tables of its own, so that counting a hundred thousand jobs walks along one index and nothing else.

/// The tables of a new queue. [`STEPS`] bring up those of earlier versions.
pub(super) const TABLES: &str = "
    CREATE TABLE queue (
        id BIGINT PRIMARY KEY,          -- one row
        paused BIGINT NOT NULL
    );
    INSERT INTO queue (id, paused) VALUES (1, 0);
    CREATE TABLE shows (
        id {id},
        name TEXT NOT NULL UNIQUE,
        asked TEXT NOT NULL,            -- what a person asked, JSON
        priority BIGINT NOT NULL,       -- lower comes first
        state TEXT NOT NULL,
        paused BIGINT NOT NULL,
        solver BIGINT,                  -- the run that is solving it
        revision BIGINT NOT NULL,       -- raised whenever what it is solved from changes
        solved TEXT,                    -- what solving found, JSON
        error TEXT,                     -- why it could not be solved, JSON
        added BIGINT NOT NULL           -- UTC, milliseconds since 1970
    );
    CREATE TABLE wishes (
        id {id},
        show BIGINT NOT NULL,
        wish TEXT NOT NULL,             -- JSON
        UNIQUE (show, wish)
    );
    CREATE TABLE jobs (
        id {id},
        show BIGINT NOT NULL,
        frame {bytes} NOT NULL,         -- path or address, without links
        bytes BIGINT NOT NULL,          -- of the frame's file when it was added
        position BIGINT NOT NULL,       -- among the frames of its show
        is_first BIGINT NOT NULL,       -- comes before the rest of its class
        rank BIGINT NOT NULL,           -- lower is claimed first
        state TEXT NOT NULL,
        claim BIGINT,                   -- the run that has it in hand
        losses BIGINT NOT NULL,         -- workers that died over it
        metering_seconds DOUBLE PRECISION,
        making_seconds DOUBLE PRECISION,
        UNIQUE (show, frame)
    );
    CREATE INDEX jobs_waiting ON jobs (show, rank) WHERE state IN ('to-meter', 'to-make');
    CREATE INDEX jobs_in_hand ON jobs (claim) WHERE claim IS NOT NULL;
    CREATE INDEX jobs_by_state ON jobs (show, state, bytes, metering_seconds, making_seconds);
    CREATE TABLE details (
        job BIGINT PRIMARY KEY,
        shown {bytes} NOT NULL,         -- the frame as a person named it
        input TEXT,                     -- stamp of the frame as it was metered, JSON
        correction TEXT,                -- JSON
        notes TEXT,                     -- JSON
        error TEXT,                     -- JSON
        changed BIGINT NOT NULL         -- UTC, milliseconds since 1970
    );
    CREATE TABLE readings (
        job BIGINT PRIMARY KEY,
        body {bytes} NOT NULL           -- MessagePack
    );
    CREATE TABLE outputs (
        id {id},
        job BIGINT NOT NULL,
        show BIGINT NOT NULL,
        wish BIGINT NOT NULL,
        folder {bytes} NOT NULL,
        picture {bytes} NOT NULL,       -- file name in the folder
        folded {bytes} NOT NULL,        -- the same, equal for names that differ only in case
        state TEXT NOT NULL,
        key TEXT NOT NULL,              -- of frame, correction, delivery and program
        made_key TEXT,                  -- the key it was made with
        bytes BIGINT,                   -- of the picture
        UNIQUE (folder, folded),
        UNIQUE (job, wish)
    );
    CREATE INDEX outputs_by_state ON outputs (show, wish, state, bytes);
    CREATE TABLE pictures (
        output BIGINT PRIMARY KEY,
        delivery TEXT NOT NULL,         -- JSON
        recipe TEXT NOT NULL,           -- digest of correction, delivery and program
        stamp TEXT,                     -- of the picture, JSON
        outside DOUBLE PRECISION,
        error TEXT,                     -- JSON
        made BIGINT                     -- UTC, milliseconds since 1970
    );
    CREATE TABLE runs (
        id {id},
        host TEXT NOT NULL,
        process BIGINT NOT NULL,
        program TEXT NOT NULL,          -- digest of the program
        beat BIGINT NOT NULL,           -- raised while it lives
        is_locked BIGINT NOT NULL,      -- whether it holds its lock file
        began BIGINT NOT NULL,          -- UTC, milliseconds since 1970
        ended BIGINT,
        how TEXT                        -- how it ended
    );
    CREATE INDEX runs_alive ON runs (id) WHERE ended IS NULL;
    CREATE TABLE remarks (
        id {id},
        run BIGINT,
        show BIGINT,
        at BIGINT NOT NULL,             -- UTC, milliseconds since 1970
        remark TEXT NOT NULL            -- JSON
    );
";

/// What brings the tables of version 1 to version 2, of version 2 to version 3, and so on.
pub(super) const STEPS: &[&str] = &[];
