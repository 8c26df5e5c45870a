"""The invented unit, people, meter and places. None of them exists."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

UNIT: Final = "Thistlemoor Roads Unit"
REFERENCE: Final = "TRU-2026-05-14-A"
ZONE: Final = "Europe/London"

METER_TYPE: Final = "Lumarrow LM-4"
METER_SERIAL: Final = "LM4-00731"
METER_FIRMWARE: Final = "2.6.1"
TAMPER_SEAL: Final = "TS-58820"
LABORATORY: Final = "Oxbarrow Measurement Laboratory"


@dataclass(frozen=True, slots=True, kw_only=True)
class Person:
    """Somebody of the unit."""

    id: str
    name: str
    certificate: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Site:
    """A place where the meter stands. Lengths in metres: `offset_m` to the side of the line of
    travel, `height_m` of the lens over the road. `receding`: traffic is measured driving away.
    """

    id: str
    name: str
    limit_mph: int
    direction: str
    offset_m: float
    height_m: float
    receding: bool
    order: str
    position: tuple[float, float]  # degrees north and east


OPERATOR: Final = Person(id="TRU-104", name="Perpetua Quillfeather", certificate="OC-2231")
SECOND_OPERATOR: Final = Person(id="TRU-131", name="Barnaby Nettlefold", certificate="OC-2307")
REVIEWER: Final = "Ottoline Brackwater"
CLERK: Final = "Ottoline Brackwater"

ROADSIDE: Final = Site(
    id="TM-07",
    name="Hobblefold Lane, Nether Quillow",
    limit_mph=40,
    direction="northbound",
    offset_m=4.4,
    height_m=1.6,
    receding=False,
    order="TRO-1984/17",
    position=(56.5012, 2.4987),  # in the open sea, like the bridge
)
BRIDGE: Final = Site(
    id="TM-21",
    name="Tansyrigg footbridge, Quillow bypass",
    limit_mph=70,
    direction="eastbound",
    offset_m=2.2,
    height_m=5.6,
    receding=True,
    order="TRO-2011/06",
    position=(56.5347, 2.5521),
)
