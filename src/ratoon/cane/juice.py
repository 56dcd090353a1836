"""How much of the juice at the sampler is a consignment's own, from its first cane to its last."""

from __future__ import annotations

import numpy as np

from ratoon.cane.day import Tracked

LEAST = 0.005  # share of the juice from which a cell is told [-]
MOST = 80  # points told of one consignment


def own_juice(tracked: Tracked) -> dict[str, list[tuple[float, float]]]:
    """Moments [s since 1970, UTC] and share of the juice [-] for each consignment.

    The moments are the middles of the mixing matrix's cells; of a long run every second, third
    or further cell is told, the first and the last one always. While the mill stands no juice
    flows, and two moments lie as far apart as it stood.
    """
    mixed = tracked.by_consignment
    middles = 0.5 * (mixed.edges[:-1] + mixed.edges[1:])
    moments = tracked.path.moment(middles)
    shares, found = mixed.shares.tocsc(), {}
    shares.sort_indices()
    for place, name in enumerate(tracked.names):
        column = slice(shares.indptr[place], shares.indptr[place + 1])
        cells, values = shares.indices[column], shares.data[column]
        kept = (values >= LEAST) & np.isfinite(moments[cells])
        cells, values = cells[kept], values[kept]
        step = max(1, -(-cells.size // MOST))
        chosen = np.unique(np.append(np.arange(0, cells.size, step), max(cells.size - 1, 0)))
        chosen = chosen[: cells.size]
        found[name] = [
            (round(float(moments[c]), 1), round(float(v), 4))
            for c, v in zip(cells[chosen], values[chosen], strict=True)
        ]
    return found
