"""Tests for gross errors: maximum-power statistics, serial elimination, equivalent sets.

With S the covariance of the readings and a the adjustments, d = S^-1 a and W = S^-1 V_a S^-1. The
statistic of a bias in reading j is d_j^2 / W_jj, its size d_j / W_jj; leaving reading j out lowers
the global statistic by exactly that much. Two readings whose rows of W are parallel cannot be
told apart on any day; two whose statistics differ by less than chance would make them differ cannot
be told apart on this day.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ratoon.base.errors import BadInput
from ratoon.equations.limits import chi_square_limit, single_limit
from ratoon.equations.records import ReadingResult, Suspect
from ratoon.equations.state import State

Floats = NDArray[np.float64]
EQUIVALENT = 0.85
# A reading that shares this much of its test direction explains the same contradiction, and so does
# one that stands out itself and no more once the suspect is left out; it stays in the set as long
# as it does so within the 99 % likelihood interval of one degree of freedom.
RIVAL = 0.5
NEARLY_AS_GOOD = 6.63
SHORT_SET = 5
MOST = 12
MOST_OF_ALL = 3.0
# An assumption is named before a reading only when it explains the readings better by this much
# in the global statistic; else it stands in the reading's set of equivalents.
HEAD_START = 9.0
# An instrument is the less likely the farther off it is by its own uncertainty: an error of n of
# them is taken to be as rare as n squared. Of two readings that explain the day alike, the one
# that would have to be less far off comes first; one that the others hardly check comes last.
RARE = 4.0
# Of the difference of two readings, by which what is found may differ from it: equations bend.
WHOLE = 0.5
LEAST_CHECKED = 0.01  # information on a reading, the square of its detectability, to be named first
LEVEL = 0.001
# Chance that a sound day names a reading all the same, by itself and by the global test; no more
# than `dof` test directions are independent. A name that is wrong one day in ten is not looked at.
NAMING = 0.01


class Tests:
    """All statistics of one reconciliation, from its whitened sensitivities."""

    def __init__(self, answer: State) -> None:
        from scipy.sparse import csr_matrix

        self.answer = answer
        p = answer.problem
        n = len(p.readings)
        rows = [k for r in p.readings if (k := answer.row_of(r.address)) is not None]
        # d(adjusted reading)/d(whitened reading)
        self.fitted = fitted = answer.sensitivities[rows] if n else np.zeros((0, 0))
        inverse = csr_matrix(answer.factor_inverse)  # few readings share an instrument
        projection = np.eye(n) - inverse @ fitted
        self.projection = 0.5 * (projection + projection.T)
        self.w = inverse.T @ (inverse.T @ self.projection).T
        self.d = inverse.T @ answer.white_residuals
        # Usual values are wider than mills are: as readings that never contradict, they would
        # make every day seem sound. What they leave to the others is counted, they are not.
        self.dof = round(float(np.diag(self.projection)[~p.weak].sum())) if n else 0
        self.variance = np.einsum("ij,ij->i", answer.factor, answer.factor)
        self.after = np.einsum("ij,ij->i", fitted, fitted) if n else np.zeros(0)
        # Information on reading j from all others, free of its unit.
        self.information = np.diag(self.w) * self.variance if n else np.zeros(0)
        self.redundant = (self.information > 1e-6) & ~p.sized

    def results(self) -> tuple[ReadingResult, ...]:
        with np.errstate(all="ignore"):
            z = self.d / np.sqrt(np.diag(self.w)) if len(self.d) else self.d
            detectability = np.sqrt(np.maximum(0.0, 1.0 - self.after / self.variance))
        columns = (self.answer.adjusted_, np.sqrt(self.after), z, self.redundant, detectability)
        rows = zip(self.answer.problem.readings, *(c.tolist() for c in columns), strict=True)
        return tuple(
            ReadingResult(reading, adjusted, sigma, off if redundant else None, redundant,
                          least if redundant else 0.0, True)
            for reading, adjusted, sigma, off, redundant, least in rows
        )  # fmt: skip

    def correlations(self, w: Floats, j: int) -> Floats:
        """Correlation of the test directions of all readings with reading j."""
        size = np.sqrt(np.maximum(np.diag(w), 0.0) * max(w[j, j], 0.0))
        with np.errstate(all="ignore"):
            return np.where(self.redundant & (size > 0), w[:, j] / size, 0.0)

    def eliminate(self) -> tuple[Suspect, ...]:
        """Serial elimination while the global test or one reading stands out."""
        readings = self.answer.problem.readings
        w, d, dof = self.w.copy(), self.d.copy(), self.dof
        white, weak = self.answer.white_residuals, self.answer.problem.weak
        whole, objective = float(white @ white), float(white[~weak] @ white[~weak])
        names = [r.address for r in readings]
        leaks = {a: self._leak_rows(a) for a in self.answer.leaks if self.answer.determined(a)}
        found: list[Suspect] = []
        alive = self.redundant.copy()
        assumed = np.array([r.kind == "assumed" for r in readings], dtype=bool)
        while dof > 0 and len(found) < MOST:
            size = np.diag(w)
            ok = alive & (size * self.variance > 1e-6)
            if not ok.any():
                break
            with np.errstate(all="ignore"):
                t = np.where(ok, d**2 / size, 0.0)
            # Leaving one reading out lowers the statistic by no more than all of it, but for the
            # bend of the equations: where it seems to lower it by far more, the others check that
            # reading by no more than rounding.
            t = np.where(t <= MOST_OF_ALL * max(whole, 0.0), t, 0.0)
            rank = self._rank(t, d, size, assumed)
            j = int(np.argmax(np.where(ok, rank, -np.inf)))
            if t[j] <= 0.0:  # the test failed, and no reading left out would mend it
                break
            limit = single_limit(max(min(int(ok.sum()), dof), 1), NAMING)
            if objective <= chi_square_limit(dof, LEVEL) and t[j] <= limit**2:
                break
            like = self.correlations(w, j)
            same = [(abs(like[i]), names[i], int(i)) for i in np.flatnonzero(ok)
                    if i != j and abs(like[i]) >= EQUIVALENT]  # fmt: skip
            alike = sorted(
                ((c[j], a) for a, c in leaks.items() if c[j] >= EQUIVALENT), reverse=True
            )
            rival = (np.abs(like) >= RIVAL) | explained_away(d, size, like, j, limit)
            near = np.flatnonzero(ok & rival & (np.abs(like) < EQUIVALENT)
                                  & (t > t[j] - NEARLY_AS_GOOD))  # fmt: skip
            room = max(SHORT_SET - 1 - len(same), 0)
            same += [(abs(like[i]), names[i], int(i)) for i in near[np.argsort(-rank[near])][:room]]
            same.sort(reverse=True)
            whole -= float(t[j])
            objective -= 0.0 if weak[j] else float(t[j])
            found.append(
                Suspect(
                    names[j],
                    float(d[j] / np.sqrt(size[j])),
                    float(d[j] / size[j]),
                    tuple(n for _, n, _ in same),
                    float(t[j]),
                    max(objective, 0.0),
                    readings[j].kind,
                    tuple(a for _, a in alike),
                    tuple(
                        (float(d[i] / np.sqrt(size[i])), float(d[i] / size[i])) for _, _, i in same
                    ),
                )
            )
            column = w[:, j] / size[j]
            d = d - column * d[j]
            w = w - np.outer(column, w[j])
            alive[j] = False
            dof -= 0 if weak[j] else 1
        return tuple(found)

    def _rank(self, t: Floats, d: Floats, size: Floats, assumed: NDArray[np.bool_]) -> Floats:
        """How likely each reading is the wrong one: its statistic, less how rare its error is.

        An error that would leave an impossible true value behind is none.
        """
        p = self.answer.problem
        with np.errstate(all="ignore"):
            error = d / size
            far = np.abs(error) / np.sqrt(self.variance)
        truth = p.values - error
        low = np.where(p.is_report, -np.inf, p.equations.lows[np.where(p.is_report, 0, p.index)])
        high = np.where(p.is_report, np.inf, p.equations.highs[np.where(p.is_report, 0, p.index)])
        rank = t - RARE * np.log(np.maximum(far, 1.0)) - np.where(assumed, HEAD_START, 0.0)
        unlikely = (truth < low) | (truth > high) | (size * self.variance < LEAST_CHECKED)
        return np.asarray(np.where(unlikely, rank - HEAD_START, rank))

    def exchanged(self) -> tuple[Suspect, Suspect] | None:
        """Two readings of one unit that were taken for one another, where that explains the most.

        With e their differences as errors in both, the statistic is (d'e)^2 / e'We, and d'e / e'We
        is near one where each has just the other's value.
        """
        p = self.answer.problem
        unit = np.array([p.equations.unit_of(r.address) if r.kind == "measured" else f"#{j}"
                         for j, r in enumerate(p.readings)])  # fmt: skip
        own = np.diag(self.w)
        both = own[:, None] + own[None, :] - 2.0 * self.w
        apart = p.values[:, None] - p.values[None, :]
        with np.errstate(all="ignore"):
            d = self.d[:, None] - self.d[None, :]
            t, share = d**2 / both, d / (apart * both)
            single = np.nanmax(np.where(self.redundant, self.d**2 / own, 0.0), initial=0.0)
            near = np.abs(share - 1.0) < WHOLE
        fits = (unit[:, None] == unit[None, :]) & near & (t > single + HEAD_START)
        t = np.where(np.triu(fits, 1), t, 0.0)
        if not t.any():
            return None
        i, j = np.unravel_index(int(np.argmax(t)), t.shape)
        most = float(t[i, j])
        return tuple(  # type: ignore[return-value]
            Suspect(p.readings[k].address, float(np.copysign(most**0.5, size)), size, (), most, 0.0)
            for k, size in ((i, float(apart[i, j])), (j, -float(apart[i, j])))
        )

    def _leak_rows(self, address: str) -> Floats:
        """|correlation| of each reading with a free quantity held at zero."""
        answer = self.answer
        row = answer.row_of(address)
        s = answer.sensitivities[row]
        own = float(s @ s)
        if not own > 0:
            return np.zeros(len(answer.problem.readings))
        cross = answer.factor_inverse.T @ (answer.factor_inverse @ (self.fitted @ s))
        held = np.diag(self.w) + cross**2 / own
        with np.errstate(all="ignore"):
            return np.abs(np.where(held > 0, (cross / own) / np.sqrt(held / own), 0.0))

    def leak(self, address: str) -> Mapping[str, Any]:
        """Statistic of holding a free quantity at zero: (value / sigma)^2, and its equals."""
        sigma = self.answer.sigma(address)
        if sigma is None or not sigma > 0:
            raise BadInput("is not determined, so it cannot be tested", where=address)
        value = self.answer.value(address)
        like = self._leak_rows(address)
        names = [r.address for r in self.answer.problem.readings]
        same = [names[i] for i in np.argsort(-like) if like[i] >= EQUIVALENT]
        return {"statistic": (value / sigma) ** 2, "equivalent": tuple(same)}


def explained_away(d: Floats, size: Floats, like: Floats, j: int, limit: float) -> Any:
    """Readings that would be named by themselves, and no more once reading j is left out."""
    with np.errstate(all="ignore"):
        z = d / np.sqrt(size)
        left = (z - like * z[j]) / np.sqrt(1.0 - like**2)
    return (np.abs(z) > limit) & (np.abs(left) <= limit)
