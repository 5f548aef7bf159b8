"""Arithmetic of a small Kalman filter on plain lists: no model in here.

A covariance is worked on as a full symmetric list of rows and kept as the 21 numbers of its upper triangle. Every measurement
is a scalar, so P - (P h)(P h)^T / S is symmetric by construction; process noise and `bounded` keep it positive.
"""

from itertools import pairwise

SIZE = 6
Rows = list[list[float]]
_STARTS = tuple(row * SIZE - row * (row - 1) // 2 for row in range(SIZE + 1))


def rows_of(cov: tuple[float, ...]) -> Rows:
    """The full matrix of an upper triangle."""
    a, b, c, d, e, f = (cov[i:j] for i, j in pairwise(_STARTS))
    return [
        [*a],
        [a[1], *b],
        [a[2], b[1], *c],
        [a[3], b[2], c[1], *d],
        [a[4], b[3], c[2], d[1], *e],
        [a[5], b[4], c[3], d[2], e[1], *f],
    ]


def triangle_of(p: Rows) -> tuple[float, ...]:
    """The upper triangle of a full matrix."""
    return (*p[0], *p[1][1:], *p[2][2:], *p[3][3:], *p[4][4:], p[5][5])


def diagonal(sigmas: tuple[float, ...]) -> tuple[float, ...]:
    """Upper triangle of independent states with these standard deviations."""
    return triangle_of([[s * s if i == j else 0.0 for j in range(SIZE)] for i, s in enumerate(sigmas)])


def var_of(cov: tuple[float, ...], state: int) -> float:
    """The variance of one state."""
    return cov[_STARTS[state]]


def move_first(p: Rows, f0: float, f1: float, f2: float) -> None:
    """P := F P F^T, in place, where F is the identity but for its first row (f0, f1, f2, 0, ...)."""
    p0, p1, p2 = p[0], p[1], p[2]
    row = [f0 * a + f1 * b + f2 * c for a, b, c in zip(p0, p1, p2, strict=True)]
    row[0] = f0 * row[0] + f1 * row[1] + f2 * row[2]
    p[0] = row
    for index in range(1, SIZE):
        p[index][0] = row[index]


def correct(mean: list[float], p: Rows, h: tuple[tuple[int, float], ...], innovation: float, noise: float) -> None:
    """One scalar measurement, in place. `h` lists (state, derivative) of the states it depends on; `noise` is its variance."""
    ph = [sum([row[state] * slope for state, slope in h]) for row in p]
    s = noise + sum([ph[state] * slope for state, slope in h])
    for i in range(SIZE):
        gain = ph[i] / s
        mean[i] += gain * innovation
        row = p[i]
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
