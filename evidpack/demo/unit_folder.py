"""The unit's folder: meters, people, certificates and sites, typed once and used again."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path
from typing import Final

from evidpack.demo import places
from evidpack.demo.profile import PROFILE
from evidpack.demo.tables import Table, tables_text, typed_from, write_toml

CALIBRATION_FILE: Final = "certificates/calibration_OX-26-0417.pdf"
APPROVAL_FILE: Final = "certificates/approval_TA-0093.pdf"


def operator_file(person: places.Person) -> str:
    """Where an operator's certificate lies in the export."""
    return f"certificates/operator_{person.certificate}.pdf"


def write_unit(folder: Path) -> None:
    """Writes the folder's files."""
    write_toml(folder / "profile.toml", PROFILE)
    write_toml(folder / "meters.toml", tables_text(_meters()))
    write_toml(folder / "operators.toml", tables_text(_operators()))
    certificates = [*_certificates(), *_operator_certificates()]
    write_toml(folder / "certificates.toml", tables_text(certificates))
    write_toml(folder / "sites.toml", tables_text(_sites()))


def _meters() -> Iterable[Table]:
    yield Table(
        "meter",
        {
            "serial": places.METER_SERIAL,
            "type": places.METER_TYPE,
            "firmware": places.METER_FIRMWARE,
            "tamper_seal": places.TAMPER_SEAL,
            "camera_serial": places.METER_SERIAL,
            **typed_from("label on the meter and its start-up screen, 13 May 2026"),
        },
    )
    yield Table(
        "meter_event",
        {
            "meter": places.METER_SERIAL,
            "date": "2026-01-28",
            "event": "repair",
            "detail": "front window replaced, before the calibration of 11 February 2026",
            **typed_from("repair sheet R-26-008"),
        },
    )


def _operators() -> Iterable[Table]:
    for person in (places.OPERATOR, places.SECOND_OPERATOR):
        yield Table(
            "operator",
            {
                "id": person.id,
                "name": person.name,
                **typed_from(f"operator certificate {person.certificate}"),
            },
        )


def _certificates() -> Iterable[Table]:
    yield Table(
        "certificate",
        {
            "certificate": "calibration",
            "number": "OX-26-0417",
            "serial": places.METER_SERIAL,
            "type": places.METER_TYPE,
            "firmware": places.METER_FIRMWARE,
            "calibrated": "2026-02-11",
            "issued": "2026-02-13",
            "laboratory": places.LABORATORY,
            "traceability": "time and length traceable to national standards",
            "conditions": "20 C, 46 % relative humidity",
            "method": "simulated targets at 20, 60 and 120 mph; fixed range of 50 m",
            "speed_error_mph": -0.2,
            "speed_error_found_mph": -0.3,
            "speed_uncertainty_mph": 0.4,
            "tolerance_low_mph": -2,
            "tolerance_high_mph": 1,
            "document": CALIBRATION_FILE,
            **typed_from("certificate OX-26-0417, pages 1 and 2"),
        },
    )
    yield Table(
        "certificate",
        {
            "certificate": "approval",
            "number": "TA-0093",
            "type": places.METER_TYPE,
            "issued": "2023-09-04",
            "valid_from": "2023-09-04",
            "range_min_m": 20,
            "range_max_m": 600,
            "speed_min_mph": 10,
            "speed_max_mph": 180,
            "document": APPROVAL_FILE,
            **typed_from("approval TA-0093, page 1"),
        },
    )


def _operator_certificates() -> Iterable[Table]:
    for person in (places.OPERATOR, places.SECOND_OPERATOR):
        yield Table(
            "certificate",
            {
                "certificate": "operator",
                "number": person.certificate,
                "holder": person.id,
                "type": places.METER_TYPE,
                "issued": "2025-03-03",
                "valid_from": "2025-03-03",
                "valid_until": "2028-03-02",
                "document": operator_file(person),
                **typed_from(f"certificate {person.certificate}"),
            },
        )


def _sites() -> Iterable[Table]:
    for site in (places.ROADSIDE, places.BRIDGE):
        yield Table(
            "site",
            {
                "id": site.id,
                "name": site.name,
                "limit_mph": site.limit_mph,
                "direction": site.direction,
                "target": "receding" if site.receding else "approaching",
                "latitude_deg": site.position[0],
                "longitude_deg": site.position[1],
                "offset_m": site.offset_m,
                "height_m": site.height_m,
                "authorised_from": "2024-02-01",
                "authorised_until": "2027-01-31",
                **typed_from(f"site file {site.id}, sheet 1"),
            },
        )
        yield Table(
            "limit_order",
            {
                "site": site.id,
                "number": site.order,
                "limit_mph": site.limit_mph,
                "from": "2011-06-01" if site.receding else "1984-10-15",
                "signs_seen": "2026-05-14",
                **typed_from(f"order {site.order}; signs from the operator's log of 14 May 2026"),
            },
        )
