"""The journal of record: one SQLite file per pool, the instance lock, durable state, retention, queries and export.

Everything the daemon must remember goes through `journal.Journal`; whoever only looks uses `read.Record`.
"""
