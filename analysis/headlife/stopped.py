"""What does a command do on Ctrl-C while it is still being imported? It says so and ends.

What is imported takes most of the first second, and Python answers Ctrl-C there with a traceback.
From the first lines of the package on the answer is the sentence and the code of any stopped run;
`cli.main` takes over where something may have been begun that must be put away: it asks whether
Ctrl-C was given, not which exception came. Python and its libraries turn one into another where
it meets them half-way, as in the making of an enumeration; what it cannot raise at all, since it
met it while an object was put away, is raised again a moment later. Who only imports the package
keeps their own answer to Ctrl-C. Until Python has come to our first line, a tenth of a second at
most, its own answer is all there is.

Nothing may be imported here but what every Python has loaded by itself, for speed: `signal` alone
takes 4 ms.
"""

import os
import sys

SENTENCE = "headlife: stopped; nothing was left half-written."
EXIT_CODE = 130  # what shells expect after Ctrl-C


def _end(_signal: int, _frame: object) -> None:
    """End at once: nothing has been begun."""
    try:
        os.write(2, f"{SENTENCE}\n".encode())
    finally:
        os._exit(EXIT_CODE)


def hear_ctrl_c() -> None:
    """Answer Ctrl-C from here on, if this process was started as a command and is no worker."""
    import _signal  # type: ignore[import-not-found]

    script = os.path.basename(sys.argv[0]).partition(".")[0] if sys.argv else ""
    named = script == "headlife" or (script == "-m" and "headlife" in sys.orig_argv)
    free = _signal.getsignal(_signal.SIGINT) is _signal.default_int_handler
    if named and free and "multiprocessing" not in sys.modules:
        _signal.signal(_signal.SIGINT, _end)


_given = False


def _raise(_signal: int, _frame: object) -> None:
    """Raise, and remember why."""
    global _given
    _given = True
    raise KeyboardInterrupt


def _once_more() -> None:
    import _thread
    import time

    time.sleep(0.01)  # until Python is out of where it cannot raise
    _thread.interrupt_main()


def _not_raised(met: object) -> None:
    """Answer to what Python cannot raise; in place of a traceback after which the run goes on."""
    if getattr(met, "exc_type", None) is KeyboardInterrupt:
        import _thread

        _thread.start_new_thread(_once_more, ())
    else:
        sys.__unraisablehook__(met)  # type: ignore[arg-type]


def raise_ctrl_c() -> None:
    """Raise Ctrl-C from here on, so that what was begun is put away."""
    import _signal

    if _signal.getsignal(_signal.SIGINT) is _end:
        _signal.signal(_signal.SIGINT, _raise)
        sys.unraisablehook = _not_raised


def ctrl_c_given() -> bool:
    """Was Ctrl-C given since?"""
    return _given
