"""Codes of classes: short, hard to guess, and the same whether they are read or heard.

No character of the alphabet looks like another one, and no vowel makes words of them.
"""

import secrets

ALPHABET = "23456789cdfhjkmprtvwxy"
"""What a code is made of."""

LENGTH = 12
"""Characters of a code, four to a group: 22^12 is more than 2^53."""

GROUP = 4
"""Characters of a group."""

_TAKEN_FOR = str.maketrans({"s": "5", "z": "2", "b": "8", "g": "6", "n": "m", "-": None, " ": None})
"""What may be typed for a character, and what is put between groups."""


def new_code() -> str:
    """Return a code that nobody can know."""
    return "".join(secrets.choice(ALPHABET) for _ in range(LENGTH))


def read_code(text: str) -> str | None:
    """Return the code that a text means, however it is written; None where it is none."""
    code = text[: 4 * LENGTH].strip().lower().translate(_TAKEN_FOR)
    return code if len(code) == LENGTH and set(code) <= set(ALPHABET) else None


def in_address(code: str) -> str:
    """Return a code in its groups, as it stands in addresses."""
    return "-".join(code[k : k + GROUP] for k in range(0, LENGTH, GROUP))


def read_out(code: str) -> str:
    """Return a code as it is shown to be read out."""
    return in_address(code).upper()
