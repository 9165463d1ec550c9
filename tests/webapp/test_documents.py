"""Documents that are kept: links, revisions, keys, bounds; notes as safe markup."""

import hashlib
import re
import threading

import pytest
from bs4 import BeautifulSoup
from sqlalchemy import func, select

from webapp.keeping import documents
from webapp.keeping.documents import Conflict, DocumentError, Refused, RoomError
from webapp.keeping.notes import html_of
from webapp.store import Document, DocumentRevision, Store

KIND = "scenario"


@pytest.fixture(scope="module")
def store(module_database):
    """One store for all tests here; each makes documents of its own."""
    store = Store(module_database)
    yield store
    store.close()


@pytest.fixture
def made(store):
    """Both links to a document."""
    with store.writing() as session:
        return documents.create(session, KIND, "A  title", {"says": "first"})


def saved(store, made, base, **body):
    with store.writing() as session:
        return documents.save(session, KIND, made.id, made.key, base, "Title", body)


def test_links_are_long_random_and_for_an_address(store):
    with store.writing() as session:
        made = [documents.create(session, KIND, "t", {}) for _ in range(20)]
    ids, keys = {one.id for one in made}, {one.key for one in made}
    assert (len(ids), len(keys)) == (20, 20)
    assert all(re.fullmatch(r"[\w-]{16}", one) for one in ids)  # 96 bit, six a character
    assert all(re.fullmatch(r"[\w-]{24}", one) for one in keys)  # 144 bit


def test_the_key_itself_is_not_kept(store, made):
    with store.reading() as session:
        kept = session.get(Document, made.id)
    assert kept.key == hashlib.sha256(made.key.encode()).digest()


def test_what_was_made_is_the_first_revision(store, made):
    with store.reading() as session:
        found = documents.current(session, KIND, made.id)
    assert (found.number, found.title, found.body) == (1, "A title", {"says": "first"})


def test_every_save_is_a_revision_that_stays(store, made):
    saved(store, made, 1, says="second")
    saved(store, made, 2, says="third")
    with store.reading() as session:
        assert documents.current(session, KIND, made.id).body == {"says": "third"}
        assert documents.revision(session, KIND, made.id, 1).body == {"says": "first"}
        assert [one.number for one in documents.revisions(session, KIND, made.id)] == [3, 2, 1]
        assert [(one.number, one.title) for one in documents.dated(session, KIND, made.id)][-1] == (1, "A title")
        assert documents.revision(session, KIND, made.id, 4) is None


@pytest.mark.parametrize("base", [0, 1, 3, -1, 2**40])
def test_nobody_saves_over_what_they_have_not_seen(store, made, base):
    saved(store, made, 1, says="of the other")
    with pytest.raises(Conflict) as told:
        saved(store, made, base, says="mine")
    assert told.value.current.body == {"says": "of the other"}
    with store.reading() as session:
        assert [one.number for one in documents.dated(session, KIND, made.id)] == [2, 1]


def test_of_many_who_save_over_the_same_revision_one_does(store, made):
    saves, conflicts = [], []

    def save_mine(number):
        try:
            saves.append(saved(store, made, 1, says=number))
        except Conflict as conflict:
            conflicts.append(conflict.current)

    threads = [threading.Thread(target=save_mine, args=(number,)) for number in range(6)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert (len(saves), len(conflicts)) == (1, 5)
    assert {one.body["says"] for one in conflicts} == {saves[0].body["says"]}


def test_of_a_long_history_the_first_and_the_latest_stay(store, made, monkeypatch):
    monkeypatch.setattr(documents, "MOST_REVISIONS", 4)
    for base in range(1, 10):
        saved(store, made, base, says=base)
    with store.reading() as session:
        assert [one.number for one in documents.dated(session, KIND, made.id)] == [10, 9, 8, 1]
        own = DocumentRevision.document == made.id
        sizes = sum(len(text) for text in session.scalars(select(DocumentRevision.content).where(own)))
        assert session.get(Document, made.id).size == sizes


def test_the_key_fits_its_document_and_kind_alone(store, made):
    with store.writing() as session:
        other = documents.create(session, "lesson", "t", {})
    with store.reading() as session:
        assert documents.may_edit(session, KIND, made.id, made.key)
        for kind, name, key in (
            (KIND, made.id, other.key),
            (KIND, made.id, ""),
            (KIND, made.id, "é\ud800"),
            (KIND, "nothing", made.key),
            ("lesson", made.id, made.key),
            (KIND, made.id, made.key + "A" * 100),
        ):
            assert not documents.may_edit(session, kind, name, key)
        assert documents.current(session, KIND, other.id) is None


def test_unknown_deleted_and_wrong_key_are_refused_alike(store, made):
    with store.writing() as session:
        gone = documents.create(session, KIND, "t", {})
    with store.writing() as session:
        documents.delete(session, KIND, gone.id, gone.key)
    told = set()
    for name, key in ((made.id, "wrong"), (gone.id, gone.key), ("nothing", made.key)):
        for act in (
            lambda session, name=name, key=key: documents.save(session, KIND, name, key, 1, "t", {}),
            lambda session, name=name, key=key: documents.delete(session, KIND, name, key),
        ):
            with pytest.raises(Refused) as error, store.writing() as session:
                act(session)
            told.add(str(error.value))
    assert len(told) == 1
    with store.reading() as session:
        assert documents.current(session, KIND, made.id) is not None


def test_what_is_deleted_leaves_nothing_behind(store, made):
    saved(store, made, 1, says="second")
    with store.writing() as session:
        documents.delete(session, KIND, made.id, made.key)
    with store.reading() as session:
        assert documents.current(session, KIND, made.id) is None
        assert documents.revisions(session, KIND, made.id) == ()
        own = DocumentRevision.document == made.id
        assert session.scalar(select(func.count()).select_from(DocumentRevision).where(own)) == 0


@pytest.mark.parametrize("title", ["", " \n ", "t" * 121, "a\x00b", "\ud800", "\u2400" * 121])
def test_a_title_is_wanted_that_can_be_shown_and_fits(title):
    with pytest.raises(DocumentError) as told:
        documents.titled(title)
    assert list(told.value.wrong) == ["title"]


@pytest.mark.parametrize("body", [{"x": "x" * 65536}, {"x": "é" * 40_000}, {"x": float("nan")}, {"x": "\ud800"}])
def test_a_body_that_is_too_long_or_no_text_is_refused(store, body):
    with pytest.raises(DocumentError), store.writing() as session:
        documents.create(session, KIND, "t", body)


def test_documents_are_bounded_in_number_and_in_all(store, made, monkeypatch):
    monkeypatch.setattr(documents, "MOST_BYTES", 10)
    with pytest.raises(RoomError):
        saved(store, made, 1, says="more than ten bytes")
    monkeypatch.setattr(documents, "MOST_DOCUMENTS", 1)
    with pytest.raises(RoomError), store.writing() as session:
        documents.create(session, KIND, "t", {})


@pytest.mark.parametrize(
    ("typed", "selector", "text"),
    [
        ("**R1** runs *warm*", "p > strong", "R1"),
        ("# Heading", "h3", "Heading"),
        ("### Heading", "h4", "Heading"),
        ("* one\n* two", "ul > li + li", "two"),
        ("1. one", "ol > li", "one"),
        ("`vs=36V`", "code", "vs=36V"),
        ("> quoted", "blockquote > p", "quoted"),
        ("|a|b|\n|-|-|\n|1|2|", "table td", "1"),
        ("one\ntwo", "br", ""),
        ("[stage](/stage?vs=36V)", 'a[href="/stage?vs=36V"][rel="nofollow noopener noreferrer"]', "stage"),
        ("[mail](mailto:a@example.org)", 'a[href="mailto:a@example.org"]', "mail"),
    ],
)
def test_notes_are_simple_markdown(typed, selector, text):
    assert BeautifulSoup(html_of(typed), "html5lib").select_one(selector).text == text


HARMFUL = (
    "<script>alert(1)</script>",
    "<img src=x onerror=alert(1)>",
    "![x](https://example.org/x.png)",
    "[x](javascript:alert(1))",
    "[x](data:text/html,x)",
    "[x](vbscript:x)",
    "<style>p{}</style><p style='color:red' onclick=x>",
    "[x](/y 'onmouseover=\"x\"')",
    "<iframe src=/s/x></iframe><form><input><button>",
    "```js\n<script>x</script>\n```",
    "[x]: javascript:alert(1)\n\n[x]",
    "<a href='&#106;avascript:x'>x</a>",
    "*" * 5000,
    "[" * 5000,
    "> " * 2500,
    "\x00<b\ud800>",
)
ALLOWED = set("p em strong code pre ul ol li blockquote h3 h4 a br hr table thead tbody tr th td".split())


@pytest.mark.parametrize("typed", HARMFUL, ids=lambda text: repr(text)[:24])
def test_notes_carry_nothing_that_acts(typed):
    body = BeautifulSoup(html_of(typed), "html5lib").body
    assert {tag.name for tag in body.find_all()} <= ALLOWED
    for tag in body.find_all():
        assert set(tag.attrs) <= {"href", "rel"}
        assert re.match(r"(https?:|mailto:|/|#|\?|[\w.-]+$)", tag.get("href", "/"))
