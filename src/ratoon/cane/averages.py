"""The mill's written rules for a parcel too small or too mixed: combine, class or day average."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ratoon.cane.records import Array, Consignment, Method

NEIGHBOURS = 3  # places in the tip order within which a parcel may be joined with another


@dataclass(frozen=True, slots=True)
class Juice:
    """Brix and pol [kg/kg juice] of n consignments, where there are any.

    Parameters
    ----------
    values : shape (n, 2). own : shape (n, 2, 2), covariance without the instruments' common part.
    have : shape (n,). shared : the consignments that an average was taken over.
    """

    values: Array
    own: Array
    have: np.ndarray
    shared: tuple[tuple[str, ...], ...]

    @classmethod
    def none(cls, n: int) -> Juice:
        """No figures yet, of n consignments."""
        return cls(np.zeros((n, 2)), np.zeros((n, 2, 2)), np.zeros(n, dtype=bool), ((),) * n)


def average(
    method: Method, notes: Sequence[Consignment], individual: Juice, masses: Array
) -> Juice:
    """Figures of every consignment by one of the written rules.

    Parameters
    ----------
    method : "combined", "class average" or "day average". notes : in tip order, shape (n,).
    individual : of the consignments analysed on their own. masses : [kg], the weights.

    Notes
    -----
    The uncertainty of an average as the figure of one consignment is the spread between
    consignments of its group plus the uncertainty of the mean; each
    consignment itself is left out of its average.
    """
    values, own = individual.values.copy(), individual.own.copy()
    have = np.zeros(len(notes), dtype=bool)
    shared: list[tuple[str, ...]] = [()] * len(notes)
    names = np.array([note.consignment for note in notes])
    classes = np.array([note.fibre_class or note.variety for note in notes])
    growers = np.array([note.grower for note in notes])
    places = np.arange(len(notes))
    spreads = {name: _spread(individual, classes == name) for name in set(classes.tolist())}
    everything = _spread(individual, np.ones(len(notes), dtype=bool))
    for place in range(len(notes)):
        group = individual.have & (places != place)
        if method in ("combined", "class average"):
            group &= classes == classes[place]
        if method == "combined":
            group &= (growers == growers[place]) & (np.abs(places - place) <= NEIGHBOURS)
        if not group.any():
            continue
        weights = masses[group] / masses[group].sum()
        values[place] = weights @ individual.values[group]
        spread = everything if method == "day average" else spreads[classes[place]]
        if spread is None:
            spread = everything
        if spread is None:
            continue
        mean = np.einsum("i,ijk->jk", weights**2, individual.own[group])
        own[place] = spread * (1.0 + float(np.sum(weights**2))) + mean
        have[place] = True
        if method == "combined":
            shared[place] = tuple(names[group].tolist())
    return Juice(values, own, have, tuple(shared))


def _spread(individual: Juice, group: np.ndarray) -> Array | None:
    """Covariance between the consignments of a group; None with fewer than three."""
    members = individual.values[group & individual.have]
    if members.shape[0] < 3:
        return None
    return np.asarray(np.cov(members, rowvar=False))


def first_of(choices: Sequence[tuple[Method, Juice]], place: int) -> tuple[Method, Juice] | None:
    """The first rule that has a figure for one consignment."""
    return next(((name, juice) for name, juice in choices if juice.have[place]), None)
