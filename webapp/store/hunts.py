"""Tables of fault hunts: the hunts, who takes part, what each of them has read."""

from sqlalchemy import Boolean, CheckConstraint, Float, ForeignKey, Integer, LargeBinary, String, UniqueConstraint
from sqlalchemy.orm import Mapped, mapped_column

from webapp.store.tables import Table

LONGEST_NICKNAME = 24
"""Characters of a nickname."""

LONGEST_SCENARIO = 8000
"""Characters of a scenario's query string; a card of one's own is most of it."""

LONGEST_FAULT = 120
"""Characters of the name by which the engine knows a fault."""

LONGEST_LEAD = 40
"""Characters of the name of a point for a lead of the meter."""


class Hunt(Table):
    """A stage with one hidden fault.

    Attributes
    ----------
    id : str
        What the students' link ends with.
    key : str
        What the instructor's link ends with.
    scenario : str
        The healthy stage.
    fault : str
        Name of the hidden fault; no answer to a student who has not found it may depend on it, but for readings.
    secret : bytes
        What the meter's errors are drawn with.
    made : float
        When it was made, since 1970 [s].
    ended : float or None
        When the instructor ended it, since 1970 [s].
    """

    __tablename__ = "hunts"
    __table_args__ = (CheckConstraint(f"length(scenario) <= {LONGEST_SCENARIO}", name="scenario_length"),)

    id: Mapped[str] = mapped_column(String(32), primary_key=True)
    key: Mapped[str] = mapped_column(String(32))
    scenario: Mapped[str] = mapped_column(String(LONGEST_SCENARIO))
    fault: Mapped[str] = mapped_column(String(LONGEST_FAULT))
    secret: Mapped[bytes] = mapped_column(LargeBinary(32))
    made: Mapped[float] = mapped_column(Float, index=True)
    ended: Mapped[float | None] = mapped_column(Float, default=None)


class Hunter(Table):
    """One who takes part in a hunt.

    Attributes
    ----------
    id : int
        Number.
    hunt : str
        The hunt.
    token : str
        What this browser shows to be known again.
    nickname : str
        As it was typed.
    folded : str
        The nickname as it is compared; unique within a hunt.
    joined : float
        Since 1970 [s].
    answer : str or None
        Name of the fault that was answered first, the one that counts.
    right : bool or None
        Whether that is the hidden one.
    answer_readings : int or None
        Readings taken before it.
    found_readings : int or None
        Readings taken before the hidden fault was named, at once or later.
    tries : int
        Answers given.
    """

    __tablename__ = "hunters"
    __table_args__ = (
        UniqueConstraint("hunt", "folded"),
        UniqueConstraint("token"),
        CheckConstraint(f"length(nickname) <= {LONGEST_NICKNAME}", name="nickname_length"),
    )

    id: Mapped[int] = mapped_column(Integer, primary_key=True)
    hunt: Mapped[str] = mapped_column(ForeignKey("hunts.id", ondelete="CASCADE"))
    token: Mapped[str] = mapped_column(String(43))
    nickname: Mapped[str] = mapped_column(String(LONGEST_NICKNAME))
    folded: Mapped[str] = mapped_column(String(3 * LONGEST_NICKNAME))
    joined: Mapped[float] = mapped_column(Float)
    answer: Mapped[str | None] = mapped_column(String(LONGEST_FAULT), default=None)
    right: Mapped[bool | None] = mapped_column(Boolean, default=None)
    answer_readings: Mapped[int | None] = mapped_column(Integer, default=None)
    found_readings: Mapped[int | None] = mapped_column(Integer, default=None)
    tries: Mapped[int] = mapped_column(Integer, default=0)


class Taken(Table):
    """A reading that somebody has taken: the same one again is neither kept nor counted.

    Attributes
    ----------
    hunter : int
        Who took it.
    state : str
        State of the switch.
    red : str
        Point of the one lead.
    black : str
        Point of the other lead.
    number : int
        Which reading it is, from 1.
    """

    __tablename__ = "taken"

    hunter: Mapped[int] = mapped_column(ForeignKey("hunters.id", ondelete="CASCADE"), primary_key=True)
    state: Mapped[str] = mapped_column(String(8), primary_key=True)
    red: Mapped[str] = mapped_column(String(LONGEST_LEAD), primary_key=True)
    black: Mapped[str] = mapped_column(String(LONGEST_LEAD), primary_key=True)
    number: Mapped[int] = mapped_column(Integer)
