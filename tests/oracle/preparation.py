"""From the solution that was aspirated to the sample it came from.

mg/L x mL / g is mg/kg, mg/L x mL / mL is mg/L: no further unit factor. Solid on the dry basis:
SW-846 6010D section 12.2, c V / (W S). Basis table: solids fraction S enters as 1/S (weighed wet,
reported dry), S (weighed dry, reported as received), else not at all.
Propagation: a product's relative variances add (JCGM 100:2008 clause 5.1.6).
"""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Literal

from tests.oracle.inverse import VariancePart, welch_satterthwaite
from tests.oracle.real import INFINITE, ONE, ZERO, total

Weighed = Literal["wet", "dry"]
Report = Literal["as_received", "dry"]


@dataclass(frozen=True)
class Quantity:
    value: Decimal
    u: Decimal = ZERO
    dof: Decimal = INFINITE


@dataclass(frozen=True)
class Product:
    """Of whole powers of independent quantities, each by name."""

    value: Decimal
    u: Decimal
    dof: Decimal
    contributions: dict[str, Decimal]

    @property
    def shares(self) -> dict[str, Decimal]:
        return {name: (part / self.u) ** 2 for name, part in self.contributions.items()}


@dataclass(frozen=True)
class Preparation:
    """One portion (grams or millilitres) brought to a final volume, then diluted step by step."""

    portion: Quantity
    final_volume: Quantity
    steps: Sequence[tuple[Quantity, Quantity]] = ()
    solids_fraction: Quantity | None = None
    weighed: Weighed = "wet"
    report: Report = "as_received"
    factors: Sequence[Quantity] = ()

    def terms(self) -> list[tuple[str, Quantity, int]]:
        listed = [("final volume", self.final_volume, 1), ("portion", self.portion, -1)]
        for number, (aliquot, flask) in enumerate(self.steps, 1):
            listed += [(f"aliquot {number}", aliquot, -1), (f"flask {number}", flask, 1)]
        if self.solids_fraction is not None and self.solids_power:
            listed.append(("solids", self.solids_fraction, self.solids_power))
        listed += [(f"factor {k}", factor, 1) for k, factor in enumerate(self.factors, 1)]
        return listed

    @property
    def solids_power(self) -> int:
        match (self.weighed, self.report):
            case ("wet", "dry"):
                return -1
            case ("dry", "as_received"):
                return 1
            case _:
                return 0

    @property
    def multiplier(self) -> Product:
        return product(self.terms())

    def apply(self, solution: Quantity) -> Product:
        return product([("solution", solution, 1), *self.terms()])


def product(terms: Sequence[tuple[str, Quantity, int]]) -> Product:
    """Value, u, dof and signed contributions; a factor of zero keeps its sensitivity."""
    value = ONE
    for _, quantity, power in terms:
        value *= quantity.value**power
    contributions: dict[str, Decimal] = {}
    parts: list[VariancePart] = []
    for position, (name, quantity, power) in enumerate(terms):
        others = ONE
        for other, (_, factor, exponent) in enumerate(terms):
            if other != position:
                others *= factor.value**exponent
        sensitivity = power * quantity.value ** (power - 1) * others if power != 1 else others
        contributions[name] = sensitivity * quantity.u
        parts.append(VariancePart(name, contributions[name] ** 2, quantity.dof))
    u = total(part.variance for part in parts).sqrt()
    return Product(value, u, welch_satterthwaite(parts), contributions)
