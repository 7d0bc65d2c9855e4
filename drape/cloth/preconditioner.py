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
    """

    start: Ints
    row: Ints
    value: Singles
    inverse_diagonal: Singles
    order: Ints


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
    )


@kernel
def solve(factor, b, work, out):  # pragma: no cover - compiled
    """Solves P out = b for three right-hand sides at once; b, out (p, 3), work (p, 4) in single precision.

    A row of four numbers is read at one stroke; the fourth is nothing.
    """
    start, row, value, inverse_diagonal, order = factor
    count, nil = len(order), np.float32(0.0)
    for i in range(count):
        k = order[i]
        work[i, 0] = b[k, 0]
        work[i, 1] = b[k, 1]
        work[i, 2] = b[k, 2]
        work[i, 3] = nil
    for j in range(count):  # the first entry of each column is the unit diagonal
        x, y, z, nothing = work[j, 0], work[j, 1], work[j, 2], work[j, 3]
        for k in range(start[j] + 1, start[j + 1]):
            i = row[k]
            v = value[k]
            work[i, 0] -= v * x
            work[i, 1] -= v * y
            work[i, 2] -= v * z
            work[i, 3] -= v * nothing
    for j in range(count - 1, -1, -1):
        v = inverse_diagonal[j]
        x, y, z, nothing = v * work[j, 0], v * work[j, 1], v * work[j, 2], v * work[j, 3]
        for k in range(start[j] + 1, start[j + 1]):
            i = row[k]
            v = value[k]
            x -= v * work[i, 0]
            y -= v * work[i, 1]
            z -= v * work[i, 2]
            nothing -= v * work[i, 3]
        work[j, 0] = x
        work[j, 1] = y
        work[j, 2] = z
        work[j, 3] = nothing
        k = order[j]
        out[k, 0] = x
        out[k, 1] = y
        out[k, 2] = z
