"""XML out of a stranger's file: no entities, no network, bounded size; ``.mxl`` packs too.

A document type may be named, as most notation programs do, but not declared in the file;
nothing it points to is fetched.

Source: W3C (2021), MusicXML 4.0, "Compressed .MXL files", for the pack and its container.
"""

import io
import zipfile
import zlib
from xml.etree.ElementTree import Element, TreeBuilder
from xml.parsers import expat

from loosehand.errors import BadNotation

__all__ = ["music_xml_root"]

MOST_XML_BYTES = 16_000_000
MOST_ENTRIES = 200
_MOST_DEPTH = 100
_MOST_ELEMENTS = 2_000_000
_CONTAINER = "META-INF/container.xml"
_PACK_STARTS = b"PK\x03\x04"


def music_xml_root(data: bytes) -> Element:
    """Root element of a MusicXML file, or of the score in an ``.mxl`` pack.

    Raises
    ------
    BadNotation    if it is neither, or holds what is not opened
    """
    if data.startswith(_PACK_STARTS):
        data = _score_of_pack(data)
    return parse_xml(data)


def parse_xml(data: bytes) -> Element:
    """Parse XML without entities.

    Raises
    ------
    BadNotation    with line and column, if it is no XML, too large, or declares a type or entity
    """
    if len(data) > MOST_XML_BYTES:
        raise BadNotation(
            f"the file unpacks to {len(data)} bytes: want {MOST_XML_BYTES} at most for one score"
        )
    reader = _Reader()
    try:
        reader.parser.Parse(data, True)
        return reader.builder.close()
    except expat.ExpatError as error:
        raise BadNotation(
            f"line {error.lineno}, column {error.offset + 1}: this is not well-formed XML "
            f"({expat.ErrorString(error.code)}); save the score as MusicXML again"
        ) from error
    except (LookupError, ValueError) as error:
        if isinstance(error, BadNotation):
            raise
        raise BadNotation(
            "line 1: the file names an encoding that is not known; save it as UTF-8"
        ) from error


class _Reader:
    """An expat parser that builds elements and refuses what a score does not need."""

    def __init__(self) -> None:
        self.builder = TreeBuilder()
        self.parser = expat.ParserCreate()
        self.parser.buffer_text = True
        self.parser.StartElementHandler = self._start
        self.parser.EndElementHandler = self._end
        self.parser.CharacterDataHandler = self.builder.data
        self.parser.StartDoctypeDeclHandler = self._doctype
        self.parser.EntityDeclHandler = self._entity
        self.parser.SkippedEntityHandler = self._skipped
        self._depth = 0
        self._elements = 0

    def _place(self) -> str:
        parser = self.parser
        return f"line {parser.CurrentLineNumber}, column {parser.CurrentColumnNumber + 1}"

    def _start(self, name: str, attributes: dict[str, str]) -> None:
        self._depth += 1
        self._elements += 1
        if self._depth > _MOST_DEPTH or self._elements > _MOST_ELEMENTS:
            raise BadNotation(
                f"{self._place()}: more than {_MOST_DEPTH} elements within each other, or "
                f"{_MOST_ELEMENTS} in all, are not a score"
            )
        self.builder.start(name.split(":")[-1], attributes)

    def _end(self, name: str) -> None:
        self._depth -= 1
        self.builder.end(name.split(":")[-1])

    def _doctype(
        self, name: str, system: str | None, public: str | None, has_internal_subset: int
    ) -> None:
        if has_internal_subset:
            raise BadNotation(
                f"{self._place()}: the document type of {name} declares things of its own, which "
                "are not opened; save the score without them"
            )

    def _entity(self, name: str, *_: object) -> None:
        raise BadNotation(f"{self._place()}: the file declares the entity {name}: want none")

    def _skipped(self, name: str, is_parameter: bool) -> None:
        raise BadNotation(f"{self._place()}: the entity &{name}; is not known: want plain text")


def _score_of_pack(data: bytes) -> bytes:
    """The score that the container of an ``.mxl`` names."""
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as pack:
            if len(pack.infolist()) > MOST_ENTRIES:
                raise BadNotation(
                    f"the pack holds {len(pack.infolist())} files: want {MOST_ENTRIES} at most"
                )
            container = parse_xml(_entry(pack, _CONTAINER))
            first = container.find("rootfiles/rootfile")
            if first is None or not first.get("full-path"):
                raise BadNotation(f"{_CONTAINER} in the pack names no score")
            return _entry(pack, str(first.get("full-path")))
    except (zipfile.BadZipFile, zlib.error, NotImplementedError, RuntimeError, OSError) as error:
        raise BadNotation(
            "the .mxl pack is damaged, encrypted or packed in an unknown way; save it again"
        ) from error


def _entry(pack: zipfile.ZipFile, name: str) -> bytes:
    """Unpack one file, no further than the limit."""
    try:
        with pack.open(name) as entry:
            unpacked = entry.read(MOST_XML_BYTES + 1)
    except KeyError as error:
        raise BadNotation(f"the pack holds no {name[:80]!r}: want the file it names") from error
    except EOFError as error:
        raise BadNotation(f"{name[:80]!r} in the pack is cut off; save it again") from error
    if len(unpacked) > MOST_XML_BYTES:
        raise BadNotation(
            f"{name[:80]!r} in the pack unpacks to more than {MOST_XML_BYTES} bytes: "
            "that is no score"
        )
    return unpacked
