"""What all tables have in common: one set of metadata, and names of constraints that migrations can refer to."""

from sqlalchemy import MetaData
from sqlalchemy.orm import DeclarativeBase

NAMES = {
    "ix": "ix_%(table_name)s_%(column_0_N_name)s",
    "uq": "uq_%(table_name)s_%(column_0_N_name)s",
    "ck": "ck_%(table_name)s_%(constraint_name)s",
    "fk": "fk_%(table_name)s_%(column_0_N_name)s",
    "pk": "pk_%(table_name)s",
}


class Table(DeclarativeBase):
    """A row of a table; subclasses say which."""

    metadata = MetaData(naming_convention=NAMES)
