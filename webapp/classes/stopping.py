"""Whether the server that runs the application is about to end.

It waits for answers that are on their way, and an answer that follows a class ends by nothing else.
"""

import signal


def stopping() -> bool:
    """Return whether the server has been told to end: it minds the signal by a method, and notes there that it came."""
    server = getattr(signal.getsignal(signal.SIGTERM), "__self__", None)
    return bool(getattr(server, "should_exit", False))
