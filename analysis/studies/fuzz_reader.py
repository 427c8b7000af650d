"""Coverage-guided fuzz of the reader; not part of the test run.

Needs `pip install atheris` beside the package, then:
    python -m studies.fuzz_reader CORPUS_FOLDER -max_total_time=600
Every table must come back as records that lose no row, or as a `HeadlifeError`; anything else
that is raised is a fault and stops the run.
"""

from __future__ import annotations

import sys
import tempfile
from contextlib import suppress
from pathlib import Path

import atheris

with atheris.instrument_imports(include=["headlife.records", "headlife.settings_errors"]):
    import headlife as hl
    from headlife.errors import HeadlifeError
    from headlife.records import (
        audit,
        cells,
        chains,
        checks,
        columns,
        draft,
        header,
        intake,
        lives,
        table,
        workbook,
    )

ROOM = (audit, cells, chains, checks, columns, draft, header, intake, lives, table, workbook)
SETTINGS = """
name = "Fuzzed"
[reasons.failures]
worn = "wear"
[reasons.suspensions]
swap = "planned swap"
[reasons.looked_bad]
bad = "wear"
[head_types.A]
rated_hours = 100
[spares]
lead_time_weeks = 6
"""
FOLDER = Path(tempfile.mkdtemp())
(FOLDER / "shop.toml").write_text(SETTINGS)
SHOP = hl.read_shop(FOLDER / "shop.toml")
LOG = FOLDER / "log.csv"


def one_table(data: bytes) -> None:
    """Read arbitrary bytes as a table, all the way to lives and heads in service."""
    LOG.write_bytes(data)
    try:
        records = hl.read_records(LOG, SHOP, unknown="set aside")
        assert len(records.accepted) + len(records.set_aside) == records.rows_read
        assert records.set_aside["row"].is_unique
        audit.audit(records)
        if len(records.accepted):
            found = hl.lives(records)
            assert (found["exit_hours"] >= found["entry_hours"]).all()
            lives.in_service(records)
    except HeadlifeError:
        pass
    with suppress(HeadlifeError):
        draft.draft_settings(LOG)


if __name__ == "__main__":
    atheris.Setup(sys.argv, one_table)
    atheris.Fuzz()
