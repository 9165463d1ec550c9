"""Saves that were acknowledged are there after the server was killed; `tests/benchmarks/kept.py` does more of them."""

import pytest

from tests.killing import missing, mortal, saves_under_kills

SAVES, KILLS = 50, 4


@pytest.mark.allow_hosts(["127.0.0.1"])
def test_every_acknowledged_save_is_there_after_kills(tmp_path):
    with mortal(tmp_path / "kept.sqlite3") as server:
        account = saves_under_kills(server, SAVES, KILLS)
        assert missing(server, account) == []
    assert account.kills >= 2
    assert len(account.saved) >= SAVES
    assert account.refused == []
