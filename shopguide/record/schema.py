"""The layout of a record file: tables that only grow, and the triggers that hold them to it."""

from __future__ import annotations

import sqlite3

from shopguide.work.chain import GENESIS

APPLICATION_ID = 0x53474A52
"""What marks an SQLite file as a record of this program: "SGJR" at byte 68."""

VERSION = 1
"""The layout that this program writes (SQLite's user_version); it reads up to this one."""

OLDEST_SQLITE = (3, 37, 0)
"""STRICT tables came with this release of SQLite."""

_TABLES = (
    """CREATE TABLE sheet (
    one INTEGER PRIMARY KEY CHECK (one = 1),
    sha256 TEXT NOT NULL,
    raw BLOB NOT NULL
) STRICT""",
    """CREATE TABLE events (
    seq INTEGER PRIMARY KEY CHECK (seq >= 1),
    prev TEXT NOT NULL,
    at TEXT NOT NULL,
    kind TEXT NOT NULL,
    data TEXT NOT NULL,
    hash TEXT NOT NULL
) STRICT""",
    """CREATE TABLE pictures (
    sha256 TEXT PRIMARY KEY,
    content BLOB NOT NULL
) STRICT""",
    """CREATE TABLE photos (
    id INTEGER PRIMARY KEY,
    seq INTEGER NOT NULL REFERENCES events (seq),
    name TEXT NOT NULL,
    sha256 TEXT NOT NULL REFERENCES pictures (sha256),
    paper_sha256 TEXT NOT NULL REFERENCES pictures (sha256),
    width INTEGER NOT NULL CHECK (width > 0),
    height INTEGER NOT NULL CHECK (height > 0)
) STRICT""",
    # The one value that changes: whether the file is open for writing, so that part of it may lie
    # in the -wal beside it. It tells a copy of the file alone, taken meanwhile, from a whole one.
    """CREATE TABLE state (
    one INTEGER PRIMARY KEY CHECK (one = 1),
    open INTEGER NOT NULL CHECK (open IN (0, 1))
) STRICT""",
)

_KEYS = {"sheet": "one", "events": "seq", "pictures": "sha256", "photos": "id"}


def list_statements() -> tuple[str, ...]:
    """What makes an empty database a record's: tables first, then their guards."""
    guards = []
    for table, key in _KEYS.items():
        for deed, done in (("UPDATE", "changed"), ("DELETE", "deleted")):
            guards.append(
                f"CREATE TRIGGER {table}_never_{done} BEFORE {deed} ON {table}\n"
                f"BEGIN SELECT RAISE(ABORT, 'nothing in {table} is ever {done}'); END"
            )
        # Without this an INSERT OR REPLACE would be a change by the back door.
        guards.append(
            f"CREATE TRIGGER {table}_never_replaced BEFORE INSERT ON {table}\n"
            f"WHEN EXISTS (SELECT 1 FROM {table} WHERE {key} = NEW.{key})\n"
            f"BEGIN SELECT RAISE(ABORT, 'nothing in {table} is ever replaced'); END"
        )
    guards.append(
        "CREATE TRIGGER events_only_at_the_end BEFORE INSERT ON events\n"
        "WHEN NEW.seq IS NOT (SELECT ifnull(max(seq), 0) + 1 FROM events)\n"
        "OR NEW.prev IS NOT ifnull(\n"
        f"    (SELECT hash FROM events ORDER BY seq DESC LIMIT 1), '{GENESIS}')\n"
        "BEGIN SELECT RAISE(ABORT, 'an event only follows the last one'); END"
    )
    return (*_TABLES, *guards)


def make_schema(connection: sqlite3.Connection) -> None:
    """Lays the tables and guards out, inside the transaction that the caller has begun."""
    connection.execute(f"PRAGMA application_id = {APPLICATION_ID}")
    connection.execute(f"PRAGMA user_version = {VERSION}")
    for statement in list_statements():
        connection.execute(statement)
    connection.execute("INSERT INTO state VALUES (1, 0)")


def has_own_tables(connection: sqlite3.Connection) -> bool:
    """True where the tables are real ones, exactly as they were made.

    Asked before anything is read from them: something else of their name could be made so that
    reading it never ends.
    """
    due = {table.split()[2]: table for table in _TABLES}
    found = connection.execute(
        "SELECT name, sql FROM sqlite_master WHERE type IN ('table', 'view')"
    ).fetchall()
    return {(name, sql) for name, sql in found if name in due} == set(due.items())


def find_fault(connection: sqlite3.Connection) -> str | None:
    """How the file's layout differs from the one that was made; None where it does not."""
    found = {
        " ".join(sql.split())
        for (sql,) in connection.execute("SELECT sql FROM sqlite_master WHERE sql IS NOT NULL")
        if isinstance(sql, str)
    }
    due = {" ".join(statement.split()) for statement in list_statements()}
    missing = sorted(_name(statement) for statement in due - found)
    strange = sorted(_name(statement) for statement in found - due)
    if missing:
        return f"{', '.join(missing)} of its layout is missing or was changed"
    if strange:
        return f"{', '.join(strange)[:200]} was put into it by something else"
    return None


def _name(statement: str) -> str:
    words = statement.split()
    return f"the {words[1].lower()} {words[2]}" if len(words) > 2 else "something unnamed"
