"""Loosehand: the workbench of a drummer and of the drum teacher behind the drummer."""

__all__ = ["__version__"]

__version__ = "0.4.0"
