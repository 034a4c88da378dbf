"""One line of the bill."""

from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal

from estate.links.prices import Rate

CENT = Decimal("0.01")

YOURS, INVENTED, NONE_GIVEN = "yours", "invented, left out", "none given"


@dataclass(frozen=True, slots=True)
class BillLine:
    """One item. `amount` is quantity × rate in cents; `invented` rates rank and are left out of a bill.

    `rate` is None where the item has no rate at all: it weighed in no choice, and the user gives none.
    """

    heading: str
    item: str
    description: str
    unit: str
    quantity: float
    rate: Rate | None

    @property
    def amount(self) -> Decimal:
        """Money of the line, rounded to the cent from the quantity as printed."""
        if self.rate is None:
            return Decimal(0)
        quantity = Decimal(str(round(self.quantity, 2)))
        return (quantity * Decimal(str(self.rate.value))).quantize(CENT, ROUND_HALF_UP)

    @property
    def is_invented(self) -> bool:
        """Whether its money rests on an invented rate."""
        return self.rate is not None and self.rate.invented

    @property
    def rate_from(self) -> str:
        """Whose the rate is."""
        if self.rate is None:
            return NONE_GIVEN
        return INVENTED if self.rate.invented else YOURS

    @property
    def own_rate(self) -> float | None:
        """The user's rate, None where there is none."""
        return self.rate.value if self.rate is not None and not self.rate.invented else None
