"""Which words do shops use, in nine languages? For a draft that a person confirms.

Beginnings of words, without accents and in small letters, by what they speak of. Where languages
clash, the sense that a log of heads has is kept (German "Seite" is a side and no site). Common
practice, no source. It proposes; it never settles a meaning.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Mapping
from functools import cache
from typing import Final, TypeVar

from headlife.plain_text import plain

Meaning = TypeVar("Meaning")

# A word here is the beginning of a word of the text; "=word" is a whole word; words of Japanese
# stand anywhere.
CONCEPTS: Final[Mapping[str, str]] = {
    "out": """=out =off =end =ended =until =to remov taken_out pulled uninstall dismount
        swapped_out came_out =old =aus =raus =ende =bis =alt ausbau ausgebaut demont abgebaut
        entnom entnahm entfern ausgebaute =fin =sortie =sorti jusqu depose retrait retir enlev
        demonte =ancien =ancienne =hasta =salida =baja desmont retirad extra saliente =viejo
        =final =fine =al =uscita smont rimoss rimozion tolt estrat =uit =tot =eind =einde
        uitbouw uitgebouwd verwijder gedemonteerd =do =koniec wyjsci zdemont demontaz zdjec
        zdjet wymont zdjeci =fim =ate =saida remoc removid retirad desmontag 取外 取り外 脱着
        外し 終了 交換日 旧 =stop =ausgang change_date date_of_change =change wechseldatum
        retired""",
    "in": """=in =on =start =started =begin =from =since =new install fitted mounted put_in
        came_in went_in =ein =rein =beginn =anfang =ab =von =seit =neu einbau eingebaut montier
        montage eingesetzt =debut =entree =depuis =pose =posee montee monte installee =nouveau
        =nouvelle =mise =desde =inicio =alta =entrada montaj montad instal entrante =nuevo
        =inizio =dal =entrata montagg montat install inserit =nuova =nuovo =begin =vanaf =sinds
        inbouw ingebouwd geplaatst plaatsing gemonteerd =nieuw =od =poczatek wejsci montaz
        zamont zaloz zalozen =nowy =nowa =inicio instala montag montad colocad =novo =nova 取付
        取り付 装着 設置 開始 新 =eingang =ingresso""",
    "date": """=date =dates =day =when =dat datum =tag =am =le =fecha =dia =data =giorno =il
        =dag =dzien =em =tarih =jour 日付 年月日 日""",
    "hours": """=h =hr =hrs =hour =hours =count counter =reading =readings =clock =ore =ora =uur
        =godz =std stund zahler zaehler stunden heure compteur horamet horas =hora contador
        horimet horomet conta contaore contatore uren =teller tellerstand urenteller licznik
        godzin motogodz horas 時間 カウンタ カウンター メーター メータ laufzeit odometer meter
        =runtime run_time""",
    "run": """hours_run run_hours =runtime run_time running_time hours_used used_hours laufzeit
        laufdauer gelaufen nutzungsdauer einsatzstund heures_de_march duree_d_util duree_de_march
        heures_d_util horas_de_uso horas_trabaj tiempo_de_uso ore_di_lavoro ore_di_util
        tempo_di_util gedraaid gebruiksur looptijd przepracow czas_pracy godziny_pracy tempo_de_uso
        運転時間 今回使用時間""",
    "meter": """maschinenstund betriebsstund maschinenzahler zahlerstand horametre horas_maquina
        ore_macchina draaiuren machine_uren urenteller motogodz horimetro horometro contaore
        アワーメ 稼働 装置時間""",
    "printer": """printer machin =mc =unit drucker maschin =anlage =gerat imprimant impresor
        maquin stampant macchin apparaat druckarka drukark maszyn urzadzen impressor プリンタ
        機械 装置 号機 マシン =device =equipo =equipamento =station 機番 =prn =prt =ptr""",
    "head": """=head =heads printhead print_head nozzle =hotend extruder kopf druckkopf =duse
        =dusen =tete =tetes =buse cabezal boquilla testin =testa =ugello =kop kopnr kopnum
        printkop glowic
        dysz cabec bico ヘッド ノズル toolhead tool_head""",
    "serial": """serial =sn =s/n =no =nr =num =number =id =ident serien =serie seriennr =numero
        matricol matricul =numer seryjn serienummer シリアル 製造番号 番号 inventar inventory
        =asset =ser""",
    "type": """=type =types =kind =model =variant typ =art =bauart kopftyp kopfart =sorte
        =modele =tipo =modelo =modello =soort =rodzaj =reference referenc =part_no 種類 型式
        タイプ 形式 品番 artikel tipolog =version dusentyp 型番 =size =grosse =ref ausfuhrung
        =variant 機種""",
    "role": """=role =use =used =used_for =used_as =function =purpose =rolle verwend =einsatz
        =einsatzart funktion nutzung =usage utilis =fonction =uso funcion utiliz =ruolo impieg
        funzion =rol gebruik functie =rola zastosow funkcj funcao uso utilizac 用途 役割
        使用区分 zweck =doel przeznacz finalid model_support modell_support model_or_support""",
    "position": """=position =pos =slot =side =bay =place =left_right =platz seite steckplatz
        einbauplatz kopfplatz =emplacement =cote =poste posicion =lado =puesto posizion =lato
        =sede positie =plaats =kant =zijde pozycj =miejsce =strona gniazd posicao 位置 側
        スロット =schacht =posto =carriage =bahn 取付位置""",
    "reason": """reason =why =cause =because grund ausbaugrund =ursache =warum =wieso motif
        =raison =pourquoi motiv =causa =razon =ragion =perche =reden =oorzaak =waarom powod
        przyczyn =razao 理由 原因 =failure =failed =fault failure_mode went_wrong 事由
        removal_code =code what_happened""",
    "material": """material filament =mat werkstoff =materiau =matiere =materiaal =loaded =resin
        材料 素材 フィラメント""",
    "good": """last_good good_until last_ok checked_good checked_ok known_good zuletzt_gut
        zuletzt_in_ordnung =gut_bis dernier_bon =bon_jusqu ultimo_bueno bueno_hasta ultimo_buono
        buono_fino laatst_goed goed_tot ostatnio_dobr dobra_do ultimo_bom bom_ate 良品確認
        最終良好""",
    "site": """=site =sites =location =building =plant =room =hall =standort =werk gebaud =halle
        =raum =atelier =batiment =lieu =ubicacion =planta =taller =sito =luogo =reparto
        =stabiliment =locatie vestiging =gebouw lokalizac =zaklad budynek =local =unidade
        =oficina 拠点 場所 工場 設置場所""",
    "note": """note =notes remark comment bemerk anmerk =notiz kommentar remarque commentaire
        observ comentari osserv opmerking uwag komentarz notat 備考 注記 メモ コメント""",
    "lot": """=lot =lots =batch charge chargen =lote =lotto partij =partia ロット""",
    "vendor": """vendor supplier =maker manufactur lieferant herstell fournisseur fabricant
        proveedor fornitor produttor leverancier fabrikant dostawc producent fornecedor 仕入
        メーカー 購入先""",
    "bought": """bought purchas kaufdatum gekauft achat achet compra comprad acquist aankoop
        gekocht zakup kupion 購入""",
    "refurbished": """refurb overhaul rebuilt recondition uberhol aufgearbeit generaluberhol
        reconditionn reacondicion rigenerat revisionat gereviseerd regener recondicion 再生""",
    "event": """=event =action =activity =what =work_done vorgang ereignis aktion tatigkeit
        evenement =operation =evento operacion accion operazion azion attivit gebeurten
        handeling =actie zdarzen czynnosc operacj operacao =acao 作業内容 作業 区分 内容""",
    "order": """=order =wo =ticket =job auftrag auftragsnr =ordre =bon commande =orden =pedido
        =ordine =opdracht zlecen =ordem 指示 伝票 注文""",
}

# What a role, a position, an event or a reason says.
ROLES: Final[Mapping[str, str]] = {
    "support": """=s =supp support soluble =sup breakaway stutz trager soporte supporto
        ondersteun steun podpor suporte サポート 支持""",
    "model": """=m model =part =build =main =mod modell bauteil =teil piece modele modelo pieza
        modello pezzo =onderdeel czesc peca モデル 造形 本体""",
}
POSITIONS: Final[Mapping[str, str]] = {
    "left": "left =l link gauche izquierd sinistr lewa lewy lewo esquerd 左",
    "right": "right =r recht droit derech destr prawa prawy prawo direit 右",
    "front": "front vorn avant delant davanti voor przod frente 前",
    "back": "back rear hinten arrier tras dietro achter tyl 後",
    "number": "=1 =2 =a =b =t0 =t1 =t2 =e0 =e1 head_1 head_2 slot_1 slot_2",
}
EVENTS: Final[Mapping[str, str]] = {
    "swapped": """swap exchang replac gewechselt =wechsel getauscht =tausch kopfwechsel remplac
        echang sustit cambio reemplaz sostitu =cambio gewisseld vervang wymian substitu =troca
        交換""",
    "removed": """remov =out pulled taken_out uninstall ausbau ausgebaut =aus demont depose
        retir desmont smont rimoss rimozion uitbouw uitgebouwd verwijder =uit zdemont demontaz
        zdjec zdjet wymont remoc removid 取外 取り外""",
    "installed": """install fitted mounted put_in =in einbau eingebaut =ein montier montage
        =pose montee montaj montad instal montagg montat inbouw ingebouwd geplaatst =in montaz
        zamont zaloz instala 取付 取り付 装着""",
    "reading": """reading =read meter ables abgeles zahlerstand =stand relev lectur lettura
        aflez odczyt leitur 検針 読取 記録""",
}
# Table of [reasons] and meaning -> words. The first that fits counts: what speaks of a planned swap
# or of the material before what speaks of wear.
REASONS: Final[Mapping[tuple[str, str], str]] = {
    ("suspensions", "planned swap"): """planned plan_ schedul preventiv prevent rating rated
        =due =interval time_up hours_up life_limit =limit counter_reached end_of_rated notice
        routin after_hours hours_reached nach_stunden nach_std por_horas apres_heures dopo_ore
        po_godzinach
        geplant planmass turnus fallig vorbeug wartungsintervall regelwechsel laufzeit_erreicht
        stunden_erreicht grenze_erreicht prevu planifi echeance preventif programm programad
        vencid horas_cumplid scadenz programmat preventiv gepland preventief planow zaplanow
        profilaktyc termin planead programad preventiv vencimento
        nennleben nominal_life vie_nominal vida_nominal vita_nominal nominale_levens trwalosc_nomin
        vida_util_cumprid 定期 計画 予定 予防 寿命時間
        満了""",
    (
        "suspensions",
        "material change",
    ): """material filament colour_change color_change materialwechsel
        werkstoffwechsel farbwechsel changement_de_mat changement_mat matiere materiau cambio_de_mat
        cambio_mat cambio_filament materiaalwissel materiaal wissel_mat zmiana_mat materialu
        troca_de_mat troca_mat mudanca_de_mat 材料 素材 フィラメント""",
    ("suspensions", "moved"): """moved =move transfer other_printer another_printer umgesetzt
        umzug umgebaut anderer_drucker deplac transfer traslad trasferit spostat verplaatst
        przenies przeloz transferid movid 移設 移動 他機""",
    (
        "suspensions",
        "printer out of use",
    ): """printer_sold printer_scrapp decommission drucker_verkauft
        stillgeleg retire_du_service dado_de_baja dismess buiten_gebruik wycofan desativad 廃止
        廃棄""",
    ("looked_bad", "wear"): """looked looks surface quality poor_print bad_print sieht_schlecht
        oberflach qualitat druckbild aspect qualite mal_aspecto calidad aspetto qualita kwalitei
        wyglad jakosc aspecto qualidade 外観 品質 表面""",
    (
        "failures",
        "clogging",
    ): """clog block jam plugg verstopf =zu verklebt bouch obstru colmat atasc
        atranc intas ostrui otturat verstopt zatkan zapchan entup 詰 目詰""",
    (
        "failures",
        "damage",
    ): """damag crash drop dropp broke bent collision knock hit_by hit_part hit_the hit_bed cracked
        crack beschadig kaputt bruch gebroch gefallen sturz kollision verbogen angestoss casse
        endommag tombe choc collision =tordu danad dano golpe roto rota caido caida choque
        doblad danneggi rott cadut urto piegat beschadigd kapot gevallen gebroken botsing
        uszkodz pekni upad upus zlaman kolizj danific quebr caiu queda batid 破損 落下 衝突 損傷
        変形 割""",
    (
        "failures",
        "wear",
    ): """worn wear wornout abrad erod leak end_of_life verschl verschliss abgenutzt
        ausgeleiert undicht usee usure fuite desgast gastad usurat usura consumat
        logor perde versleten slijtage lekt zuzyt zuzyci wytart wyciek gast desgast 摩耗 消耗
        劣化 寿命 漏""",
    ("failures", "defect"): """defect defekt fault fail error electric heater sensor =hs panne
        defaut averi fallo guast difett defectu storing defect awari uster avaria defeit falh
        故障 不良 異常 ヒータ""",
    ("may_have_failed", "wear"): """unknown =? unclear =unbekannt unklar inconnu desconocid
        sconosciut onbekend nieznan desconhecid 不明""",
}
IN_SERVICE: Final = """in_use in_service still_in running =active =installed lauft in_betrieb
    eingebaut noch_drin =aktiv en_service en_marche en_uso en_servicio in_uso in_servizio in_gebruik
    in_bedrijf w_uzyciu pracuje em_uso em_servico 使用中 稼働中 運転中"""
AS_OF: Final = """as_of =stand =status_on =etat_au situation_au =situacion_al =situazione_al
    stand_per stan_na situacao_em 現在 時点"""


def folded(text: str) -> str:
    """Write a text as it is compared: small letters without accents, words with single spaces.

    Parameters
    ----------
    text : str
        The text.

    Returns
    -------
    str
        The text as it is compared.
    """
    parts = unicodedata.normalize("NFKD", plain(text).casefold().replace("ł", "l"))
    letters = "".join(c for c in parts if not unicodedata.combining(c))
    if any("\u3040" <= c <= "\u9fff" for c in text):  # syllables lose their marks so
        letters = plain(text).casefold()
    return " ".join(re.sub(r"[\W_]+", " ", letters).split())


@cache
def _pattern(words: str) -> re.Pattern[str]:
    parts = []
    for word in words.split():
        whole = word.startswith("=")
        text = folded(word.strip("=").replace("_", " "))
        if not text:
            continue
        if ord(text[0]) > 0x2E7F:
            parts.append(re.escape(text))
        elif whole:
            parts.append(rf"(?<!\w){re.escape(text)}(?!\w)")
        else:
            # Compounds put the word that matters last ("ausbaudatum"), or first.
            parts.append(re.escape(text) if len(text) > 3 else rf"(?<!\w){re.escape(text)}")
    return re.compile("|".join(parts) or r"(?!)")


def speaks_of(text: str, words: str) -> bool:
    """Tell whether a text has one of some words, as `CONCEPTS` write them.

    Parameters
    ----------
    text : str
        The text.
    words : str
        Words, as `CONCEPTS` write them.

    Returns
    -------
    bool
        True where it does.
    """
    return _pattern(words).search(folded(text)) is not None


def without(text: str, words: str) -> str:
    """Take some words out of a folded text.

    Parameters
    ----------
    text : str
        The text.
    words : str
        Words, as `CONCEPTS` write them.

    Returns
    -------
    str
        What is left.
    """
    return _pattern(words).sub(" ", text)


def first_that_fits(text: str, meanings: Mapping[Meaning, str]) -> Meaning | None:
    """Give the first meaning whose words a text has; None when there is none.

    Parameters
    ----------
    text : str
        The text.
    meanings : mapping of Meaning to str
        Words by meaning, or of each meaning.

    Returns
    -------
    Meaning or None
        The meaning; None when there is none.
    """
    key = folded(text)
    return next((what for what, words in meanings.items() if _pattern(words).search(key)), None)


def share_that_fits(texts: Iterable[str], meanings: Iterable[str]) -> float:
    """Share of texts that have a word of any meaning [-].

    Parameters
    ----------
    texts : iterable of str
        The texts.
    meanings : iterable of str
        Words by meaning, or of each meaning.

    Returns
    -------
    float
        The share [-].
    """
    patterns = [_pattern(words) for words in meanings]
    keys = [folded(text) for text in texts]
    hits = sum(any(pattern.search(key) for pattern in patterns) for key in keys)
    return hits / len(keys) if keys else 0.0
