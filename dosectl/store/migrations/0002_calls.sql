-- Calls to people, written with the change of the alarm that they tell of. `key` names a call for ever: told twice it is one row.
-- answered_us, cleared_us: of the alarm's occurrence; closed_us: nothing more is sent, closed_why says why.
CREATE TABLE calls_outbox (
    id INTEGER PRIMARY KEY AUTOINCREMENT, key TEXT NOT NULL UNIQUE, at_us INTEGER NOT NULL, code TEXT NOT NULL, occurrence INTEGER NOT NULL,
    priority INTEGER NOT NULL, change TEXT NOT NULL, first_out TEXT NOT NULL, folded TEXT NOT NULL, why TEXT NOT NULL, facts TEXT NOT NULL,
    answered_us INTEGER, answered_by TEXT NOT NULL DEFAULT '', cleared_us INTEGER, closed_us INTEGER, closed_why TEXT NOT NULL DEFAULT '');
CREATE INDEX calls_open ON calls_outbox (id) WHERE closed_us IS NULL;
CREATE INDEX calls_alarm ON calls_outbox (code, occurrence);

-- An attempt is written before it is made: where outcome is empty nobody knows whether it arrived. Rows of one message share it.
CREATE TABLE call_attempts (
    id INTEGER PRIMARY KEY, call_id INTEGER NOT NULL, step INTEGER NOT NULL, person TEXT NOT NULL, route TEXT NOT NULL,
    message TEXT NOT NULL, begun_us INTEGER NOT NULL, ended_us INTEGER, outcome TEXT NOT NULL);
CREATE INDEX call_attempts_call ON call_attempts (call_id);
CREATE INDEX call_attempts_begun ON call_attempts (begun_us);

-- Every answer that came with a code, also those that were refused.
CREATE TABLE call_answers (
    id INTEGER PRIMARY KEY, at_us INTEGER NOT NULL, request TEXT NOT NULL, by TEXT NOT NULL, code TEXT NOT NULL, occurrence INTEGER NOT NULL,
    outcome TEXT NOT NULL);
CREATE INDEX call_answers_at ON call_answers (at_us);

-- One-use words that answer one occurrence of one alarm and can do nothing else.
CREATE TABLE codes (word TEXT PRIMARY KEY, call_id INTEGER NOT NULL, person TEXT NOT NULL, made_us INTEGER NOT NULL, used_us INTEGER) WITHOUT ROWID;
CREATE UNIQUE INDEX codes_call ON codes (call_id, person);
