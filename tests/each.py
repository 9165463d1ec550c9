"""Many cases as one test, where a case takes less time than the running of a test does."""

from collections.abc import Callable, Iterable


def of_each(cases: Iterable) -> Callable[[Callable], Callable[[], None]]:
    """Return what turns a check of one case into a test of all of them.

    Parameters
    ----------
    cases : iterable
        Arguments of the check: a tuple of them, or a single one.

    Returns
    -------
    callable
        From the check to the test, which tells the first case that fails.

    Raises
    ------
    ValueError
        If there is no case, as the test could not fail then.
    """
    asked = [case if isinstance(case, tuple) else (case,) for case in cases]
    if not asked:
        raise ValueError("without a case nothing is tested")

    def over_all(check: Callable) -> Callable[[], None]:
        def test() -> None:
            for case in asked:
                try:
                    check(*case)
                except Exception as fault:
                    fault.add_note(f"It is the case {case}.")
                    raise

        test.__doc__ = check.__doc__
        return test

    return over_all
