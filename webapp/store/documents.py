"""Tables of documents: what somebody keeps under a link, and every form that it has had."""

from sqlalchemy import CheckConstraint, Float, ForeignKey, Integer, LargeBinary, String, Text
from sqlalchemy.orm import Mapped, mapped_column

from webapp.store.tables import Table

LONGEST_HEADING = 120
"""Characters of a document's title."""

LONGEST_CONTENT = 65536
"""Bytes of a document's content."""


class Document(Table):
    """Something that is kept: its links, and which of its revisions is the present one.

    Attributes
    ----------
    id : str
        What the link to look at it ends with.
    kind : str
        What it is.
    key : bytes
        Digest of what lets one change it; the key itself is not kept.
    made : float
        When it was first kept, since 1970 [s].
    number : int
        The revision that is the present one.
    size : int
        Bytes of all its revisions.
    """

    __tablename__ = "documents"

    id: Mapped[str] = mapped_column(String(32), primary_key=True)
    kind: Mapped[str] = mapped_column(String(16))
    key: Mapped[bytes] = mapped_column(LargeBinary(32))
    made: Mapped[float] = mapped_column(Float, index=True)
    number: Mapped[int] = mapped_column(Integer)
    size: Mapped[int] = mapped_column(Integer)


class DocumentRevision(Table):
    """One form of a document.

    Attributes
    ----------
    document : str
        The document.
    number : int
        Which revision it is, from 1.
    at : float
        When it was kept, since 1970 [s].
    title : str
        What the document is called.
    content : str
        JSON: what it says.
    """

    __tablename__ = "document_revisions"
    __table_args__ = (
        CheckConstraint(f"length(title) <= {LONGEST_HEADING}", name="title_length"),
        CheckConstraint(f"length(content) <= {LONGEST_CONTENT}", name="content_length"),
    )

    document: Mapped[str] = mapped_column(ForeignKey("documents.id", ondelete="CASCADE"), primary_key=True)
    number: Mapped[int] = mapped_column(Integer, primary_key=True)
    at: Mapped[float] = mapped_column(Float)
    title: Mapped[str] = mapped_column(String(LONGEST_HEADING))
    content: Mapped[str] = mapped_column(Text)
