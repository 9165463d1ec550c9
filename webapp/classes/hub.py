"""Who follows which class in this process, and how each learns of another scenario.

Nothing queues: whoever is slow is told the newest scenario when it comes to that, never one after the other. What is
shown by another process is looked up in the database: at once where that announces it (PostgreSQL), and otherwise by
looking again and again. All of it belongs to one event loop; only what the database is asked runs in threads.
"""

import asyncio
import contextlib
import secrets
import time
from collections.abc import AsyncIterator, Iterator
from dataclasses import dataclass, field

from sqlalchemy.exc import SQLAlchemyError
from starlette.concurrency import run_in_threadpool

from webapp.classes import room
from webapp.classes.room import Shown
from webapp.classes.stopping import stopping
from webapp.store import Store, listening

MOST_FOLLOWERS = 500
"""Who may follow one class through one process."""

MOST_IN_ALL = 2000
"""Who may follow any class through one process."""

BEAT = 10.0
"""After how long without news a sign of life is sent [s]."""

OFTEN, SELDOM = 0.3, 3.0
"""How often the database is looked at where it announces nothing, and where it does [s]."""

_TICK, _PAUSE = 0.3, 0.02  # s: how often anything is looked at, the shortest time between two looks

SAY = 0.5
"""How often it is said at most how many follow [s]."""

_SAY_AGAIN = room.HEARD_FOR / 3
"""How often it is said where that does not change [s]."""


class FullError(RuntimeError):
    """There is no room for another one who follows."""


@dataclass(slots=True)
class _Channel:
    """One class: what it is shown, and a bell for each who follows."""

    shown: Shown
    bells: set = field(default_factory=set)


class Hub:
    """All who follow classes in this process.

    Parameters
    ----------
    store : Store
        The database.
    """

    def __init__(self, store: Store) -> None:
        self._store = store
        self._process = secrets.token_hex(8)
        self._channels: dict[str, _Channel] = {}
        self._watch: asyncio.Task | None = None
        self._hint: asyncio.Event | None = None
        self._closed = False
        self._said: dict[str, int] = {}
        self._said_at = 0.0

    def tell(self, shown: Shown) -> None:
        """Tell those who follow a class what it is shown, unless they know."""
        channel = self._channels.get(shown.code)
        if channel and (shown.number, shown.ended) > (channel.shown.number, channel.shown.ended):
            channel.shown = shown
            self._ring(channel)

    def must_have_room(self, code: str) -> None:
        """Raise FullError where nobody else may follow a class."""
        channel = self._channels.get(code)
        if channel and len(channel.bells) >= MOST_FOLLOWERS:
            raise FullError(f"There are {MOST_FOLLOWERS} who follow this class, and no more fit in.")
        if sum(len(one.bells) for one in self._channels.values()) >= MOST_IN_ALL:
            raise FullError("There are too many who follow a class at present.")

    async def follow(self, shown: Shown, known: int) -> AsyncIterator[Shown | None]:
        """Yield what a class is shown whenever that is news, and None where nothing has been for long.

        Parameters
        ----------
        shown : Shown
            What was looked up of it.
        known : int
            Number of the scenario that is known already; 0 for none.
        """
        with self._seat(shown) as (channel, bell):
            while True:
                bell.clear()
                now = channel.shown
                if now.number != known or now.ended:
                    known = now.number
                    yield now
                if now.ended or stopping():
                    return
                if channel.shown is now and not await _rang(bell):
                    yield None

    async def close(self) -> None:
        """Look at the database no more, and wait until nobody does."""
        self._closed = True
        if self._watch and not self._watch.done():
            self._hint.set()
            await self._watch

    @contextlib.contextmanager
    def _seat(self, shown: Shown) -> Iterator[tuple[_Channel, asyncio.Event]]:
        """Count one more as following, and see to it that the database is watched."""
        self.must_have_room(shown.code)
        channel, bell = self._channels.setdefault(shown.code, _Channel(shown)), asyncio.Event()
        channel.bells.add(bell)
        if self._watch is None or self._watch.done():
            self._hint = asyncio.Event()
            self._watch = asyncio.create_task(self._watching())
        self._hint.set()  # it may have changed since it was looked up
        try:
            yield channel, bell
        finally:
            channel.bells.discard(bell)
            if not channel.bells:
                self._channels.pop(shown.code, None)

    async def _watching(self) -> None:
        """Look at the database for as long as somebody follows a class."""
        loop, hint, looked = asyncio.get_running_loop(), self._hint, 0.0

        def told(text):
            with contextlib.suppress(RuntimeError):  # the loop has ended
                loop.call_soon_threadsafe(hint.set)

        with listening(self._store.engine, told) as announced:
            rest = SELDOM if announced else OFTEN
            while (self._channels or self._said) and not self._closed:
                if hint.is_set() or time.monotonic() - looked > rest:
                    hint.clear()
                    await self._look()
                    looked = time.monotonic()
                await self._say()
                if stopping():
                    self._ring(*self._channels.values())
                await asyncio.sleep(_PAUSE)
                with contextlib.suppress(TimeoutError):
                    await asyncio.wait_for(hint.wait(), _TICK)

    async def _look(self) -> None:
        """Look up what all classes are shown that somebody follows."""

        def looked_up(codes):
            with self._store.reading() as session:
                return room.look(session, codes)

        with contextlib.suppress(SQLAlchemyError):  # it is looked at again soon
            for one in (await run_in_threadpool(looked_up, tuple(self._channels))).values():
                self.tell(one)

    async def _say(self) -> None:
        """Say how many follow each class, where that has changed or was said long ago."""
        counts = {code: len(channel.bells) for code, channel in self._channels.items()}
        wait = SAY if counts != self._said else _SAY_AGAIN
        if time.monotonic() - self._said_at < wait:
            return
        gone = {code: 0 for code in self._said if code not in counts}

        def said():
            with self._store.writing() as session:
                room.attend(session, self._process, counts | gone)

        with contextlib.suppress(SQLAlchemyError):
            await run_in_threadpool(said)
            self._said = counts
        self._said_at = time.monotonic()

    def _ring(self, *channels):
        for channel in channels:
            for bell in channel.bells:
                bell.set()


async def _rang(bell: asyncio.Event) -> bool:
    """Wait for a bell, and return whether it rang."""
    try:
        await asyncio.wait_for(bell.wait(), BEAT)
    except TimeoutError:
        return False
    return True
