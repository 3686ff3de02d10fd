-- Why: results also come as messages, one by one. A message brings part of a set, or brings it again with more, so the
-- door needs the earlier messages of the set to read them together; and a message that could not be read is kept until
-- somebody has dealt with it. What is kept is sealed: without the key beside the book nobody can read it.
--
-- These two tables are the door's waiting room, not the record: they carry no hash, and what is in them is forgotten
-- in time. The index lets one patient's sets be found without walking all.

CREATE INDEX culture_set_version_by_patient ON culture_set_version (patient_key);

CREATE TABLE message (
    number BIGINT NOT NULL PRIMARY KEY CHECK (number > 0),
    identity TEXT NOT NULL UNIQUE,
    received_at TEXT NOT NULL,
    source TEXT NOT NULL,
    times_received BIGINT NOT NULL,
    entry_seq BIGINT REFERENCES entry (seq),
    answer TEXT NOT NULL,
    reason TEXT,
    sealed BLOB
);

CREATE INDEX message_by_answer ON message (answer, number);

CREATE TABLE message_of_set (
    set_id TEXT NOT NULL,
    number BIGINT NOT NULL REFERENCES message (number),
    PRIMARY KEY (set_id, number)
);
