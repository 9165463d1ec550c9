"""No form, file or packed text of a card yields a 5xx, a NaN or a traceback, on any address that takes one."""

import base64
import re
import zlib
from urllib.parse import quote

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from engine import CARD_FAMILIES, card_names, card_to_toml, load_card, pack_card, typed_of
from tests.api.test_fuzz import SPECIMENS, check

QUICK = {"deadline": None, "suppress_health_check": [HealthCheck.function_scoped_fixture]}
TAKE_PACKED = (
    "/couplers/own", "/couplers/own/toml", "/couplers/new", "/api/couplers/own",
    "/stage?coupler=own", "/stage/live?coupler=own", "/stage/explorer?coupler=own", "/api/stage?coupler=own",
)  # fmt: skip
PATHS = sorted({path for name in card_names() for path in typed_of(load_card(name))})
TYPED = st.one_of(
    st.sampled_from(SPECIMENS),
    st.text(max_size=80),
    st.from_regex(r"[+-]?[0-9]{1,4}(\.[0-9]{0,3})?(e[+-]?[0-9]{1,2})? ?[pnuµmk]?(V|A|W|ohm|%|C|K|m)?", fullmatch=True),
    st.from_regex(r"([0-9]{1,3} [um]A [0-9.]{1,4} (V|%)[,;\n:]? ?){1,6}", fullmatch=True),
)
REFUSED = (400, 404, 413, 415, 422)


def fine(answer):
    assert answer.status_code in (200, 303, 307, *REFUSED)
    assert "Traceback" not in answer.text
    seen = re.sub(r'(href|value)="[^"]*"', "", answer.text)
    if answer.status_code == 200:
        assert not re.search(r"\b(nan|inf)\b", re.sub(r"<textarea.*?</textarea>", "", seen, flags=re.DOTALL))


def packed(text: bytes) -> str:
    return base64.urlsafe_b64encode(zlib.compress(text, 9)).decode().rstrip("=")


@settings(max_examples=50, **QUICK)
@given(name=st.sampled_from(card_names()), changed=st.dictionaries(st.sampled_from(PATHS), TYPED, max_size=4))
def test_any_lines_in_the_form(client, name, changed):
    card = load_card(name)
    answer = client.post(
        "/couplers/new", data=typed_of(card) | {"family": card.family} | changed, follow_redirects=False
    )
    fine(answer)
    if answer.status_code == 303:
        fine(client.get(answer.headers["Location"]))


@settings(max_examples=50, **QUICK)
@given(
    name=st.sampled_from(card_names()),
    factors=st.lists(st.tuples(st.integers(0, 200), st.floats(-2.0, 2.0)), min_size=1, max_size=5),
)
def test_any_numbers_in_the_lines(client, name, factors):
    texts = card_to_toml(load_card(name))
    numbers = list(re.finditer(r"(?<![\w.])[0-9]+(?:\.[0-9]+)?(?= [^\s])", texts))
    for place, power in factors:
        match = numbers[place % len(numbers)]
        number = f"{float(match[0]) * 10**power:.3f}"
        texts = texts[: match.start()] + number[: len(match[0])].ljust(len(match[0]), "0") + texts[match.end() :]
    answer = client.post("/couplers/import", data={"text": texts}, follow_redirects=False)
    fine(answer)
    if answer.status_code == 303:
        text = answer.headers["Location"].partition("card=")[2]
        for address in ("/couplers/own?", "/api/couplers/own?", "/api/stage?coupler=own&"):
            fine(client.get(f"{address}card={text}"))


@settings(max_examples=60, **QUICK)
@given(text=st.one_of(st.text(max_size=300), st.binary(max_size=300).map(lambda raw: raw.decode("latin-1"))))
def test_any_text_for_a_file(client, text):
    fine(client.post("/couplers/import", data={"text": text}, follow_redirects=False))
    fine(
        client.post("/couplers/import", files={"file": ("x", text.encode("utf-8", "replace"))}, follow_redirects=False)
    )


@pytest.mark.parametrize("path", ["/couplers/new", "/couplers/import"])
@settings(max_examples=60, **QUICK)
@given(
    body=st.binary(max_size=400),
    kind=st.sampled_from(
        [
            "application/x-www-form-urlencoded",
            "multipart/form-data; boundary=b",
            "multipart/form-data",
            "text/plain",
            "",
        ]
    ),
)
def test_any_body(client, path, body, kind):
    fine(client.post(path, content=body, headers={"Content-Type": kind}, follow_redirects=False))


@pytest.mark.parametrize("path", ["/couplers/new", "/couplers/import"])
@settings(max_examples=40, **QUICK)
@given(inner=st.binary(max_size=200))
def test_any_part_of_a_form(client, path, inner):
    body = b'--b\r\nContent-Disposition: form-data; name="text"\r\n' + inner + b"\r\n--b--\r\n"
    kind = "multipart/form-data; boundary=b"
    fine(client.post(path, content=body, headers={"Content-Type": kind}, follow_redirects=False))


@pytest.mark.parametrize("address", TAKE_PACKED)
@settings(max_examples=25, **QUICK)
@given(
    text=st.one_of(
        st.sampled_from(SPECIMENS),
        st.text(max_size=60),
        st.text(alphabet="ABCxyz019-_=", max_size=400),
        st.binary(max_size=300).map(packed),
        st.tuples(st.sampled_from(card_names()), st.integers(0, 900), st.text("A-_z", min_size=1, max_size=3)).map(
            lambda found: (
                pack_card(load_card(found[0]))[: found[1]] + found[2] + pack_card(load_card(found[0]))[found[1] :]
            )
        ),
    )
)
def test_any_packed_text(client, address, text):
    join = "&" if "?" in address else "?"
    answer = client.get(f"{address}{join}card={quote(text)}", follow_redirects=False)
    fine(answer)
    if address.startswith(("/api", "/stage")):
        check(answer)


@pytest.mark.parametrize("address", TAKE_PACKED)
@pytest.mark.parametrize(
    "raw", [b"\0" * 20_000_000, b"[" * 8000, b"a=1\n" * 2000, b"\xff"], ids=["bomb", "nest", "many", "no text"]
)
def test_bombs(client, address, raw):
    join = "&" if "?" in address else "?"
    assert client.get(f"{address}{join}card={packed(raw)}").status_code == 422


@settings(max_examples=60, **QUICK)
@given(card=st.one_of(st.sampled_from(SPECIMENS), st.text(min_size=1, max_size=40)))
def test_any_name(client, card):
    for path in ("/couplers/{}", "/couplers/{}/toml", "/api/couplers/{}"):
        fine(client.get(path.format(quote(card, safe="")), follow_redirects=False))


@pytest.mark.parametrize("key", ["from", "family", "card", "other"])
def test_specimens_where_a_form_begins(client, key):
    for text in (*SPECIMENS, *CARD_FAMILIES):
        fine(client.get("/couplers/new", params={key: text}))
