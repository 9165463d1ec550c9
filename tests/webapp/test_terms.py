"""The page of terms, and symbols on other pages that have something to open."""

import pytest

from tests.markup import tree_of
from webapp.render import explain
from webapp.terms import TERMS


def parsed(client, path):
    answer = client.get(path)
    assert answer.status_code == 200
    return tree_of(answer.text)


def test_the_page_has_every_term_with_its_sentence_and_links_that_lead_somewhere(client):
    soup = parsed(client, "/terms")
    shown = {place["id"]: place.dd.get_text() for place in soup.select(".terms-list > div")}
    assert shown == {term.id: term.sentence for term in TERMS.values()}
    ids = {tag["id"] for tag in soup.select("[id]")}
    links = [link["href"].removeprefix("#") for link in soup.select("main a")]
    assert len(links) > len(TERMS)
    assert set(links) <= ids
    assert {"R1", "U1"} <= {name.get_text() for name in soup.select("#parts dt")}


def test_terms_stand_in_the_order_of_the_alphabet(client):
    symbols = [b.get_text().lower() for b in parsed(client, "/terms").select(".terms-list dt b")]
    assert symbols == sorted(symbols)


@pytest.mark.parametrize("path", ["/stage?panel=off&sw=open", "/bench", "/findings", "/couplers", "/couplers/general"])
def test_every_symbol_of_a_page_leads_to_its_meaning(client, path):
    leads_to = {link["href"].partition("#") for link in parsed(client, path).select("a.term")}
    assert len(leads_to) > 4
    assert {page for page, _, _ in leads_to} == {"/terms"}
    assert {place for _, _, place in leads_to} <= {term.id for term in TERMS.values()}


def test_what_symbols_mean_is_asked_for_once_and_kept_for_a_year(client):
    page = parsed(client, "/stage")
    place = page.select_one("#terms-said")
    assert place.within("main, form") is None
    told = page.get_text()
    assert [term.symbol for term in TERMS.values() if term.sentence in told] == []
    answer = client.get(place["data-terms"])
    assert "immutable" in answer.headers["Cache-Control"]
    said = answer.json()
    assert {name: sentence for name, (*_, sentence) in said.items()} == {t.id: t.sentence for t in TERMS.values()}
    assert said["CTR"][:3] == ["CTR", "current transfer ratio", ""]
    assert said["creepage"][:3] == ["creepage", "", "m"]


def test_a_label_that_nothing_explains_is_printed_as_it_is():
    assert explain("<b>") == "&lt;b&gt;"


def test_a_label_keeps_what_follows_its_symbol():
    assert explain("VCE(sat), typical").endswith(">VCE(sat)</a>, typical")
    assert 'aria-label="Coldest: what it means"' in explain("TA min", "Coldest")
    assert 'aria-label="VIL: what it means"' in explain("VIL", "?")
