"""What headlife says when it cannot go on: one sentence a technician can act on.

Every error a user can mend is a `HeadlifeError`; the command line prints its sentence and
exits with code 2. Anything else that reaches the user is a fault of headlife itself.
"""

from __future__ import annotations


class HeadlifeError(ValueError):
    """A problem the user can mend; its text names what, where and what to do."""


class SettingsError(HeadlifeError):
    """The shop's settings file cannot be used as it stands."""


class RecordsError(HeadlifeError):
    """A table of records or lifetimes cannot be used as it stands."""


class EvidenceError(HeadlifeError):
    """Lifetimes, or evidence made from them, do not make sense together."""


class DecisionError(HeadlifeError):
    """A question to the decisions room is out of range or contradicts itself."""
