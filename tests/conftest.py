"""What holds for the whole test session."""

import os
import signal

import pytest

from planopt.solve.annealing.compiled import Compilation

# Whoever runs the tests may have defaults of their own; tests that want some name their file.
os.environ["PLANOPT_DEFAULTS"] = ""

# A shell without job control starts what runs in its background with Ctrl-C ignored, `nohup` with
# hang-ups ignored; both planopt and processes that tests start and interrupt would keep to that.
if signal.getsignal(signal.SIGINT) is signal.SIG_IGN:
    signal.signal(signal.SIGINT, signal.default_int_handler)
if signal.getsignal(signal.SIGHUP) is signal.SIG_IGN:
    signal.signal(signal.SIGHUP, signal.SIG_DFL)


def pytest_sessionstart(session: pytest.Session) -> None:
    """Compile the search once, before any process of tests would each on its own."""
    if not hasattr(session.config, "workerinput"):
        Compilation().wait()
