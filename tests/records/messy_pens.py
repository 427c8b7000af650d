"""Logs as shops write them by hand: nine languages, marks, dates, encodings, titles and sheets.

The truth is that of a seeded fleet (`fleets`); shapes and clocks in all their kinds are
`messy_logs`'. Here a person drafts the settings, fills in what no log can tell, corrects what the
draft got wrong, and reads: without editing a cell. `python -m tests.records.messy_pens` prints for
each log how many lives come out right, how many runs it takes and how many lines are stated.
"""

from __future__ import annotations

import re
import sys
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, datetime
from pathlib import Path
from typing import Any

from tests.records.fleets import Fleet, Stint, fleet
from tests.records.messy_logs import Log, Row, Score, as_book, as_csv, orders, score

MONTHS = {
    "fr": "janvier février mars avril mai juin juillet août septembre octobre novembre décembre",
    "en": "Jan Feb Mar Apr May Jun Jul Aug Sep Oct Nov Dec",
    "pl": "I II III IV V VI VII VIII IX X XI XII",
}


@dataclass(frozen=True)
class Tongue:
    """What a shop writes in its language."""

    header: tuple[str, ...]
    """Over head, type, role, printer, position, day in, hours in, day out, hours out, reason."""
    reasons: dict[str, str]
    roles: tuple[str, str]
    positions: tuple[str, str]

    def reason(self, word: str | None) -> str:
        return self.reasons[word] if word else ""


def tongue(header: str, reasons: str, roles: str, positions: str) -> Tongue:
    own = dict(
        zip(
            ("worn out", "crashed", "swap at rating", "new material"),
            reasons.split("; "),
            strict=True,
        )
    )
    one, other = roles.split("; ")
    left, right = positions.split("; ")
    return Tongue(tuple(header.split("; ")), own, (one, other), (left, right))


TONGUES = {
    "en": tongue(
        "Serial no.; Head model; Used for; Machine; Slot; Fitted; Hrs at install; Taken out; "
        "Hrs at removal; Why removed",
        "worn; dropped on the floor; scheduled replacement; other filament",
        "part; soluble support",
        "L; R",
    ),
    "de": tongue(
        "Kopf-Nr.; Kopftyp; Einsatz; Drucker; Seite; Einbau am; Std. Einbau; Ausbau am; "
        "Std. Ausbau; Ausbaugrund",
        "verschlissen; beschädigt (Crash); planmäßig getauscht; Materialwechsel",
        "Bauteil; Stütz",
        "links; rechts",
    ),
    "fr": tongue(
        "N° de tête; Type de tête; Usage; Imprimante; Côté; Posée le; Heures à la pose; "
        "Déposée le; Heures à la dépose; Motif de dépose",
        "usée; cassée (choc); remplacement préventif; changement de matière",
        "pièce; support",
        "gauche; droite",
    ),
    "es": tongue(
        "Nº de cabezal; Tipo; Uso; Impresora; Lado; Montado el; Horas montaje; Desmontado el; "
        "Horas desmontaje; Motivo",
        "desgaste; golpe; cambio programado; cambio de material",
        "pieza; soporte",
        "izquierdo; derecho",
    ),
    "it": tongue(
        "Matricola; Tipo testina; Impiego; Stampante; Lato; Montata il; Ore al montaggio; "
        "Smontata il; Ore allo smontaggio; Motivo",
        "usurata; danneggiata; sostituzione programmata; cambio materiale",
        "modello; supporto",
        "sinistra; destra",
    ),
    "nl": tongue(
        "Kopnr.; Koptype; Gebruik; Printer; Kant; Ingebouwd; Uren inbouw; Uitgebouwd; "
        "Uren uitbouw; Reden",
        "versleten; gevallen; geplande wissel; materiaalwissel",
        "onderdeel; steun",
        "links; rechts",
    ),
    "pl": tongue(
        "Nr głowicy; Typ głowicy; Zastosowanie; Drukarka; Strona; Data montażu; Godz. montaż; "
        "Data demontażu; Godz. demontaż; Powód demontażu",
        "zużyta; uszkodzona; wymiana planowa; zmiana materiału",
        "część; podpora",
        "lewa; prawa",
    ),
    "pt": tongue(
        "Nº da cabeça; Tipo de cabeça; Função; Impressora; Lado; Instalada em; "
        "Horas na instalação; Removida em; Horas na remoção; Motivo da remoção",
        "desgastada; danificada na queda; troca programada; troca de material",
        "peça; suporte",
        "esquerda; direita",
    ),
    "ja": tongue(
        "ヘッド番号; ヘッド種類; 用途; プリンター; 位置; 取付日; 取付時時間; "
        "取外日; 取外時時間; 交換理由",
        "摩耗; 破損; 定期交換; 材料変更",
        "モデル; サポート",
        "左; 右",
    ),
}

Day = Callable[[date], Any]
Hours = Callable[[float], Any]


def in_order(form: str, language: str = "en") -> Day:
    names = MONTHS.get(language, "").split()

    def write(day: date) -> str:
        month = names[day.month - 1] if names else ""
        return day.strftime(form.replace("%b", month))

    return write


def marked(thousands: str, decimal: str, unit: str = "", decimals: int = 1) -> Hours:
    def write(hours: float) -> str:
        text = f"{hours:,.{decimals}f}".removesuffix(".0")
        return text.translate(str.maketrans({",": thousands, ".": decimal})) + unit

    return write


def full_width(hours: float) -> str:
    return f"{hours:.1f}".translate({ord(c): ord(c) + 0xFEE0 for c in "0123456789."})


def japanese(day: date) -> str:
    return f"{day.year}年{day.month}月{day.day}日"


def same(value: Any) -> Any:
    return value


@dataclass(frozen=True)
class Pen:
    """How a log is written."""

    language: str
    day: Day
    hours: Hours
    in_service: str | None = None
    """What stands in the day of removal of a head that is in; None: the day of its reading."""
    meter: bool = False
    """True when the hours are the printer's meter."""
    spell: Callable[[str], str] = same
    """How serials are written."""


def stretches(made: Fleet, pen: Pen) -> list[list[Any]]:
    """One row a stretch, under the language's header."""
    own = TONGUES[pen.language]
    rows: list[list[Any]] = [list(own.header)]
    for one in made.stints:
        left = one.position == "left"
        hours_in, hours_out = (
            (one.meter_in, one.meter_out) if pen.meter else (one.hours_in, one.hours_out)
        )
        still_in = one.reason is None and pen.in_service is not None
        rows.append(
            [pen.spell(one.head), one.head_type, own.roles[0 if left else 1], one.printer]
            + [own.positions[0 if left else 1], pen.day(one.day_in), pen.hours(hours_in)]
            + [pen.in_service if still_in else pen.day(one.day_out), pen.hours(hours_out)]
            + [own.reason(one.reason)]
        )
    return rows


@dataclass(frozen=True)
class Hand:
    """A log as a shop writes it, with what its person states besides the draft."""

    name: str
    files: dict[str, bytes]
    truth: Fleet
    states: tuple[str, ...] = ()
    """Lines that the person writes or corrects in the draft, each beginning with its key."""
    exact: bool = True


def small(seed: int, used: bool = True, **options: Any) -> Fleet:
    """A shop of two printers and about a year, 15 to 60 rows; every third head was bought used."""
    made = fleet(seed, printers=2, weeks=55, **options)
    if not used:
        return made
    stints = [
        replace(one, hours_in=_with(one, one.hours_in), hours_out=_with(one, one.hours_out))
        for one in made.stints
    ]
    return Fleet(stints, made.last_day, made.meters)


def _with(one: Stint, hours: float) -> float:
    return round(hours + (742.5 if int(one.head[1:]) % 3 == 0 else 0.0), 1)


def as_of(seed: int) -> tuple[str, ...]:
    """The day of the last look at the printers: no cell of the log says it."""
    return (f"as_of = {small(seed).last_day}",)


def german_csv(seed: int) -> Hand:
    pen = Pen("de", in_order("%d.%m.%Y"), marked(".", ","))
    rows = stretches(small(seed), pen)
    top = [["Düsenbuch der Werkstatt", "", "Stand", "31.01.2024"], []]
    data = as_csv([*top, *rows], ";").decode().encode("cp1252")
    return Hand("German CSV, cp1252, 1.190,5, title", {"Kopfbuch.csv": data}, small(seed))


def german_workbook(seed: int) -> Hand:
    """Texts in a workbook: two header rows under merged cells, units, two-digit years, a sum."""
    pen = Pen("de", in_order("%d.%m.%y"), marked("", ",", " h"))
    rows = stretches(small(seed), pen)[1:]
    upper = ["Kopf", "", "", "Drucker", "", "Einbau", "", "Ausbau", "", ""]
    lower = ["Nr.", "Typ", "Einsatz", "Name", "Platz", "Datum", "Stunden", "Datum", "Stunden"]
    top = [["Kopfwechsel 2023"], [], upper, [*lower, "Grund"]]
    bottom = [[], ["Summe", *[""] * 7, "9.999,5 h", ""]]
    book = as_book(
        {"Hinweise": [["Nur kalt wechseln."]], "Wechsel": [*top, *rows, *bottom]},
        {"Wechsel": ["A3:C3", "D3:E3", "F3:G3", "H3:J3"]},
    )
    return Hand("German workbook, merged header, texts", {"Wechsel.xlsx": book}, small(seed))


def french_csv(seed: int) -> Hand:
    pen = Pen("fr", in_order("%-d %b %Y", "fr"), marked("\u202f", ","), in_service="en service")
    data = as_csv(stretches(small(seed), pen), ";")
    return Hand("French CSV, month names, 1 190,5", {"journal.csv": data}, small(seed), as_of(seed))


def spanish_csv(seed: int) -> Hand:
    pen = Pen("es", in_order("%d/%m/%Y"), marked(".", ","))
    data = as_csv(stretches(small(seed), pen), ";").decode().encode("cp1252")
    return Hand("Spanish CSV, dd/mm/yyyy, 1.190,5", {"cabezales.csv": data}, small(seed))


def italian_workbook(seed: int) -> Hand:
    """Stored days and numbers; the printer stands once over its rows, merged."""
    made = small(seed)
    pen = Pen("it", lambda day: datetime(day.year, day.month, day.day), same)
    header, *rows = stretches(made, pen)
    rows.sort(key=lambda row: row[3])
    order = [3, 0, 1, 2, 4, 5, 6, 7, 8, 9]
    table = [[row[i] for i in order] for row in (header, *rows)]
    merged, start = [], 2
    for i in range(2, len(table) + 1):
        if i == len(table) or table[i][0] != table[start - 1][0]:
            merged.append(f"A{start}:A{i}")
            start = i + 1
    book = as_book({"Testine": table}, {"Testine": [one for one in merged if ":" in one]})
    return Hand("Italian workbook, stored, merged printers", {"testine.xlsx": book}, made)


def dutch_csv(seed: int) -> Hand:
    pen = Pen("nl", in_order("%d-%m-%Y"), marked(".", ",", " uur"), in_service="")
    data = as_csv(stretches(small(seed), pen), ";")
    return Hand(
        "Dutch CSV, dd-mm-yyyy, units, blank day out",
        {"koppen.csv": data},
        small(seed),
        as_of(seed),
    )


def polish_csv(seed: int) -> Hand:
    pen = Pen("pl", in_order("%-d %b %Y", "pl"), marked(" ", ",", " godz."))
    data = as_csv(stretches(small(seed), pen), ";").decode().encode("cp1250")
    return Hand("Polish CSV, cp1250, 14 III 2024", {"glowice.csv": data}, small(seed))


def portuguese_workbook(seed: int) -> Hand:
    """Texts with two-digit years in a workbook with a title and a remark below."""
    pen = Pen("pt", in_order("%d/%m/%y"), marked(".", ","), in_service="em uso")
    rows = stretches(small(seed), pen)
    top = [["Registo de cabeças"], ["Oficina", "Moinho"], []]
    below = [[], ["* trocar sempre a frio"]]
    book = as_book({"Registo": [*top, *rows, *below]})
    return Hand(
        "Portuguese workbook, dd/mm/yy texts", {"registo.xlsx": book}, small(seed), as_of(seed)
    )


def japanese_csv(seed: int) -> Hand:
    pen = Pen("ja", japanese, full_width, spell=lambda text: text.translate(WIDE))
    data = as_csv(stretches(small(seed), pen)).decode().encode("cp932")
    return Hand("Japanese CSV, cp932, full width", {"heddo.csv": data}, small(seed))


WIDE = {ord(c): ord(c) + 0xFEE0 for c in "0123456789SF"}


def american_csv(seed: int) -> Hand:
    pen = Pen("en", in_order("%-m/%-d/%Y"), marked(",", "."))
    data = as_csv(stretches(small(seed), pen))
    return Hand("American CSV, m/d/yyyy, 1,190.5", {"head log.csv": data}, small(seed))


def swiss_csv(seed: int) -> Hand:
    """An apostrophe for thousands, months by name, UTF-16 as an old program saved it."""
    pen = Pen("en", in_order("%d-%b-%y"), marked("'", "."))
    data = as_csv(stretches(small(seed), pen), "\t").decode().encode("utf-16-le")
    return Hand("Swiss table, 1'190.5, UTF-16 without mark", {"heads.txt": data}, small(seed))


def many_hands(seed: int) -> Hand:
    """Three people, three ways to write a day, each cell with one reading; serials too."""
    made = small(seed)
    ways = (in_order("%Y-%m-%d"), in_order("%d %b %Y"), in_order("%d.%m.%Y"))
    count = iter(range(10**6))
    marks = (marked("", "."), marked("", ".", " h"), marked(",", "."))
    pen = Pen(
        "en",
        lambda day: ways[next(count) % 3](day),
        lambda hours: marks[next(count) % 3](hours),
        spell=lambda text: text if next(count) % 2 else text.translate(WIDE) + " ",
    )
    data = as_csv(stretches(made, pen), ";")
    return Hand("three hands, three formats in a column", {"log.csv": data}, made)


def german_meter(seed: int) -> Hand:
    """The printer's meter, named as such in the header."""
    pen = Pen("de", in_order("%d.%m.%Y"), marked(".", ","), meter=True)
    header, *rows = stretches(small(seed, used=False), pen)
    header[6], header[8] = "Maschinenstunden Einbau", "Maschinenstunden Ausbau"
    data = as_csv([header, *rows], ";")
    return Hand("German CSV, printer's meter", {"drucker.csv": data}, small(seed, used=False))


def german_events(seed: int) -> Hand:
    made = small(seed)
    own = TONGUES["de"]
    rows: list[Row] = [
        ("Datum", "Vorgang", "Kopf-Nr.", "Kopftyp", "Drucker", "Seite", "Zählerstand Kopf", "Grund")
    ]
    day, hours = in_order("%d.%m.%Y"), marked(".", ",")
    told = []
    for one in made.stints:
        side = own.positions[one.position == "right"]
        base = (one.head, one.head_type, one.printer, side)
        told.append((one.day_in, one.order[0], ("eingebaut", *base, hours(one.hours_in), "")))
        last = ("ausgebaut", *base, hours(one.hours_out), own.reason(one.reason))
        if one.reason is None:
            last = ("abgelesen", *base, hours(one.hours_out), "")
        told.append((one.day_out, one.order[1], last))
    rows += [(day(on), *rest) for on, _, rest in sorted(told, key=lambda event: event[:2])]
    positions = ('[positions] "links" = "model"', '[positions] "rechts" = "support"')
    return Hand("German events", {"ereignisse.csv": as_csv(rows, ";")}, made, positions)


def english_orders(seed: int) -> Hand:
    """Head swaps in an export of work orders, among others; the printer's meter."""
    made = small(seed, used=False)

    def meter(before: Stint | None, after: Stint | None) -> str:
        return marked(",", ".")(after.meter_in if after else before.meter_out)  # type: ignore[union-attr]

    header = ("Order", "Work", "Done on", "Machine", "Side", "Serial out", "Serial in")
    day = in_order("%m/%d/%Y")
    rows = [
        tuple(day(cell) if isinstance(cell, date) else cell for cell in row)
        for row in orders(made, meter, seed)
    ]
    data = as_csv([(*header, "Type in", "Machine hours", "Cause"), *rows])
    states = ('[positions] "left" = "model"', '[positions] "right" = "support"')
    return Hand("English work orders", {"orders.csv": data}, made, states, exact=False)


def french_fleet(seed: int) -> Hand:
    """One row a printer, a group of columns for each side under merged cells."""
    made = small(seed, moves=False)
    own = (
        "N° série",
        "Type",
        "Posée le",
        "Compteur pose",
        "Déposée le",
        "Compteur dépose",
        "Motif",
    )
    sides = {"Gauche": "left", "Droite": "right"}
    upper = ["Imprimante", *(cell for side in sides for cell in (side, *[""] * (len(own) - 1)))]
    lower = ["", *own, *own]
    day, hours = in_order("%d/%m/%Y"), marked(" ", ",")
    rows: list[list[Any]] = []
    for name in made.meters:
        columns = {
            side: [one for one in made.stints if (one.printer, one.position) == (name, position)]
            for side, position in sides.items()
        }
        for i in range(max(map(len, columns.values()))):
            row: list[Any] = [name]
            for side in sides:
                one = columns[side][i] if i < len(columns[side]) else None
                row += (
                    [one.head, one.head_type, day(one.day_in), hours(one.hours_in)]
                    + [day(one.day_out), hours(one.hours_out)]
                    + [TONGUES["fr"].reason(one.reason)]
                    if one
                    else [""] * len(own)
                )
            rows.append(row)
    book = as_book({"Parc": [upper, lower, *rows]}, {"Parc": ["B1:H1", "I1:O1"]})
    states = ('[positions] "Gauche" = "model"', '[positions] "Droite" = "support"')
    return Hand("French fleet, a row a printer", {"parc.xlsx": book}, made, states)


def english_sheets(seed: int) -> Hand:
    """A sheet a printer; heads that are in have no day out, the title says of when it is."""
    made = small(seed)
    pen = Pen("en", in_order("%d %b %Y"), marked(",", "."), in_service="")
    header, *rows = stretches(made, pen)
    keep = [0, 1, 2, 4, 5, 6, 7, 8, 9]
    sheets: dict[str, Sequence[Row]] = {"Read me": [["Swap heads only when they are cold."]]}
    for printer in made.meters:
        own = [row for row in rows if row[3] == printer]
        sheets[printer] = [
            [f"Printer {printer}", "as of", made.last_day.isoformat()],
            [],
            [header[i] for i in keep],
            *([row[i] for i in keep] for row in own),
        ]
    return Hand("English workbook, a sheet a printer", {"heads.xlsx": as_book(sheets)}, made)


HANDS: tuple[Callable[[int], Hand], ...] = (
    german_csv,
    german_workbook,
    french_csv,
    spanish_csv,
    italian_workbook,
    dutch_csv,
    polish_csv,
    portuguese_workbook,
    japanese_csv,
    american_csv,
    swiss_csv,
    many_hands,
    german_meter,
    german_events,
    english_orders,
    french_fleet,
    english_sheets,
)

# What no log can tell, whatever its language: the rated hours of both types, and the lead time.
ALWAYS = (
    '[head_types."Standard"] rated_hours = 900',
    '[head_types."Fibre"] rated_hours = 600',
    "lead_time_weeks = 6",
)


def finished(draft: str, states: Sequence[str]) -> str:
    """Write into a draft what a person states, each in its place."""
    text = draft
    for line in states:
        table, _, rest = line.rpartition("] ")
        key = re.escape(rest.split(" = ")[0])
        start = text.index(f"{table}]") if table else 0
        found = re.compile(rf"(?m)^(# ?)?{key} = .*$").search(text, start)
        if found is None:
            raise AssertionError(f"the draft has no line for {line}")
        text = text[: found.start()] + rest + text[found.end() :]
    return text


@dataclass
class Walk:
    """How a new user got from the log to lives."""

    score: Score
    rows: int
    lines: int
    """Lines stated: filled in or corrected."""
    runs: int
    """Commands run, the draft and the last check included."""
    problems: list[str] = field(default_factory=list)


def walk(hand: Hand, folder: Path) -> Walk:
    """Draft, finish, read: as a person would, without editing a cell."""
    from headlife.records.draft import draft_settings

    for name, data in hand.files.items():
        (folder / name).write_bytes(data)
    path = folder / next(iter(hand.files))
    stated = (*ALWAYS, *hand.states)
    settings = finished(draft_settings(path), stated)
    (folder / "shop.toml").write_text(settings, encoding="utf-8")

    class AsDrafted(Log):
        def write(self, folder: Path) -> tuple[Path, Path]:
            return path, folder / "shop.toml"

    log = AsDrafted(hand.name, hand.files, settings, hand.truth, hand.exact)
    found, records = score(log, folder)
    return Walk(found, records.rows_read, len(stated), 2, [*records.questions, *found.wrong])


def main(seed: int = 1) -> None:
    """Print the table."""
    import tempfile

    print(
        f"{'log':<46}{'rows':>5}{'lives':>6}{'right':>6}{'range':>6}{'flag':>5}{'wrong':>6}", end=""
    )
    print(f"{'runs':>5}{'lines':>6}")
    for make in HANDS:
        hand = make(seed)
        with tempfile.TemporaryDirectory() as folder:
            try:
                got = walk(hand, Path(folder))
            except Exception as fault:  # noqa: BLE001
                print(f"{hand.name:<46}{type(fault).__name__}: {str(fault)[:300]}")
                continue
        found = got.score
        print(
            f"{hand.name:<46}{got.rows:>5}{found.true:>6}{found.right:>6}{found.in_range:>6}"
            f"{found.flagged:>5}{len(found.wrong):>6}{got.runs:>5}{got.lines:>6}"
        )
        for line in got.problems[:3]:
            print(f"    {line}")


if __name__ == "__main__":
    main(*map(int, sys.argv[1:]))
