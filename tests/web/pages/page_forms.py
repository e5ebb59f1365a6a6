"""Read the forms of a page as a browser would send them."""

from html.parser import HTMLParser


class _Forms(HTMLParser):
    """Collects what each form sends when nothing is changed, and the labels of its fields."""

    def __init__(self):
        super().__init__()
        self.forms = {}
        self.unlabelled = []
        self._fields = None
        self._select = None
        self._option = None
        self._text = None
        self._labels = 0

    def handle_starttag(self, tag, attributes):
        """Note forms, fields and labels."""
        given = dict(attributes)
        if tag == "form":
            self._fields = self.forms.setdefault(given["action"], {})
        elif tag == "label":
            self._labels += 1
        elif self._fields is None:
            return
        elif tag in {"input", "select", "textarea"} and "name" in given:
            self._field(tag, given)
        elif tag == "option" and self._select:
            self._option = [given.get("value"), "selected" in given, ""]

    def _field(self, tag, given):
        if given.get("type") != "hidden" and not self._labels:
            self.unlabelled.append(given["name"])
        if tag == "select":
            self._select = given["name"]
        elif tag == "textarea":
            self._text = given["name"]
            self._fields[self._text] = ""
        elif given.get("type") in {"checkbox", "hidden"} and given["name"] in self._fields:
            self._one_more(given)
        elif given.get("type") not in {"checkbox", "radio"} or "checked" in given:
            self._fields[given["name"]] = given.get("value", "")

    def _one_more(self, given):
        """A name that comes more than once is sent with all its values."""
        if given["type"] == "checkbox" and "checked" not in given:
            return
        before = self._fields[given["name"]]
        values = before if isinstance(before, list) else [before]
        self._fields[given["name"]] = [*values, given.get("value", "")]

    def handle_data(self, data):
        """Note the words of an option, and of a text."""
        if self._option:
            self._option[2] += data
        if self._text:
            self._fields[self._text] += data

    def handle_endtag(self, tag):
        """Leave forms, labels and options."""
        if tag in {"option", "select"} and self._option:
            value, chosen, words = self._option
            if chosen or self._select not in self._fields:
                self._fields[self._select] = words.strip() if value is None else value
            self._option = None
        if tag == "select":
            self._select = None
        elif tag == "textarea":
            self._text = None
        elif tag == "label":
            self._labels -= 1
        elif tag == "form":
            self._fields = None


def forms_of(html):
    """What each form of a page sends when nothing is changed, by its action."""
    reader = _Forms()
    reader.feed(html)
    return reader.forms


def fields_without_label(html):
    """Names of fields that no label stands around."""
    reader = _Forms()
    reader.feed(html)
    return reader.unlabelled
