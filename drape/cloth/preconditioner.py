"""Preconditioner: the matrix in which the cloth is relaxed, factored once for many steps.

In: a `Sheet` and extra stiffness per point [N/m]. Out: a sparse factor P = L D Lᵀ and a compiled solve.
P bounds the cloth's stiffness from above (a membrane Laplacian, plus contact where there is any), so a
relaxation step of velocity P⁻¹ force is stable, and long waves move as fast as short ones.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from scipy.sparse import coo_array, csr_array, diags_array
from scipy.sparse.linalg import splu

from drape.arrays import Floats, Ints, Singles
from drape.cloth.sheet import Sheet
from drape.kernel import kernel


class Factor(NamedTuple):
    """P = L D Lᵀ in the order `order`: L unit lower, by columns; inverse of D's diagonal [m/N].

    In single precision: P only says in which direction and how far to go; what is gone for is known to double.
    first: columns by ones and twos; two have entries in the same rows, so that a solve reads these once. Their count
    stands last.
    """

    start: Ints
    row: Ints
    value: Singles
    inverse_diagonal: Singles
    order: Ints
    first: Ints


def membrane_laplacian(sheet: Sheet) -> csr_array:
    """The sheet's metric assembled [N/m], shape (p, p), the same for x, y and z.

    Bending is left out: at a wavelength of two edges h it adds π² B/(E h²), under 1 % for any cloth
    whose bending shows, and it would treble the factor.
    """
    count = len(sheet.mass)
    rows = np.repeat(sheet.triangles, 3, axis=1).ravel()
    columns = np.tile(sheet.triangles, (1, 3)).ravel()
    return csr_array(coo_array((sheet.metric.ravel(), (rows, columns)), shape=(count, count)).tocsr())


def factor(matrix: csr_array, extra: Floats) -> Factor:
    """The factor of matrix + diag(extra); extra [N/m], shape (p,), positive where P alone floats."""
    lu = splu(
        (matrix + diags_array(extra)).tocsc(),
        permc_spec="MMD_AT_PLUS_A",
        diag_pivot_thresh=0.0,
        relax=1,  # columns joined into wider ones only where they match: a fifth of the time for a factor this thin
        panel_size=1,
        options={"SymmetricMode": True},
    )
    lower = lu.L.tocsc()
    lower.sort_indices()
    if not np.array_equal(lu.perm_r, lu.perm_c):
        raise ValueError("metric: the factor pivoted off its diagonal, allowed only a positive matrix.")
    return Factor(
        start=lower.indptr.astype(np.uint32),
        row=lower.indices.astype(np.uint32),
        value=lower.data.astype(np.float32),
        inverse_diagonal=(1.0 / lu.U.diagonal()).astype(np.float32),
        order=np.argsort(lu.perm_c).astype(np.uint32),
        first=by_twos(lower.indptr, lower.indices).astype(np.uint32),
    )


def by_twos(start: Ints, row: Ints) -> Ints:
    """First columns of `Factor.first`, of a factor's columns that begin at `start` (p + 1,) of `row`.

    What a column has below its first entry there, the next has too: they match if the next has as many.
    """
    count, size = len(start) - 1, np.diff(start)
    ahead = row[np.minimum(start[:-1] + 1, len(row) - 1)]
    joined = np.append((size[:-1] == size[1:] + 1) & (ahead[:-1] == np.arange(1, count)), False)
    begin = np.flatnonzero(~np.append(False, joined[:-1]))
    place = np.arange(count) - np.repeat(begin, np.diff(np.append(begin, count)))
    return np.append(np.flatnonzero(place % 2 == 0), count)


@kernel
def solve(factor, b, work, out):  # pragma: no cover - compiled
    """Solves P out = b for three right-hand sides at once; b, out (p, 3), work (p, 4) in single precision.

    A row of four numbers is read at one stroke; the fourth is nothing.
    """
    start, row, value, inverse_diagonal, order, first = factor
    count, nil = len(order), np.float32(0.0)
    for i in range(count):
        k = order[i]
        work[i, 0] = b[k, 0]
        work[i, 1] = b[k, 1]
        work[i, 2] = b[k, 2]
        work[i, 3] = nil
    for c in range(len(first) - 1):  # the first entry of each column is the unit diagonal
        j = first[c]
        x, y, z, nothing = work[j, 0], work[j, 1], work[j, 2], work[j, 3]
        if first[c + 1] == j + 1:
            for k in range(start[j] + 1, start[j + 1]):
                i, v = row[k], value[k]
                work[i, 0] -= v * x
                work[i, 1] -= v * y
                work[i, 2] -= v * z
                work[i, 3] -= v * nothing
            continue
        here, there = start[j] + 2, start[j + 1] + 1
        v = value[here - 1]
        p, q, r, nought = work[j + 1, 0] - v * x, work[j + 1, 1] - v * y, work[j + 1, 2] - v * z, nil
        work[j + 1, 0], work[j + 1, 1], work[j + 1, 2], work[j + 1, 3] = p, q, r, nought
        for k in range(start[j + 2] - there):
            i, v, w = row[there + k], value[here + k], value[there + k]
            work[i, 0] -= v * x + w * p
            work[i, 1] -= v * y + w * q
            work[i, 2] -= v * z + w * r
            work[i, 3] -= v * nothing + w * nought
    for c in range(len(first) - 2, -1, -1):
        j = first[c]
        v = inverse_diagonal[j]
        x, y, z, nothing = v * work[j, 0], v * work[j, 1], v * work[j, 2], v * work[j, 3]
        if first[c + 1] == j + 1:
            for k in range(start[j] + 1, start[j + 1]):
                i, v = row[k], value[k]
                x -= v * work[i, 0]
                y -= v * work[i, 1]
                z -= v * work[i, 2]
                nothing -= v * work[i, 3]
        else:
            here, there = start[j] + 2, start[j + 1] + 1
            v = inverse_diagonal[j + 1]
            p, q, r, nought = v * work[j + 1, 0], v * work[j + 1, 1], v * work[j + 1, 2], v * work[j + 1, 3]
            for k in range(start[j + 2] - there):
                i, v, w = row[there + k], value[here + k], value[there + k]
                s, t, u, nil = work[i, 0], work[i, 1], work[i, 2], work[i, 3]
                x -= v * s
                y -= v * t
                z -= v * u
                nothing -= v * nil
                p -= w * s
                q -= w * t
                r -= w * u
                nought -= w * nil
            v = value[here - 1]
            x, y, z, nothing = x - v * p, y - v * q, z - v * r, nothing - v * nought
            work[j + 1, 0], work[j + 1, 1], work[j + 1, 2], work[j + 1, 3] = p, q, r, nought
            k = order[j + 1]
            out[k, 0], out[k, 1], out[k, 2] = p, q, r
        work[j, 0], work[j, 1], work[j, 2], work[j, 3] = x, y, z, nothing
        k = order[j]
        out[k, 0], out[k, 1], out[k, 2] = x, y, z
