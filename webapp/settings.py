"""Start settings, read from the environment once.

Lowest layer of the web application: standard library only.
"""

from collections.abc import Mapping
from dataclasses import dataclass


class SettingsError(ValueError):
    """A start setting that cannot be used; the sentence names it and what it accepts."""


@dataclass(frozen=True, slots=True)
class Settings:
    """What can be chosen when the application starts.

    Attributes
    ----------
    host : str
        Address to listen on, `LIGHTGAP_HOST`.
    port : int
        Port to listen on, `LIGHTGAP_PORT`; 0 takes any free one.
    gzip_level : int
        Compression of answers from 1 to 9, `LIGHTGAP_GZIP`; 0 is off, which is best on the machine itself.
    database : str
        What is kept, `LIGHTGAP_DATABASE`: path of an SQLite file, or the address of another database; empty for a
        file in the user's data folder.
    workers : int
        Processes that answer, `LIGHTGAP_WORKERS`; all of them know the same database.
    """

    host: str = "127.0.0.1"
    port: int = 8000
    gzip_level: int = 0
    database: str = ""
    workers: int = 1

    @classmethod
    def from_environment(cls, environment: Mapping[str, str]) -> "Settings":
        """Return the settings in `environment`; a variable that is absent or empty leaves the default."""
        return cls(
            host=environment.get("LIGHTGAP_HOST") or cls().host,
            port=_whole_number(environment, "LIGHTGAP_PORT", cls().port, 65535),
            gzip_level=_whole_number(environment, "LIGHTGAP_GZIP", cls().gzip_level, 9),
            database=environment.get("LIGHTGAP_DATABASE") or cls().database,
            workers=_whole_number(environment, "LIGHTGAP_WORKERS", cls().workers, 64, least=1),
        )


def _whole_number(environment: Mapping[str, str], name: str, default: int, largest: int, *, least: int = 0) -> int:
    """Return the variable `name` as a number from `least` to `largest`."""
    text = environment.get(name) or str(default)
    if not (text.isascii() and text.isdigit() and least <= int(text) <= largest):
        raise SettingsError(f"{name}: '{text}' is not a whole number from {least} to {largest}")
    return int(text)
