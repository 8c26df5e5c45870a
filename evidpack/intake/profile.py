"""The profile: clocks, counters, which files are what, and how logs map to our fields."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Final, Literal, cast

from evidpack.intake.declared import read_glob, require_zone
from evidpack.intake.faults import TableReader
from evidpack.intake.file_patterns import Glob, NamePattern, PatternError
from evidpack.intake.log_spec import LogSpec, read_log
from evidpack.limits import MAX_PROFILE_TABLES
from evidpack.model.day import Clock, Counter
from evidpack.model.records import ItemKind

Join = Literal["identifier", "file-name", "nearest-time"]

PROFILE_KEYS: Final = frozenset({"clock", "counter", "items", "log", "captures"})
DECLARED_KINDS: Final = (
    ItemKind.STILL,
    ItemKind.CLIP,
    ItemKind.LOG,
    ItemKind.REPORT,
    ItemKind.CERTIFICATE,
    ItemKind.DOCUMENT,
    ItemKind.AUDIO,
)
_JOINS: Final = ("identifier", "file-name", "nearest-time")
_CLOCK_HINT: Final = '[[clock]]\nname = "meter"\nzone = "Europe/London"\nresolution_s = 1'
_COUNTER_HINT: Final = '[[counter]]\nname = "image"\nmodulus = 10000\nfirst = 1'
_ITEMS_HINT: Final = '[[items]]\nglob = "stills/*.jpg"\nkind = "still"\nclock = "camera"'
_CAPTURES_HINT: Final = '[captures]\njoin = "nearest-time"\nwithin_s = 2.0'


@dataclass(frozen=True, slots=True, kw_only=True)
class ItemSpec:
    """An ``[[items]]`` table."""

    glob: Glob
    kind: ItemKind
    clock: str | None
    counter: str | None
    pattern: NamePattern | None


@dataclass(frozen=True, slots=True, kw_only=True)
class CaptureSpec:
    """The ``[captures]`` table. `within_s`: seconds, nearest-time only."""

    join: Join
    within_s: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Profile:
    """Everything a profile says. `tables` stand in the order in which they are tried."""

    clocks: Mapping[str, Clock] = field(default_factory=dict)
    counters: Mapping[str, Counter] = field(default_factory=dict)
    tables: tuple[ItemSpec | LogSpec, ...] = ()
    captures: CaptureSpec | None = None

    def item_spec(self, path: str) -> ItemSpec | LogSpec | None:
        """The first table that matches a path relative to the export."""
        return next((table for table in self.tables if table.glob.matches(path)), None)

    def log_specs(self, path: str) -> tuple[LogSpec, ...]:
        """The ``[[log]]`` tables that read a file: the first that matches it, and those after
        it with the same glob, which read other rows of it.
        """
        first = self.item_spec(path)
        if not isinstance(first, LogSpec):
            return ()
        return tuple(
            table
            for table in self.tables
            if isinstance(table, LogSpec) and table.glob.text == first.glob.text
        )


def read_profile(readers: tuple[TableReader, ...]) -> Profile:
    """Reads the profile tables of day.toml and then of its profile file. Faults are noted."""
    clocks: dict[str, Clock] = {}
    counters: dict[str, Counter] = {}
    for reader in readers:
        for table in reader.tables("clock", hint=_CLOCK_HINT):
            _keep(table, _read_clock(table), clocks, what="clock")
        for table in reader.tables("counter", hint=_COUNTER_HINT):
            _keep(table, _read_counter(table), counters, what="counter")
    tables: list[ItemSpec | LogSpec] = []
    for reader in readers:
        tables += _read_tables(reader, clocks, counters)
    if len(tables) > MAX_PROFILE_TABLES:
        readers[0].fault(
            f"more than {MAX_PROFILE_TABLES} [[items]] and [[log]] tables",
            hint='one glob may match many files: glob = "stills/**/*.jpg"',
        )
    return Profile(
        clocks=clocks, counters=counters, tables=tuple(tables), captures=_read_captures(readers)
    )


def _keep(
    table: TableReader,
    made: Clock | Counter | None,
    found: dict[str, Clock] | dict[str, Counter],
    *,
    what: str,
) -> None:
    if made is None:
        return
    if made.name in found:
        table.fault(f"the {what} {made.name!r} is declared twice", hint="give it another name")
        return
    cast("dict[str, Clock | Counter]", found)[made.name] = made


def _read_clock(table: TableReader) -> Clock | None:
    table.only({"name", "zone", "resolution_s"}, what="[[clock]]")
    name = table.text("name", required=True, hint=_CLOCK_HINT)
    zone = table.text("zone", hint=_CLOCK_HINT)
    if zone is None and "zone" not in table.table:
        table.fault('zone is missing ("" where nobody knows it)', hint=_CLOCK_HINT)
    require_zone(table, "zone", zone)
    resolution = table.number("resolution_s", hint=_CLOCK_HINT)
    if resolution is not None and resolution <= 0:
        table.fault("resolution_s must be above 0", name="resolution_s", hint=_CLOCK_HINT)
    if name is None:
        return None
    return Clock(name=name, zone=zone or None, resolution_s=resolution or 1.0)


def _read_counter(table: TableReader) -> Counter | None:
    table.only({"name", "modulus", "first"}, what="[[counter]]")
    name = table.text("name", required=True, hint=_COUNTER_HINT)
    modulus = table.integer("modulus", least=2, hint=_COUNTER_HINT)
    first = table.integer("first", hint=_COUNTER_HINT) or 0
    if modulus is not None and first >= modulus:
        table.fault("first must be below modulus", name="first", hint=_COUNTER_HINT)
    return None if name is None else Counter(name=name, modulus=modulus, first=first)


def _read_tables(
    reader: TableReader, clocks: Mapping[str, Clock], counters: Mapping[str, Counter]
) -> list[ItemSpec | LogSpec]:
    """``[[items]]`` and ``[[log]]`` tables in the order in which they stand in the file."""
    found: list[tuple[int, ItemSpec | LogSpec]] = []
    for table in reader.tables("items", hint=_ITEMS_HINT):
        spec: ItemSpec | LogSpec | None = _read_items(table, clocks, counters)
        if spec is not None:
            found.append((table.line or 0, spec))
    for table in reader.tables("log", hint='[[log]]\nglob = "logs/readings.csv"'):
        spec = read_log(table, clocks)
        if spec is not None:
            found.append((table.line or 0, spec))
    return [spec for _, spec in sorted(found, key=lambda pair: pair[0])]


def _read_items(
    table: TableReader, clocks: Mapping[str, Clock], counters: Mapping[str, Counter]
) -> ItemSpec | None:
    table.only({"glob", "kind", "clock", "counter", "name_pattern"}, what="[[items]]")
    glob = read_glob(table)
    kind = table.choice(
        "kind", [kind.value for kind in DECLARED_KINDS], required=True, hint=_ITEMS_HINT
    )
    clock = table.text("clock", hint=_ITEMS_HINT)
    if clock is not None and clock not in clocks:
        table.fault(f"no [[clock]] is named {clock!r}", name="clock", hint=_CLOCK_HINT)
    counter = table.text("counter", hint=_ITEMS_HINT)
    if counter is not None and counter not in counters:
        table.fault(f"no [[counter]] is named {counter!r}", name="counter", hint=_COUNTER_HINT)
    pattern = None
    text = table.text("name_pattern", hint=_PATTERN_HINT)
    if text is not None:
        try:
            pattern = NamePattern(text)
        except PatternError as error:
            table.fault(f"name_pattern: {error}", name="name_pattern", hint=_PATTERN_HINT)
    if glob is None or kind is None:
        return None
    return ItemSpec(glob=glob, kind=ItemKind(kind), clock=clock, counter=counter, pattern=pattern)


_PATTERN_HINT: Final = r"name_pattern = '(?P<capture>C\d+)_(?P<image_number>\d+)\.jpg'"


def _read_captures(readers: tuple[TableReader, ...]) -> CaptureSpec | None:
    found: CaptureSpec | None = None
    for reader in readers:
        if "captures" not in reader.table:
            continue
        table = TableReader(
            reader.toml, (*reader.key, "captures"), reader.table["captures"], reader.faults
        )
        if found is not None:
            table.fault("[captures] stands in day.toml and in the profile", hint="keep one")
        table.only({"join", "within_s"}, what="[captures]")
        join = table.choice("join", _JOINS, required=True, hint=_CAPTURES_HINT)
        within = table.number("within_s", required=join == "nearest-time", hint=_CAPTURES_HINT)
        if within is not None and within <= 0:
            table.fault("within_s must be above 0", name="within_s", hint=_CAPTURES_HINT)
        if join is not None:
            found = CaptureSpec(join=cast("Join", join), within_s=within)
    return found
