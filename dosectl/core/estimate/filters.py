"""Arithmetic of a small Kalman filter on plain lists: no model in here.

A covariance is worked on as a full symmetric list of rows and kept as the 45 numbers of its upper triangle. Every measurement
is a scalar, so P - (P h)(P h)^T / S is symmetric by construction; process noise and `bounded` keep it positive.
"""

from itertools import pairwise

SIZE = 9
Rows = list[list[float]]
_STARTS = tuple(row * SIZE - row * (row - 1) // 2 for row in range(SIZE + 1))


def rows_of(cov: tuple[float, ...]) -> Rows:
    """The full matrix of an upper triangle."""
    p: Rows = []
    for row, (start, end) in enumerate(pairwise(_STARTS)):
        p.append([*[p[above][row] for above in range(row)], *cov[start:end]])
    return p


def triangle_of(p: Rows) -> tuple[float, ...]:
    """The upper triangle of a full matrix."""
    return tuple([value for row, values in enumerate(p) for value in values[row:]])


def diagonal(sigmas: tuple[float, ...]) -> tuple[float, ...]:
    """Upper triangle of independent states with these standard deviations."""
    return triangle_of([[s * s if i == j else 0.0 for j in range(SIZE)] for i, s in enumerate(sigmas)])


def var_of(cov: tuple[float, ...], state: int) -> float:
    """The variance of one state."""
    return cov[_STARTS[state]]


def move_row(p: Rows, state: int, f: tuple[tuple[int, float], ...]) -> None:
    """P := F P F^T, in place, where F is the identity but for one row, given as (state, factor) of its terms."""
    row = [0.0] * SIZE
    for term, factor in f:
        row = [a + factor * b for a, b in zip(row, p[term], strict=True)]
    row[state] = sum([factor * row[term] for term, factor in f])
    p[state] = row
    for index in range(SIZE):
        p[index][state] = row[index]


def correct(
    mean: list[float], p: Rows, h: tuple[tuple[int, float], ...], innovation: float, noise: float, kept: tuple[int, ...] = ()
) -> None:
    """One scalar measurement, in place. `h` lists (state, derivative) of the states it depends on; `noise` is its variance.

    States in `kept` are considered, not learnt: their doubt counts, their value stays (Schmidt's filter: Simon, Optimal State
    Estimation, 2006, section 10.4, from memory).
    """
    ph = [sum([row[state] * slope for state, slope in h]) for row in p]
    s = noise + sum([ph[state] * slope for state, slope in h])
    for i in range(SIZE):
        gain = ph[i] / s
        row = p[i]
        if i in kept:
            for j in range(i, SIZE):
                if j not in kept:
                    row[j] = p[j][i] = row[j] - gain * ph[j]
            continue
        mean[i] += gain * innovation
        for j in range(i, SIZE):
            row[j] = p[j][i] = row[j] - gain * ph[j]


def bounded(mean: list[float], p: Rows, limits: tuple[tuple[float, float, float, float], ...]) -> None:
    """Keeps each state within (low, high) and its standard deviation within (least, most), in place.

    A doubt over its limit is scaled down with all its covariances (D P D stays positive); one under it is raised alone.
    """
    for i, (low, high, least, most) in enumerate(limits):
        value = mean[i]
        if not low <= value <= high:
            mean[i] = low if value < low else high
        var = p[i][i]
        if var > most * most:
            scale = most / var**0.5
            for j in range(SIZE):
                p[i][j] *= scale
                p[j][i] = p[i][j]
            p[i][i] = most * most
        elif var < least * least:
            p[i][i] = least * least
