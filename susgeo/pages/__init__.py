"""The course without Python: plain pages for a phone, a stick or a web server, and lessons on paper."""

from .paper import make_paper
from .site import make_pages

__all__ = ["make_pages", "make_paper"]
