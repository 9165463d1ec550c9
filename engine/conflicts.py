"""Which of several requirements exclude each other, from a table of what holds with which candidate."""

from itertools import combinations

import numpy as np


def never(table):
    """Return the requirements that no candidate meets.

    Parameters
    ----------
    table : dict of str to ndarray of bool, shape (candidates,)
        Requirement to whether each candidate meets it.

    Returns
    -------
    tuple of str
        Those that hold nowhere, in the order of the table.

    Examples
    --------
    >>> never({"a": np.array([True, False]), "b": np.array([False, False])})
    ('b',)
    """
    return tuple(code for code, held in table.items() if not held.any())


def pairs(table):
    """Return every two requirements of which each can be met, but never both at once.

    Parameters
    ----------
    table : dict of str to ndarray of bool, shape (candidates,)
        Requirement to whether each candidate meets it.

    Returns
    -------
    tuple of (str, str)
        The pairs, in the order of the table.
    """
    alive = [code for code, held in table.items() if held.any()]
    return tuple((a, b) for a, b in combinations(alive, 2) if not (table[a] & table[b]).any())


def smallest(table):
    """Return a set of requirements that no candidate meets together, and from which none can be left out.

    Parameters
    ----------
    table : dict of str to ndarray of bool, shape (candidates,)
        Requirement to whether each candidate meets it.

    Returns
    -------
    tuple of str
        The set, in the order of the table; empty where some candidate meets everything.

    Examples
    --------
    >>> smallest({"a": np.array([1, 0, 1], bool), "b": np.array([1, 1, 1], bool), "c": np.array([0, 1, 0], bool)})
    ('a', 'c')
    """
    if not table or np.all(list(table.values()), axis=0).any():
        return ()
    kept = dict(table)
    for code in table:
        rest = {other: held for other, held in kept.items() if other != code}
        if rest and not np.all(list(rest.values()), axis=0).any():
            kept = rest
    return tuple(kept)


def fewest(table, otherwise=None):
    """Return the candidates by how many requirements they miss.

    Parameters
    ----------
    table : dict of str to ndarray of bool, shape (candidates,)
        Requirement to whether each candidate meets it.
    otherwise : ndarray, shape (candidates,), or None
        What decides between those that miss as many, the least first; their places if None [-].

    Returns
    -------
    ndarray of int, shape (candidates,)
        Places of the candidates, those that miss the fewest first.
    """
    missed = np.sum([~held for held in table.values()], axis=0)
    return np.lexsort((np.arange(len(missed)) if otherwise is None else otherwise, missed))
