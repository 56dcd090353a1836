"""What the stations of a plant are in its account, asked by role and never by name."""

from __future__ import annotations

import re
from collections.abc import Iterable

from ratoon.base.errors import BadInput
from ratoon.plant.declared import (
    Accounted,
    Material,
    MaterialRole,
    Named,
    NamedRole,
    Role,
)
from ratoon.plant.station import Station
from ratoon.plant.streams import Quantities, Quantity, Stream

IN_BRACES = re.compile(r"\{([^}]*)\}")


class Roles:
    """What all stations of a plant declare for its account.

    Several stations may add to one line: its flow is their sum, its words those of the first that
    gives any.
    """

    def __init__(self, stations: Iterable[Station]) -> None:
        self._lines: dict[Role, dict[str, list[Accounted]]] = {}
        self._materials: dict[MaterialRole, dict[str, Material]] = {}
        self._named: dict[NamedRole, list[Named]] = {}
        for station in stations:
            for one in station.accounted():
                self._lines.setdefault(one.role, {}).setdefault(one.key, []).append(one)
            for material in station.materials():
                self._materials.setdefault(material.role, {})[material.key] = material
            for named in station.named():
                self._named.setdefault(named.role, []).append(named)

    def lines(self, role: Role) -> dict[str, str]:
        """The lines of a role by key, with their words."""
        found = self._lines.get(role, {})
        return {key: next((p.text for p in parts if p.text), key.replace("_", " "))
                for key, parts in found.items()}  # fmt: skip

    def flow(self, role: Role, key: str, q: Quantities) -> Quantity:
        """The flow of one line of a role."""
        first, *more = self._lines[role][key]
        return sum((part.of(q) for part in more), first.of(q))

    def flows(self, role: Role, q: Quantities) -> dict[str, Quantity]:
        """The flow of each line of a role by key."""
        return {key: self.flow(role, key, q) for key in self._lines.get(role, {})}

    def total(self, role: Role, q: Quantities) -> Quantity:
        """All flows of a role; zero where no station has it."""
        return sum(self.flows(role, q).values(), 0.0)

    def addresses(self, role: Role, key: str = "") -> tuple[str, ...]:
        """Where the parts of a role, or of one line of it, are shown."""
        lines = self._lines.get(role, {})
        parts = lines.get(key, ()) if key else (p for parts in lines.values() for p in parts)
        return tuple(dict.fromkeys(p.shown_at for p in parts if p.shown_at))

    def named(self, role: NamedRole) -> tuple[str, ...]:
        """The addresses of a role, in the order of the stations."""
        return tuple(n.address for n in self._named.get(role, ()))

    def keyed(self, role: NamedRole) -> dict[str, str]:
        """The addresses of a role by key."""
        return {n.key: n.address for n in self._named.get(role, ())}

    def at(self, wanted: str) -> str:
        """An address told by role, such as ``{mixed juice}.brix``, ``{molasses A}.purity``.

        In braces stands a role, with its key where it has several; "" where no station has it.
        """
        found = [self._of(name) for name in IN_BRACES.findall(wanted)]
        if not all(found):
            return ""
        return IN_BRACES.sub(lambda _: found.pop(0), wanted)

    def _of(self, name: str) -> str:
        """Stem of a material, or address of a quantity or of a line, by role and key."""
        for role, made in self._materials.items():
            for key, material in made.items():
                if name in (role, f"{role} {key}"):
                    return material.stem
        for named in (n for all_of in self._named.values() for n in all_of):
            if name in (named.role, f"{named.role} {named.key}"):
                return named.address
        for line, parts in self._lines.items():
            for key, (part, *_) in parts.items():
                if name in (line, f"{line} {key}"):
                    return part.shown_at
        return ""

    def materials(self, role: MaterialRole) -> dict[str, Material]:
        """The materials of a role by key."""
        return self._materials.get(role, {})

    def material(self, role: MaterialRole) -> Material:
        """The one material of a role.

        Raises
        ------
        BadInput : no station makes it.
        """
        found = self.materials(role)
        if len(found) != 1:
            raise BadInput(f"one station must make {role}; {len(found)} do", where="mill.toml")
        return next(iter(found.values()))

    def stream(self, role: MaterialRole, q: Quantities) -> Stream:
        """The flow of the one material of a role."""
        return self.material(role).of(q)
