"""How who follows a class learns of another scenario: in this process and from others, late and early, and the end."""

import asyncio
import contextlib
import time

import pytest
from sqlalchemy import text

from webapp.classes import hub as hubs
from webapp.classes import room
from webapp.classes.hub import FullError, Hub
from webapp.store import Attendance, Store, announcements

PATIENCE = 5.0  # s until what must come about must have


@pytest.fixture
def stores(database):
    """Two stores on one database, as two processes have them."""
    pair = [Store(database), Store(database)]
    yield pair
    for store in pair:
        store.close()


@pytest.fixture
def made(stores):
    """A class that is shown a stage."""
    with stores[0].writing() as session:
        return room.make(session, "vs=1V")


def show(store, made, query):
    with store.writing() as session:
        return room.show(session, made.code, made.key, query)


def now(store, made):
    with store.reading() as session:
        return room.found(session, made.code)


class Follower:
    """One who follows, with all that they were told."""

    def __init__(self, hub, shown, known=0):
        self.told = []
        self.task = asyncio.create_task(self._follow(hub, shown, known))

    async def _follow(self, hub, shown, known):
        async for news in hub.follow(shown, known):
            self.told.append(news)

    async def until(self, met):
        """Wait until what was told meets a condition, and return how long that took."""
        start = time.monotonic()
        while not met(self.told):
            assert time.monotonic() - start < PATIENCE, self.told
            await asyncio.sleep(0.005)
        return time.monotonic() - start

    async def leave(self):
        self.task.cancel()
        with contextlib.suppress(asyncio.CancelledError):
            await self.task


def played(store, play):
    """Play something with a hub, which is closed behind it."""

    async def whole():
        hub = Hub(store)
        await play(hub)
        await hub.close()

    asyncio.run(whole())


def queries(told):
    return [news.scenario for news in told if news]


def test_who_comes_is_told_what_is_shown_and_who_knows_it_is_not(stores, made):
    async def play(hub):
        shown = now(stores[0], made)
        new, back = Follower(hub, shown), Follower(hub, shown, known=shown.number)
        await new.until(lambda told: queries(told) == ["vs=1V"])
        assert back.told == []
        hub.tell(show(stores[0], made, "vs=2V"))
        for one in (new, back):
            await one.until(lambda told: told and queries(told)[-1] == "vs=2V")
            await one.leave()
        assert queries(back.told) == ["vs=2V"]

    played(stores[0], play)


def test_who_is_slow_is_told_the_last_one_only(stores, made):
    async def play(hub):
        shown = now(stores[0], made)
        events = hub.follow(shown, 0)
        assert (await anext(events)).scenario == "vs=1V"
        for n in range(2, 8):
            hub.tell(show(stores[0], made, f"vs={n}V"))
        assert (await anext(events)).scenario == "vs=7V"
        hub.tell(shown)  # what is older than what is known is no news
        hub.tell(show(stores[0], made, "vs=8V"))
        assert (await anext(events)).scenario == "vs=8V"
        await events.aclose()

    played(stores[0], play)


def test_what_another_process_shows_is_told_soon(stores, made, monkeypatch):
    if "postgresql" in str(stores[0].engine.url):
        monkeypatch.setattr(hubs, "SELDOM", 1000.0)  # it is announced, not found by looking

    async def play(hub):
        one = Follower(hub, now(stores[0], made))
        await one.until(lambda told: len(told) == 1)
        await asyncio.sleep(0.3)  # until it listens
        await asyncio.to_thread(show, stores[1], made, "vs=2V")
        assert await one.until(lambda told: queries(told)[-1] == "vs=2V") < 1.0
        await one.leave()

    played(stores[0], play)


def test_a_class_goes_on_where_the_database_has_dropped_all_connections(stores, made, monkeypatch):
    monkeypatch.setattr(announcements, "AGAIN", 0.05)

    async def play(hub):
        one = Follower(hub, now(stores[0], made))
        await one.until(lambda told: len(told) == 1)
        await asyncio.sleep(0.2)
        await asyncio.to_thread(drop, stores[1])
        await asyncio.to_thread(show, stores[1], made, "vs=2V")
        await one.until(lambda told: queries(told)[-1] == "vs=2V")
        await one.leave()

    played(stores[0], play)


def drop(store):
    """Drop all other connections to a database, as it does when it is started anew."""
    if store.engine.dialect.name == "sqlite":
        store.engine.dispose()
        return
    others = "datname = current_database() AND pid <> pg_backend_pid()"
    with store.engine.connect() as connection:
        connection.execute(text(f"SELECT pg_terminate_backend(pid) FROM pg_stat_activity WHERE {others}"))


def test_what_was_shown_between_looking_up_and_following_is_told(stores, made, monkeypatch):
    monkeypatch.setattr(hubs, "OFTEN", 1000.0)
    monkeypatch.setattr(hubs, "SELDOM", 1000.0)

    async def play(hub):
        first = Follower(hub, now(stores[0], made))
        await first.until(lambda told: len(told) == 1)
        await asyncio.sleep(0.1)
        old = now(stores[0], made)
        await asyncio.to_thread(show, stores[1], made, "vs=2V")
        second = Follower(hub, old)
        await second.until(lambda told: queries(told)[-1:] == ["vs=2V"])
        await first.leave()
        await second.leave()

    played(stores[0], play)


def test_signs_of_life_are_sent_where_nothing_changes(stores, made, monkeypatch):
    monkeypatch.setattr(hubs, "BEAT", 0.02)

    async def play(hub):
        one = Follower(hub, now(stores[0], made))
        await one.until(lambda told: told.count(None) >= 3)
        await one.leave()

    played(stores[0], play)


def test_the_end_is_told_and_nothing_after_it(stores, made):
    async def play(hub):
        one = Follower(hub, now(stores[0], made))
        await one.until(lambda told: len(told) == 1)

        def end():
            with stores[1].writing() as session:
                room.end(session, made.code, made.key)

        await asyncio.to_thread(end)
        await asyncio.wait_for(one.task, PATIENCE)
        assert [news.ended for news in one.told] == [False, True]

    played(stores[0], play)


def test_a_server_that_is_told_to_end_lets_everybody_go(stores, made, monkeypatch):
    async def play(hub):
        one = Follower(hub, now(stores[0], made))
        await one.until(lambda told: len(told) == 1)
        monkeypatch.setattr(hubs, "stopping", lambda: True)
        await asyncio.wait_for(one.task, PATIENCE)
        assert queries(one.told) == ["vs=1V"]

    played(stores[0], play)


def test_how_many_follow_is_said_and_taken_back(stores, made, monkeypatch):
    monkeypatch.setattr(hubs, "SAY", 0.0)

    def counted():
        with stores[1].reading() as session:
            return room.followers(session, made.code)

    async def until(count):
        start = time.monotonic()
        while await asyncio.to_thread(counted) != count:
            assert time.monotonic() - start < PATIENCE
            await asyncio.sleep(0.02)

    async def play(hub):
        shown = now(stores[0], made)
        all_of_them = [Follower(hub, shown) for _ in range(3)]
        await until(3)
        await all_of_them[0].leave()
        await until(2)
        for one in all_of_them[1:]:
            await one.leave()
        await until(0)
        back = Follower(hub, shown)
        await until(1)
        await back.leave()
        await until(0)
        await asyncio.wait_for(hub._watch, PATIENCE)  # nobody is left to look for

    played(stores[0], play)
    with stores[1].reading() as session:
        assert session.query(Attendance).count() == 0


def test_nobody_fits_in_beyond_the_bounds(stores, made, monkeypatch):
    async def play(hub):
        shown = now(stores[0], made)
        one = Follower(hub, shown)
        await one.until(lambda told: len(told) == 1)
        for name in ("MOST_FOLLOWERS", "MOST_IN_ALL"):
            with monkeypatch.context() as bound:
                bound.setattr(hubs, name, 1)
                with pytest.raises(FullError):
                    hub.must_have_room(made.code)
                with pytest.raises(FullError):
                    await anext(hub.follow(shown, 0))
        hub.must_have_room(made.code)
        await one.leave()

    played(stores[0], play)
