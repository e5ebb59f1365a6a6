"""Tests of reading strangers' XML: no entities, no network, nothing without end."""

import io
import zipfile

import pytest

from loosehand.errors import BadNotation
from loosehand.sheets.part_musicxml import part_from_musicxml, part_to_musicxml
from loosehand.sheets.safe_xml import MOST_XML_BYTES, music_xml_root
from tests.sheets.some_parts import groove

CONTAINER = (
    '<container><rootfiles><rootfile full-path="{}"/></rootfiles></container>'  # as the standard
)


def pack(**files):
    """Return a zip of files; the container names score.xml."""
    data = io.BytesIO()
    with zipfile.ZipFile(data, "w", zipfile.ZIP_DEFLATED) as packed:
        packed.writestr("META-INF/container.xml", files.pop("container", CONTAINER))
        for name, content in files.items():
            packed.writestr(f"{name}.xml", content)
    return data.getvalue()


def test_a_packed_score_is_read():
    """An .mxl with a container is read like the score in it."""
    packed = pack(container=CONTAINER.format("score.xml"), score=part_to_musicxml(groove()))
    assert part_from_musicxml(packed) == groove()


@pytest.mark.parametrize(
    ("data", "says"),
    [
        (b'<!DOCTYPE a [<!ENTITY x "y">]><a>&x;</a>', "line 1.*declares things of its own"),
        (b'<!DOCTYPE a [<!ENTITY x SYSTEM "file:///etc/passwd">]><a>&x;</a>', "line 1"),
        (b'<!DOCTYPE a SYSTEM "http://example.org/a.dtd"><a>&x;</a>', "&x; is not known"),
        (b"<a>&x;</a>", "not well-formed"),
        (b"<a>" * 200, "100 elements within each other"),
        (b'<?xml version="1.0" encoding="klingon"?><a/>', "encoding"),
        (b" " * (MOST_XML_BYTES + 1), "16000000 at most"),
        (b"PK\x03\x04 and nothing more", "damaged"),
        (pack(container="<container/>"), "names no score"),
        (pack(container=CONTAINER.format("gone.xml")), "holds no 'gone.xml'"),
        (
            pack(container=CONTAINER.format("score.xml"), score=b" " * (MOST_XML_BYTES + 1)),
            "unpacks to more than",
        ),
    ],
    ids=range(11),
)
def test_what_is_not_opened_is_said(data, says):
    """Entities, endless files and damaged packs are refused in one sentence."""
    with pytest.raises(BadNotation, match=says) as refusal:
        music_xml_root(data)
    assert "\n" not in str(refusal.value)


def test_a_document_type_without_declarations_is_read():
    """The document type that notation programs name is passed over, and nothing is fetched."""
    assert music_xml_root(b'<!DOCTYPE a PUBLIC "b" "http://example.org/c"><a/>').tag == "a"
