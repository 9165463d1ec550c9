"""A test of many cases fails with any of them."""

import pytest

from tests.each import of_each


def test_one_case_of_many_that_fails_is_told():
    seen = []

    @of_each([(1, 2), (2, 1), (3, 4)])
    def check(low, high):
        seen.append(low)
        assert low < high

    with pytest.raises(AssertionError) as caught:
        check()
    assert seen == [1, 2]
    assert "(2, 1)" in caught.value.__notes__[0]


def test_every_case_is_checked():
    seen = []
    of_each(["a", "b"])(seen.append)()
    assert seen == ["a", "b"]


def test_without_a_case_there_is_no_test():
    with pytest.raises(ValueError, match="nothing is tested"):
        of_each([])
