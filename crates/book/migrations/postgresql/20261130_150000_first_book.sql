-- Why: the record book on a server that a hospital already backs up and watches. Tables and columns are those of the
-- book on SQLite; only the triggers that refuse changes are written in this database's own words. The book lies in a
-- schema of its own, which the connection names first in its search path.

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
    entry_seq BIGINT NOT NULL REFERENCES entry (seq) DEFERRABLE,
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

CREATE INDEX culture_set_version_by_patient ON culture_set_version (patient_key);

-- One row. It says how long the book is, so that an entry missing at the end is noticed too. It may only grow.
CREATE TABLE book_head (
    only_row BIGINT NOT NULL PRIMARY KEY CHECK (only_row = 1),
    seq BIGINT NOT NULL,
    hash TEXT NOT NULL,
    patient_key_check TEXT
);

INSERT INTO book_head (only_row, seq, hash)
VALUES (1, 0, '0000000000000000000000000000000000000000000000000000000000000000');

-- The door's waiting room, not the record: no hash covers it, and what is in it is forgotten in time.
CREATE TABLE message (
    number BIGINT NOT NULL PRIMARY KEY CHECK (number > 0),
    identity TEXT NOT NULL UNIQUE,
    received_at TEXT NOT NULL,
    source TEXT NOT NULL,
    times_received BIGINT NOT NULL,
    entry_seq BIGINT REFERENCES entry (seq),
    answer TEXT NOT NULL,
    reason TEXT,
    sealed BYTEA
);

CREATE INDEX message_by_answer ON message (answer, number);

CREATE TABLE message_of_set (
    set_id TEXT NOT NULL,
    number BIGINT NOT NULL REFERENCES message (number),
    PRIMARY KEY (set_id, number)
);

-- Each function stops the statement with the words given to its trigger.
CREATE FUNCTION refuse() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    RAISE EXCEPTION '%', TG_ARGV[0];
END $$;

CREATE FUNCTION entry_after_the_last() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    IF NEW.seq <> (SELECT COALESCE(MAX(seq), 0) + 1 FROM entry) THEN
        RAISE EXCEPTION 'an entry is added after the last one';
    END IF;
    RETURN NEW;
END $$;

CREATE FUNCTION version_after_the_last() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    IF NEW.version <> (SELECT COALESCE(MAX(version), 0) + 1 FROM culture_set_version WHERE set_id = NEW.set_id) THEN
        RAISE EXCEPTION 'a version of a set is added after the last one';
    END IF;
    RETURN NEW;
END $$;

CREATE FUNCTION head_only_grows() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    IF NEW.seq < OLD.seq
        OR (NEW.seq = OLD.seq AND NEW.hash <> OLD.hash)
        OR (OLD.patient_key_check IS NOT NULL AND NEW.patient_key_check IS DISTINCT FROM OLD.patient_key_check)
    THEN
        RAISE EXCEPTION 'the book only grows';
    END IF;
    RETURN NEW;
END $$;

CREATE TRIGGER entry_comes_after_the_last BEFORE INSERT ON entry
FOR EACH ROW EXECUTE FUNCTION entry_after_the_last();

CREATE TRIGGER entry_refuses_update BEFORE UPDATE ON entry
FOR EACH STATEMENT EXECUTE FUNCTION refuse('entries are only added, never changed');

CREATE TRIGGER entry_refuses_delete BEFORE DELETE OR TRUNCATE ON entry
FOR EACH STATEMENT EXECUTE FUNCTION refuse('entries are only added, never removed');

CREATE TRIGGER culture_set_version_comes_after_the_last BEFORE INSERT ON culture_set_version
FOR EACH ROW EXECUTE FUNCTION version_after_the_last();

CREATE TRIGGER culture_set_version_refuses_update BEFORE UPDATE ON culture_set_version
FOR EACH STATEMENT EXECUTE FUNCTION refuse('versions of sets are only added, never changed');

CREATE TRIGGER culture_set_version_refuses_delete BEFORE DELETE OR TRUNCATE ON culture_set_version
FOR EACH STATEMENT EXECUTE FUNCTION refuse('versions of sets are only added, never removed');

CREATE TRIGGER book_head_only_grows BEFORE UPDATE ON book_head
FOR EACH ROW EXECUTE FUNCTION head_only_grows();

CREATE TRIGGER book_head_is_one BEFORE INSERT ON book_head
FOR EACH STATEMENT EXECUTE FUNCTION refuse('the book has one note of its length');

CREATE TRIGGER book_head_refuses_delete BEFORE DELETE OR TRUNCATE ON book_head
FOR EACH STATEMENT EXECUTE FUNCTION refuse('the book only grows');
