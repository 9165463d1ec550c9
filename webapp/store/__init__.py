"""What is kept on disk: the database, its sessions, its tables.

`Store` opens the database and brings its tables up to date; `reading` and `writing` give a request its session.
One module here for each group of tables; `migrations/versions` leads from each form of the tables to the next.
This layer knows no pages, no scenarios and no engine; what may be written is decided above it.
"""

from webapp.store.announcements import announce, listening
from webapp.store.classes import Attendance, ClassRow
from webapp.store.database import Store, StoreError, default_path, reading, writing
from webapp.store.documents import Document, DocumentRevision
from webapp.store.hunts import Hunt, Hunter, Taken
from webapp.store.logbooks import Logbook, LogEntry
from webapp.store.tables import Table

__all__ = [
    "Attendance",
    "ClassRow",
    "Document",
    "DocumentRevision",
    "Hunt",
    "Hunter",
    "LogEntry",
    "Logbook",
    "Store",
    "StoreError",
    "Table",
    "Taken",
    "announce",
    "default_path",
    "listening",
    "reading",
    "writing",
]
