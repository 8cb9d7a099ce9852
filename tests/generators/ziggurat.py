"""Writes crates/groundstate/src/numeric/ziggurat.rs and tests/reference/stream.json.

The first is the table of the ziggurat method (G. Marsaglia and W. W. Tsang, Journal of Statistical Software 5(8),
2000) for the standard normal density with 256 layers, computed here with 50 digits. The second holds first values of
random streams from a plain reimplementation: xoshiro256++ (D. Blackman and S. Vigna, ACM Transactions on Mathematical
Software 47(4), 2021) seeded through SplitMix64 (G. Steele, D. Lea and C. Flood, OOPSLA 2014).

Run from the top of the repository: python tests/generators/ziggurat.py
"""

import json
import math
from decimal import Decimal, getcontext
from pathlib import Path

getcontext().prec = 50
LAYERS = 256
MASK = (1 << 64) - 1
GOLDEN_GAMMA = 0x9E3779B97F4A7C15
TOP = Path(__file__).resolve().parents[2]


def density(x: Decimal) -> Decimal:
    """The normal density without its constant."""
    return (-x * x / 2).exp()


def tail(x: Decimal) -> Decimal:
    """The integral of `density` from x up, by Laplace's continued fraction (600 terms: over 50 digits at 3.65)."""
    fraction = Decimal(0)
    for term in range(600, 0, -1):
        fraction = term / (x + fraction)
    return density(x) / (x + fraction)


def layers(start: Decimal) -> tuple[list[Decimal], list[Decimal], Decimal]:
    """Edges and heights when the tail begins at `start`; the last value is by how much the top layer misses 1."""
    area = start * density(start) + tail(start)
    edges, heights = [area / density(start), start], [Decimal(0), density(start)]
    for _ in range(LAYERS - 2):
        height = heights[-1] + area / edges[-1]
        if height >= 1:
            return edges, heights, Decimal(1)
        heights.append(height)
        edges.append((-2 * height.ln()).sqrt())
    miss = heights[-1] + area / edges[-1] - 1
    return [*edges, Decimal(0)], [*heights, Decimal(1)], miss


def close() -> tuple[list[Decimal], list[Decimal]]:
    """The layers whose top is exactly 1, by secant steps from a start good to six digits."""
    low, high = Decimal("3.654152"), Decimal("3.654153")
    miss_low, miss_high = layers(low)[2], layers(high)[2]
    while abs(high - low) > Decimal("1e-40"):
        low, high, miss_low = high, high - miss_high * (high - low) / (miss_high - miss_low), miss_high
        miss_high = layers(high)[2]
    edges, heights, _ = layers(high)
    return edges, heights


def rotate(x: int, by: int) -> int:
    return ((x << by) | (x >> (64 - by))) & MASK


def mix(z: int) -> int:
    z = ((z ^ (z >> 30)) * 0xBF58476D1CE4E5B9) & MASK
    z = ((z ^ (z >> 27)) * 0x94D049BB133111EB) & MASK
    return z ^ (z >> 31)


class Stream:
    """The stream of one (seed, chunk)."""

    def __init__(self, seed: int, chunk: int) -> None:
        state = mix((mix((seed + GOLDEN_GAMMA) & MASK) + chunk) & MASK)
        self.words = [mix((state + step * GOLDEN_GAMMA) & MASK) for step in range(1, 5)]

    def bits(self) -> int:
        s = self.words
        result = (rotate((s[0] + s[3]) & MASK, 23) + s[0]) & MASK
        shifted = (s[1] << 17) & MASK
        s[2] ^= s[0]
        s[3] ^= s[1]
        s[1] ^= s[2]
        s[0] ^= s[3]
        s[2] ^= shifted
        s[3] = rotate(s[3], 45)
        return result

    def uniform(self) -> float:
        return ((self.bits() >> 12) + 0.5) * 2.0**-52

    def normal(self, edges: list[float], heights: list[float]) -> float:
        while True:
            bits = self.bits()
            layer = bits & 0xFF
            signed = (bits >> 11) - ((bits >> 63) << 53)
            x = (signed + 0.5) * 2.0**-52 * edges[layer]
            if abs(x) < edges[layer + 1]:
                return x
            if layer == 0:
                while True:
                    beyond = -math.log(self.uniform()) / edges[1]
                    if -2.0 * math.log(self.uniform()) >= beyond * beyond:
                        return math.copysign(edges[1] + beyond, x)
            y = heights[layer] + self.uniform() * (heights[layer + 1] - heights[layer])
            if y < math.exp(-0.5 * x * x):
                return x


def check_published() -> None:
    """SplitMix64 from 1234567 and xoshiro256++ from the state 1, 2, 3, 4, as widely published test vectors."""
    first = [mix((1234567 + step * GOLDEN_GAMMA) & MASK) for step in range(1, 4)]
    assert first == [6457827717110365317, 3203168211198807973, 9817491932198370423], first
    stream = Stream(0, 0)
    stream.words = [1, 2, 3, 4]
    first = [stream.bits() for _ in range(5)]
    assert first == [41943041, 58720359, 3588806011781223, 3591011842654386, 9228616714210784205], first


def rust_array(name: str, doc: str, values: list[float]) -> str:
    rows = "\n".join("    " + " ".join(f"{value!r}," for value in values[i : i + 5]) for i in range(0, len(values), 5))
    return f"/// {doc}\n#[rustfmt::skip]\npub(super) const {name}: [f64; {len(values)}] = [\n{rows}\n];\n"


def main() -> None:
    check_published()
    exact_edges, exact_heights = close()
    edges, heights = [float(x) for x in exact_edges], [float(y) for y in exact_heights]
    (TOP / "crates/groundstate/src/numeric/ziggurat.rs").write_text(
        "//! Table of the ziggurat method for normal numbers; written by tests/generators/ziggurat.py.\n\n"
        + rust_array(
            "EDGES",
            "Right edges of the layers from the bottom up; the first is as wide as makes the base's area the others'.",
            edges,
        )
        + "\n"
        + rust_array("HEIGHTS", "exp(-x^2 / 2) at the edges; the first stands for the floor.", heights)
    )
    cases = []
    for seed, chunk in [(0, 0), (0, 1), (1, 0), (20240229, 7), (MASK, MASK)]:
        bits, uniform, normal = Stream(seed, chunk), Stream(seed, chunk), Stream(seed, chunk)
        normals = [normal.normal(edges, heights) for _ in range(20_000)]
        far = [[i, x] for i, x in enumerate(normals) if abs(x) > edges[1]]
        cases.append(
            {
                "seed": str(seed),
                "chunk": str(chunk),
                "bits": [str(bits.bits()) for _ in range(8)],
                "uniform": [uniform.uniform() for _ in range(8)],
                "normal": normals[:100],
                "tail": far,
                "last_of_20000": normals[-1],
            }
        )
    text = json.dumps({"title": "First values of random streams", "cases": cases}, indent=1)
    (TOP / "tests/reference/stream.json").write_text(text + "\n")


if __name__ == "__main__":
    main()
