"""The names of one archive: none bad, and no two that could be taken for one another."""

from __future__ import annotations

from typing import Final

from evidpack import limits
from evidpack.container.names import part_fault, require_name, twin_key
from evidpack.errors import ContainerError

# Four bytes a character at most, so that a name this short needs no measuring.
_SURELY_SHORT: Final = 200


class NameTable:
    """The names of one archive so far; refuses any that is bad or has a twin among them.

    A tree of folders by the keys of their parts, so that memory grows with what is new in a name.
    """

    __slots__ = ("_folders", "_last", "_root")

    def __init__(self) -> None:
        self._root = _Folder("")
        self._last = ("", self._root)
        self._folders = 0

    def add(self, name: str) -> None:
        """Add a name relative to the top folder.

        Raises:
            ContainerError: the name is not allowed or has a twin, or a limit is reached.
        """
        leaf = name.rpartition("/")[2]
        prefix = name[: len(name) - len(leaf)]
        known, folder = self._last
        # What is in the same folder as the name before needs a look at its last part only.
        if prefix != known or len(name) > _SURELY_SHORT or part_fault(leaf) is not None:
            require_name(name)
            folder = self._folder_of(name)
            self._last = (prefix, folder)
        key = twin_key(leaf)
        if key in folder.parts:
            raise _twins(name)
        folder.parts[key] = None

    def _folder_of(self, name: str) -> _Folder:
        """The folder that holds the name, made where it is new."""
        folder = self._root
        for part in name.split("/")[:-1]:
            key = twin_key(part)
            if key not in folder.parts:
                self._folders += 1
                if self._folders > limits.MAX_FOLDERS:
                    raise ContainerError(
                        "limit reached: number of folders",
                        expected=f"at most {limits.MAX_FOLDERS}",
                        observed=str(self._folders),
                    )
                folder.parts[key] = _Folder(part)
            inner = folder.parts[key]
            if inner is None or inner.spelling != part:
                raise _twins(name)
            folder = inner
        return folder


class _Folder:
    """A folder as it is spelled, and by key what is in it: folders, and None for files."""

    __slots__ = ("parts", "spelling")

    def __init__(self, spelling: str) -> None:
        self.spelling = spelling
        self.parts: dict[str, _Folder | None] = {}


def _twins(name: str) -> ContainerError:
    return ContainerError(
        f"two names could be taken for one another: {name[:200]!a}",
        expected="no name that is another's twin in case, normalisation or as its folder",
        observed=ascii(name[:200]),
    )
