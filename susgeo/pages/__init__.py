"""The course without Python: plain pages for a phone, a stick or a web server, and paper for a class."""

from .site import make_pages

__all__ = ["make_pages"]
