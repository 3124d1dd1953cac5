"""Reads a clean QR code module by module, written from ISO/IEC 18004 and from nothing that makes codes.

Nothing is corrected: a single wrong module in the data or in the check words is an error.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

Modules = npt.NDArray[np.bool_]

BLOCKS: dict[tuple[int, str], tuple[int, tuple[int, ...]]] = {
    (2, "M"): (16, (28,)), (2, "Q"): (22, (22,)), (2, "H"): (28, (16,)),
    (3, "M"): (26, (44,)), (3, "Q"): (18, (17, 17)), (3, "H"): (22, (13, 13)),
    (4, "M"): (18, (32, 32)), (4, "Q"): (26, (24, 24)), (4, "H"): (16, (9, 9, 9, 9)),
    (5, "M"): (24, (43, 43)), (5, "Q"): (18, (15, 15, 16, 16)),
    (6, "M"): (16, (27, 27, 27, 27)), (6, "Q"): (24, (19, 19, 19, 19)),
    (7, "M"): (18, (31, 31, 31, 31)), (7, "Q"): (18, (14, 14, 15, 15, 15, 15)),
    (8, "M"): (22, (38, 38, 39, 39)), (8, "Q"): (22, (18, 18, 18, 18, 19, 19)),
    (9, "M"): (22, (36, 36, 36, 37, 37)), (9, "Q"): (20, (16, 16, 16, 16, 17, 17, 17, 17)),
    (10, "M"): (26, (43, 43, 43, 43, 44)), (10, "Q"): (24, (19, 19, 19, 19, 19, 19, 20, 20)),
}  # fmt: skip
"""(version, level) -> check words a block, data words of each block (Table 9, from memory: the check sums prove it)."""
ALIGNED = {2: (6, 18), 3: (6, 22), 4: (6, 26), 5: (6, 30), 6: (6, 34), 7: (6, 22, 38), 8: (6, 24, 42), 9: (6, 26, 46),
           10: (6, 28, 50)}  # fmt: skip
"""Rows and columns of alignment patterns (Annex E)."""
LEVELS = {0b01: "L", 0b00: "M", 0b11: "Q", 0b10: "H"}
FORMAT_MASK, FORMAT_POLYNOMIAL = 0b101010000010010, 0b10100110111


def _format(modules: Modules) -> tuple[str, int]:
    """Level and mask from both copies of the format information, each a word of its BCH code."""
    n = len(modules)
    one = [(8, x) for x in (0, 1, 2, 3, 4, 5, 7, 8)] + [(y, 8) for y in (7, 5, 4, 3, 2, 1, 0)]
    two = [(y, 8) for y in range(n - 1, n - 8, -1)] + [(8, x) for x in range(n - 8, n)]
    words = []
    for places in (one, two):
        word = int("".join(str(int(modules[p])) for p in places), 2) ^ FORMAT_MASK
        rest = word
        for bit in range(14, 9, -1):
            if rest >> bit & 1:
                rest ^= FORMAT_POLYNOMIAL << (bit - 10)
        assert rest == 0, "the format information is no word of its code"
        words.append(word)
    assert words[0] == words[1]
    assert modules[n - 8, 8], "the module that is always dark"
    return LEVELS[words[0] >> 13], words[0] >> 10 & 0b111


def _fixed(version: int) -> Modules:
    """Which modules are patterns or information, and no data."""
    n = 17 + 4 * version
    out = np.zeros((n, n), bool)
    out[:9, :9] = out[:9, n - 8 :] = out[n - 8 :, :9] = True
    out[6, :] = out[:, 6] = True
    centres = ALIGNED[version]
    for y in centres:
        for x in centres:
            if (y, x) not in ((6, 6), (6, centres[-1]), (centres[-1], 6)):
                out[y - 2 : y + 3, x - 2 : x + 3] = True
    if version >= 7:
        out[:6, n - 11 : n - 8] = out[n - 11 : n - 8, :6] = True
    return out


def _finders(modules: Modules) -> None:
    ring = np.ones((7, 7), bool)
    ring[1:6, 1:6] = False
    ring[2:5, 2:5] = True
    for part in (modules[:7, :7], modules[:7, -7:], modules[-7:, :7]):
        assert np.array_equal(part, ring), "a finder pattern"
    line = np.arange(8, len(modules) - 8)
    assert np.array_equal(modules[6, line], line % 2 == 0), "the timing pattern"
    assert np.array_equal(modules[line, 6], line % 2 == 0), "the timing pattern"


def _masked(mask: int, n: int) -> Modules:
    i, j = np.indices((n, n))
    return (
        (i + j) % 2, i % 2, j % 3, (i + j) % 3, (i // 2 + j // 3) % 2, i * j % 2 + i * j % 3,
        (i * j % 2 + i * j % 3) % 2, ((i + j) % 2 + i * j % 3) % 2,
    )[mask] == 0  # fmt: skip


def _words(modules: Modules, version: int, mask: int) -> list[int]:
    n = len(modules)
    plain, fixed = modules ^ _masked(mask, n), _fixed(version)
    bits, up, right = [], True, n - 1
    while right > 0:
        if right == 6:
            right -= 1
        for y in range(n - 1, -1, -1) if up else range(n):
            bits += [int(plain[y, x]) for x in (right, right - 1) if not fixed[y, x]]
        up, right = not up, right - 2
    return [int("".join(map(str, bits[i : i + 8])), 2) for i in range(0, len(bits) - 7, 8)]


def _times(a: int, b: int) -> int:
    """Product in the field of 256 elements by x^8 + x^4 + x^3 + x^2 + 1."""
    out = 0
    while b:
        if b & 1:
            out ^= a
        a <<= 1
        if a & 256:
            a ^= 0b100011101
        b >>= 1
    return out


def _proven(block: list[int], checks: int) -> None:
    """A Reed-Solomon word is zero at the first powers of 2."""
    root = 1
    for _ in range(checks):
        value = 0
        for word in block:
            value = _times(value, root) ^ word
        assert value == 0, "a check sum"
        root = _times(root, 2)


def read(modules: Modules) -> tuple[str, str]:
    """Error level and text of a code without its quiet zone. Raises AssertionError for anything not as it must be."""
    version = (len(modules) - 17) // 4
    assert modules.shape == (17 + 4 * version,) * 2
    _finders(modules)
    level, mask = _format(modules)
    checks, sizes = BLOCKS[version, level]
    words = _words(modules, version, mask)
    assert len(words) == sum(sizes) + checks * len(sizes)
    data: list[list[int]] = [[] for _ in sizes]
    at = 0
    for i in range(max(sizes)):
        for block, size in zip(data, sizes, strict=True):
            if i < size:
                block.append(words[at])
                at += 1
    tails = [words[at + k :: len(sizes)] for k in range(len(sizes))]
    for block, tail in zip(data, tails, strict=True):
        _proven(block + tail, checks)
    bits = "".join(f"{word:08b}" for block in data for word in block)
    assert bits[:4] == "0100", "bytes"
    wide = 8 if version < 10 else 16
    length = int(bits[4 : 4 + wide], 2)
    body = bits[4 + wide :]
    return level, bytes(int(body[8 * i : 8 * i + 8], 2) for i in range(length)).decode("utf-8")
