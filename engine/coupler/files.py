"""Cards as text: the shipped ones, and any that is given."""

import base64
import binascii
import tomllib
import zlib
from functools import lru_cache
from importlib import resources

from engine.coupler.families import CARD_FAMILIES
from engine.coupler.lines import as_text, read, written
from engine.errors import CardError
from engine.quantity import shown

LONGEST_PACKED = 6000
"""The most characters of a card that is packed for a link."""

LONGEST_CARD = 8192
"""The most bytes of a card's text; a card with every line at its longest has fewer."""


def card_from(name, table):
    """Return the card that a parsed TOML table states.

    Parameters
    ----------
    name : str
        Name in links.
    table : dict
        Parsed TOML.

    Returns
    -------
    Card
        The card, of the family that the table names.

    Raises
    ------
    CardError
        If a line is missing, unknown, cannot be read, or cannot be true.
    """
    usual = next(iter(CARD_FAMILIES))
    family = table.get("family", usual) if isinstance(table, dict) else usual
    if not isinstance(family, str) or family not in CARD_FAMILIES:
        known = ", ".join(CARD_FAMILIES)
        raise CardError(name, "family", f"'{shown(str(family))}' is not a family; there are {known}")
    return read(CARD_FAMILIES[family], name, table)


def card_from_toml(name, text):
    """Return the card that a TOML file states.

    Parameters
    ----------
    name : str
        Name in links.
    text : str
        What the file holds.

    Returns
    -------
    Card
        The card.

    Raises
    ------
    CardError
        If the text is too long or not TOML, or as `card_from`.
    """
    if len(text) > LONGEST_CARD or len(text.encode("utf-8", "replace")) > LONGEST_CARD:
        raise CardError(name, "file", f"it is longer than {LONGEST_CARD} bytes")
    try:
        table = tomllib.loads(text)
    except ValueError as error:  # TOMLDecodeError is one, and so is what an endless integer raises
        raise CardError(name, "file", f"it is not TOML: {error}") from error
    except RecursionError as error:
        raise CardError(name, "file", "it is not TOML: brackets are nested too deeply") from error
    return card_from(name, table)


def card_to_toml(card):
    """Return the text of a card.

    Parameters
    ----------
    card : Card
        The card.

    Returns
    -------
    str
        TOML that reads back as the same card under the same name.
    """
    return as_text(written(card))


def pack_card(card):
    """Return a card as text for a link.

    Parameters
    ----------
    card : Card
        The card.

    Returns
    -------
    str
        The TOML text, compressed, in letters, digits, "-" and "_".
    """
    return base64.urlsafe_b64encode(zlib.compress(card_to_toml(card).encode(), 9)).decode().rstrip("=")


@lru_cache(maxsize=64)
def unpack_card(name, packed):
    """Return the card that a text of `pack_card` means.

    Parameters
    ----------
    name : str
        Name for the card.
    packed : str
        The text.

    Returns
    -------
    Card
        The card.

    Raises
    ------
    CardError
        If the text is too long, damaged or unpacks to too much, or as `card_from_toml`.
    """
    if len(packed) > LONGEST_PACKED:
        raise CardError(name, "file", f"its packed text is longer than {LONGEST_PACKED} characters")
    unpacking = zlib.decompressobj()
    try:
        raw = base64.b64decode(packed + "=" * (-len(packed) % 4), altchars=b"-_", validate=True)
        text = unpacking.decompress(raw, LONGEST_CARD + 1)
        if unpacking.eof or len(text) > LONGEST_CARD:
            return card_from_toml(name, text.decode())
    except (binascii.Error, zlib.error, UnicodeError, ValueError) as error:
        if isinstance(error, CardError):
            raise
        raise CardError(name, "file", "its packed text is damaged") from error
    raise CardError(name, "file", "its packed text is cut short")


@lru_cache(maxsize=16)
def card_names(*families):
    """Return the names of the shipped cards, the default first.

    Parameters
    ----------
    *families : str
        Families to choose from; all where none is given.

    Returns
    -------
    tuple of str
        Names as they stand in links.
    """
    folder = resources.files("engine.coupler") / "classes"
    names = sorted(entry.name.removesuffix(".toml") for entry in folder.iterdir() if entry.name.endswith(".toml"))
    place = {name: list(CARD_FAMILIES).index(_in_file(name).family) for name in names}
    ordered = sorted(names, key=lambda name: (place[name], name != "general"))
    return tuple(name for name in ordered if not families or list(CARD_FAMILIES)[place[name]] in families)


def _in_file(name):
    """Return the card in a shipped file."""
    text = (resources.files("engine.coupler") / "classes" / f"{name}.toml").read_text(encoding="utf-8")
    return card_from_toml(name, text)


@lru_cache(maxsize=64)
def load_card(name):
    """Return a shipped card.

    Parameters
    ----------
    name : str
        One of `card_names`.

    Returns
    -------
    Card
        The card.

    Raises
    ------
    CardError
        If there is no such card, or its file is faulty.
    """
    if name not in card_names():
        raise CardError(name, "name", f"there is no such card; there are {', '.join(card_names())}")
    return _in_file(name)
