"""A calendar over the one in its file before: what is dropped is called off, nothing doubles."""

import datetime

import icalendar
import pytest

from headlife.show.calendar_file import Entry, calendar_bytes, identifier

MONDAY = datetime.date(2026, 9, 28)
WEEK = datetime.timedelta(days=7)


def entry(head: str, day: datetime.date, summary: str = "swap") -> Entry:
    return Entry(("Shop", head), day, summary, "why", "Otter left")


def written(place, today, *entries, name="Heads due, Shop"):
    place.write_bytes(calendar_bytes(name, "heads due", today, entries, place))
    found = icalendar.Calendar.from_ical(place.read_bytes()).events
    assert len({str(one["uid"]) for one in found}) == len(found)
    return {str(one["uid"]): one for one in found}


def of(found, head):
    return found[identifier(("Shop", head))]


def test_an_entry_ahead_that_is_dropped_is_called_off_until_its_day_has_passed(tmp_path):
    """RFC 5545, section 3.8.1.11: STATUS:CANCELLED takes an event away; 3.8.7.4: SEQUENCE rises."""
    place = tmp_path / "due.ics"
    first = written(place, MONDAY, entry("S1", MONDAY + WEEK), entry("S2", MONDAY + 2 * WEEK))
    later = written(place, MONDAY + WEEK, entry("S1", MONDAY + 2 * WEEK))
    assert "status" not in of(later, "S1")
    gone = of(later, "S2")
    assert gone["status"] == "CANCELLED" and gone["sequence"] > of(first, "S2")["sequence"]
    assert gone.start == MONDAY + 2 * WEEK and gone["summary"] == "swap"
    assert set(written(place, MONDAY + 3 * WEEK)) == set()


def test_what_is_done_stays_on_its_day(tmp_path):
    place = tmp_path / "due.ics"
    written(place, MONDAY, entry("S1", MONDAY))
    assert written(place, MONDAY + WEEK, entry("S2", MONDAY + WEEK)).keys() == {
        identifier(("Shop", "S2"))
    }


def test_a_second_calendar_of_the_same_day_outranks_the_first_only_where_it_says_otherwise(
    tmp_path,
):
    place = tmp_path / "due.ics"
    first = written(place, MONDAY, entry("S1", MONDAY), entry("S2", MONDAY))
    second = written(place, MONDAY, entry("S1", MONDAY), entry("S2", MONDAY, "swap now"))
    assert of(second, "S1")["sequence"] == of(first, "S1")["sequence"]
    assert of(second, "S2")["sequence"] == of(first, "S2")["sequence"] + 1
    before = place.read_bytes()
    written(place, MONDAY, entry("S1", MONDAY), entry("S2", MONDAY, "swap now"))
    assert place.read_bytes() == before


def test_a_head_that_is_due_again_is_no_longer_called_off(tmp_path):
    place = tmp_path / "due.ics"
    written(place, MONDAY, entry("S1", MONDAY + WEEK))
    dropped = written(place, MONDAY)
    again = written(place, MONDAY, entry("S1", MONDAY + WEEK))
    assert of(dropped, "S1")["status"] == "CANCELLED" and "status" not in of(again, "S1")
    assert of(again, "S1")["sequence"] > of(dropped, "S1")["sequence"]


@pytest.mark.parametrize(
    "there",
    [
        b"notes of somebody",
        b"BEGIN:VCALENDAR",
        b"BEGIN:VCALENDAR\r\nBEGIN:VEVENT\r\nEND:VCALENDAR\r\n",
        b"BEGIN:VCALENDAR\r\nPRODID:-//headlife//heads due//EN\r\nX-WR-CALNAME:Heads due\\, Shop"
        b"\r\nBEGIN:VEVENT\r\nUID:x\r\nSEQUENCE:many\r\nDTSTART;VALUE=DATE:2031\r\nEND:VEVENT"
        b"\r\nEND:VCALENDAR\r\n",
        b"BEGIN:VCALENDAR\r\nPRODID:-//headlife//heads due//EN\r\nX-WR-CALNAME:Heads due\\, Shop"
        b"\r\nBEGIN:VEVENT\r\nEND:VEVENT\r\nEND:VCALENDAR\r\n",
        b"BEGIN:VCALENDAR\r\n\xff\xfe\x00",
        b"",
    ],
)
def test_anything_else_in_its_place_is_replaced(tmp_path, there):
    place = tmp_path / "due.ics"
    place.write_bytes(there)
    assert len(written(place, MONDAY, entry("S1", MONDAY))) == 1


def test_the_calendar_of_another_shop_calls_nothing_off(tmp_path):
    place = tmp_path / "due.ics"
    written(place, MONDAY, entry("S1", MONDAY + WEEK), name="Heads due, Other")
    assert len(written(place, MONDAY, entry("S2", MONDAY))) == 1
