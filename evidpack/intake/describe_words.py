"""What the names of columns and files suggest. Guesses only: a person confirms each.

The words are plain words for the thing in four languages; common practice, no source.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Mapping
from typing import Final

from evidpack.model.fields import RecordKind

_WORD: Final = re.compile(r"[^\W\d_]+")
_CAMEL: Final = re.compile(r"(?<=[a-z])(?=[A-Z])")

_FIELD_WORDS: Final[dict[str, frozenset[str]]] = {
    name: frozenset(words.split())
    for name, words in {
        "capture": "ref reference capture id ident identifier record kennung aufnahme numero",
        "session": "session sitzung einsatz shift schicht sesion",
        "meter": "meter serial device instrument gerat seriennummer appareil equipo",
        "date": "date datum day tag fecha jour",
        "clock_time": "time uhrzeit zeit heure hora clock",
        "time": "timestamp datetime zeitpunkt zeitstempel horodatage utc stamp when at shown looked viewed",
        "opinion_time": "opinion einschatzung",
        "speed": "speed geschwindigkeit geschw vitesse velocidad velocity tempo",
        "range": "range distance entfernung abstand distanz distancia portee dist",
        "limit": "limit limite grenze hochst hochstgeschwindigkeit zulassig permitted",
        "direction": "direction richtung sens sentido",
        "pulse_times_s": "pulsetimes impulszeiten",
        "pulse_ranges_m": "pulseranges pulsedistances impulsabstande impulsentfernungen",
        "shown_speed": "shown angezeigt",
        "still": "still image picture photo bild file datei",
        "site": "site place location ort stelle standort lieu",
        "reviewer": "reviewer auswerter",
        "vehicles": "vehicles fahrzeuge",
        "on_target": "target ziel",
        "same_vehicle_as": "samevehicleas",
        "reference": "reference referenz source quelle",
        "uncertainty_s": "uncertainty unsicherheit",
        "resynchronised": "resynchronised setright gestellt corrected",
        "image_first": "first von",
        "image_last": "last bis",
        "reason": "reason grund",
        "by": "by von wer who",
        "event": "event ereignis",
        "plate": "plate registration vrm kennzeichen plaque immatriculation matricula reg",
        "image_number": "image photo picture bild frame foto cliche imagen",
        "discarded": "discarded discard verworfen rejected void ungultig",
        "remark": "remark remarks note notes comment bemerkung remarque observacion",
        "test": "test check prufung prufart essai prueba",
        "result": "result outcome ergebnis resultat resultado status",
        "measured": "measured gemessen mesure medido",
        "surveyed": "surveyed known sollwert soll vermessen connu",
        "operator": "operator bediener operateur operador user",
        "reference_time": "referencetime refzeit referenzzeit standard atomic",
        "clock": "clock uhr horloge reloj",
        "frame": "frame einzelbild index",
        "clip": "clip video film",
    }.items()
}  # fmt: skip

_PATH_WORDS: Final[tuple[tuple[RecordKind, str], ...]] = (
    (
        RecordKind.DEVICE_TEST,
        "test tests prufung prufungen pruf essai essais prueba pruebas selftest devicetest",
    ),
    (RecordKind.CLOCK_CHECK, "clock clocks uhr uhren horloge reloj sync zeitvergleich"),
    (RecordKind.FRAME_TIME, "frame frames einzelbild"),
    (RecordKind.DELETION, "deletion deletions deleted geloscht"),
    (RecordKind.DATA_STRIP, "strip overlay einblendung"),
    (RecordKind.REVIEW, "review reviews auswertung"),
    (RecordKind.EVENT, "event events ereignis"),
)

_FIELDS_OF: Final[dict[RecordKind, tuple[str, ...]]] = {
    RecordKind.READING: (
        "capture", "session", "meter", "opinion_time", "speed", "range", "limit", "direction",
        "pulse_times_s", "pulse_ranges_m", "plate", "image_number", "discarded", "remark",
    ),
    RecordKind.DEVICE_TEST: (
        "session", "meter", "test", "result", "measured", "surveyed", "shown_speed", "operator",
        "remark",
    ),
    RecordKind.CLOCK_CHECK: (
        "clock", "reference_time", "reference", "uncertainty_s", "resynchronised",
    ),
    RecordKind.FRAME_TIME: ("clip", "frame"),
    RecordKind.DELETION: ("image_first", "image_last", "reason", "by"),
    RecordKind.DATA_STRIP: ("still", "speed", "range", "site"),
    RecordKind.REVIEW: (
        "capture", "reviewer", "vehicles", "on_target", "same_vehicle_as", "remark",
    ),
    RecordKind.EVENT: ("capture", "event"),
}  # fmt: skip


_UNIT_WORDS: Final = frozenset({"mph", "kmh", "kph", "km", "h", "m", "s", "ms", "ft", "mps"})
_CHOICE_WORDS: Final[dict[str, frozenset[str]]] = {
    name: frozenset(words.split())
    for name, words in {
        "pass": "ok pass passed good yes true bestanden ordnung reussi correcto",
        "fail": "fail failed bad fault error no false fehler echec fallo",
        "approaching": "approaching towards toward in incoming entgegen annahernd approche",
        "receding": "receding away out outgoing weg abfliessend eloignement",
        "self": "self selbst selbsttest auto",
        "display": "display segments anzeige affichage",
        "alignment-horizontal": "h horizontal horizontally waagerecht",
        "alignment-vertical": "v vertical vertically senkrecht",
        "distance": "distance fixed entfernung abstand",
        "zero": "zero null static",
    }.items()
}


def guess_choice(choices: Iterable[str], text: str) -> str:
    """Which of a field's words a text is likely to mean, or a question."""
    words = set(words_of(text))
    known = tuple(choices)
    scored = [(len(words & _CHOICE_WORDS.get(one, frozenset({one}))), one) for one in known]
    best = max(score for score, _ in scored)
    likely = [one for score, one in scored if score == best]
    return likely[0] if best and len(likely) == 1 else f"which of {', '.join(known)}?"


def words_of(text: str) -> tuple[str, ...]:
    """The words of a name: lower case, without accents, joined words taken apart."""
    apart = _CAMEL.sub(" ", text)
    bare = "".join(
        character
        for character in unicodedata.normalize("NFKD", apart)
        if not unicodedata.combining(character)
    )
    return tuple(word.lower() for word in _WORD.findall(bare))


def guess_kind(path: str, columns: Iterable[str]) -> RecordKind:
    """What a log is likely to hold."""
    words = set(words_of(path.rpartition("/")[2]))
    words |= {word.removesuffix("s") for word in words}
    names = {word for column in columns for word in words_of(column)}
    for kind, hints in _PATH_WORDS:
        if words & set(hints.split()):
            return kind
    if names & _FIELD_WORDS["speed"]:
        return RecordKind.READING
    if names & _FIELD_WORDS["result"] and names & _FIELD_WORDS["test"]:
        return RecordKind.DEVICE_TEST
    return RecordKind.READING


def guess_fields(kind: RecordKind, columns: Iterable[str]) -> Mapping[str, str]:
    """Field → column, for the fields whose words stand in the name of a column.

    The names ``date`` and ``clock_time`` stand for the two halves of ``time``.
    """
    wanted = (*_FIELDS_OF.get(kind, ()), "time", "date", "clock_time")
    scored: list[tuple[float, int, str, str]] = []
    for column in columns:
        words = words_of(column.rpartition(".")[2] or column)
        words = tuple(word for word in words if word not in _UNIT_WORDS) or words
        whole = "".join(words)
        for place, name in enumerate(wanted):
            hits = len(_FIELD_WORDS[name] & {*words, whole})
            if hits:
                scored.append((-hits / max(1, len(words)), place, name, column))
    found: dict[str, str] = {}
    for _, _, name, column in sorted(scored):
        if name not in found and column not in found.values():
            found[name] = column
    return found


def guess_unit(column: str, *, speed: bool) -> str:
    """The unit that a column's name states, else the likelier one."""
    text = column.lower().replace(" ", "")
    if speed:
        if "mph" in text:
            return "mph"
        if "m/s" in text or text.endswith("mps"):
            return "m/s"
        return "km/h" if any(unit in text for unit in ("km/h", "kmh", "kph")) else "mph"
    return "ft" if re.search(r"(?:\(|\[|_|\b)(?:ft|feet)\b", column.lower()) else "m"
