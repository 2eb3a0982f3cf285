"""Server-rendered pages for people: usable with a keyboard alone, on a phone, and (figures apart) without scripts."""

from webapi.pages import assessments, assets, recordings, search, signing, studying, waiting
from webapi.pages.base import blueprint

__all__ = ["assessments", "assets", "blueprint", "recordings", "search", "signing", "studying", "waiting"]
