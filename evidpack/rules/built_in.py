"""The rule sets that come with evidpack."""

from __future__ import annotations

import pkgutil
from typing import Final

from evidpack.errors import UsageError

BUILT_IN: Final = ("general", "example_mph", "example_kmh")


def built_in(name: str) -> bytes:
    """The bytes of a rule set that comes with evidpack. Raises UsageError for another name."""
    if name not in BUILT_IN:
        raise UsageError(
            f"no rule set is called {name!r}",
            expected=" or ".join(BUILT_IN),
            observed=name,
            hint="evidpack rules list",
        )
    data = pkgutil.get_data("evidpack.rules", f"sets/{name}.toml")
    if data is None:
        raise UsageError(f"rule set {name} can't be read from how evidpack is installed")
    return data
