"""Names of columns in nine languages: recognised by what they speak of, and no stranger among them.

Two lists: `COMMON`, seen while the vocabulary was written, and `BLIND`, written down afterwards to
see how far it carries (122 of its 156 names were recognised before the misses were added).
"""

from __future__ import annotations

import pytest

from headlife.records.draft.names import HINTED, SPOKEN, name_scores
from headlife.shop.columns import COLUMNS

COMMON = """
head: Serial No. | Kopf-Nr. | Seriennr. Kopf | N° de série tête | Nº cabezal | Matricola testina
head: Kopnummer | Nr głowicy | Nº da cabeça | ヘッド番号 | Head | S/N | Print head ID
head_type: Kopftyp | Type de tête | Tipo de cabezal | Tipo testina | Typ głowicy | ヘッド種類
head_type: Head model
role: Verwendung | Used for | Einsatz | 用途 | Função | Zastosowanie | Utilisation
printer: Drucker | Maschine | Imprimante | Impresora | Stampante | Drukarka | プリンタ | 号機
printer: Machine no. | Printer name
position: Seite | Platz | Côté | Posición | Lato | Strona | 側 | Slot
date_in: Einbau am | Eingebaut | Einbaudatum | Date de pose | Fecha de montaje | Data montaggio
date_in: Ingebouwd op | Data montażu | Data de instalação | 取付日 | Install date | Fitted
date_in: Date in | Since
date_out: Ausbau am | Ausgebaut | Ausbaudatum | Demontage | Date de dépose | Fecha de desmontaje
date_out: Data smontaggio | Uitgebouwd op | Data demontażu | Data de remoção | 取外日
date_out: Removed on | Taken out
hours_in: Std. bei Einbau | Stunden Einbau | Zähler ein | Hrs at install | Heures pose
hours_in: Horas al montar | Ore al montaggio | Uren in | Godziny przy montażu | 取付時時間
hours_in: h in | Counter in
hours_out: Std. bei Ausbau | Zähler aus | Hrs at removal | Heures dépose | Horas al desmontar
hours_out: Ore allo smontaggio | Uren uit | Godziny przy demontażu | 取外時時間
hours_out: Horas na remoção
printer_hours_in: Maschinenstunden Einbau | Machine hours in | Motogodziny montaż
printer_hours_out: Betriebsstunden Drucker aus | Heures machine dépose
reason: Why removed | Ausbaugrund | Grund | Motif de dépose | Motivo | Reden uitbouw
reason: Powód demontażu | Motivo da remoção | 取外理由 | Reason | Cause
material: Werkstoff | Matière | Filament | 材料
site: Standort | Werk
note: Bemerkung | Remarques | 備考 | Uwagi
lot: Charge
vendor: Lieferant
date_bought: Kaufdatum
last_good_hours: Zuletzt gut bei
event: Vorgang
date: Datum
head_in: Serie neu | New serial
head_out: Seriennummer alt | Serial out | 旧ヘッド
"""
BLIND = """
head: Head # | Nozzle assy S/N | Toolhead ID | Tool head | Druckkopf | Inventarnr. | N° série
head: Cabezal | N.º de serie | Testina n. | Printkop | Głowica | Cabeçote | ヘッドNo.
head: Head serial number | Kopf | Serie-Nr. | Hotend ID | Ser. no.
head_type: Kind of head | Artikel | Modèle | Head type | Bauart | Tipologia | Soort kop
head_type: Head version | Düsentyp | 型番
role: Function | Modell/Support | Fonction | Material role | Model / support | Rolle
role: Einsatzzweck | Doel | Przeznaczenie | Finalidade
printer: Printer ID | Gerät | Maschine Nr. | Machine | Equipo | Macchina | Maszyna | Máquina
printer: 装置 | 機番 | Station | Printer | Anlage | Device
position: Bay | Schacht | Position im Drucker | Emplacement | Puesto | Posto | Positie | Gniazdo
position: Posição | 取付位置 | Slot no. | Carriage side | Tool position
date_in: Mounted on | In service since | eingesetzt am | Montée le | Fecha alta | Data inizio
date_in: Datum plaatsing | Założono | Data entrada | 使用開始日 | Start date | Date put in
date_in: Eingang | Einbaudat. | Data di montaggio | Install
date_out: Dismounted | Retired | entnommen am | Démontée le | Fecha baja | Data fine
date_out: Datum verwijdering | Zdjęto | Data saída | 使用終了日 | End date | Date pulled
date_out: Date of change | Ausgang | Fin le
hours_in: Run hours start | Hour meter (in) | Start hrs | Laufzeit ein | h Beginn | h début
hours_in: Compteur entrée | Horas inicio | Contador entrada | Ore inizio | Tellerstand begin
hours_in: Licznik początek | Horas início | 開始時間 | Odometer in | hours when fitted
hours_in: Head hours at start
hours_out: Run hours end | Hour meter (out) | Stop hrs | Laufzeit aus | h Ende | h fin
hours_out: Compteur sortie | Horas fin | Ore fine | Tellerstand eind | Licznik koniec
hours_out: Horas fim | 終了時間 | hours when removed | Head hours at end
reason: Reason for swap | Failure | Austauschgrund | Wechselgrund | Cause du retrait | Causa
reason: Oorzaak | Przyczyna | 交換事由 | Removal code | What went wrong
note: Comment | Anmerkungen | Observations | Observaciones | Note | Opmerkingen | Uwagi
note: Observações | 備考
printer_hours_in: Printer meter at install | Machine hrs in | Maschinenlaufzeit Einbau
printer_hours_in: Compteur imprimante pose
printer_hours_out: Printer meter at removal | Machine hrs out | Stunden Drucker Ausbau
"""
NAMES = [
    (name, line.split(": ", 1)[0])
    for line in (COMMON + BLIND).strip().splitlines()
    if line.strip()
    for name in line.split(": ", 1)[1].split(" | ")
]


@pytest.mark.parametrize(("name", "column"), NAMES, ids=[name for name, _ in NAMES])
def test_a_name_speaks_of_its_column_most(name, column):
    scores = name_scores(name)
    assert max(scores, key=lambda one: scores[one]) == column
    assert scores[column] > HINTED


@pytest.mark.parametrize(
    "name",
    ["Weight", "Preis", "Auftrag", "Operator", "Bearbeiter", "Shelf", "Old number", "12", ""],
)
def test_a_stranger_speaks_of_no_column_of_a_stay(name):
    scores = name_scores(name)
    assert not {one for one, score in scores.items() if score >= SPOKEN} - {"head_in", "head_out"}


@pytest.mark.parametrize("word", ["Seite", "Linke Seite", "Kopfseite"])
def test_the_german_word_for_side_is_no_site(word):
    assert "site" not in name_scores(word)
    assert "position" in name_scores(word)


@pytest.mark.parametrize("column", COLUMNS)
def test_every_word_of_the_table_of_columns_is_recognised(column):
    for word in (column, *COLUMNS[column].synonyms):
        assert name_scores(word)[column] == 1.0
