"""Where the numbers of uploaded histories are kept: Parquet under one root, named by the hash of what was uploaded."""

from webapi.store.convert import Converted, convert
from webapi.store.files import HistoryStore, open_store
from webapi.store.reader import StoredReader

__all__ = ["Converted", "HistoryStore", "StoredReader", "convert", "open_store"]
