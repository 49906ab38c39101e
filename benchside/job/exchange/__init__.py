"""Everything out as a file and back in: JSON, the same as tables, and a table of readings."""

from benchside.job.exchange.form import Document, from_json, to_json
from benchside.job.exchange.whole import Imported, export_all, export_set, import_into

__all__ = [
    "Document",
    "Imported",
    "export_all",
    "export_set",
    "from_json",
    "import_into",
    "to_json",
]
