"""The store: commissions and the workshop with their versions, models by content, dossiers; SQLite or PostgreSQL.

:class:`Store` opens a database and gives connections for whole transactions; the modules hold one function for each
thing that is asked of it, on such a connection::

    with store.writing() as db:
        commissions.add(db, "ring-a", text, based_on=3, by="this page", now=now)

It knows no files and no clock: moments are passed in.
"""

from ringwright.store.engine import Store, sqlite_url

__all__ = ["Store", "sqlite_url"]
