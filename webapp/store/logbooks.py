"""Tables of logbooks: the units that are kept an eye on, and what was read of them when."""

from sqlalchemy import CheckConstraint, Float, ForeignKey, Integer, String
from sqlalchemy.orm import Mapped, mapped_column

from webapp.store.hunts import LONGEST_NICKNAME, LONGEST_SCENARIO
from webapp.store.tables import Table

LONGEST_TITLE = 80
"""Characters of what a unit is called."""

LONGEST_NOTE = 500
"""Characters of a note."""

LONGEST_READINGS = 4000
"""Characters of the readings of one entry."""


class Logbook(Table):
    """Readings of one real unit of a stage.

    Attributes
    ----------
    id : str
        What the link to look at it ends with.
    key : str
        What lets one write into it.
    scenario : str
        The stage.
    title : str
        What the unit is called.
    made : float
        When it was begun, since 1970 [s].
    """

    __tablename__ = "logbooks"
    __table_args__ = (
        CheckConstraint(f"length(scenario) <= {LONGEST_SCENARIO}", name="scenario_length"),
        CheckConstraint(f"length(title) <= {LONGEST_TITLE}", name="title_length"),
    )

    id: Mapped[str] = mapped_column(String(32), primary_key=True)
    key: Mapped[str] = mapped_column(String(32))
    scenario: Mapped[str] = mapped_column(String(LONGEST_SCENARIO))
    title: Mapped[str] = mapped_column(String(LONGEST_TITLE))
    made: Mapped[float] = mapped_column(Float, index=True)


class LogEntry(Table):
    """What was read on one day.

    Attributes
    ----------
    id : int
        Number, in the order of writing.
    logbook : str
        The logbook.
    day : str
        The date, as in 2024-05-31.
    readings : str
        JSON: point and state, parted by a dot, to what the meter showed [V].
    note : str
        What else there is to say.
    nickname : str
        Who read; may be empty.
    """

    __tablename__ = "log_entries"
    __table_args__ = (
        CheckConstraint(f"length(readings) <= {LONGEST_READINGS}", name="readings_length"),
        CheckConstraint(f"length(note) <= {LONGEST_NOTE}", name="note_length"),
        CheckConstraint(f"length(nickname) <= {LONGEST_NICKNAME}", name="nickname_length"),
    )

    id: Mapped[int] = mapped_column(Integer, primary_key=True)
    logbook: Mapped[str] = mapped_column(ForeignKey("logbooks.id", ondelete="CASCADE"), index=True)
    day: Mapped[str] = mapped_column(String(10))
    readings: Mapped[str] = mapped_column(String(LONGEST_READINGS))
    note: Mapped[str] = mapped_column(String(LONGEST_NOTE))
    nickname: Mapped[str] = mapped_column(String(LONGEST_NICKNAME))
