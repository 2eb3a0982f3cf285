"""Server-rendered pages for people: usable with a keyboard alone, on a phone, and (figures apart) without scripts."""

from webapi.pages import assets, finding, past, recordings, signing, studying, waiting
from webapi.pages.base import blueprint

__all__ = ["assets", "blueprint", "finding", "past", "recordings", "signing", "studying", "waiting"]
