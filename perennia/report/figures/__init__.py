"""The figures, one file each. Importing this package registers them all with perennia.report.drawing."""

from __future__ import annotations

import pkgutil
from importlib import import_module

for _file in pkgutil.iter_modules(__path__):
    import_module(f"{__name__}.{_file.name}")
