"""What holds for the whole test session."""

import signal

# A shell without job control starts what runs in its background with Ctrl-C ignored, and processes
# that tests start and interrupt would inherit that.
if signal.getsignal(signal.SIGINT) is signal.SIG_IGN:
    signal.signal(signal.SIGINT, signal.default_int_handler)
