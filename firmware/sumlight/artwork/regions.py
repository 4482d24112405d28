"""Connected pieces of a sheet, found strip by strip and joined across the seams: a sheet's answer, not a tile's."""

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from sumlight.artwork.sheet import Mask, Sheet

FOUR, EIGHT = 4, 8
"""Metal is held by edges, never by corners that touch; so openings meet at corners (craft reference A11)."""
Parts = Callable[[], Iterable[Mask]]
Ints = NDArray[np.int64]


@dataclass(frozen=True)
class Regions:
    """One entry a piece: its area, box (right and bottom are beyond it), a pixel of it, and its pixels on the edge.

    `piece_of` gives the piece of each label that the strips have, counted through; -1 is none.
    """

    area_px: Ints
    left: Ints
    top: Ints
    right: Ints
    bottom: Ints
    edge_px: Ints
    piece_of: Ints

    def __len__(self) -> int:
        return len(self.area_px)

    @property
    def smallest_side_px(self) -> Ints:
        """The shorter side of each box."""
        return np.asarray(np.minimum(self.right - self.left, self.bottom - self.top), np.int64)


def regions(parts: Parts, connected: int) -> Regions:
    """Find the pieces of all that is True in parts that follow each other from the top."""
    joined = _Joined()
    found: list[Ints] = []
    edges: list[Ints] = []
    row = offset = 0
    above: Ints | None = None
    last: tuple[Ints, int] | None = None
    for labels, stats in _labelled_strips(parts, connected):
        count = len(stats) - 1
        sides = np.bincount(np.concatenate((labels[:, 0], labels[:, -1])), minlength=count + 1)
        ends = np.bincount(labels[0], minlength=count + 1) if row == 0 else 0
        edges.append((sides + ends)[1:].astype(np.int64))
        box = stats[1:].astype(np.int64)
        box[:, 1] += row
        found.append(box)
        here = np.where(labels[0] > 0, labels[0] + offset, 0).astype(np.int64)
        joined.grow(offset + count)
        if above is not None:
            joined.join(above, here, connected)
        above = np.where(labels[-1] > 0, labels[-1] + offset, 0).astype(np.int64)
        last = (labels[-1].astype(np.int64), len(found) - 1)
        row += len(labels)
        offset += count
    if last is not None:
        edges[last[1]] += np.bincount(last[0], minlength=len(edges[last[1]]) + 1)[1:]
    return _merged(joined.roots(), found, edges)


def openings_of(sheet: Sheet) -> Regions:
    """Openings of a sheet; those that touch at a corner are one."""
    return regions(lambda: (strip.rows for strip in sheet.strips()), EIGHT)


def metal_of(sheet: Sheet) -> Regions:
    """Pieces of metal of a sheet; those that touch at a corner are two."""
    return regions(lambda: (~strip.rows for strip in sheet.strips()), FOUR)


def pieces_by_row(parts: Parts, connected: int, known: Regions) -> Iterator[Ints]:
    """The same parts again, with the number of its piece in each pixel, -1 for none."""
    offset = 0
    for labels, stats in _labelled_strips(parts, connected):
        count = len(stats) - 1
        table = np.concatenate((np.array([-1]), known.piece_of[offset : offset + count]))
        yield table[labels]
        offset += count


def _labelled_strips(parts: Parts, connected: int) -> Iterator[tuple[NDArray[np.int32], NDArray[np.int32]]]:
    for part in parts():
        _count, labels, stats, _centres = cv2.connectedComponentsWithStats(
            part.view(np.uint8), connectivity=connected, ltype=cv2.CV_32S
        )
        yield labels.astype(np.int32, copy=False), stats


class _Joined:
    """Which labels are one piece."""

    def __init__(self) -> None:
        self._up: list[int] = []

    def grow(self, count: int) -> None:
        self._up.extend(range(len(self._up), count))

    def join(self, above: Ints, below: Ints, connected: int) -> None:
        """Join labels (from 1) that touch across a seam."""
        pairs = [np.stack((above, below))]
        if connected == EIGHT:
            pairs += [np.stack((above[:-1], below[1:])), np.stack((above[1:], below[:-1]))]
        both = np.concatenate(pairs, axis=1)
        both = both[:, (both > 0).all(axis=0)]
        for one, other in np.unique(both, axis=1).T.tolist():
            first, second = self._root(one - 1), self._root(other - 1)
            self._up[max(first, second)] = min(first, second)

    def _root(self, label: int) -> int:
        while self._up[label] != label:
            self._up[label] = self._up[self._up[label]]
            label = self._up[label]
        return label

    def roots(self) -> Ints:
        return np.array([self._root(label) for label in range(len(self._up))], np.int64)


def _merged(roots: Ints, found: list[Ints], edges: list[Ints]) -> Regions:
    names, piece = np.unique(roots, return_inverse=True)
    count = len(names)
    boxes = np.concatenate(found) if found else np.zeros((0, 5), np.int64)
    edge = np.concatenate(edges) if edges else np.zeros(0, np.int64)
    area, on_edge = np.zeros(count, np.int64), np.zeros(count, np.int64)
    far = np.iinfo(np.int64).max
    left, top = np.full(count, far), np.full(count, far)
    right, bottom = np.zeros(count, np.int64), np.zeros(count, np.int64)
    np.add.at(area, piece, boxes[:, 4])
    np.add.at(on_edge, piece, edge)
    np.minimum.at(left, piece, boxes[:, 0])
    np.minimum.at(top, piece, boxes[:, 1])
    np.maximum.at(right, piece, boxes[:, 0] + boxes[:, 2])
    np.maximum.at(bottom, piece, boxes[:, 1] + boxes[:, 3])
    return Regions(area, left, top, right, bottom, on_edge, piece.astype(np.int64))
