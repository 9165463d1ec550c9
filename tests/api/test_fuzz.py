"""No input of any kind yields a 5xx, a NaN or a traceback, on any address that takes a scenario."""

import json
from urllib.parse import quote

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from engine import KEYS, declared, scenario_from_query

ADDRESSES = ("/api/stage", "/stage", "/stage/live", "/stage/explorer", "/stage/finding-list", "/bench", "/api/bench")
SPECIMENS = (
    "", " ", "0", "-0", "auto", "typ", "none", "family", "card", "closed", "4k7", "1e300", "1e-300", "-1", "nan", "inf",
    "-inf V", "5 V + 3 V", "9**9**9", "()", "1/0", "\u0663 V", "\uff11\uff12",
    "+", "\x00", "\r\n", "%", "%zz", "<script>", "{{7*7}}",
    "${x}", "A" * 10_000, "9" * 400, "1" * 39 + "V", "0x10", "1_000", "1e999999999", "µ", "Ω", "4k7k", "k", "1 m m",
    "general", "pull-up", "logic", "contact-low", "E24", "nearest",
)  # fmt: skip
typed = st.one_of(
    st.sampled_from(SPECIMENS),
    st.text(max_size=60),
    st.from_regex(
        r"[+-]?[0-9]{1,4}(\.[0-9]{0,3})?(e[+-]?[0-9]{1,3})? ?[pnuµmkMG]?(V|A|ohm|Ω|R|%|C|W|Hz|s)?", fullmatch=True
    ),
)
pairs = st.lists(
    st.tuples(st.one_of(st.sampled_from(sorted(KEYS)), st.text(max_size=8), st.just("was")), typed), max_size=12
)


OF_THE_USUAL_STAGE = {p.key for part in scenario_from_query("").parts() for p in declared(part).values()}
"""Keys that the usual stage reads; it leaves aside those of other kinds."""


def refuse_constants(name):
    raise ValueError(f"{name} is not JSON")


def check(answer):
    assert answer.status_code in (200, 303, 422)
    assert "Traceback" not in answer.text
    if answer.headers.get("Content-Type", "").endswith("json"):
        json.loads(answer.text, parse_constant=refuse_constants)


@pytest.mark.parametrize("address", ADDRESSES)
@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(pairs=pairs)
def test_any_fields(client, address, pairs):
    check(client.get(address, params=pairs, follow_redirects=False))


@pytest.mark.parametrize("address", ADDRESSES)
@settings(max_examples=30, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(query=st.binary(max_size=200))
def test_any_bytes(client, address, query):
    check(client.get(f"{address}?{quote(query, safe='&=+%')}", follow_redirects=False))


@pytest.mark.parametrize("text", SPECIMENS, ids=lambda text: repr(text)[:20])
def test_every_specimen_in_every_field(client, text):
    asked = OF_THE_USUAL_STAGE | {"in", "out"}
    for key in sorted(asked):
        check(client.get("/api/stage", params={key: text}))
    aside = sorted(KEYS - asked)
    together = 40 if len(text) < 100 else 1  # an address has its limits
    for k in range(0, len(aside), together):
        check(client.get("/api/stage", params=dict.fromkeys(aside[k : k + together], text)))


@pytest.mark.parametrize("key", ["in", "vs", "r1", "ctr", "logic", "sw", "was"])
@pytest.mark.parametrize(("first", "address"), [*enumerate(a for a in ADDRESSES if a != "/api/stage")])
def test_specimens_on_every_address(client, first, address, key):
    """Every address meets one in six of them, all addresses every one; `/api/stage` meets them all above."""
    for text in SPECIMENS[first::6]:
        check(client.get(address, params={key: text}, follow_redirects=False))


@pytest.mark.parametrize("address", ADDRESSES)
def test_very_many_fields(client, address):
    check(client.get(address, params=[("vs", "1V")] * 1500, follow_redirects=False))
