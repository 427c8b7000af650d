"""What nobody may read into these answers: cautions for every page and notebook."""

from __future__ import annotations

from typing import Final

CAUTIONS: Final = (
    "Heads and chambers are hot and axes move. Swap heads only the way the printer's own "
    "maintenance instructions and your site's safety rules say, by trained people, with every "
    "interlock in place.",
    "Running a head past its rating can void a warranty or a service contract and can make "
    "parts worse. Where the failure of a part could hurt someone, never run heads longer on the "
    "strength of this page alone: part qualification, the applicable code and the responsible "
    "engineer decide.",
    "These figures describe your own records, with the uncertainty they state. They support the "
    "people who decide; they do not decide.",
)
