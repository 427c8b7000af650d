"""Who works on a command: what the libraries behind it log is not what a person reads."""

from __future__ import annotations

import logging
import sys

import pytest

from headlife.commands.workers import client_of, unlogged
from headlife.errors import HeadlifeError


@pytest.fixture
def logger(capsys):
    """A logger of Dask's that writes to the error stream, as Dask sets them up."""
    logger = logging.getLogger("distributed.nanny")
    handler = logging.StreamHandler(sys.stderr)
    logger.addHandler(handler)
    yield logger
    logger.removeHandler(handler)


def lose_a_worker(logger):
    try:
        raise ConnectionError("Stream is closed")
    except ConnectionError:
        logger.exception("lost")


def test_a_traceback_that_dask_logs_stays_off_the_screen(logger, capsys):
    lose_a_worker(logger)
    assert "Traceback" in capsys.readouterr().err
    with unlogged():
        lose_a_worker(logger)
    assert capsys.readouterr().err == ""
    lose_a_worker(logger)  # other programs that use the package log as before
    assert "Traceback" in capsys.readouterr().err


def test_logs_come_back_after_an_error(logger, capsys):
    with pytest.raises(HeadlifeError), unlogged():
        raise HeadlifeError("a worker was stopped")
    lose_a_worker(logger)
    assert "Stream is closed" in capsys.readouterr().err


@pytest.mark.parametrize("address", ["nowhere", "tls://127.0.0.1:1"])
def test_an_address_without_a_cluster_is_a_sentence(address):
    with pytest.raises(HeadlifeError, match="There is no Dask cluster at"):
        client_of(address)
