"""Text of others stands in PDFs as text: no operator, action, link or script comes of it."""

from __future__ import annotations

import io
import re
from dataclasses import replace

import pypdf
import pytest

from evidpack.index.index import build_index
from tests.index.invented import content

ATTACKS = (
    ") Tj ET (", "\\) Tj\n/Span << >> BDC", "endstream endobj", "<script>alert(1)</script>",
    "</para><img src='file:///etc/passwd'/>", "%PDF-1.4", "<</S/JavaScript/JS(app.alert(1))>>",
    "<</S/Launch/F(cmd.exe)>>", "&lt;b&gt;", "\\101\\102", "(((", ")))", "\\",
)  # fmt: skip
ACTIONS = re.compile(
    rb"/(?:JavaScript|JS|Launch|SubmitForm|ImportData|GoToR|GoToE|OpenAction|AA|EmbeddedFile|"
    rb"RichMedia|XFA|AcroForm)\b"
)


@pytest.mark.parametrize("attack", ATTACKS)
def test_hostile_text_is_shown_as_text_and_does_nothing(attack: str) -> None:
    made = replace(content(), unit=f"Unit {attack} end", rule_set_title=f"Rules {attack} end")
    pdf = build_index(made, thumbnail=lambda _path: None, workers=1)
    reader = pypdf.PdfReader(io.BytesIO(pdf), strict=True)
    shown = " ".join(page.extract_text() for page in reader.pages)
    assert _bare(f"Unit {attack} end".replace("\n", "[U+000A]")) in _bare(shown)
    assert not _actions(reader)


def _bare(text: str) -> str:
    """Text without white space, where lines may be broken."""
    return re.sub(r"\s", "", text)


def _actions(reader: pypdf.PdfReader) -> list[bytes]:
    """Names of actions in any object of the file, the streams of pages apart."""
    found: list[bytes] = []
    for number in range(1, len(reader.xref[0]) + 1 if reader.xref else 1):
        value = reader.get_object(pypdf.generic.IndirectObject(number, 0, reader))
        out = io.BytesIO()
        if value is not None and not isinstance(value, pypdf.generic.StreamObject):
            value.write_to_stream(out)
        found += ACTIONS.findall(out.getvalue())
    return found


def test_an_action_would_be_found() -> None:
    writer = pypdf.PdfWriter()
    writer.add_blank_page(10, 10)
    name = pypdf.generic.NameObject
    script = pypdf.generic.DictionaryObject(
        {name("/S"): name("/JavaScript"), name("/JS"): pypdf.generic.TextStringObject("x")}
    )
    writer.root_object[name("/OpenAction")] = script
    out = io.BytesIO()
    writer.write(out)
    assert _actions(pypdf.PdfReader(io.BytesIO(out.getvalue())))
