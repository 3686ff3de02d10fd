-- Why: the first record book. Training records must be shown to an auditor years later, so nothing in it may be
-- changed or removed: tables are only added to, each entry carries the hash of the one before it, and the rows of
-- laboratory sets are covered by a digest in the entry that took them in.
--
-- Times and identifiers are text in ISO 8601 and hyphenated form, numbers are whole: the same on every database.

CREATE TABLE schema_step (
    name TEXT NOT NULL PRIMARY KEY
);

CREATE TABLE entry (
    seq BIGINT NOT NULL PRIMARY KEY CHECK (seq > 0),
    id TEXT NOT NULL UNIQUE,
    happened TEXT NOT NULL,
    recorded_at TEXT NOT NULL,
    by_person TEXT NOT NULL,
    kind TEXT NOT NULL,
    kind_version BIGINT NOT NULL,
    body TEXT NOT NULL,
    corrects TEXT REFERENCES entry (id),
    correction_reason TEXT,
    previous_hash TEXT NOT NULL UNIQUE,
    hash TEXT NOT NULL UNIQUE,
    CHECK ((corrects IS NULL) = (correction_reason IS NULL))
);

CREATE INDEX entry_by_kind ON entry (kind, seq);

CREATE TABLE culture_set_version (
    set_id TEXT NOT NULL,
    version BIGINT NOT NULL CHECK (version > 0),
    entry_seq BIGINT NOT NULL REFERENCES entry (seq),
    position BIGINT NOT NULL CHECK (position > 0),
    patient_key TEXT NOT NULL,
    collected_on TEXT NOT NULL,
    unit TEXT,
    verdict TEXT NOT NULL,
    rule_name TEXT NOT NULL,
    rule_version TEXT NOT NULL,
    clause TEXT NOT NULL,
    body_version BIGINT NOT NULL,
    body TEXT NOT NULL,
    row_sha256 TEXT NOT NULL,
    PRIMARY KEY (set_id, version)
);

CREATE UNIQUE INDEX culture_set_version_by_entry ON culture_set_version (entry_seq, position);

-- One row. It says how long the book is, so that an entry missing at the end is noticed too. It may only grow.
CREATE TABLE book_head (
    only_row BIGINT NOT NULL PRIMARY KEY CHECK (only_row = 1),
    seq BIGINT NOT NULL,
    hash TEXT NOT NULL,
    patient_key_check TEXT
);

INSERT INTO book_head (only_row, seq, hash)
VALUES (1, 0, '0000000000000000000000000000000000000000000000000000000000000000');

CREATE TRIGGER entry_refuses_update BEFORE UPDATE ON entry
BEGIN SELECT RAISE(ABORT, 'entries are only added, never changed'); END;

CREATE TRIGGER entry_refuses_delete BEFORE DELETE ON entry
BEGIN SELECT RAISE(ABORT, 'entries are only added, never removed'); END;

-- Also against "insert or replace", which removes a row without asking the trigger above.
CREATE TRIGGER entry_comes_after_the_last BEFORE INSERT ON entry
WHEN NEW.seq <> (SELECT COALESCE(MAX(seq), 0) + 1 FROM entry)
    OR EXISTS (SELECT 1 FROM entry
        WHERE id = NEW.id OR hash = NEW.hash OR previous_hash = NEW.previous_hash)
BEGIN SELECT RAISE(ABORT, 'an entry is added after the last one'); END;

CREATE TRIGGER culture_set_version_refuses_update BEFORE UPDATE ON culture_set_version
BEGIN SELECT RAISE(ABORT, 'versions of sets are only added, never changed'); END;

CREATE TRIGGER culture_set_version_refuses_delete BEFORE DELETE ON culture_set_version
BEGIN SELECT RAISE(ABORT, 'versions of sets are only added, never removed'); END;

CREATE TRIGGER culture_set_version_comes_after_the_last BEFORE INSERT ON culture_set_version
WHEN NEW.version <> (SELECT COALESCE(MAX(version), 0) + 1 FROM culture_set_version WHERE set_id = NEW.set_id)
    OR EXISTS (SELECT 1 FROM culture_set_version
        WHERE entry_seq = NEW.entry_seq AND position = NEW.position)
BEGIN SELECT RAISE(ABORT, 'a version of a set is added after the last one'); END;

CREATE TRIGGER book_head_only_grows BEFORE UPDATE ON book_head
WHEN NEW.seq < OLD.seq
    OR (NEW.seq = OLD.seq AND NEW.hash <> OLD.hash)
    OR (OLD.patient_key_check IS NOT NULL AND NEW.patient_key_check IS NOT OLD.patient_key_check)
BEGIN SELECT RAISE(ABORT, 'the book only grows'); END;

CREATE TRIGGER book_head_is_one BEFORE INSERT ON book_head
BEGIN SELECT RAISE(ABORT, 'the book has one note of its length'); END;

CREATE TRIGGER book_head_refuses_delete BEFORE DELETE ON book_head
BEGIN SELECT RAISE(ABORT, 'the book only grows'); END;
