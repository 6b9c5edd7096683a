"""The one way in which formats, charts, sections and scenarios are registered: a named, ordered, closed list."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Generic, Protocol, TypeVar

from wattwitness.model.errors import UnknownName


class Named(Protocol):
    """Anything with a ``name``."""

    @property
    def name(self) -> str:
        """The name it is registered and asked for under."""
        ...


T = TypeVar("T", bound=Named)


class Registry(Generic[T]):
    """Items of one ``kind`` in a fixed order, each under its own name."""

    def __init__(self, kind: str, items: Sequence[T]) -> None:
        """Register ``items``; a name given twice raises ValueError."""
        self.kind = kind
        self._items = {item.name: item for item in items}
        if len(self._items) != len(items):
            raise ValueError(f"two {kind}s share a name")

    def __iter__(self) -> Iterator[T]:
        """Iterate in the order of registration."""
        return iter(self._items.values())

    def names(self) -> tuple[str, ...]:
        """All names, in the order of registration."""
        return tuple(self._items)

    def get(self, name: str) -> T:
        """Return the item called ``name``; raise UnknownName, listing the known ones, if there is none."""
        try:
            return self._items[name]
        except KeyError:
            raise UnknownName(
                f"There is no {self.kind} called “{name}”.", hint=f"Choose one of: {', '.join(self._items)}."
            ) from None
