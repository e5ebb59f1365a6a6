"""Reading the pictures of the reach in tests."""

from xml.etree import ElementTree

SVG = "{http://www.w3.org/2000/svg}"


def drawn(markup):
    """A picture as a tree; it is well-formed or this fails."""
    text = str(markup).replace("<svg ", '<svg xmlns="http://www.w3.org/2000/svg" ', 1)
    return ElementTree.fromstring(text)


def of_class(tree, *names):
    """Elements that have all of these classes."""
    return [e for e in tree.iter() if set(names) <= set((e.get("class") or "").split())]


def words_in(tree):
    """Texts that are written in a picture."""
    return [found.text for found in tree.iter(f"{SVG}text")]


def moves(tree, *names):
    """How many pieces the paths of a class have."""
    return sum(found.get("d").count("M") for found in of_class(tree, *names))
