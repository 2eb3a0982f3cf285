"""Server-rendered pages for people: usable with a keyboard alone, on a phone, and (figures apart) without scripts."""

from webapi.pages import assessments, assets, audit, histories, jobs, search, sign_in, studies
from webapi.pages.base import blueprint

__all__ = ["assessments", "assets", "audit", "blueprint", "histories", "jobs", "search", "sign_in", "studies"]
