"""The W3C schema of MusicXML 4.0, from the package that carries it; nothing is fetched."""

import importlib.metadata
from pathlib import Path

from lxml import etree

# The schema points at two others on the network; these stubs hold the attributes it uses.
_STUBS = {
    "xml.xsd": """<xs:schema xmlns:xs="http://www.w3.org/2001/XMLSchema"
        targetNamespace="http://www.w3.org/XML/1998/namespace">
        <xs:attribute name="lang" type="xs:language"/>
        <xs:attribute name="space" type="xs:NCName"/></xs:schema>""",
    "xlink.xsd": """<xs:schema xmlns:xs="http://www.w3.org/2001/XMLSchema"
        targetNamespace="http://www.w3.org/1999/xlink">
        <xs:attribute name="href" type="xs:anyURI"/><xs:attribute name="type" type="xs:string"/>
        <xs:attribute name="role" type="xs:token"/><xs:attribute name="title" type="xs:token"/>
        <xs:attribute name="show" type="xs:token"/>
        <xs:attribute name="actuate" type="xs:token"/></xs:schema>""",
}


class _Stubs(etree.Resolver):
    def resolve(self, url, public_id, context):
        return self.resolve_string(_STUBS[url.rsplit("/", 1)[-1]], context)


def music_xml_schema():
    """Return the schema, ready to validate."""
    files = importlib.metadata.files("musicxml") or ()
    path = next(Path(str(f.locate())) for f in files if f.name == "musicxml_4_0.xsd")
    parser = etree.XMLParser(no_network=True, load_dtd=False)
    parser.resolvers.add(_Stubs())
    return etree.XMLSchema(etree.fromstring(path.read_bytes(), parser))


def problems(schema, score):
    """Return what is not valid in a score, as lines."""
    parser = etree.XMLParser(no_network=True, load_dtd=False, resolve_entities=False)
    schema.validate(etree.fromstring(score, parser))
    return [str(error) for error in schema.error_log]
