"""What does a command do on Ctrl-C while it is still being imported? It says so and ends.

What is imported takes most of the first second, and Python answers Ctrl-C there with a traceback.
From the first lines of the package on the answer is the sentence and the code of any stopped run;
`cli.main` takes over where something may have been begun that must be put away: it asks whether
Ctrl-C was given, not which exception came. Python and its libraries turn one into another where
it meets them half-way, as in the making of an enumeration; what they drop, since it came while an
object was put away or a module was looked for, is raised again a moment later. Who only imports the
package keeps their own answer to Ctrl-C. Until Python has come to our first line, a tenth of a
second at most, its own answer is all there is, as after our last one, when everything is written.

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


_given = _met = False
_PATIENCE = 0.3  # seconds, after which it is looked whether anybody met it


def _raise(_signal: int, _frame: object) -> None:
    """Raise, and remember why."""
    global _given
    if not _given:
        import _thread

        _given = True
        _thread.start_new_thread(_until_met, (_thread.get_ident(),))
    raise KeyboardInterrupt


def _until_met(thread: int) -> None:
    """Raise once more where it was dropped: not while something is put away because of it."""
    import _thread
    import time

    while True:
        time.sleep(_PATIENCE)
        if _met:
            return
        handled = sys._current_exceptions().get(thread)
        if handled in (None, (None, None, None)):
            _thread.interrupt_main()


def _not_raised(what: object) -> None:
    """Say nothing of what Python cannot raise where it is Ctrl-C, which is raised once more."""
    if getattr(what, "exc_type", None) is not KeyboardInterrupt:
        sys.__unraisablehook__(what)  # type: ignore[arg-type]


def raise_ctrl_c() -> None:
    """Raise Ctrl-C from here on, so that what was begun is put away."""
    import _signal

    if _signal.getsignal(_signal.SIGINT) is _end:
        _signal.signal(_signal.SIGINT, _raise)
        sys.unraisablehook = _not_raised


def ctrl_c_given() -> bool:
    """Was Ctrl-C given since? Who asks has met it."""
    global _met
    _met = True
    return _given
