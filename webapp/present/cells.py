"""Cells of files for a spreadsheet."""

_ACTIVE = ("=", "+", "-", "@", "\t", "\r", "\uff1d", "\uff0b", "\uff0d", "\uff20")
"""What a spreadsheet would take for the beginning of a formula, its wide forms among them."""


def harmless(text: str) -> str:
    """Return a text that no spreadsheet takes for a formula."""
    return f"'{text}" if text.startswith(_ACTIVE) or text.lstrip().startswith(_ACTIVE) else text
