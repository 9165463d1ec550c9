"""Tables of classes: what each is shown, and how many follow it through which process."""

from sqlalchemy import CheckConstraint, Float, ForeignKey, Integer, LargeBinary, String
from sqlalchemy.orm import Mapped, mapped_column

from webapp.store.hunts import LONGEST_SCENARIO
from webapp.store.tables import Table


class ClassRow(Table):
    """A class that somebody leads, and the scenario that it is shown.

    Attributes
    ----------
    code : str
        What the students' link ends with, and what is read out to them.
    key : bytes
        Digest of what the instructor's link ends with; the key itself is not kept.
    scenario : str
        Query string of the scenario that is shown.
    number : int
        How often another one has been shown.
    made : float
        When the class was made, since 1970 [s].
    moved : float
        When the scenario last changed, since 1970 [s].
    ended : float or None
        When the instructor ended it, since 1970 [s].
    """

    __tablename__ = "classes"
    __table_args__ = (CheckConstraint(f"length(scenario) <= {LONGEST_SCENARIO}", name="scenario_length"),)

    code: Mapped[str] = mapped_column(String(12), primary_key=True)
    key: Mapped[bytes] = mapped_column(LargeBinary(32))
    scenario: Mapped[str] = mapped_column(String(LONGEST_SCENARIO))
    number: Mapped[int] = mapped_column(Integer, default=1)
    made: Mapped[float] = mapped_column(Float)
    moved: Mapped[float] = mapped_column(Float, index=True)
    ended: Mapped[float | None] = mapped_column(Float, default=None)


class Attendance(Table):
    """How many follow a class through one process of the server.

    Attributes
    ----------
    code : str
        The class.
    process : str
        Name of the process, drawn when it starts.
    followers : int
        How many.
    at : float
        When that was so, since 1970 [s]; a process that says nothing for long has ended.
    """

    __tablename__ = "attendances"

    code: Mapped[str] = mapped_column(ForeignKey("classes.code", ondelete="CASCADE"), primary_key=True)
    process: Mapped[str] = mapped_column(String(16), primary_key=True)
    followers: Mapped[int] = mapped_column(Integer)
    at: Mapped[float] = mapped_column(Float)
