"""Forms of cards as a browser without script sends them."""

from functools import lru_cache
from urllib.parse import parse_qs, urlsplit

from tests.markup import tree_of


def parsed(answer):
    """Return the tree of a page, read once for all who look at it in turn."""
    return _tree(answer.text)


@lru_cache(maxsize=2)
def _tree(text):
    return tree_of(text)


def filled(soup, form="#card-form"):
    """Return what a form holds, by the names that are sent."""
    data = {control["name"]: control.get("value", "") for control in soup.select(f"{form} input[name]")}
    data |= {area["name"]: area.get_text().removeprefix("\n") for area in soup.select(f"{form} textarea")}
    for select in soup.select(f"{form} select"):
        chosen = select.select_one("option[selected]") or select.option
        data[select["name"]] = chosen["value"]
    return data


def sent(client, start="from=general", **changed):
    """Return the answer to a form that begins with a card, some lines changed; dots are written as two underscores."""
    data = filled(parsed(client.get(f"/couplers/new?{start}")))
    data |= {path.replace("__", "."): text for path, text in changed.items()}
    return client.post("/couplers/new", data=data, follow_redirects=False)


def packed(answer):
    """Return the packed card that an answer leads to."""
    return parse_qs(urlsplit(answer.headers["Location"]).query)["card"][0]
