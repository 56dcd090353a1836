"""Analysis of each consignment: which figure holds, its CCS, and the uncertainty of both.

Order: the consignment's own sample when its window can be sampled alone; else what the mill's
rule says for small parcels. A figure that cannot be told apart falls to the class's, then to the
day's average, and says so. Nothing is found where there is nothing to find it from.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from ratoon.cane.averages import Juice, average, first_of
from ratoon.cane.bias import FibreBias, NirAgainstLaboratory, compare, compare_fibre, weigh
from ratoon.cane.ccs import ccs_with_sigma
from ratoon.cane.fibre import ClassFibre
from ratoon.cane.plausible import plausibility_flags
from ratoon.cane.records import Analysis, Array, Consignment, FibreSample, Method, Sample, Window
from ratoon.cane.rules import AnalysisRules
from ratoon.cane.sampling import Sampling
from ratoon.cane.unmix import Unmixed

BY_BOTTLE: tuple[Method, ...] = ("weighed", "sample")
AVERAGES: tuple[Method, ...] = ("combined", "class average", "day average")


@dataclass(frozen=True, slots=True)
class Analysed:
    """The analyses of one stretch, in the order of its windows; None where nothing could be said.

    `comparison` and `near_infrared` (shape (n, 2), bias put right; `seen` where there is one) are
    what `misidentified` works on. `fibre`: near-infrared fibre against the can's. `sampling`: what
    bottles miss of their consignment.
    """

    analyses: tuple[Analysis | None, ...]
    comparison: NirAgainstLaboratory | None
    near_infrared: Array
    near_infrared_own: Array
    seen: np.ndarray
    fibre: FibreBias | None
    sampling: Sampling


def analyse(
    notes: Sequence[Consignment],
    windows: Sequence[Window],
    samples: Mapping[str, Sample],
    unmixed: Unmixed | None,
    fibres: Mapping[str, ClassFibre],
    measured_fibre: Mapping[str, FibreSample],
    rules: AnalysisRules,
    sampling: Sampling,
    cans: Sequence[FibreSample] = (),
) -> Analysed:
    """Analyse consignments.

    Parameters
    ----------
    notes, windows : of the same consignments, in tip order. samples : bottle by consignment.
    unmixed : of the series, columns in the same order; None when there is no series.
    fibres : by class, "" for all. measured_fibre : a consignment's own determination.
    sampling : what bottles miss of their consignment, beside the laboratory's own uncertainty.
    cans : fibre determinations of the series' own time.
    """
    n = len(notes)
    bottle = np.diag([rules.brix_sigma**2, rules.pol_sigma**2]) + sampling.covariance
    bottles = _bottles(notes, windows, samples, bottle)
    comparison, seen, near_fibre = None, np.zeros(n, dtype=bool), None
    nir = Juice.none(n)
    if unmixed is not None:
        seen = np.asarray(unmixed.seen)
        both = bottles.have & seen
        comparison = compare(bottles.values[both], unmixed.values[both][:, :2], rules, bottle)
        near_fibre = compare_fibre(notes, unmixed.values[:, 2], seen, cans, rules)
        extra = comparison.parcel + comparison.bias_covariance
        own = unmixed.covariance[:, :2, :2] + extra
        nir = Juice(unmixed.values[:, :2] + comparison.bias, own, seen.copy(), ((),) * n)
    fibre = _fibre(notes, fibres, measured_fibre, unmixed, near_fibre, rules)
    apart = nir.have & (_sigma_ccs(nir, fibre, rules) <= rules.apart)
    told = Juice(nir.values, nir.own, apart, nir.shared)
    weighed = _weighed(bottles, told if rules.sampled == "weighed" else Juice.none(n))
    alone = _joined(weighed, bottles)
    individual = _joined(alone, told if rules.small == "unmixed" else Juice.none(n))
    masses = np.array([max(w.net_kg, 1) for w in windows], dtype=np.float64)
    rule_of: dict[Method, Juice] = {m: average(m, notes, individual, masses) for m in AVERAGES}
    rule_of["unmixed"], rule_of["sample"], rule_of["weighed"] = told, bottles, weighed
    ccs_of = {method: _all_ccs(juice, fibre, rules) for method, juice in rule_of.items()}
    order = _order(rules)
    found: list[Analysis | None] = []
    for place, note in enumerate(notes):
        chosen = first_of([(m, rule_of[m]) for m in order], place)
        if chosen is None or not fibre.have[place]:
            found.append(None)
            continue
        every: tuple[Method, ...] = ("sample", "unmixed", *AVERAGES)
        others = tuple(
            (m, float(ccs_of[m][place, 0]), float(ccs_of[m][place, 1]))
            for m in every
            if m != chosen[0] and rule_of[m].have[place]
        )
        named = samples[note.consignment].bottle if chosen[0] in BY_BOTTLE else ""
        hidden = unmixed is not None and rules.small == "unmixed" and not bool(apart[place])
        one = _analysis(
            note, chosen, ccs_of[chosen[0]], fibre, place, rules, others, named, not hidden
        )
        found.append(one)
    return Analysed(tuple(found), comparison, nir.values, nir.own, seen, near_fibre, sampling)


def _order(rules: AnalysisRules) -> tuple[Method, ...]:
    fallback: tuple[Method, ...] = ("class average", "day average")
    return ("weighed", "sample", *(() if rules.small in fallback[1:] else (rules.small,)), *(
        fallback if rules.small != "day average" else ("day average",)
    ))  # fmt: skip


def _bottles(
    notes: Sequence[Consignment], windows: Sequence[Window], samples: Mapping[str, Sample],
    own: Array,
) -> Juice:  # fmt: skip
    """Bottles of windows that could be sampled alone; `own` is the covariance of each."""
    juice = Juice.none(len(notes))
    for place, (note, window) in enumerate(zip(notes, windows, strict=True)):
        sample = samples.get(note.consignment)
        if window.alone and sample and sample.brix is not None and sample.pol is not None:
            juice.values[place] = sample.brix, sample.pol
            juice.own[place], juice.have[place] = own, True
    return juice


def _weighed(bottles: Juice, near: Juice) -> Juice:
    """Bottle and near-infrared weighed, where both speak."""
    both = bottles.have & near.have
    found = Juice.none(both.size)
    found.values[both], found.own[both] = weigh(
        bottles.values[both], bottles.own[both], near.values[both], near.own[both]
    )
    return Juice(found.values, found.own, both, found.shared)


def _joined(first: Juice, second: Juice) -> Juice:
    """The first's figures, and the second's where the first has none."""
    take = first.have
    return Juice(
        np.where(take[:, None], first.values, second.values),
        np.where(take[:, None, None], first.own, second.own),
        take | second.have,
        first.shared,
    )


@dataclass(frozen=True, slots=True)
class _Fibre:
    values: Array
    own: Array
    common: Array
    have: np.ndarray
    methods: tuple[str, ...]


def _fibre(
    notes: Sequence[Consignment], fibres: Mapping[str, ClassFibre],
    measured: Mapping[str, FibreSample], unmixed: Unmixed | None, near: FibreBias | None,
    rules: AnalysisRules,
) -> _Fibre:  # fmt: skip
    """Fibre of each consignment by the mill's rule; the class's where that rule has none."""
    n = len(notes)
    values, own, common = np.zeros(n), np.zeros(n), np.zeros(n)
    have, methods = np.zeros(n, dtype=bool), [""] * n
    for place, note in enumerate(notes):
        determined = measured.get(note.consignment)
        name = note.fibre_class or note.variety
        if rules.fibre == "measured" and determined is not None:
            values[place], own[place] = determined.fibre, rules.fibre_sigma
            common[place], methods[place] = rules.fibre_common, "measured"
        elif (rules.fibre == "near-infrared" and unmixed is not None and near is not None
              and unmixed.seen[place]):  # fmt: skip
            values[place] = unmixed.values[place, 2] + near.value
            own[place] = np.sqrt(unmixed.covariance[place, 2, 2] + near.parcel**2)
            common[place] = np.hypot(rules.fibre_common, near.sigma)
            methods[place] = "near-infrared"
        elif name in fibres or "" in fibres:
            one = fibres.get(name, fibres.get(""))
            assert one is not None
            values[place], own[place], common[place] = one.mean, one.sigma_own, one.sigma_common
            methods[place] = "class" if name in fibres else "all classes"
        else:
            continue
        have[place] = True
    return _Fibre(values, own, common, have, tuple(methods))


def _covariances(own: Array, fibre_own: Array, fibre_common: Array, rules: AnalysisRules) -> Array:
    """Whole covariance of (brix, pol, fibre), shape (m, 3, 3), and of its common part."""
    m = own.shape[0]
    common = np.zeros((m, 3, 3))
    common[:, 0, 0], common[:, 1, 1] = rules.brix_common**2, rules.pol_common**2
    common[:, 2, 2] = fibre_common**2
    whole = common.copy()
    whole[:, :2, :2] += own
    whole[:, 2, 2] += fibre_own**2
    return np.stack([whole, common])


def _sigma_ccs(juice: Juice, fibre: _Fibre, rules: AnalysisRules) -> Array:
    """Uncertainty of CCS that the juice alone brings [kg/kg], shape (n,)."""
    nothing = np.zeros(juice.have.size)
    whole, common = _covariances(juice.own, nothing, nothing, rules)
    return ccs_with_sigma(juice.values[:, 0], juice.values[:, 1], fibre.values, whole - common)[1]


def _all_ccs(juice: Juice, fibre: _Fibre, rules: AnalysisRules) -> Array:
    """CCS, its sigma and the common part of it, of every consignment, shape (n, 3)."""
    whole, common = _covariances(juice.own, fibre.own, fibre.common, rules)
    figures = (juice.values[:, 0], juice.values[:, 1], fibre.values)
    value, sigma = ccs_with_sigma(*figures, whole)
    return np.stack([value, sigma, ccs_with_sigma(*figures, common)[1]], axis=-1)


def _analysis(
    note: Consignment, chosen: tuple[Method, Juice], ccs: Array, fibre: _Fibre, place: int,
    rules: AnalysisRules, others: tuple[tuple[str, float, float], ...], bottle: str, apart: bool,
) -> Analysis:  # fmt: skip
    method, juice = chosen
    value, sigma, common = (float(x) for x in ccs[place])
    brix, pol = (float(x) for x in juice.values[place])
    one = Analysis(
        consignment=note.consignment,
        method=method,
        brix=brix,
        pol=pol,
        fibre=float(fibre.values[place]),
        ccs=value,
        sigma_brix=float(np.sqrt(juice.own[place, 0, 0] + rules.brix_common**2)),
        sigma_pol=float(np.sqrt(juice.own[place, 1, 1] + rules.pol_common**2)),
        sigma_fibre=float(np.hypot(fibre.own[place], fibre.common[place])),
        sigma_ccs=sigma,
        common_ccs=common,
        fibre_method=fibre.methods[place],
        bottle=bottle,
        shared=juice.shared[place],
        told_apart=apart or method in BY_BOTTLE,
        individual=method in (*BY_BOTTLE, "unmixed"),
        alternatives=others,
    )
    flags = plausibility_flags(one, rules)
    return replace(one, flags=flags) if flags else one
