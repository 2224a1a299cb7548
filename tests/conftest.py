"""What holds for the whole test session."""

import signal

import pytest

from planopt.solve.compiled import Compilation

# A shell without job control starts what runs in its background with Ctrl-C ignored, and processes
# that tests start and interrupt would inherit that.
if signal.getsignal(signal.SIGINT) is signal.SIG_IGN:
    signal.signal(signal.SIGINT, signal.default_int_handler)


def pytest_sessionstart(session: pytest.Session) -> None:
    """Compile the search once, before any process of tests would each on its own."""
    if not hasattr(session.config, "workerinput"):
        Compilation().wait()
