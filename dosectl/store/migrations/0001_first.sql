-- Times: `at_us` microseconds and `at_ms` milliseconds since 1970 in UTC; `*_s` plant clock seconds. Facts: JSON objects.

-- next_no: the number of the next reservation; also one that was closed before its first commit has used its number up.
CREATE TABLE last (
    one INTEGER PRIMARY KEY CHECK (one = 1), step_no INTEGER NOT NULL, at_us INTEGER NOT NULL, clock_s REAL NOT NULL, next_no INTEGER NOT NULL);
CREATE TABLE starts (id INTEGER PRIMARY KEY, at_us INTEGER NOT NULL, clock_s REAL NOT NULL, stopped_us INTEGER);
CREATE TABLE parts (name TEXT PRIMARY KEY, body BLOB NOT NULL) WITHOUT ROWID;

-- A reservation is a row without closed_s; total_g is the feeder's running total after it closed.
CREATE TABLE ledger (
    id INTEGER PRIMARY KEY, no INTEGER UNIQUE, feeder TEXT NOT NULL, opened_s REAL NOT NULL, opened_us INTEGER NOT NULL,
    last_s REAL NOT NULL, reserved_g REAL NOT NULL, used_g REAL NOT NULL, closed_s REAL, fed_g REAL, total_g REAL);
CREATE INDEX ledger_open ON ledger (feeder) WHERE closed_s IS NULL;
CREATE INDEX ledger_closed ON ledger (feeder, closed_s);

CREATE TABLE events (id INTEGER PRIMARY KEY, at_us INTEGER NOT NULL, step_no INTEGER NOT NULL, code TEXT NOT NULL, facts TEXT NOT NULL);
CREATE INDEX events_at ON events (at_us);
CREATE TABLE alarms (
    id INTEGER PRIMARY KEY, at_us INTEGER NOT NULL, code TEXT NOT NULL, occurrence INTEGER NOT NULL, change TEXT NOT NULL,
    priority TEXT NOT NULL, present INTEGER NOT NULL, acked INTEGER NOT NULL, latched INTEGER NOT NULL, facts TEXT NOT NULL);
CREATE INDEX alarms_at ON alarms (at_us);
-- `again` marks a refresh of an unchanged decision; old refreshes are thrown away.
CREATE TABLE decisions (
    id INTEGER PRIMARY KEY, at_us INTEGER NOT NULL, feeder TEXT NOT NULL, outcome TEXT NOT NULL, reasons TEXT NOT NULL, again INTEGER NOT NULL);
CREATE INDEX decisions_at ON decisions (feeder, at_us);
-- Starts and stops; `renewed` on a stop counts the renewals of the run that it ends.
CREATE TABLE commands (
    id INTEGER PRIMARY KEY, at_us INTEGER NOT NULL, feeder TEXT NOT NULL, command_no INTEGER NOT NULL, level REAL NOT NULL,
    expires_s REAL NOT NULL, debit_no INTEGER, renewed INTEGER NOT NULL, code TEXT NOT NULL, facts TEXT NOT NULL);
CREATE INDEX commands_at ON commands (at_us);
CREATE TABLE requests (
    request TEXT PRIMARY KEY, at_us INTEGER NOT NULL, kind TEXT NOT NULL, arguments TEXT NOT NULL, by TEXT NOT NULL, place TEXT NOT NULL);
CREATE TABLE replies (
    request TEXT PRIMARY KEY, at_us INTEGER NOT NULL, done INTEGER NOT NULL, code TEXT NOT NULL, facts TEXT NOT NULL, words TEXT NOT NULL);
CREATE INDEX replies_at ON replies (at_us);
CREATE TABLE tests (
    request TEXT NOT NULL, quantity TEXT NOT NULL, value REAL NOT NULL, sigma REAL NOT NULL, method TEXT NOT NULL, taken_us INTEGER NOT NULL,
    taken_s REAL NOT NULL, entered_s REAL NOT NULL, by TEXT NOT NULL, withdrawn INTEGER NOT NULL, PRIMARY KEY (request, quantity));
CREATE TABLE plans (digest TEXT PRIMARY KEY, at_us INTEGER NOT NULL, body BLOB NOT NULL);

-- Keys of readings are time * 1024 + signal id: rows come in the order of time, so pages fill up and old rows go in one range.
CREATE TABLE signals (id INTEGER PRIMARY KEY, name TEXT NOT NULL UNIQUE, figure INTEGER NOT NULL);
CREATE TABLE raw (key INTEGER PRIMARY KEY, value REAL);
-- low and high are NULL where they equal the mean.
CREATE TABLE minutes (key INTEGER PRIMARY KEY, mean REAL NOT NULL, low REAL, high REAL, n INTEGER NOT NULL);
CREATE TABLE hours (key INTEGER PRIMARY KEY, mean REAL NOT NULL, low REAL, high REAL, n INTEGER NOT NULL);
CREATE TABLE statuses (id INTEGER PRIMARY KEY, at_ms INTEGER NOT NULL, signal INTEGER NOT NULL, status INTEGER NOT NULL, code TEXT NOT NULL);
CREATE INDEX statuses_at ON statuses (signal, at_ms);

-- Full inputs for replay. A row is a minute, or the tail of the running minute.
CREATE TABLE captures (
    id INTEGER PRIMARY KEY, from_ms INTEGER NOT NULL, to_ms INTEGER NOT NULL, first_step INTEGER NOT NULL, last_step INTEGER NOT NULL,
    plan_digest TEXT NOT NULL, body BLOB NOT NULL);
CREATE INDEX captures_at ON captures (to_ms);
CREATE TABLE checkpoints (id INTEGER PRIMARY KEY, at_ms INTEGER NOT NULL, step_no INTEGER NOT NULL, body BLOB NOT NULL);
CREATE TABLE windows (id INTEGER PRIMARY KEY, at_ms INTEGER NOT NULL, from_ms INTEGER NOT NULL, to_ms INTEGER NOT NULL, why TEXT NOT NULL);

-- AUTOINCREMENT: an id is never given twice, or a cursor would step over new rows after the old ones were thrown away.
CREATE TABLE telemetry (
    id INTEGER PRIMARY KEY AUTOINCREMENT, at_us INTEGER NOT NULL, measurement TEXT NOT NULL, tags TEXT NOT NULL, fields TEXT NOT NULL);
CREATE TABLE forward_cursor (one INTEGER PRIMARY KEY CHECK (one = 1), sent_id INTEGER NOT NULL);
CREATE TABLE forward_rejects (telemetry_id INTEGER PRIMARY KEY, at_us INTEGER NOT NULL, line TEXT NOT NULL, why TEXT NOT NULL);
CREATE TABLE forward_types (name TEXT PRIMARY KEY, kind TEXT NOT NULL) WITHOUT ROWID;
CREATE TABLE marks (name TEXT PRIMARY KEY, value INTEGER NOT NULL) WITHOUT ROWID;
CREATE TABLE lost (what TEXT PRIMARY KEY, rows INTEGER NOT NULL) WITHOUT ROWID;
