"""Which columns does a table of head removals have, and what does each hold?

The one table of columns: kind, whether it is needed, what to write where it is blank, what it
means, and the words that shops write over it, by language. Readers, the draft of the settings,
checks, docs and docstrings take it from here. It never reads a table and never guesses.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from typing import Final, Literal

Kind = Literal["name", "role", "date", "hours", "yes or no", "remark"]
LANGUAGES: Final = ("en", "de", "fr", "es", "it", "nl", "pl", "pt", "ja")


@dataclass(frozen=True)
class Column:
    """One column of a table of removals."""

    name: str
    """Standard name."""
    kind: Kind
    """What its cells hold."""
    meaning: str
    """What it says, in words; hours are print hours [h]."""
    write: str = ""
    """What to write where the cell is blank and may not be; empty when it may."""
    needed: bool = False
    """True when no table can be read without it."""
    always: bool = False
    """True when rows that were read have it whatever the table has; blank where it has none."""
    words: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    """Language -> what shops write over it; common practice, no source."""

    @property
    def may_be_blank(self) -> bool:
        """True when a blank cell says something, or nothing is missed."""
        return not self.write

    @property
    def synonyms(self) -> tuple[str, ...]:
        """What shops write over it, in all languages."""
        return tuple(dict.fromkeys(word for words in self.words.values() for word in words))


def _words(text: str) -> dict[str, tuple[str, ...]]:
    """Read lines of the form "language: word, word"."""
    lines = (line.split(":", 1) for line in text.strip().splitlines())
    return {
        language.strip(): tuple(word.strip() for word in words.split(","))
        for language, words in lines
    }


_ALL: Final = (
    Column(
        "head",
        "name",
        "serial of the head; the same head has the same serial wherever it goes",
        "write the head's serial",
        needed=True,
        always=True,
        words=_words("""
            en: serial, serial no, serial number, head no, head id, head serial, sn, s/n, print head
            de: kopf, seriennummer, serien nr, kopf nr, kopfnummer, druckkopf, düse nr
            fr: tête, numéro de série, n° de série, no série, tête n°
            es: cabezal, número de serie, n° de serie, nº serie, cabezal nº
            it: testina, numero di serie, matricola, n. serie, testa
            nl: kop, serienummer, printkop, kopnummer
            pl: głowica, numer seryjny, nr seryjny, nr głowicy
            pt: cabeça, cabeçote, número de série, nº de série
            ja: ヘッド, シリアル番号, 製造番号, ヘッド番号, シリアル
        """),
    ),
    Column(
        "head_type",
        "name",
        "type of the head as in the settings' [head_types]",
        "write the head's type as in the settings",
        needed=True,
        always=True,
        words=_words("""
            en: type, kind, head kind, type of head, model of head, part no, part number
            de: typ, kopftyp, art, kopfart, bauart, artikelnummer
            fr: type, type de tête, référence
            es: tipo, tipo de cabezal, referencia
            it: tipo, tipo di testina, tipo testina, codice articolo
            nl: type, koptype, soort
            pl: typ, typ głowicy, rodzaj
            pt: tipo, tipo de cabeça, tipo de cabeçote
            ja: 種類, 型式, ヘッド種類, ヘッド型式, タイプ
        """),
    ),
    Column(
        "role",
        "role",
        "model or support, or a word that the settings' [roles] give for one of them",
        "write model or support",
        needed=True,
        always=True,
        words=_words("""
            en: use, used for, used as, function, side use, model or support
            de: verwendung, rolle, einsatz, funktion, verwendet für
            fr: rôle, usage, utilisation, fonction
            es: uso, función, utilización
            it: ruolo, uso, impiego, funzione
            nl: rol, gebruik, functie
            pl: rola, zastosowanie, funkcja
            pt: função, uso, utilização
            ja: 用途, 役割, 使用区分
        """),
    ),
    Column(
        "printer",
        "name",
        "printer the head was in",
        "write the printer's name",
        needed=True,
        always=True,
        words=_words("""
            en: machine, printer name, printer no, printer id, unit, machine no, asset, equipment
            de: drucker, maschine, gerät, anlage, drucker nr
            fr: imprimante, machine
            es: impresora, máquina
            it: stampante, macchina
            nl: printer, machine, apparaat
            pl: drukarka, maszyna
            pt: impressora, máquina
            ja: プリンタ, プリンター, 機械, 装置, 号機
        """),
    ),
    Column(
        "position",
        "name",
        "place of the head in that printer",
        "write the head's position in the printer",
        needed=True,
        always=True,
        words=_words("""
            en: slot, side, bay, place, pos, left right, head position
            de: platz, seite, steckplatz, kopfposition, einbauplatz
            fr: emplacement, côté, poste
            es: posición, lado, puesto
            it: posizione, lato, alloggiamento
            nl: positie, plaats, kant
            pl: pozycja, miejsce, strona, gniazdo
            pt: posição, lado
            ja: 位置, 取付位置, 側, スロット
        """),
    ),
    Column(
        "date_in",
        "date",
        "day on which the head went in",
        "write the day on which the head went in",
        needed=True,
        always=True,
        words=_words("""
            en: in date, installed, installed on, fitted, fitted on, start, day in, install date
            de: einbau, einbaudatum, eingebaut, eingebaut am, datum einbau, montiert am
            fr: date de pose, posée le, montée le, date d'installation, installée le
            es: fecha de montaje, montado, instalado, fecha de instalación, fecha instalación
            it: data montaggio, montata il, installata il, data di installazione, data installazione
            nl: ingebouwd, datum in, inbouwdatum, geplaatst op, geplaatst
            pl: data montażu, zamontowano, data założenia, założona
            pt: data de instalação, instalado em, montado em, data de montagem
            ja: 取付日, 装着日, 設置日, 取り付け日
        """),
    ),
    Column(
        "hours_in",
        "hours",
        "the head's own print-hour counter when it went in [h]",
        "write the head's hour reading when it went in",
        needed=True,
        always=True,
        words=_words("""
            en: in hours, hours at start, h in, start hours, counter in, in h, hrs at install
            de: stunden ein, stunden einbau, stunden bei einbau, zähler einbau, std einbau, h ein
            fr: heures à la pose, heures pose, heures début, compteur pose, h pose
            es: horas al montar, horas montaje, horas inicio, contador montaje
            it: ore al montaggio, ore montaggio, ore inizio, contatore montaggio
            nl: uren in, uren bij inbouw, teller in, uren begin
            pl: godziny przy montażu, godziny montaż, licznik montaż, godz. początek
            pt: horas na instalação, horas instalação, horas início, contador instalação
            ja: 取付時時間, 取付時間, 装着時時間, 開始時間
        """),
    ),
    Column(
        "date_out",
        "date",
        "day on which it came out or, while it is in, the day of its last hour reading",
        "write the day on which the head came out or, if it is still in, the day of its last "
        "hour reading",
        needed=True,
        always=True,
        words=_words("""
            en: out date, removed, removed on, taken out, end, day out, last read, removal date
            de: ausbau, ausbaudatum, ausgebaut, ausgebaut am, datum ausbau, demontiert am
            fr: date de dépose, déposée le, démontée le, date de retrait, retirée le
            es: fecha de desmontaje, desmontado, retirado, fecha de retirada, fecha retirada
            it: data smontaggio, smontata il, rimossa il, data di rimozione, data rimozione
            nl: uitgebouwd, datum uit, uitbouwdatum, verwijderd op, verwijderd
            pl: data demontażu, zdemontowano, data zdjęcia, zdjęta
            pt: data de remoção, removido em, retirado em, data de desmontagem
            ja: 取外日, 取外し日, 脱着日, 交換日, 取り外し日
        """),
    ),
    Column(
        "hours_out",
        "hours",
        "the head's own print-hour counter at `date_out` [h]",
        "write the head's hour reading at date_out",
        needed=True,
        always=True,
        words=_words("""
            en: out hours, hours at end, h out, end hours, counter out, out h, hrs at removal
            de: stunden aus, stunden ausbau, stunden bei ausbau, zähler ausbau, std ausbau, h aus
            fr: heures à la dépose, heures dépose, heures fin, compteur dépose, h dépose
            es: horas al desmontar, horas desmontaje, horas fin, contador desmontaje
            it: ore allo smontaggio, ore smontaggio, ore fine, contatore smontaggio
            nl: uren uit, uren bij uitbouw, teller uit, uren eind
            pl: godziny przy demontażu, godziny demontaż, licznik demontaż, godz. koniec
            pt: horas na remoção, horas remoção, horas fim, contador remoção
            ja: 取外時時間, 取外時間, 取外し時時間, 終了時間
        """),
    ),
    Column(
        "reason",
        "name",
        "why it came out, in the shop's words; blank: still in service",
        needed=True,
        always=True,
        words=_words("""
            en: why, cause, removal reason, reason out, why out, reason for removal, why removed
            de: grund, ausbaugrund, ursache, warum, grund ausbau
            fr: motif, raison, cause, motif de dépose
            es: motivo, causa, razón, motivo de retirada
            it: motivo, causa, ragione, motivo rimozione
            nl: reden, oorzaak, reden uitbouw
            pl: powód, przyczyna, powód demontażu
            pt: motivo, causa, razão, motivo da remoção
            ja: 理由, 交換理由, 取外理由, 原因
        """),
    ),
    Column(
        "material",
        "name",
        "material it was loaded with",
        always=True,
        words=_words("""
            en: filament, loaded with, mat
            de: werkstoff, filament
            fr: matériau, matière, filament
            es: material, filamento
            it: materiale, filamento
            nl: materiaal, filament
            pl: materiał, filament
            pt: material, filamento
            ja: 材料, 素材, フィラメント
        """),
    ),
    Column(
        "last_good_hours",
        "hours",
        "hour reading at which a head that failed was last known good [h]",
        always=True,
        words=_words("""
            en: last good, good until, last ok hours, checked ok at, checked good
            de: zuletzt gut, letzte prüfung gut, gut bis
            fr: dernier bon, bon jusqu'à
            es: último bueno, bueno hasta
            it: ultimo buono, buono fino a
            nl: laatst goed, goed tot
            pl: ostatnio dobra, dobra do
            pt: último bom, bom até
            ja: 最終良好時間, 良品確認時間
        """),
    ),
    Column(
        "site",
        "name",
        "where the printer stands",
        always=True,
        words=_words("""
            en: location, building, plant, room
            de: standort, werk, gebäude, raum, halle
            fr: site, lieu, atelier, bâtiment
            es: sede, ubicación, planta, taller
            it: sede, sito, luogo, reparto
            nl: locatie, vestiging, gebouw
            pl: lokalizacja, zakład, budynek
            pt: local, unidade, oficina
            ja: 拠点, 場所, 工場, 設置場所
        """),
    ),
    Column(
        "note",
        "remark",
        "any remark; kept and not read",
        always=True,
        words=_words("""
            en: notes, remark, remarks, comment, comments
            de: bemerkung, bemerkungen, anmerkung, notiz, kommentar
            fr: remarque, remarques, commentaire, note
            es: nota, notas, observaciones, comentario
            it: nota, note, osservazioni, commento
            nl: opmerking, opmerkingen, notitie
            pl: uwagi, uwaga, notatka, komentarz
            pt: nota, notas, observações, comentário
            ja: 備考, 注記, メモ, コメント
        """),
    ),
    Column(
        "printer_hours_in",
        "hours",
        "the printer's own hour meter when the head went in [h]",
        words=_words("""
            en: printer meter in, machine hours in, meter in, printer hours at install
            de: maschinenstunden ein, betriebsstunden ein, betriebsstunden einbau
            fr: heures machine pose, compteur machine pose
            es: horas máquina montaje, horas de máquina al montar
            it: ore macchina montaggio, ore stampante montaggio
            nl: machine-uren in, draaiuren in
            pl: motogodziny montaż, licznik maszyny montaż
            pt: horas da máquina instalação, horímetro instalação
            ja: 取付時装置時間, 取付時稼働時間
        """),
    ),
    Column(
        "printer_hours_out",
        "hours",
        "the printer's own hour meter at `date_out` [h]",
        words=_words("""
            en: printer meter out, machine hours out, meter out, printer hours at removal
            de: maschinenstunden aus, betriebsstunden aus, betriebsstunden ausbau
            fr: heures machine dépose, compteur machine dépose
            es: horas máquina desmontaje, horas de máquina al desmontar
            it: ore macchina smontaggio, ore stampante smontaggio
            nl: machine-uren uit, draaiuren uit
            pl: motogodziny demontaż, licznik maszyny demontaż
            pt: horas da máquina remoção, horímetro remoção
            ja: 取外時装置時間, 取外時稼働時間
        """),
    ),
    Column(
        "lot",
        "name",
        "the vendor's lot or batch the head came from",
        words=_words("""
            en: batch, lot no, lot number, batch no
            de: charge, los, chargennummer
            fr: lot, numéro de lot
            es: lote, número de lote
            it: lotto, numero di lotto
            nl: partij, batch, lotnummer
            pl: partia, seria, numer partii
            pt: lote, número do lote
            ja: ロット, ロット番号
        """),
    ),
    Column(
        "vendor",
        "name",
        "who the head was bought from",
        words=_words("""
            en: supplier, maker, bought from, manufacturer
            de: lieferant, hersteller
            fr: fournisseur, fabricant
            es: proveedor, fabricante
            it: fornitore, produttore
            nl: leverancier, fabrikant
            pl: dostawca, producent
            pt: fornecedor, fabricante
            ja: 仕入先, メーカー, 購入先
        """),
    ),
    Column(
        "date_bought",
        "date",
        "day on which the head was bought",
        words=_words("""
            en: bought, bought on, purchased, purchase date, date of purchase
            de: kaufdatum, gekauft am, gekauft
            fr: date d'achat, achetée le
            es: fecha de compra, comprado
            it: data di acquisto, acquistata il
            nl: aankoopdatum, gekocht op
            pl: data zakupu, kupiona
            pt: data de compra, comprado em
            ja: 購入日
        """),
    ),
    Column(
        "refurbished",
        "yes or no",
        "yes when the head went in refurbished: a new life begins",
        words=_words("""
            en: refurb, overhauled, rebuilt, reconditioned
            de: überholt, aufgearbeitet, generalüberholt
            fr: reconditionnée, remise à neuf
            es: reacondicionado, reparado
            it: rigenerata, revisionata
            nl: gereviseerd
            pl: regenerowana, po regeneracji
            pt: recondicionado, recondicionada
            ja: 再生品, 再生
        """),
    ),
)

# Columns of logs whose rows are events or work orders; two such rows make one stretch.
_OF_EVENTS: Final = (
    Column(
        "date",
        "date",
        "day of the event",
        "write the day of the event",
        words=_words("""
            en: date, day, event date, order date, done on
            de: datum, tag, erledigt am
            fr: date, jour, effectué le
            es: fecha, día, realizado el
            it: data, giorno, eseguito il
            nl: datum, dag, uitgevoerd op
            pl: data, dzień, wykonano
            pt: data, dia, realizado em
            ja: 日付, 作業日, 実施日
        """),
    ),
    Column(
        "event",
        "name",
        "what happened, in the shop's words",
        "write what happened",
        words=_words("""
            en: event, action, what, work done, activity
            de: vorgang, ereignis, aktion, tätigkeit
            fr: événement, opération, action
            es: evento, operación, acción
            it: evento, operazione, azione, attività
            nl: gebeurtenis, handeling, actie
            pl: zdarzenie, czynność, operacja
            pt: evento, operação, ação
            ja: 作業, 内容, 区分, 作業内容
        """),
    ),
    Column(
        "hours",
        "hours",
        "the head's own print-hour counter on that day [h]",
        words=_words("""
            en: hours, counter, head hours, reading, hour counter
            de: stunden, zähler, kopfstunden, zählerstand
            fr: heures, compteur, heures tête
            es: horas, contador, horas cabezal
            it: ore, contatore, ore testina
            nl: uren, teller, tellerstand
            pl: godziny, licznik, stan licznika
            pt: horas, contador, horas cabeça
            ja: 時間, カウンタ, ヘッド時間, 使用時間
        """),
    ),
    Column(
        "printer_hours",
        "hours",
        "the printer's own hour meter on that day [h]",
        words=_words("""
            en: printer hours, meter, machine hours, hour meter, meter reading
            de: maschinenstunden, betriebsstunden, druckerstunden, stundenzähler
            fr: heures machine, horamètre, compteur machine
            es: horas máquina, horómetro, contador máquina
            it: ore macchina, contaore, ore stampante
            nl: machine-uren, draaiuren, urenteller
            pl: motogodziny, godziny maszyny, licznik maszyny
            pt: horas da máquina, horímetro
            ja: 装置時間, 稼働時間, アワーメータ
        """),
    ),
    Column(
        "head_out",
        "name",
        "serial of the head that came out with a work order",
        words=_words("""
            en: serial out, old serial, removed serial, part serial out, head out
            de: serie alt, seriennummer alt, ausgebaute nr, kopf alt
            fr: série sortie, ancien numéro, tête déposée
            es: serie saliente, serie antigua, cabezal retirado
            it: matricola uscita, vecchia matricola, testina rimossa
            nl: serie uit, oud serienummer, kop uit
            pl: numer wymontowany, stary numer, głowica zdjęta
            pt: série retirada, série antiga, cabeça retirada
            ja: 取外シリアル, 旧シリアル, 旧ヘッド
        """),
    ),
    Column(
        "head_in",
        "name",
        "serial of the head that went in with a work order",
        words=_words("""
            en: serial in, new serial, installed serial, part serial in, head in
            de: serie neu, seriennummer neu, eingebaute nr, kopf neu
            fr: série entrée, nouveau numéro, tête posée
            es: serie entrante, serie nueva, cabezal montado
            it: matricola entrata, nuova matricola, testina montata
            nl: serie in, nieuw serienummer, kop in
            pl: numer zamontowany, nowy numer, głowica założona
            pt: série instalada, série nova, cabeça instalada
            ja: 取付シリアル, 新シリアル, 新ヘッド
        """),
    ),
)
_OF_BUILDS: Final = (
    Column(
        "build",
        "name",
        "name of the build or the job; where blank its row",
        words=_words("""
            en: job, order, build no, job no, build name, work order, part
            de: auftrag, bauauftrag, job, auftragsnummer, druckauftrag, bauteil
            fr: fabrication, travail, commande, ordre, n° de travail, pièce
            es: trabajo, orden, fabricación, pedido, pieza
            it: lavoro, ordine, commessa, stampa, pezzo
            nl: opdracht, order, bouw, taak, onderdeel
            pl: zlecenie, zadanie, wydruk, praca, część
            pt: trabalho, ordem, impressão, pedido, peça
            ja: 造形, ジョブ, 注文, 作業名, 指示番号
        """),
    ),
    Column(
        "build_hours",
        "hours",
        "its print hours [h]",
        "write the print hours of the build",
        needed=True,
        always=True,
        words=_words("""
            en: hours, print hours, duration, length, h, build time, print time
            de: stunden, druckstunden, dauer, bauzeit, druckzeit, std
            fr: heures, durée, heures d'impression, temps d'impression, h
            es: horas, duración, horas de impresión, tiempo de impresión, h
            it: ore, durata, ore di stampa, tempo di stampa, h
            nl: uren, duur, printuren, printtijd
            pl: godziny, czas trwania, godziny druku, czas druku
            pt: horas, duração, horas de impressão, tempo de impressão
            ja: 時間, 造形時間, 所要時間, 印刷時間
        """),
    ),
    Column(
        "earliest",
        "date",
        "day before which it cannot start; where blank it can start at once",
        words=_words("""
            en: earliest start, start, from, not before, ready, start date, available from
            de: frühester beginn, frühester start, frühestens, beginn, start, ab, ab wann
            fr: début au plus tôt, début, à partir du, date de début
            es: inicio más temprano, inicio, desde, a partir de, fecha de inicio
            it: inizio minimo, inizio, dal, a partire dal, data inizio
            nl: vroegste start, start, begin, vanaf, startdatum
            pl: najwcześniejszy start, start, początek, od, data rozpoczęcia
            pt: início mais cedo, início, a partir de, data de início
            ja: 最早開始, 開始日, 着手可能日, 開始可能日
        """),
    ),
    Column(
        "due",
        "date",
        "day by whose end it is to be done; where blank there is none",
        words=_words("""
            en: due day, due date, deadline, needed by, finish by, deliver by, due by
            de: fällig, fällig am, termin, liefertermin, fertig bis, endtermin
            fr: échéance, délai, date limite, pour le, à livrer le
            es: vencimiento, fecha límite, plazo, entrega, para el
            it: scadenza, entro, consegna, termine, data consegna
            nl: gereed op, deadline, uiterste datum, leverdatum, klaar op
            pl: termin, na kiedy, termin realizacji, do kiedy
            pt: prazo, entrega, data limite, vencimento
            ja: 納期, 期限, 完了期限, 締切
        """),
    ),
    Column(
        "quality_critical",
        "yes or no",
        "whether no head may run past its rating in it; where blank as the settings say of the "
        "printer and its heads",
        words=_words("""
            en: critical, quality critical, safety part, quality part
            de: qualitätskritisch, kritisch, sicherheitsteil
            fr: critique, qualité critique, pièce critique
            es: crítico, calidad crítica, pieza crítica
            it: critico, qualità critica, pezzo critico
            nl: kritisch, kwaliteitskritisch, kritiek deel
            pl: krytyczny, krytyczne, część krytyczna
            pt: crítico, qualidade crítica, peça crítica
            ja: 品質重要, 重要品, 重要
        """),
    ),
)
# What columns of the log say in a table of builds.
_WHERE: Final = {
    "printer": "printer that it must run on; where blank any that fits",
    "head_type": "type of a head that the printer must have in service; where blank any",
    "site": "where the printer must stand; where blank anywhere",
}

STANDARD_COLUMNS: Final = tuple(column.name for column in _ALL)
EVENT_COLUMNS: Final = tuple(column.name for column in _OF_EVENTS)
COLUMNS: Final[Mapping[str, Column]] = {column.name: column for column in (*_ALL, *_OF_EVENTS)}
# Columns of a table of builds ahead; those of the log among them are told by the same words.
BUILD_COLUMNS: Final[Mapping[str, Column]] = {
    column.name: column
    for column in (
        _OF_BUILDS[0],
        *(replace(COLUMNS[name], needed=False, meaning=text) for name, text in _WHERE.items()),
        *_OF_BUILDS[1:],
    )
}
# Names of columns that rows and lives get while they are worked with (`records.frames`): no
# column of the shop's own can have one of them.
RESERVED: Final = frozenset(
    {
        *("row", "mode", "suspension", "in_doubt", "superseded"),
        *("entry_hours", "exit_hours", "in_service", "on_shelf", "date_first", "date_last"),
        *("installations", "age_hours", "reading_date", "reading_hours", "projected"),
        *("weekly_hours", "column", "value", "problem", "check", "severity", "treatment"),
        *("rows", "sentence", "why", "hours_in_low", "hours_in_high", "hours_out_low"),
        *("hours_out_high", "exit_low", "exit_high", "rated_hours", "rating"),
    }
)
# Column that tells which of several ratings of its type a head was bought with.
RATING: Final = "rating"
# Columns that heads can be grouped by beside their type and role, for a rating of each group.
GROUPED_BY: Final = ("lot", "vendor", "refurbished", "material", "site", "printer", "position")
REQUIRED_COLUMNS: Final = tuple(name for name, column in COLUMNS.items() if column.needed)


def of_kind(*kinds: Kind) -> tuple[str, ...]:
    """Give the names of the standard columns of some kinds, in the table's order.

    Parameters
    ----------
    *kinds : Kind
        The kinds.

    Returns
    -------
    tuple of str
        Their names.
    """
    return tuple(name for name, column in COLUMNS.items() if column.kind in kinds)


def _lines(columns: Iterable[Column]) -> list[str]:
    return [
        "| column | cells hold | needed | meaning |",
        "|---|---|---|---|",
        *(
            f"| `{one.name}` | {one.kind} | {'yes' if one.needed else ''} | {one.meaning} |"
            for one in columns
        ),
    ]


def page() -> str:
    """Write the table of columns for people, as Markdown."""
    lines = [
        "# The columns of a table of removals",
        "",
        "Written by `page()` of `headlife.shop.columns`; change it there. A table may use names of",
        "its own: the settings' `[columns]` say which is which, and `[own_columns]` name further",
        "columns to be carried along, so that ratings can be grouped by them.",
        "",
        *_lines(_ALL),
        "",
        "Where rows are events or work orders (`[intake] shape`), these stand instead of the days",
        "and hours in and out:",
        "",
        *_lines(_OF_EVENTS),
        "",
        "# The columns of a table of builds ahead",
        "",
        "For `headlife plan --builds`. A build goes to the `printer` named; where that is blank,",
        "to any printer with a head of the `head_type` and at the `site` named, or to any at all.",
        "The header may use these names or the usual words for them in nine languages.",
        "",
        *_lines(BUILD_COLUMNS.values()),
    ]
    return "\n".join(lines) + "\n"
