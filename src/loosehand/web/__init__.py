"""The pages: a local web app on one studio."""

from loosehand.web.app import make_app
from loosehand.web.desk import Desk

__all__ = ["Desk", "make_app"]
