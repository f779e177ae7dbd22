"""The course without Python: plain pages for a phone, a stick or a web server, and lessons on paper."""

from .paper import find_browser, make_paper
from .site import make_pages

__all__ = ["find_browser", "make_pages", "make_paper"]
